//! Randomness from the operating system: ids, salts, seeds and the secrets in links.

use data_encoding::BASE32_DNSCURVE;

use crate::seal::Digest;
use crate::seal::Salt;

/// Bytes that nobody can foresee.
fn bytes<const N: usize>() -> [u8; N] {
    rand::random()
}

/// A salt.
pub(super) fn salt() -> Salt {
    Salt::new(bytes())
}

/// The 128 bits of a presentation's name.
pub(super) fn presentation_id() -> [u8; 16] {
    bytes()
}

/// The seed of a round's orders.
pub(super) fn seed() -> [u8; 32] {
    bytes()
}

/// A secret for a link or a cookie: 160 bits as 32 small letters and digits.
pub(super) fn token() -> String {
    BASE32_DNSCURVE.encode(&bytes::<20>())
}

/// The secret of a browser that is signed in at the desk: 256 bits.
pub(super) fn session() -> String {
    BASE32_DNSCURVE.encode(&bytes::<32>())
}

/// An account's code: `A-` and 8 small letters and digits.
pub(super) fn account_code() -> String {
    format!("A-{}", BASE32_DNSCURVE.encode(&bytes::<5>()))
}

/// A listener's code: `L-` and 8 small letters and digits, so that a study's listeners never share
/// one by chance.
pub(super) fn listener_code() -> String {
    format!("L-{}", BASE32_DNSCURVE.encode(&bytes::<5>()))
}

/// What is kept of a secret.
pub(super) fn digest_of(secret: &str) -> String {
    Digest::of(secret.as_bytes()).to_string()
}
