//! What staff noted: consents, exclusions, known answers, children out of use, copies.

use super::Findings;
use super::gone;
use super::gone::Gone;
use super::story::Noted;
use super::story::Story;
use crate::app::AppError;
use crate::app::answers;
use crate::app::clinic::shared;
use crate::app::consent;
use crate::app::exclude;
use crate::app::masked;
use crate::app::withdraw;
use crate::seal::Digest;
use crate::store::Reading;

/// A row as it stands: its digest, and when it was noted where the row says so.
type Row = (Noted, Option<Digest>, Option<i64>);

/// Holds what staff noted against the log. The labels of children are not among it.
pub(super) fn check(reading: &Reading<'_>, story: &Story, gone: &Gone, findings: &mut Findings) {
    let mut told = story.noted.clone();
    // The last consent of a child holds, so their order counts.
    let mut last = 0;
    for (what, digest, at_ms) in rows(reading, findings) {
        let told = digest.and_then(|digest| told.remove(&digest.to_string()));
        let fits = told.is_some_and(|told| {
            told.what == what
                && at_ms.is_none_or(|at_ms| at_ms == told.at_ms)
                && (what != Noted::Consent || told.seq >= last)
        });
        if !fits {
            findings.say(format!("{} is not as the log tells it", name(what)));
        }
        last = told.map_or(last, |told| told.seq);
    }
    for (digest, told) in told {
        if !gone.holds(&gone::noted(&digest)) {
            findings.say(format!("{} was noted, and is gone", name(told.what)));
        }
    }
    check_shared_pages(reading, story, findings);
    if findings.read(reading.half_left_out()) > 0 {
        findings.say("a word or a child is left out in one column and not in another");
    }
    let copies = findings.read(reading.copies());
    let copies: Vec<_> = copies
        .into_iter()
        .map(|copy| (copy.made_ms, copy.kind))
        .collect();
    if copies != story.copies {
        findings.say("the list of copies that left the study is not the one that the log tells");
    }
}

const fn name(what: Noted) -> &'static str {
    match what {
        Noted::Consent => "a consent",
        Noted::Exclusion => "an excluded word",
        Noted::KnownAnswer => "a known answer",
        Noted::SingleJudge => "a reason for a single judge",
        Noted::ChildOutOfUse => "a child out of use",
        Noted::SharedPage => "a page behind a link",
        Noted::MaskedGraph => "a graph of a masked analysis",
        Noted::MaskedMark => "a mark of a masked analysis",
    }
}

fn rows(reading: &Reading<'_>, findings: &mut Findings) -> Vec<Row> {
    let mut rows = Vec::new();
    for row in findings.read(reading.consents()) {
        let digest = consent::consent_digest(&row.salt, &row.code, &row.consent);
        rows.push((Noted::Consent, digest.ok(), None));
    }
    for row in findings.read(reading.exclusions()) {
        let digest = exclude::digest_of_row(&row);
        // An exclusion without a time is none that an act wrote.
        let at_ms = Some(row.since_ms.unwrap_or(i64::MIN));
        rows.push((Noted::Exclusion, digest.ok().flatten(), at_ms));
    }
    for row in findings.read(reading.known_answers()) {
        let digest = answers::answer_digest(&row);
        rows.push((Noted::KnownAnswer, digest.ok(), Some(row.given_ms)));
    }
    for row in findings.read(reading.single_judges()) {
        let digest = answers::single_digest(&row);
        rows.push((Noted::SingleJudge, digest.ok(), Some(row.noted_ms)));
    }
    for row in findings.read(reading.stopped_children()) {
        let digest: Result<Option<Digest>, AppError> = row
            .salt
            .map(|salt| withdraw::stopped_digest(&salt, &row.code))
            .transpose();
        rows.push((
            Noted::ChildOutOfUse,
            digest.ok().flatten(),
            Some(row.since_ms),
        ));
    }
    for row in findings.read(reading.shared_pages()) {
        let digest = shared::page_digest(&row);
        rows.push((Noted::SharedPage, digest.ok(), Some(row.made_ms)));
    }
    for row in findings.read(reading.masked_graphs()) {
        let digest = masked::graph_digest(&row);
        rows.push((Noted::MaskedGraph, digest.ok(), Some(row.begun_ms)));
        if let Some(mark) = &row.mark {
            let digest = masked::mark_digest(&row);
            rows.push((
                Noted::MaskedMark,
                digest.ok().flatten(),
                Some(mark.marked_ms),
            ));
        }
    }
    rows
}

/// Whether the pages behind links were taken back as the log tells, and shown no longer than they might be.
fn check_shared_pages(reading: &Reading<'_>, story: &Story, findings: &mut Findings) {
    for row in findings.read(reading.shared_pages()) {
        let digest = shared::page_digest(&row).map_or_else(|_| String::new(), |it| it.to_string());
        if story.pages_taken_back.get(&digest).copied() != row.revoked_ms {
            findings.say("whether a page behind a link was taken back is not what the log tells");
        }
        let opened = story.pages_opened.get(&digest);
        if opened.is_some_and(|opened_ms| *opened_ms >= row.expires_ms) {
            findings.say("a page behind a link was opened after the link had run out");
        }
    }
}
