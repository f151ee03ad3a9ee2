//! How a secret could be written, and whether it is.

use data_encoding::BASE64;
use data_encoding::HEXLOWER;

/// A secret as it is, in hex, in percent signs, wide, backwards, and in base 64 wherever it begins.
pub(crate) fn spellings(secret: &str) -> Vec<Vec<u8>> {
    let bytes = secret.as_bytes();
    let hex = HEXLOWER.encode(bytes);
    let percent: String = bytes
        .iter()
        .fold(String::new(), |text, byte| text + &format!("%{byte:02X}"));
    let wide: Vec<u8> = secret.encode_utf16().flat_map(u16::to_le_bytes).collect();
    let mut all = vec![
        bytes.to_vec(),
        secret.to_lowercase().into_bytes(),
        hex.to_uppercase().into_bytes(),
        hex.into_bytes(),
        percent.into_bytes(),
        wide,
        secret.chars().rev().collect::<String>().into_bytes(),
    ];
    for before in 0..3 {
        let padded = [&b"\0\0"[..before], bytes].concat();
        let encoded = BASE64.encode(&padded);
        // The signs at either end depend on the neighbours.
        let first = (before * 8).div_ceil(6);
        let last = padded.len() * 8 / 6;
        all.push(encoded.as_bytes()[first..last].to_vec());
    }
    all
}

/// The secret of which a spelling stands somewhere in some bytes.
pub(crate) fn finds<'a>(needles: &'a [(String, Vec<u8>)], bytes: &[u8]) -> Option<&'a str> {
    needles
        .iter()
        .find(|(_, spelling)| {
            bytes
                .windows(spelling.len())
                .any(|window| window == spelling)
        })
        .map(|(secret, _)| secret.as_str())
}
