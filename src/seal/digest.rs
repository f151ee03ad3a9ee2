//! SHA-256 over canonical text, plain or salted.

use std::fmt;
use std::str::FromStr;

use data_encoding::HEXLOWER;
use sha2::Digest as _;
use sha2::Sha256;

use super::Canonical;

/// Stands before every commitment, so that no other digest of ours can be taken for one.
const COMMITMENT: &[u8] = b"fairhearing commitment 1\n";

/// Stands before every sealed document.
const SEAL: &[u8] = b"fairhearing seal 1\n";

/// Text that is no digest.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("a digest is 64 lower-case hexadecimal digits; this has {0} characters or other signs")]
pub struct DigestError(usize);

/// A SHA-256 digest (FIPS 180-4), printed and read as 64 lower-case hexadecimal digits.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Digest([u8; 32]);

impl Digest {
    /// What the first event of every log is linked to: 32 zero bytes.
    pub const GENESIS: Self = Self([0; 32]);

    /// The digest of bytes as they are: of an audio file, say.
    pub fn of(bytes: &[u8]) -> Self {
        Self(Sha256::digest(bytes).into())
    }

    /// The digest of several pieces as one run of bytes.
    pub(super) fn of_all(pieces: &[&[u8]]) -> Self {
        let mut hasher = Sha256::new();
        for piece in pieces {
            hasher.update(piece);
        }
        Self(hasher.finalize().into())
    }

    /// The 32 bytes.
    pub const fn as_bytes(&self) -> &[u8; 32] {
        &self.0
    }
}

impl fmt::Display for Digest {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(&HEXLOWER.encode(&self.0))
    }
}

impl fmt::Debug for Digest {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "Digest({self})")
    }
}

impl FromStr for Digest {
    type Err = DigestError;

    fn from_str(text: &str) -> Result<Self, DigestError> {
        HEXLOWER
            .decode(text.as_bytes())
            .ok()
            .and_then(|bytes| bytes.try_into().ok())
            .map(Self)
            .ok_or_else(|| DigestError(text.chars().count()))
    }
}

impl serde::Serialize for Digest {
    fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}

impl<'de> serde::Deserialize<'de> for Digest {
    fn deserialize<D: serde::Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let text = std::borrow::Cow::<'de, str>::deserialize(deserializer)?;
        text.parse().map_err(serde::de::Error::custom)
    }
}

/// 128 secret bits that keep a commitment from being guessed. From the operating system, one for
/// each thing committed to; deleted when that thing is erased.
#[derive(Clone, Copy, PartialEq, Eq)]
pub struct Salt([u8; 16]);

impl Salt {
    /// A salt from 16 random bytes.
    pub const fn new(bytes: [u8; 16]) -> Self {
        Self(bytes)
    }

    /// The bytes, to be stored beside what they hide.
    pub const fn as_bytes(&self) -> &[u8; 16] {
        &self.0
    }
}

impl fmt::Debug for Salt {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("Salt(…)")
    }
}

/// A commitment to `value`: whoever holds salt and value can show that they are what was sealed;
/// without the salt the digest says nothing about them.
///
/// ```text
/// SHA-256("fairhearing commitment 1\n" ‖ salt (16 bytes) ‖ canonical text)
/// ```
pub fn commit(salt: &Salt, value: &Canonical) -> Digest {
    Digest::of_all(&[COMMITMENT, &salt.0, value.as_str().as_bytes()])
}

/// The seal of a document: what is printed, deposited elsewhere and compared afterwards.
///
/// ```text
/// SHA-256("fairhearing seal 1\n" ‖ canonical text)
/// ```
pub fn seal_of(document: &Canonical) -> Digest {
    Digest::of_all(&[SEAL, document.as_str().as_bytes()])
}
