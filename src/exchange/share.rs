//! A round's record made fit to be given away: other codes for children and words, days from the
//! first recording, ages in half-years, and nothing that somebody typed freely.

use std::collections::BTreeMap;

use jiff::civil::Date;

use crate::study::ChildCode;
use crate::study::Invalid;
use crate::study::Word;
use crate::study::record::RoundFacts;
use crate::study::record::RoundRecord;

/// The day to which the first recording of a shared record is moved; days are counted from it.
pub(super) const FIRST_DAY: Date = Date::constant(2000, 1, 1);

/// Months in the steps of a shared age.
pub(super) const AGE_STEP_MONTHS: u32 = 6;

/// The records of several rounds as they may be shared, under the same codes in all of them. `order`:
/// the children in an order that tells nothing of their codes; they are called X01, X02, … in it,
/// without a gap. Words are called W01, W02, … in the order of the tokens, which was dealt at random.
///
/// # Errors
/// [`Invalid`] if a code cannot be made.
pub fn shared(records: &[RoundRecord], order: &[ChildCode]) -> Result<Vec<RoundRecord>, Invalid> {
    let codes = Codes::of(records, order)?;
    Ok(records
        .iter()
        .map(|record| shared_by(record, &codes))
        .collect())
}

fn shared_by(record: &RoundRecord, codes: &Codes) -> RoundRecord {
    let mut shared = record.clone();
    for token in &mut shared.tokens {
        let key = &mut token.key;
        key.child = key
            .child
            .as_ref()
            .and_then(|child| codes.child(child.as_str()));
        key.word = codes.word(&key.word.text());
        key.target = None;
        key.position = None;
        key.file = None;
        key.date = key
            .date
            .zip(codes.first)
            .and_then(|(date, first)| moved(date, first));
        key.age_months = key
            .age_months
            .map(|months| months / AGE_STEP_MONTHS * AGE_STEP_MONTHS);
        token.marks.clear();
        token.audio_sha256 = codes.sound(&token.audio_sha256);
    }
    for row in &mut shared.missing {
        row.child = codes.name(&row.child);
        row.word = codes.word(&row.word).text();
        "not recorded".clone_into(&mut row.reason);
    }
    for row in &mut shared.excluded {
        row.child = codes.name(&row.child);
        row.word = codes.word(&row.word).text();
    }
    shared
        .missing
        .sort_by(|a, b| (&a.child, a.session, &a.word).cmp(&(&b.child, b.session, &b.word)));
    shared
        .excluded
        .sort_by(|a, b| (&a.child, a.session, &a.word).cmp(&(&b.child, b.session, &b.word)));
    let plan = &mut shared.plan;
    let children = plan.tokens.children.iter();
    plan.tokens.children = children
        .filter_map(|child| codes.child(child.as_str()))
        .collect();
    plan.listeners.bars.retain_mut(|bar| {
        let code = codes.child(bar.child.as_str());
        code.map(|code| bar.child = code).is_some()
    });
    shared.assignment = record.assignment.as_ref().map(|assignment| {
        let child = |name: &str| codes.name(name);
        let word = |text: &str| codes.word(text).text();
        assignment.renamed(&child, &word)
    });
    if let Some(told) = &mut shared.masked {
        // With the seed the order of the graphs tells the order of the codes.
        told.seed.clear();
    }
    for graph in shared.masked.iter_mut().flat_map(|told| &mut told.graphs) {
        graph.child = codes.name(&graph.child);
    }
    leave_out_reasons(&mut shared.facts);
    shared
}

/// Why something was drawn again, or done otherwise than planned, was typed freely.
fn leave_out_reasons(facts: &mut RoundFacts) {
    for mention in &mut facts.assignments {
        let Some(why) = mention.why.take() else {
            continue;
        };
        for said in &mut facts.deviations {
            said.said = said
                .said
                .replace(&format!("({why})"), "(the reason is not shared)");
        }
    }
    for reason in facts
        .deviations
        .iter_mut()
        .filter_map(|said| said.reason.as_mut())
    {
        "the reason is not shared".clone_into(reason);
    }
}

fn moved(date: Date, first: Date) -> Option<Date> {
    FIRST_DAY.checked_add(date - first).ok()
}

/// What children and words are called in a shared record.
struct Codes {
    children: BTreeMap<String, ChildCode>,
    words: BTreeMap<String, Word>,
    sounds: BTreeMap<String, String>,
    /// The day of the first recording.
    first: Option<Date>,
    unknown: Word,
}

impl Codes {
    fn of(records: &[RoundRecord], order: &[ChildCode]) -> Result<Self, Invalid> {
        let width = order.len().to_string().len().max(2);
        let children = order
            .iter()
            .zip(1..)
            .map(|(child, number)| {
                let code = ChildCode::new(&format!("X{number:0width$}"))?;
                Ok((child.to_string(), code))
            })
            .collect::<Result<_, Invalid>>()?;
        let tokens = || records.iter().flat_map(|record| &record.tokens);
        let mut sounds = BTreeMap::new();
        for token in tokens() {
            let next = format!("sound {}", sounds.len() + 1);
            sounds.entry(token.audio_sha256.clone()).or_insert(next);
        }
        let texts = texts_of(records);
        let width = texts.len().to_string().len().max(2);
        let words = texts
            .into_iter()
            .zip(1..)
            .map(|(text, number)| Ok((text, format!("W{number:0width$}").parse()?)))
            .collect::<Result<_, Invalid>>()?;
        Ok(Self {
            children,
            words,
            sounds,
            first: tokens().filter_map(|token| token.key.date).min(),
            unknown: "W".parse()?,
        })
    }

    fn child(&self, code: &str) -> Option<ChildCode> {
        self.children.get(code).cloned()
    }

    fn name(&self, code: &str) -> String {
        self.child(code).map(String::from).unwrap_or_default()
    }

    fn sound(&self, sha256: &str) -> String {
        self.sounds.get(sha256).cloned().unwrap_or_default()
    }

    fn word(&self, text: &str) -> Word {
        self.words.get(text).unwrap_or(&self.unknown).clone()
    }
}

/// Every word of the records once, those that were played first.
fn texts_of(records: &[RoundRecord]) -> Vec<String> {
    let played = records
        .iter()
        .flat_map(|record| record.tokens.iter().map(|token| token.key.word.text()));
    let others = records
        .iter()
        .flat_map(|record| record.missing.iter().map(|row| row.word.clone()));
    let excluded = records
        .iter()
        .flat_map(|record| record.excluded.iter().map(|row| row.word.clone()));
    let mut texts: Vec<String> = Vec::new();
    for text in played.chain(others).chain(excluded) {
        if !texts.contains(&text) {
            texts.push(text);
        }
    }
    texts
}
