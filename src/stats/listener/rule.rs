//! Screening rules as data: fixed and sealed before the first judgement.

use serde::Deserialize;
use serde::Serialize;

use super::super::special::Binomial;
use super::signals::Signals;
use super::signals::median;

/// The rules of a round in the order in which they apply.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Rules {
    /// The accuracy of a careful listener on check tokens, for the chance that a rule wrongly leaves her out.
    #[serde(default = "usual_careful_accuracy")]
    pub careful_accuracy: f64,
    /// The rules.
    #[serde(default)]
    pub rules: Vec<Rule>,
}

impl Default for Rules {
    fn default() -> Self {
        Self {
            careful_accuracy: usual_careful_accuracy(),
            rules: Vec::new(),
        }
    }
}

/// Nine of ten (ours).
const fn usual_careful_accuracy() -> f64 {
    0.9
}

/// One rule. Shares are from 0 to 1.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(tag = "rule", rename_all = "kebab-case", deny_unknown_fields)]
pub enum Rule {
    /// At least this share of check tokens judged as known.
    MinCheckAccuracy {
        /// The share.
        share: f64,
    },
    /// At least this many check tokens judged as known.
    MinChecksRight {
        /// How many.
        right: u32,
    },
    /// At most this share of main judgements is one and the same answer.
    MaxShareOfOneAnswer {
        /// The share.
        share: f64,
    },
    /// The middle response time is at least this long.
    MinMedianResponseTime {
        /// In milliseconds after the end of the sound.
        ms: f64,
    },
    /// At most this share of main judgements came faster than a time.
    MaxShareTooFast {
        /// In milliseconds after the end of the sound.
        faster_than_ms: f64,
        /// The share.
        share: f64,
    },
    /// At least this share of repeats judged as before.
    MinRepeatAgreement {
        /// The share.
        share: f64,
    },
    /// On average at least this share of the other kept listeners say the same.
    MinRestOfPanelAgreement {
        /// The share.
        share: f64,
    },
    /// At least this many main judgements.
    MinJudgements {
        /// How many.
        count: u32,
    },
}

/// What a rule does to people it should not, and should, leave out; `None` where it depends on the material.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Chances {
    /// The check tokens or repeats on which the chances rest.
    pub trials: Option<u32>,
    /// The probability that somebody who guesses passes.
    pub guesser_passes: Option<f64>,
    /// The probability that a careful listener fails.
    pub careful_listener_fails: Option<f64>,
}

/// Why a rule cannot be meant.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[error("{what}; {mend}")]
pub struct RuleError {
    /// What is wrong.
    pub what: String,
    /// What would be right.
    pub mend: String,
}

impl Rules {
    /// # Errors
    /// [`RuleError`] for a share outside 0 to 1 or a time that is none.
    pub fn check(&self) -> Result<(), RuleError> {
        share_of_one("careful_accuracy", self.careful_accuracy)?;
        self.rules.iter().try_for_each(Rule::check)
    }
}

impl Rule {
    /// # Errors
    /// [`RuleError`] for a share outside 0 to 1 or a time that is none.
    pub fn check(&self) -> Result<(), RuleError> {
        match *self {
            Self::MinCheckAccuracy { share }
            | Self::MaxShareOfOneAnswer { share }
            | Self::MinRepeatAgreement { share }
            | Self::MinRestOfPanelAgreement { share } => share_of_one("share", share),
            Self::MaxShareTooFast {
                faster_than_ms,
                share,
            } => {
                share_of_one("share", share)?;
                time("faster_than_ms", faster_than_ms)
            }
            Self::MinMedianResponseTime { ms } => time("ms", ms),
            Self::MinChecksRight { .. } | Self::MinJudgements { .. } => Ok(()),
        }
    }

    /// The rule in words.
    pub fn sentence(&self) -> String {
        match *self {
            Self::MinCheckAccuracy { share } => {
                format!("at least {} of check words right", percent(share))
            }
            Self::MinChecksRight { right } => format!("at least {right} check words right"),
            Self::MaxShareOfOneAnswer { share } => {
                format!("at most {} of one and the same answer", percent(share))
            }
            Self::MinMedianResponseTime { ms } => {
                format!("a median response time of at least {ms} ms")
            }
            Self::MaxShareTooFast {
                faster_than_ms,
                share,
            } => {
                format!(
                    "at most {} of answers within {faster_than_ms} ms",
                    percent(share)
                )
            }
            Self::MinRepeatAgreement { share } => {
                format!(
                    "at least {} of repeated words judged as before",
                    percent(share)
                )
            }
            Self::MinRestOfPanelAgreement { share } => {
                format!(
                    "at least {} agreement with the other kept listeners",
                    percent(share)
                )
            }
            Self::MinJudgements { count } => format!("at least {count} judgements"),
        }
    }

