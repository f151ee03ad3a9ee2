//! One place in a sitting, as far as a listener's browser may know it.

use std::fmt;
use std::str::FromStr;

use super::Invalid;
use super::Word;

/// The random name of one presentation: 128 bits, written as 26 small letters and digits.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct PresentationId([u8; 16]);

impl PresentationId {
    /// The id made of these random bytes.
    pub const fn new(bytes: [u8; 16]) -> Self {
        Self(bytes)
    }

    /// The bytes.
    pub const fn bytes(self) -> [u8; 16] {
        self.0
    }
}

impl fmt::Display for PresentationId {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&data_encoding::BASE32_DNSCURVE.encode(&self.0))
    }
}

impl FromStr for PresentationId {
    type Err = Invalid;
    fn from_str(raw: &str) -> Result<Self, Invalid> {
        data_encoding::BASE32_DNSCURVE
            .decode(raw.as_bytes())
            .ok()
            .and_then(|bytes| <[u8; 16]>::try_from(bytes).ok())
            .map(Self)
            .ok_or_else(|| Invalid::new("this is no presentation", "go back to the sitting"))
    }
}

impl serde::Serialize for PresentationId {
    fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}

/// The browser's own name for one play of a word: 128 random bits, written as 32 digits in base 16.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct PlayName([u8; 16]);

impl PlayName {
    /// The bytes.
    pub const fn bytes(self) -> [u8; 16] {
        self.0
    }
}

impl FromStr for PlayName {
    type Err = Invalid;
    fn from_str(raw: &str) -> Result<Self, Invalid> {
        data_encoding::HEXLOWER
            .decode(raw.as_bytes())
            .ok()
            .and_then(|bytes| <[u8; 16]>::try_from(bytes).ok())
            .map(Self)
            .ok_or_else(|| Invalid::new("this names no play", "load the page again"))
    }
}

/// Where a sitting has come to.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize)]
pub struct Place {
    /// Places done so far.
    pub done: u32,
    /// Places in all.
    pub of: u32,
}

/// All that a listener's browser may know of a presentation: there is no token, child, session,
/// phase or file here, so no page, address or header can show one.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Presented {
    /// Its random name.
    pub id: PresentationId,
    /// The word, if the plan shows it.
    pub word: Option<Word>,
    /// Where the sitting has come to.
    pub place: Place,
    /// Whether feedback follows.
    pub practice: bool,
    /// How often this listener heard it to its end, on whatever device.
    pub plays: u32,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_id_reads_what_it_writes() {
        let id = PresentationId::new([7; 16]);
        assert_eq!(id.to_string().len(), 26);
        assert_eq!(id.to_string().parse::<PresentationId>().unwrap(), id);
        assert!("../../etc".parse::<PresentationId>().is_err());
    }

    #[test]
    fn a_play_is_named_by_sixteen_bytes() {
        let name: PlayName = "00ff00ff00ff00ff00ff00ff00ff00ff".parse().unwrap();
        assert_eq!(name.bytes(), [0, 255].repeat(8)[..]);
        for no_name in ["", "00ff", "zz".repeat(16).as_str()] {
            assert!(no_name.parse::<PlayName>().is_err(), "{no_name}");
        }
    }
}
