//! What each listener heard and answered, by kind of presentation.

use std::collections::BTreeMap;
use std::collections::HashMap;

use super::super::Positive;
use crate::stats::listener::Signals;
use crate::stats::listener::longest_run;
use crate::stats::listener::repeats;
use crate::study::Invalid;
use crate::study::PresentationKind;
use crate::study::Rating;
use crate::study::Ratings;

/// All that one listener answered.
#[derive(Debug, Clone, Default)]
pub(super) struct Heard {
    pub(super) name: String,
    /// Main judgements: item, place in her order, positive.
    pub(super) main: Vec<(u32, Option<u32>, bool)>,
    /// Check tokens: known to be positive, called positive.
    pub(super) checks: Vec<(bool, bool)>,
    /// First and second judgement of tokens heard again.
    pub(super) repeats: Vec<(bool, bool)>,
    pub(super) response_times_ms: Vec<f32>,
}

/// Every listener of a file by name; `key` gives the known answers of check items.
pub(super) fn listeners(
    ratings: &Ratings,
    positive: &Positive,
    key: Option<&BTreeMap<String, String>>,
) -> Result<Vec<Heard>, Invalid> {
    let answers = key.map(|key| answers(ratings, positive, key)).transpose()?;
    let mut heard: Vec<Heard> = ratings
        .raters
        .names()
        .iter()
        .map(|name| Heard::named(name))
        .collect();
    for row in &ratings.rows {
        let Some(one) = heard.get_mut(row.rater as usize) else {
            continue;
        };
        let yes = positive.is(row.value);
        match row.kind {
            PresentationKind::Main => {
                one.main.push((row.item, row.order, yes));
                one.response_times_ms.extend(row.rt_ms);
            }
            PresentationKind::Check => {
                let known = answers
                    .as_ref()
                    .and_then(|answers| answers.get(row.item as usize));
                one.checks
                    .extend(known.copied().flatten().map(|known| (known, yes)));
            }
            _ => {}
        }
    }
    pair_repeats(ratings, positive, &mut heard);
    for one in &mut heard {
        one.response_times_ms.sort_unstable_by(f32::total_cmp);
        if one.main.iter().all(|(_, order, _)| order.is_some()) {
            one.main.sort_by_key(|(_, order, _)| *order);
        }
    }
    heard.sort_by(|a, b| a.name.cmp(&b.name));
    Ok(heard)
}

impl Heard {
    fn named(name: &str) -> Self {
        Self {
            name: name.to_owned(),
            ..Self::default()
        }
    }

    /// What screening rules may see of her.
    pub(super) fn signals(&self, confidence: f64) -> Signals {
        Signals {
            judgements: count(self.main.len()),
            positive: count(self.main.iter().filter(|(_, _, yes)| *yes).count()),
            checks: count(self.checks.len()),
            checks_right: count(
                self.checks
                    .iter()
                    .filter(|(known, said)| known == said)
                    .count(),
            ),
            response_times_ms: self.response_times_ms.clone(),
            repeats: repeats(&self.repeats, confidence),
        }
    }

    /// The longest run of equal answers in her order, or in that of the file where no order is known.
    pub(super) fn longest_run(&self) -> u32 {
        let answers: Vec<bool> = self.main.iter().map(|(_, _, yes)| *yes).collect();
        longest_run(&answers)
    }

    /// Places and answers, where every place is known.
    pub(super) fn over_places(&self) -> Option<Vec<(f64, bool)>> {
        let place = |&(_, order, yes): &(u32, Option<u32>, bool)| Some((f64::from(order?), yes));
        self.main.iter().map(place).collect()
    }
}

pub(super) fn count(n: usize) -> u32 {
    u32::try_from(n).unwrap_or(u32::MAX)
}

/// The known answer of each item of the ratings that was presented as a check.
fn answers(
    ratings: &Ratings,
    positive: &Positive,
    key: &BTreeMap<String, String>,
) -> Result<Vec<Option<bool>>, Invalid> {
    let mut answers = vec![None; ratings.items.len()];
    for row in ratings.of_kind(PresentationKind::Check) {
        let name = ratings.items.name(row.item);
        let known = key.get(name).ok_or_else(|| {
            Invalid::new(
                format!("the check item `{name}` has no answer in the key"),
                "add its row to the key",
            )
        })?;
        if let Some(answer) = answers.get_mut(row.item as usize) {
            *answer = Some(positive.answer(known)?);
        }
    }
    Ok(answers)
}

/// Joins each repeat with the main judgement of the same token by the same listener.
fn pair_repeats(ratings: &Ratings, positive: &Positive, heard: &mut [Heard]) {
    let repeats: Vec<&Rating> = ratings.of_kind(PresentationKind::Repeat).collect();
    let mut firsts: HashMap<(u32, u32), Option<bool>> = repeats
        .iter()
        .map(|row| ((row.rater, row.item), None))
        .collect();
    for row in ratings.of_kind(PresentationKind::Main) {
        if let Some(first) = firsts.get_mut(&(row.rater, row.item)) {
            *first = Some(positive.is(row.value));
        }
    }
    for row in repeats {
        let first = firsts.get(&(row.rater, row.item)).copied().flatten();
        if let (Some(first), Some(one)) = (first, heard.get_mut(row.rater as usize)) {
            one.repeats.push((first, positive.is(row.value)));
        }
    }
}
