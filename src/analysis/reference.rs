//! Reference listeners: naive ones held against experts on the words that both heard, never pooled with them.

use std::collections::BTreeMap;

use serde::Serialize;

use super::Agreement;
use super::AgreementOptions;
use super::PairAgreement;
use super::Reasons;
use crate::stats::diagnostic::AgainstReference;
use crate::study::Invalid;
use crate::study::Judgement;
use crate::study::ListenerKind;
use crate::study::PresentationKind;
use crate::study::Rating;
use crate::study::Ratings;
use crate::study::record::RoundRecord;

/// Naive listeners against experts.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ReferenceFinding {
    /// Who is the panel of this round: the others stand beside it and in no other figure.
    pub panel: ListenerKind,
    /// Naive listeners who judged a shared word.
    pub naive: usize,
    /// Experts who did.
    pub experts: usize,
    /// Scored words that both heard.
    pub shared_words: usize,
    /// Shared words on which the experts were not all of one mind.
    pub experts_differ: usize,
    /// Shared words on which the experts were evenly divided: they stand in no table below.
    pub experts_divided: Vec<String>,
    /// Shared words on which the naive listeners were evenly divided: neither do they.
    pub naive_divided: usize,
    /// Correct by the majority of both.
    pub both_correct: usize,
    /// Correct by the majority of the experts alone.
    pub experts_only: usize,
    /// Correct by the majority of the naive listeners alone.
    pub naive_only: usize,
    /// Distorted by both.
    pub both_distorted: usize,
    /// Of the words that experts call correct, the share that naive listeners call so.
    pub sensitivity: Option<f64>,
    /// Wilson.
    pub sensitivity_ci: Option<[f64; 2]>,
    /// Of the words that experts call distorted, the share that naive listeners call so.
    pub specificity: Option<f64>,
    /// Wilson.
    pub specificity_ci: Option<[f64; 2]>,
    /// The two majorities as two raters: percent, kappa, PABAK, prevalence, bias, specific agreement.
    pub majorities: Option<PairAgreement>,
    /// Gwet's AC1 of the two majorities.
    pub gwet_ac1: Option<f64>,
    /// Its interval over words.
    pub gwet_ac1_ci: Option<[f64; 2]>,
    /// The experts among themselves on the shared words.
    pub among_experts: Agreement,
    /// Why a field is `null`.
    #[serde(skip_serializing_if = "Reasons::is_empty")]
    pub reasons: Reasons,
}

/// What the experts and the naive listeners of a round made of the words that both heard; nothing where only one kind did.
///
/// `kept`: the judgements of the panel. The other kind counts whole: no rule was sealed for it.
pub(super) fn reference(
    record: &RoundRecord,
    kept: &Ratings,
    options: &AgreementOptions,
) -> Result<Option<ReferenceFinding>, Invalid> {
    let beside = beside(record);
    if beside.rows.is_empty() {
        return Ok(None);
    }
    let panel = record.plan.listeners.kind;
    let (naive, experts) = match panel {
        ListenerKind::Naive => (kept, &beside),
        ListenerKind::Expert => (&beside, kept),
    };
    let (naive, experts) = (Heard::of(naive), Heard::of(experts));
    let scored = |word: &&String| {
        let mut tokens = record.tokens.iter();
        tokens.any(|token| token.name == **word && token.key.child.is_some())
    };
    let shared: Vec<&String> = experts
        .words
        .keys()
        .filter(|word| naive.words.contains_key(*word))
        .filter(scored)
        .collect();
    if shared.is_empty() {
        return Ok(None);
    }
    compared(panel, &naive, &experts, &shared, options).map(Some)
}