    /// Why the rule leaves a listener out: `Some` sentence; `None` where she passes; an error sentence where the
    /// rule cannot be applied to her.
    ///
    /// `rest_of_panel`: her agreement with the other kept listeners, where it exists.
    ///
    /// # Errors
    /// A sentence where she heard nothing of what the rule needs.
    pub fn failed_by(
        &self,
        signals: &Signals,
        rest_of_panel: Option<f64>,
    ) -> Result<Option<String>, String> {
        let found = match *self {
            Self::MinCheckAccuracy { share } => {
                let of = needed(signals.checks, "she heard no check words")?;
                (!reaches(signals.checks_right, share, of)).then(|| right_of(signals))
            }
            Self::MinChecksRight { right } => {
                needed(signals.checks, "she heard no check words")?;
                (signals.checks_right < right).then(|| right_of(signals))
            }
            Self::MaxShareOfOneAnswer { share } => {
                let n = needed(signals.judgements, "she gave no judgement")?;
                let most = signals.positive.max(n - signals.positive);
                exceeds(most, share, n).then(|| format!("{most} of {n} answers are the same"))
            }
            Self::MinMedianResponseTime { ms } => {
                let found =
                    median(&signals.response_times_ms).ok_or("no response time is known")?;
                (found < ms).then(|| format!("a median response time of {found:.0} ms"))
            }
            Self::MaxShareTooFast {
                faster_than_ms,
                share,
            } => {
                let n = count(signals.response_times_ms.len());
                let n = needed(n, "no response time is known")?;
                let is_fast = |ms: &&f32| f64::from(**ms) < faster_than_ms;
                let fast = count(signals.response_times_ms.iter().filter(is_fast).count());
                exceeds(fast, share, n)
                    .then(|| format!("{fast} of {n} answers within {faster_than_ms} ms"))
            }
            Self::MinRepeatAgreement { share } => {
                let found = signals.repeats.map_err(|_| "she heard no word again")?;
                (!reaches(found.same, share, found.pairs)).then(|| {
                    format!(
                        "{} of {} repeated words judged as before",
                        found.same, found.pairs
                    )
                })
            }
            Self::MinRestOfPanelAgreement { share } => {
                let found = rest_of_panel.ok_or("no kept listener judged the same words")?;
                (found < share)
                    .then(|| format!("{} agreement with the other kept listeners", percent(found)))
            }
            Self::MinJudgements { count } => {
                (signals.judgements < count).then(|| format!("{} judgements", signals.judgements))
            }
        };
        Ok(found.map(|found| format!("{found}; the rule asks for {}", self.sentence())))
    }

    /// The chance that a guesser passes and a careful listener fails, on `checks` check tokens or `repeats` repeats.
    ///
    /// Binomial: a guesser is right, and agrees with herself, half of the time; a careful listener of accuracy a is right with
    /// probability a and agrees with herself with a² + (1 − a)². With 20 checks and 17 to be right: 0.13% and, at 90% accuracy, 13%.
    pub fn chances(&self, checks: u32, repeats: u32, careful_accuracy: f64) -> Chances {
        let a = careful_accuracy;
        match *self {
            Self::MinCheckAccuracy { share } => chances(checks, fewest(share, checks), a),
            Self::MinChecksRight { right } => chances(checks, right, a),
            Self::MinRepeatAgreement { share } => chances(
                repeats,
                fewest(share, repeats),
                a * a + (1.0 - a) * (1.0 - a),
            ),
            _ => Chances::default(),
        }
    }
}

fn chances(trials: u32, needed: u32, careful: f64) -> Chances {
    if trials == 0 {
        return Chances::default();
    }
    let below = |success: f64| match needed.checked_sub(1) {
        None => Some((0.0, 1.0)),
        Some(most) => {
            let counts = Binomial::new(u64::from(trials), success).ok()?;
            Some((counts.cdf(u64::from(most)), counts.sf(u64::from(most))))
        }
    };
    Chances {
        trials: Some(trials),
        guesser_passes: below(0.5).map(|(_, passes)| passes),
        careful_listener_fails: below(careful).map(|(fails, _)| fails),
    }
}

/// The fewest successes that reach a share.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a share of a count, rounded up, is a count"
)]
fn fewest(share: f64, of: u32) -> u32 {
    (share * f64::from(of) - 1e-9).ceil().max(0.0) as u32
}

/// Whether `count` of `of` reach a share, rounding of decimal shares left aside.
fn reaches(count: u32, share: f64, of: u32) -> bool {
    count >= fewest(share, of)
}

fn exceeds(count: u32, share: f64, of: u32) -> bool {
    f64::from(count) > share * f64::from(of) + 1e-9
}

fn needed(count: u32, missing: &str) -> Result<u32, String> {
    if count == 0 {
        return Err(missing.to_owned());
    }
    Ok(count)
}

fn count(n: usize) -> u32 {
    u32::try_from(n).unwrap_or(u32::MAX)
}

fn right_of(signals: &Signals) -> String {
    format!(
        "{} of {} check words right",
        signals.checks_right, signals.checks
    )
}

fn percent(share: f64) -> String {
    format!("{}%", (share * 1000.0).round() / 10.0)
}

fn share_of_one(field: &str, share: f64) -> Result<(), RuleError> {
    if (0.0..=1.0).contains(&share) {
        return Ok(());
    }
    Err(RuleError {
        what: format!("`{field}` is {share}"),
        mend: "write a share from 0 to 1, such as 0.8".to_owned(),
    })
}

fn time(field: &str, ms: f64) -> Result<(), RuleError> {
    if ms.is_finite() && ms >= 0.0 {
        return Ok(());
    }
    Err(RuleError {
        what: format!("`{field}` is {ms}"),
        mend: "write a time in milliseconds, such as 250".to_owned(),
    })
}
