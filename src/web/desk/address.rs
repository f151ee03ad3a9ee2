//! Addresses of a round's pages: a round's name may hold any sign.

use std::fmt::Write;

use crate::study::RoundName;

/// The address of a page of a round, such as `seal`; empty for the round's own.
pub(super) fn of_round(round: &RoundName, page: &str) -> String {
    let mut address = "/desk/rounds/".to_owned();
    for byte in round.as_str().bytes() {
        if byte.is_ascii_alphanumeric() || b"-_.~".contains(&byte) {
            address.push(char::from(byte));
        } else {
            // Writing to a string never fails.
            let _ = write!(address, "%{byte:02X}");
        }
    }
    if !page.is_empty() {
        address.push('/');
        address.push_str(page);
    }
    address
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_name_with_any_sign_is_one_part_of_an_address() {
        let round = RoundName::new("spring / 2nd, ñ").unwrap();
        assert_eq!(
            of_round(&round, "seal"),
            "/desk/rounds/spring%20%2F%202nd%2C%20%C3%B1/seal"
        );
        assert_eq!(
            of_round(&RoundName::new("a-1").unwrap(), ""),
            "/desk/rounds/a-1"
        );
    }
}
