//! One text for one JSON value: the JSON Canonicalization Scheme of RFC 8785.

use std::fmt;
use std::fmt::Write;

use serde_json::Number;
use serde_json::Value;

/// The largest integer that every reader of JSON holds exactly: 2^53 − 1 (RFC 7493, section 2.2).
const LARGEST_INTEGER: u64 = (1 << 53) - 1;

/// Why a value has no canonical text.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum CanonicalError {
    /// An integer that readers with 64-bit floats would change.
    #[error(
        "the integer {0} lies beyond ±{LARGEST_INTEGER}, where readers of JSON may round it; \
         write it as a string"
    )]
    Integer(String),
}

/// JSON text in the one form that is hashed and stored: keys sorted, no white space, shortest
/// numbers, fewest escapes.
///
/// Made from a value by [`Canonical::of`]. Text that comes back from a store goes through
/// [`Canonical::stored`], unread: it is hashed as it stands, so that any change shows.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Canonical(String);

impl Canonical {
    /// The canonical text of a value, by RFC 8785: keys in the order of their UTF-16 code units,
    /// numbers as ECMAScript prints them, strings escaped only where JSON demands it.
    ///
    /// ```
    /// use fairhearing::seal::Canonical;
    ///
    /// let value = serde_json::json!({"b": [1.0, 0.15], "a": "say \"s\""});
    /// let text = Canonical::of(&value).unwrap();
    /// assert_eq!(text.as_str(), r#"{"a":"say \"s\"","b":[1,0.15]}"#);
    /// ```
    ///
    /// # Errors
    /// [`CanonicalError::Integer`] for an integer beyond ±(2^53 − 1).
    pub fn of(value: &Value) -> Result<Self, CanonicalError> {
        let mut text = String::new();
        write_value(&mut text, value)?;
        Ok(Self(text))
    }

    /// Text as it came back from a store. Nothing is checked here: a hash over it tells whether it
    /// is what was written.
    pub fn stored(text: impl Into<String>) -> Self {
        Self(text.into())
    }

    /// The text.
    pub fn as_str(&self) -> &str {
        &self.0
    }
}

impl fmt::Display for Canonical {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

fn write_value(text: &mut String, value: &Value) -> Result<(), CanonicalError> {
    match value {
        Value::Null => text.push_str("null"),
        Value::Bool(true) => text.push_str("true"),
        Value::Bool(false) => text.push_str("false"),
        Value::Number(number) => write_number(text, number)?,
        Value::String(string) => write_string(text, string),
        Value::Array(items) => {
            text.push('[');
            for (index, item) in items.iter().enumerate() {
                if index > 0 {
                    text.push(',');
                }
                write_value(text, item)?;
            }
            text.push(']');
        }
        Value::Object(fields) => {
            let mut fields: Vec<_> = fields.iter().collect();
            fields.sort_by(|(a, _), (b, _)| a.encode_utf16().cmp(b.encode_utf16()));
            text.push('{');
            for (index, (name, field)) in fields.into_iter().enumerate() {
                if index > 0 {
                    text.push(',');
                }
                write_string(text, name);
                text.push(':');
                write_value(text, field)?;
            }
            text.push('}');
        }
    }
    Ok(())
}

fn write_number(text: &mut String, number: &Number) -> Result<(), CanonicalError> {
    let magnitude = match (number.as_i64(), number.as_u64()) {
        (Some(integer), _) => Some(integer.unsigned_abs()),
        (None, unsigned) => unsigned,
    };
    match (magnitude, number.as_f64()) {
        (Some(magnitude), _) if magnitude <= LARGEST_INTEGER => {
            text.push_str(&number.to_string());
            Ok(())
        }
        (None, Some(float)) => {
            write_float(text, float);
            Ok(())
        }
        _ => Err(CanonicalError::Integer(number.to_string())),
    }
}

/// A finite float as ECMAScript's `Number::toString` prints it: the fewest digits that read back
/// as the same float, without an exponent between 1e-6 and 1e21. ECMA-262, section 6.1.6.1.20.
fn write_float(text: &mut String, float: f64) {
    if float == 0.0 {
        text.push('0');
        return;
    }
    if float < 0.0 {
        text.push('-');
    }
    let (digits, point) = shortest(float.abs());
    let n_digits = i32::try_from(digits.len()).unwrap_or(i32::MAX);
    if n_digits <= point && point <= 21 {
        text.push_str(&digits);
        text.extend((n_digits..point).map(|_| '0'));
    } else if 0 < point && point <= 21 {
        let (whole, fraction) = digits.split_at(usize::try_from(point).unwrap_or(0));
        text.push_str(whole);
        text.push('.');
        text.push_str(fraction);
    } else if -6 < point && point <= 0 {
        text.push_str("0.");
        text.extend((point..0).map(|_| '0'));
        text.push_str(&digits);
    } else {
        let (first, rest) = digits.split_at(1);
        text.push_str(first);
        if !rest.is_empty() {
            text.push('.');
            text.push_str(rest);
        }
        let _ = write!(text, "e{:+}", point - 1);
    }
}

/// The fewest digits that read back as `float` > 0, and where the point stands: the value is
/// 0.DIGITS × 10^point. The digits are those of `serde_json`, which of two equally near prints the
/// even one, as ECMAScript demands; the standard library's `{:e}` does not.
fn shortest(float: f64) -> (String, i32) {
    let printed = Number::from_f64(float).map_or_else(String::new, |number| number.to_string());
    let (mantissa, exponent) = printed.split_once('e').unwrap_or((&printed, "0"));
    let (whole, fraction) = mantissa.split_once('.').unwrap_or((mantissa, ""));
    let all = format!("{whole}{fraction}");
    let digits = all.trim_start_matches('0');
    let zeros = all.len() - digits.len();
    let places = |n: usize| i32::try_from(n).unwrap_or(i32::MAX);
    let point = places(whole.len()) - places(zeros) + exponent.parse::<i32>().unwrap_or(0);
    (digits.trim_end_matches('0').to_owned(), point)
}

pub(super) fn write_string(text: &mut String, string: &str) {
    text.push('"');
    for letter in string.chars() {
        match letter {
            '"' => text.push_str("\\\""),
            '\\' => text.push_str("\\\\"),
            '\u{8}' => text.push_str("\\b"),
            '\t' => text.push_str("\\t"),
            '\n' => text.push_str("\\n"),
            '\u{c}' => text.push_str("\\f"),
            '\r' => text.push_str("\\r"),
            control if control < ' ' => {
                let _ = write!(text, "\\u{:04x}", u32::from(control));
            }
            other => text.push(other),
        }
    }
    text.push('"');
}
