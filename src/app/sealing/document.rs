//! The sealed document: all that is fixed, with salted commitments for what could identify.

use serde_json::Value;
use serde_json::json;

use super::Draft;
use crate::app::AppError;
use crate::app::links;
use crate::app::log;
use crate::seal;
use crate::seal::Canonical;
use crate::seal::Digest;
use crate::seal::Head;
use crate::seal::Salt;
use crate::store::NewEnrolment;
use crate::store::NewOpenLink;
use crate::store::TokenRow;

impl Draft {
    /// What is sealed. Whatever could identify a child stands in it as a salted commitment.
    pub(super) fn document(
        &self,
        listeners: &[(NewEnrolment, String)],
        open_link: Option<&NewOpenLink>,
        earlier: &[String],
        assignment: Option<&str>,
        head: Head,
    ) -> Result<Canonical, AppError> {
        let mut tokens = Vec::with_capacity(self.entries.len());
        let mut by_number: Vec<_> = self.entries.iter().collect();
        by_number.sort_by_key(|entry| entry.number);
        for entry in by_number {
            let commitment = token_commitment(&entry.salt, &entry.token, entry.stratum)?;
            tokens.push(json!({
                "number": entry.number,
                "use": entry.token.key.use_,
                "link": entry.link,
                "commitment": commitment,
            }));
        }
        let (public, private) = split_plan(as_json(&self.plan)?);
        let listeners: Vec<_> = listeners
            .iter()
            .map(|(new, _)| links::told_of(new))
            .collect();
        let mut document = json!({
            "format": "fairhearing round 1",
            "program": env!("CARGO_PKG_VERSION"),
            "study": as_json(&self.settings)?,
            "plan": public,
            "children": seal::commit(&self.salt, &log::canonical(&private)?),
            "seed_sha256": Digest::of(self.seed.as_bytes()),
            "tokens": tokens,
            "known_answers": as_json(&self.known_answers())?,
            "listeners": listeners,
            "earlier_rounds": earlier,
            "assignment": assignment,
            "log": {"count": head.count, "head": head.digest},
        });
        if let (Some(open_link), Some(fields)) = (open_link, document.as_object_mut()) {
            let told = json!([links::told_of_open(open_link)]);
            fields.insert("open_links".to_owned(), told);
        }
        log::canonical(&document)
    }
}

/// The commitment to one token: where it comes from, its audio and what was measured on it, its
/// stratum.
pub(in crate::app) fn token_commitment(
    salt: &Salt,
    token: &TokenRow,
    stratum: Option<u32>,
) -> Result<Digest, AppError> {
    let value = json!({
        "key": as_json(&token.key)?,
        "original_sha256": token.original_sha256,
        "samples_sha256": token.samples_sha256,
        "audio_sha256": token.prepared.sha256,
        "seconds": token.prepared.seconds,
        "onset_ms": token.prepared.onset_ms,
        "level_lufs": token.prepared.level_lufs,
        "true_peak_dbtp": token.prepared.true_peak_dbtp,
        "gain_db": token.prepared.gain_db,
        "snr_db": token.prepared.snr_db,
        "bandwidth_hz": token.prepared.bandwidth_hz,
        "clipped_samples": token.prepared.clipped_samples,
        "marks": token.prepared.marks,
        "stratum": stratum,
    });
    Ok(seal::commit(salt, &log::canonical(&value)?))
}

/// The plan in two: what the document shows, and what it only commits to (it names children).
pub(in crate::app) fn split_plan(mut public: Value) -> (Value, Value) {
    let mut private = serde_json::Map::new();
    for (section, field) in [("tokens", "children"), ("listeners", "bars")] {
        let taken = public
            .get_mut(section)
            .and_then(Value::as_object_mut)
            .and_then(|section| section.remove(field));
        private.insert(field.to_owned(), taken.unwrap_or(Value::Null));
    }
    (public, Value::Object(private))
}

pub(in crate::app) fn as_json<T: serde::Serialize>(value: &T) -> Result<Value, AppError> {
    serde_json::to_value(value).map_err(|error| AppError::Unreadable(error.to_string()))
}
