//! The head of the log in a form that fits a receipt and survives being typed.

use std::fmt;
use std::str::FromStr;

use data_encoding::BASE32_NOPAD;

use super::Head;

/// Bytes of the digest that a receipt keeps: 80 bits, 16 letters of base32.
const KEPT_BYTES: usize = 10;

/// Letters in a group.
const GROUP: usize = 4;

/// Text that is no receipt.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum ReceiptError {
    /// Other than a number, four groups of four letters and two digits.
    #[error(
        "a receipt looks like 37-ABCD-EFGH-IJKL-MNOP-42: a number, four groups of four signs (A to Z and 2 to 7) and two check digits"
    )]
    Shape,
    /// The check digits do not fit the rest.
    #[error("the check digits do not fit the rest of the receipt: look for a mistyped sign")]
    CheckDigits,
}

/// The head of a log as a receipt carries it: the count of events, the first 80 bits of the digest
/// (RFC 4648 base32) and two check digits (ISO/IEC 7064, MOD 97-10), which find every single
/// mistyped sign and every swap of neighbours.
///
/// Printed as `37-ABCD-EFGH-IJKL-MNOP-42`. Reading forgives case, spaces, and 0 and 8 for O and B.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct ReceiptHead {
    count: u64,
    kept: [u8; KEPT_BYTES],
}

impl ReceiptHead {
    pub(super) fn of(head: &Head) -> Self {
        let mut kept = [0; KEPT_BYTES];
        for (kept, byte) in kept.iter_mut().zip(head.digest.as_bytes()) {
            *kept = *byte;
        }
        Self {
            count: head.count,
            kept,
        }
    }

    /// Events in the log when the receipt was given.
    pub const fn count(&self) -> u64 {
        self.count
    }

    /// Whether this receipt was given at that head.
    pub fn matches(&self, head: &Head) -> bool {
        *self == Self::of(head)
    }
}

impl fmt::Display for ReceiptHead {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let count = self.count.to_string();
        let letters = BASE32_NOPAD.encode(&self.kept);
        f.write_str(&count)?;
        for (index, letter) in letters.chars().enumerate() {
            if index % GROUP == 0 {
                f.write_str("-")?;
            }
            write!(f, "{letter}")?;
        }
        write!(f, "-{:02}", check_digits(&in_digits(&count, &letters)))
    }
}

impl FromStr for ReceiptHead {
    type Err = ReceiptError;

    fn from_str(text: &str) -> Result<Self, ReceiptError> {
        let groups: Vec<String> = text
            .split('-')
            .map(|group| group.split_whitespace().collect::<String>().to_uppercase())
            .collect();
        let [count, letters @ .., check] = groups.as_slice() else {
            return Err(ReceiptError::Shape);
        };
        let letters = letters.concat().replace('0', "O").replace('8', "B");
        let kept = BASE32_NOPAD
            .decode(letters.as_bytes())
            .ok()
            .and_then(|bytes| bytes.try_into().ok())
            .ok_or(ReceiptError::Shape)?;
        let is_number = |text: &str| !text.is_empty() && text.bytes().all(|b| b.is_ascii_digit());
        if !is_number(count) || !is_number(check) || check.len() != 2 {
            return Err(ReceiptError::Shape);
        }
        if check.parse() != Ok(check_digits(&in_digits(count, &letters))) {
            return Err(ReceiptError::CheckDigits);
        }
        let count = count.parse().map_err(|_| ReceiptError::Shape)?;
        Ok(Self { count, kept })
    }
}

/// The count, then two digits for each sign of the base32 letters: A is 10, Z is 35, 2 is 02. Equal
/// widths, so that a letter taken for a digit cannot cancel out.
fn in_digits(count: &str, letters: &str) -> String {
    let values = letters.chars().filter_map(|sign| sign.to_digit(36));
    values.fold(count.to_owned(), |digits, value| {
        format!("{digits}{value:02}")
    })
}

/// The two digits that, put behind the others, make a number that leaves 1 when divided by 97:
/// ISO/IEC 7064, MOD 97-10.
fn check_digits(digits: &str) -> u32 {
    let remainder = digits
        .chars()
        .chain("00".chars())
        .filter_map(|digit| digit.to_digit(10))
        .fold(0, |remainder, digit| (remainder * 10 + digit) % 97);
    98 - remainder
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The example account number of ISO 13616, GB82 WEST 1234 5698 7654 32, with country and check
    /// digits at the end and letters as 10 to 35 (from memory).
    #[test]
    fn check_digits_are_those_of_a_published_account_number() {
        assert_eq!(check_digits("32142829123456987654321611"), 82);
    }

    #[test]
    fn one_mistyped_sign_is_found() {
        let receipt = Head::EMPTY.receipt().to_string();
        assert_eq!(receipt.parse(), Ok(Head::EMPTY.receipt()));
        assert_eq!(
            receipt.replacen('A', "C", 1).parse::<ReceiptHead>(),
            Err(ReceiptError::CheckDigits)
        );
        assert_eq!("37".parse::<ReceiptHead>(), Err(ReceiptError::Shape));
    }
}
