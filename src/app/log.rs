//! Events for the chained log, written beside what they tell.

use serde_json::Value;

use super::AppError;
use super::Now;
use crate::seal::Canonical;
use crate::seal::Head;
use crate::store::Writing;

/// Appends an event. `body` holds nothing that identifies a child: counts, numbers of the sealed
/// document, names of presentations and digests of salted rows.
pub(super) fn append(
    writing: &Writing<'_>,
    now: Now,
    kind: &str,
    body: &Value,
) -> Result<Head, AppError> {
    Ok(writing.append_event(now.ms(), kind, canonical(body)?)?)
}

/// An event's body with the code of whoever did it at the desk.
pub(super) fn by(mut body: Value, by: Option<&str>) -> Value {
    if let (Some(fields), Some(by)) = (body.as_object_mut(), by) {
        fields.insert("by".to_owned(), Value::from(by));
    }
    body
}

/// The canonical text of a value of ours.
pub(super) fn canonical(value: &Value) -> Result<Canonical, AppError> {
    Canonical::of(value).map_err(|error| AppError::Unreadable(error.to_string()))
}