fn compared(
    panel: ListenerKind,
    naive: &Heard,
    experts: &Heard,
    shared: &[&String],
    options: &AgreementOptions,
) -> Result<ReferenceFinding, Invalid> {
    let mut table = AgainstReference::default();
    let (mut experts_divided, mut naive_divided, mut experts_differ) = (Vec::new(), 0, 0);
    let mut two = Ratings::default();
    for word in shared {
        experts_differ += usize::from(experts.differ(word));
        let cell = match (experts.majority(word), naive.majority(word)) {
            (None, _) => {
                experts_divided.push((*word).clone());
                continue;
            }
            (Some(_), None) => {
                naive_divided += 1;
                continue;
            }
            (Some(said), Some(beside)) => {
                add(&mut two, word, "experts", said);
                add(&mut two, word, "naive listeners", beside);
                match (said, beside) {
                    (Judgement::Correct, Judgement::Correct) => &mut table.hits,
                    (Judgement::Correct, Judgement::Distorted) => &mut table.misses,
                    (Judgement::Distorted, Judgement::Correct) => &mut table.false_alarms,
                    (Judgement::Distorted, Judgement::Distorted) => &mut table.rejections,
                }
            }
        };
        *cell += 1;
    }
    let mut reasons = Reasons::new();
    let level = options.confidence;
    let sensitivity = reasons.keep("sensitivity", table.sensitivity(level));
    let specificity = reasons.keep("specificity", table.specificity(level));
    let pair = super::agreement(&two, None, options)?;
    Ok(ReferenceFinding {
        panel,
        naive: naive.listeners(shared),
        experts: experts.listeners(shared),
        shared_words: shared.len(),
        experts_differ,
        experts_divided,
        naive_divided,
        both_correct: table.hits,
        experts_only: table.misses,
        naive_only: table.false_alarms,
        both_distorted: table.rejections,
        sensitivity: sensitivity.map(|found| found.share),
        sensitivity_ci: sensitivity.map(|found| found.ci),
        specificity: specificity.map(|found| found.share),
        specificity_ci: specificity.map(|found| found.ci),
        gwet_ac1: pair.gwet_ac1.estimate,
        gwet_ac1_ci: pair.gwet_ac1.ci,
        majorities: pair.cohen_kappa.into_iter().next(),
        among_experts: super::agreement(&experts.ratings(shared), None, options)?,
        reasons,
    })
}

/// The main judgements of the listeners who are not of the panel's kind.
fn beside(record: &RoundRecord) -> Ratings {
    let reference = record.reference_listeners();
    let mut ratings = Ratings::default();
    for row in &record.presentations {
        if let Some(answer) = row.answer
            && row.kind == PresentationKind::Main
            && reference.contains(&row.listener)
        {
            add(&mut ratings, &row.token, row.listener.as_str(), answer);
        }
    }
    ratings
}

fn add(ratings: &mut Ratings, word: &str, listener: &str, answer: Judgement) {
    let row = Rating {
        item: ratings.items.number(word),
        rater: ratings.raters.number(listener),
        value: ratings.values.number(answer.as_str()),
        kind: PresentationKind::Main,
        order: None,
        rt_ms: None,
        replays: None,
    };
    ratings.rows.push(row);
}

/// Main judgements by word: who said what.
struct Heard {
    words: BTreeMap<String, Vec<(String, Judgement)>>,
}

impl Heard {
    fn of(ratings: &Ratings) -> Self {
        let mut words: BTreeMap<String, Vec<(String, Judgement)>> = BTreeMap::new();
        for row in ratings.of_kind(PresentationKind::Main) {
            let said = if ratings.values.name(row.value) == Judgement::Correct.as_str() {
                Judgement::Correct
            } else {
                Judgement::Distorted
            };
            let rater = ratings.raters.name(row.rater).to_owned();
            let word = ratings.items.name(row.item).to_owned();
            words.entry(word).or_default().push((rater, said));
        }
        Self { words }
    }

    fn said(&self, word: &str) -> &[(String, Judgement)] {
        self.words.get(word).map_or(&[], Vec::as_slice)
    }

    fn correct(&self, word: &str) -> usize {
        let said = self.said(word).iter();
        said.filter(|(_, said)| *said == Judgement::Correct).count()
    }

    /// What most say; nothing in a tie.
    fn majority(&self, word: &str) -> Option<Judgement> {
        let (all, correct) = (self.said(word).len(), self.correct(word));
        match (2 * correct).cmp(&all) {
            std::cmp::Ordering::Greater => Some(Judgement::Correct),
            std::cmp::Ordering::Less => Some(Judgement::Distorted),
            std::cmp::Ordering::Equal => None,
        }
    }

    /// Whether they are of two minds.
    fn differ(&self, word: &str) -> bool {
        let correct = self.correct(word);
        correct > 0 && correct < self.said(word).len()
    }

    fn listeners(&self, words: &[&String]) -> usize {
        let mut codes: Vec<&String> = words
            .iter()
            .flat_map(|word| self.said(word).iter().map(|(code, _)| code))
            .collect();
        codes.sort_unstable();
        codes.dedup();
        codes.len()
    }

    fn ratings(&self, words: &[&String]) -> Ratings {
        let mut ratings = Ratings::default();
        for word in words {
            for (code, said) in self.said(word) {
                add(&mut ratings, word, code, *said);
            }
        }
        ratings
    }
}
