//! Numbers with a unit or a bound.

use super::Invalid;

/// A confidence level, strictly between 0 and 1.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd, serde::Serialize, serde::Deserialize)]
#[serde(try_from = "f64", into = "f64")]
pub struct Confidence(f64);

impl Confidence {
    /// 95%, the default of every interval.
    pub const NINETY_FIVE: Self = Self(0.95);

    /// # Errors
    /// [`Invalid`] for anything that is not strictly between 0 and 1, NaN included.
    pub fn new(level: f64) -> Result<Self, Invalid> {
        if level > 0.0 && level < 1.0 {
            return Ok(Self(level));
        }
        let mend = if level > 1.0 && level < 100.0 {
            format!("did you mean {}?", level / 100.0)
        } else {
            "0.95 is usual".to_owned()
        };
        Err(Invalid::new(
            format!("confidence {level} is not between 0 and 1"),
            mend,
        ))
    }

    /// The level as a share of 1.
    pub const fn level(self) -> f64 {
        self.0
    }
}

impl TryFrom<f64> for Confidence {
    type Error = Invalid;
    fn try_from(level: f64) -> Result<Self, Invalid> {
        Self::new(level)
    }
}

impl From<Confidence> for f64 {
    fn from(confidence: Confidence) -> Self {
        confidence.0
    }
}

impl std::str::FromStr for Confidence {
    type Err = Invalid;
    fn from_str(raw: &str) -> Result<Self, Invalid> {
        let level = raw.trim().parse().map_err(|_| {
            Invalid::new(
                format!("`{raw}` is no number"),
                "write a confidence such as 0.95",
            )
        })?;
        Self::new(level)
    }
}

/// A share of a whole, from 0 to 1, both included.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd, serde::Serialize, serde::Deserialize)]
#[serde(try_from = "f64", into = "f64")]
pub struct Share(f64);

impl Share {
    /// Nine of ten.
    pub const NINE_OF_TEN: Self = Self(0.9);
    /// Three of four.
    pub const THREE_OF_FOUR: Self = Self(0.75);
    /// 15%, the usual share of repeats and the smallest change that matters (ours).
    pub const FIFTEEN_PERCENT: Self = Self(0.15);

    /// # Errors
    /// [`Invalid`] for anything outside 0 to 1, NaN included.
    pub fn new(share: f64) -> Result<Self, Invalid> {
        if (0.0..=1.0).contains(&share) {
            return Ok(Self(share));
        }
        Err(Invalid::new(
            format!("{share} is no share"),
            "write a number from 0 to 1, such as 0.15",
        ))
    }

    /// The share as a number.
    pub const fn get(self) -> f64 {
        self.0
    }
}

impl TryFrom<f64> for Share {
    type Error = Invalid;
    fn try_from(share: f64) -> Result<Self, Invalid> {
        Self::new(share)
    }
}

impl From<Share> for f64 {
    fn from(share: Share) -> Self {
        share.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_percentage_given_as_confidence_is_refused_with_a_guess() {
        let refusal = Confidence::new(95.0).unwrap_err().to_string();
        assert_eq!(
            refusal,
            "confidence 95 is not between 0 and 1; did you mean 0.95?"
        );
        assert!(Confidence::new(f64::NAN).is_err());
        assert!(Share::new(f64::NAN).is_err());
    }
}
