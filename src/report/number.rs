//! How numbers are shown: the one place that rounds, so that a page, a chart and a table never differ.
//!
//! Halves go away from zero (3.25 is shown as 3.3), a minus is a minus sign and never stands before a zero, and a number
//! that does not exist is a dash.

/// Shown where a number does not exist; the reason stands beside it.
pub const NONE: &str = "–";

/// A number lies on a half where it is nearer to it than this: 0.285 × 100 is 28.499999999999996 in binary.
const HALF_WIDTH: f64 = 1e-9;

/// A number with `decimals` places.
///
/// ```
/// use fairhearing::report::number::fixed;
/// assert_eq!(fixed(3.25, 1), "3.3");
/// assert_eq!(fixed(-0.04, 1), "0.0");
/// ```
pub fn fixed(value: f64, decimals: u8) -> String {
    let scale = 10_f64.powi(i32::from(decimals));
    let scaled = (value * scale).abs();
    let rounded = (scaled + HALF_WIDTH).round() / scale;
    let sign = if value < 0.0 && rounded > 0.0 {
        "−"
    } else {
        ""
    };
    format!("{sign}{rounded:.*}", usize::from(decimals))
}

/// A number with `decimals` places, or a dash.
pub fn maybe(value: Option<f64>, decimals: u8) -> String {
    value.map_or_else(|| NONE.to_owned(), |value| fixed(value, decimals))
}

/// A coefficient that may be negative, to three places.
pub fn coefficient(value: Option<f64>) -> String {
    maybe(value, 3)
}

/// The limits of a coefficient, to three places.
pub fn limits(ci: Option<[f64; 2]>) -> String {
    between(ci, |limit| fixed(limit, 3))
}

/// A share of 1 as whole percent: "61%".
pub fn percent(share: f64) -> String {
    format!("{}%", fixed(share * 100.0, 0))
}

/// A share of 1 as a whole number of percent, as [`percent`] shows it: what is added up from shown numbers.
#[expect(
    clippy::cast_possible_truncation,
    reason = "a share of 1 is at most 100 percent"
)]
pub fn whole_percent(share: f64) -> i64 {
    let size = ((share * 100.0).abs() + HALF_WIDTH).round();
    if share < 0.0 {
        -size as i64
    } else {
        size as i64
    }
}

/// A share of 1 as percent with one place: "61.4%", or a dash.
pub fn percent_1(share: Option<f64>) -> String {
    share.map_or_else(
        || NONE.to_owned(),
        |share| format!("{}%", fixed(share * 100.0, 1)),
    )
}

/// Limits that are shares of 1, in whole percent: "48% to 72%".
pub fn percent_limits(ci: Option<[f64; 2]>) -> String {
    between(ci, percent)
}

/// Limits that are shares of 1, in percent with one place: "48.1% to 72.4%".
pub fn percent_limits_1(ci: Option<[f64; 2]>) -> String {
    between(ci, |limit| percent_1(Some(limit)))
}

/// A difference of two shares in points of percent, with one place and its sign: "+43.2".
pub fn points_1(difference: Option<f64>) -> String {
    difference.map_or_else(|| NONE.to_owned(), signed_points)
}

/// Limits of a difference of two shares, in points: "+28.9 to +56.0".
pub fn points_limits_1(ci: Option<[f64; 2]>) -> String {
    between(ci, signed_points)
}

/// A size that is a difference of two shares, in points, without a sign: "17.2 points".
pub fn size_in_points(size: Option<f64>) -> String {
    size.map_or_else(
        || NONE.to_owned(),
        |size| format!("{} points", fixed(size * 100.0, 1)),
    )
}

/// A p value: to three places, and below .001 only that it is.
pub fn p_value(p: Option<f64>) -> String {
    match p {
        Some(p) if p < 0.001 => "< .001".to_owned(),
        p => maybe(p, 3),
    }
}

/// A count, its thousands set apart: "12,960".
pub fn count(n: usize) -> String {
    let digits = n.to_string();
    let mut text = String::new();
    for (place, digit) in digits.chars().enumerate() {
        if place > 0 && (digits.len() - place).is_multiple_of(3) {
            text.push(',');
        }
        text.push(digit);
    }
    text
}

/// A count with its noun: "1 session", "12 sessions".
pub fn counted(n: usize, noun: &str) -> String {
    let ending = if n == 1 { "" } else { "s" };
    format!("{} {noun}{ending}", count(n))
}

/// "a", "a and b", "a, b and c".
pub fn listed(parts: &[String]) -> String {
    match parts {
        [] => String::new(),
        [one] => one.clone(),
        [first @ .., last] => format!("{} and {last}", first.join(", ")),
    }
}

/// A number as a file keeps it: every digit that it has, so that reading it back gives the same number; empty where none.
pub fn exact(value: Option<f64>) -> String {
    value.map_or_else(String::new, |value| value.to_string())
}

fn between(ci: Option<[f64; 2]>, shown: impl Fn(f64) -> String) -> String {
    ci.map_or_else(
        || NONE.to_owned(),
        |[low, high]| format!("{} to {}", shown(low), shown(high)),
    )
}

fn signed_points(difference: f64) -> String {
    let shown = fixed(difference * 100.0, 1);
    if difference > 0.0 && shown != "0.0" {
        format!("+{shown}")
    } else {
        shown
    }
}

/// A moment as pages show it: `2026-11-03T09:12:44.123Z` as `2026-11-03 09:12 UTC`.
pub fn minute(moment: &str) -> String {
    let day_and_minute = moment.get(..16).unwrap_or(moment);
    format!("{} UTC", day_and_minute.replace('T', " "))
}

#[cfg(test)]
mod tests {
    use super::*;

    // Expected by the schoolbook rule, half away from zero, on the decimal number as written.
    #[test]
    fn halves_go_away_from_zero_even_where_binary_cannot_hold_them() {
        for (value, decimals, shown) in [
            (3.25, 1, "3.3"),
            (2.5, 0, "3"),
            (0.285 * 100.0, 0, "29"),
            (1.005, 2, "1.01"),
            (-2.5, 0, "−3"),
            (0.6149, 2, "0.61"),
            (99.96, 1, "100.0"),
        ] {
            assert_eq!(fixed(value, decimals), shown, "{value}");
        }
    }

    #[test]
    fn a_zero_has_no_sign() {
        assert_eq!(fixed(-0.0001, 2), "0.00");
        assert_eq!(points_1(Some(0.0001)), "0.0");
        assert_eq!(points_1(Some(-0.0001)), "0.0");
        assert_eq!(points_1(Some(0.0005)), "+0.1");
    }

    #[test]
    fn what_does_not_exist_is_a_dash_on_a_page_and_nothing_in_a_file() {
        assert_eq!(percent_limits(None), "–");
        assert_eq!(exact(None), "");
        assert_eq!(exact(Some(0.1 + 0.2)), "0.30000000000000004");
    }

    #[test]
    fn thousands_stand_apart() {
        assert_eq!(count(999), "999");
        assert_eq!(count(12_960), "12,960");
        assert_eq!(count(1_000_000), "1,000,000");
        assert_eq!(counted(1, "token"), "1 token");
    }
}
