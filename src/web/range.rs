//! Which bytes of a sound a browser asks for (RFC 9110, section 14).

use std::ops::Range;

use axum::body::Body;
use axum::http::HeaderValue;
use axum::http::StatusCode;
use axum::http::header::ACCEPT_RANGES;
use axum::http::header::CONTENT_LENGTH;
use axum::http::header::CONTENT_RANGE;
use axum::http::header::CONTENT_TYPE;
use axum::response::Response;

/// A sound of this kind, whole or in the part that a `Range` header asks for.
pub(super) fn served(mut sound: Vec<u8>, range: Option<&str>, kind: &'static str) -> Response {
    let length = sound.len();
    let (status, told) = match asked(range, length) {
        Asked::All => (StatusCode::OK, None),
        Asked::Part(part) => {
            let told = format!(
                "bytes {}-{}/{length}",
                part.start,
                part.end.saturating_sub(1)
            );
            sound.truncate(part.end);
            sound.drain(..part.start);
            (StatusCode::PARTIAL_CONTENT, Some(told))
        }
        Asked::Beyond => {
            sound.clear();
            (
                StatusCode::RANGE_NOT_SATISFIABLE,
                Some(format!("bytes */{length}")),
            )
        }
    };
    let mut response = Response::new(Body::empty());
    *response.status_mut() = status;
    let headers = response.headers_mut();
    headers.insert(CONTENT_TYPE, HeaderValue::from_static(kind));
    headers.insert(ACCEPT_RANGES, HeaderValue::from_static("bytes"));
    headers.insert(CONTENT_LENGTH, HeaderValue::from(sound.len()));
    if let Some(told) = told.and_then(|told| HeaderValue::from_str(&told).ok()) {
        headers.insert(CONTENT_RANGE, told);
    }
    *response.body_mut() = Body::from(sound);
    response
}

/// What a `Range` header asks of a body.
#[derive(Debug, Clone, PartialEq, Eq)]
enum Asked {
    /// All of it: there is no such header, or one that may be left out of account.
    All,
    /// These bytes.
    Part(Range<usize>),
    /// Bytes beyond the end.
    Beyond,
}

/// Reads a `Range` header for a body of `length` bytes. More than one range, another unit or a
/// header that makes no sense is answered with the whole body, as the standard allows.
fn asked(header: Option<&str>, length: usize) -> Asked {
    let Some(range) = header.and_then(|value| value.trim().strip_prefix("bytes=")) else {
        return Asked::All;
    };
    let Some((from, to)) = range.split_once('-') else {
        return Asked::All;
    };
    let (from, to) = (from.trim(), to.trim());
    match (from.parse::<usize>(), to.parse::<usize>()) {
        (Ok(from), _) if from >= length && (to.is_empty() || to.parse::<usize>().is_ok()) => {
            Asked::Beyond
        }
        (Ok(from), Err(_)) if to.is_empty() => Asked::Part(from..length),
        (Ok(from), Ok(to)) if from <= to => Asked::Part(from..to.saturating_add(1).min(length)),
        (Err(_), Ok(0)) if from.is_empty() => Asked::Beyond,
        (Err(_), Ok(last)) if from.is_empty() => Asked::Part(length.saturating_sub(last)..length),
        _ => Asked::All,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_ranges_of_the_standard_are_read() {
        // The byte ranges of RFC 9110, section 14.1.2, for a body of 10,000 bytes.
        assert_eq!(asked(Some("bytes=0-499"), 10_000), Asked::Part(0..500));
        assert_eq!(asked(Some("bytes=500-999"), 10_000), Asked::Part(500..1000));
        assert_eq!(asked(Some("bytes=-500"), 10_000), Asked::Part(9500..10_000));
        assert_eq!(
            asked(Some("bytes=9500-"), 10_000),
            Asked::Part(9500..10_000)
        );
    }

    #[test]
    fn a_range_past_the_end_is_cut_or_refused() {
        assert_eq!(asked(Some("bytes=5-99"), 10), Asked::Part(5..10));
        assert_eq!(asked(Some("bytes=-99"), 10), Asked::Part(0..10));
        assert_eq!(asked(Some("bytes=10-"), 10), Asked::Beyond);
        assert_eq!(asked(Some("bytes=10-20"), 10), Asked::Beyond);
        assert_eq!(asked(Some("bytes=-0"), 10), Asked::Beyond);
    }

    #[test]
    fn what_makes_no_sense_gets_everything() {
        for header in [
            "lines=1-2",
            "bytes=",
            "bytes=-",
            "bytes=9-1",
            "bytes=a-b",
            "bytes=0-1,4-5",
            "bytes=99-x",
        ] {
            assert_eq!(asked(Some(header), 10), Asked::All, "{header}");
        }
        assert_eq!(asked(None, 10), Asked::All);
    }
}
