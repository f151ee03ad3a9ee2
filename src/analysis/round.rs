//! A round: all findings together, from the same tables that its export holds.

use std::collections::BTreeMap;
use std::collections::BTreeSet;

use serde::Serialize;

use super::Agreement;
use super::AgreementOptions;
use super::Completeness;
use super::Consensus;
use super::ConsensusOptions;
use super::DesignCheck;
use super::LeftOut;
use super::ListFollowed;
use super::Listeners;
use super::MaskedFinding;
use super::Outcome;
use super::OutcomeOptions;
use super::OwnEar;
use super::ReadingFinding;
use super::ReferenceFinding;
use super::RoundsFinding;
use super::ScaleKind;
use super::Warning;
use super::design;
use super::design::in_order;
use super::flow::flow;
use super::flow::left_out;
use super::missing::completeness;
use super::own_ear::own_ear;
use super::probe::lists_followed;
use super::reference::reference;
use super::sensitivity::sensitivity;
use super::warnings::is_of_one_round;
use super::warnings::warnings;
use super::warnings::warnings_over_rounds;
use crate::stats::listener::Rules;
use crate::study::Invalid;
use crate::study::Judgement;
use crate::study::Panel;
use crate::study::PanelRow;
use crate::study::Plan;
use crate::study::Ratings;
use crate::study::StudySettings;
use crate::study::TokenTable;
use crate::study::Unlocked;
use crate::study::plan::Screening;
use crate::study::record::ExcludedRecord;
use crate::study::record::MissingRecord;
use crate::study::record::RoundFacts;
use crate::study::record::RoundRecord;

/// The tables of a round as its export gives them.
#[derive(Debug, Clone)]
pub struct RoundTables {
    /// The judgements that count.
    pub ratings: Ratings,
    /// The scored tokens.
    pub tokens: TokenTable,
    /// The known answers of check tokens.
    pub key: BTreeMap<String, String>,
}

/// All that a round shows.
#[derive(Debug, Clone, Serialize)]
pub struct RoundFindings {
    /// What is known of the round itself.
    pub round: RoundFacts,
    /// The version of the program that computed this.
    pub program: &'static str,
    /// The study's settings as they were sealed.
    pub study: StudySettings,
    /// The sealed plan.
    pub plan: Plan,
    /// How many listeners came how far.
    pub flow: BTreeMap<&'static str, usize>,
    /// Who judged and was left out, by reason.
    pub left_out: Vec<LeftOut>,
    /// Every listener, and the rules that decided who is kept.
    pub listeners: Listeners,
    /// Who was kept, with the weight of each listener.
    #[serde(skip)]
    pub panel: Vec<PanelRow>,
    /// Agreement of the listeners who were kept.
    pub agreement: Agreement,
    /// Naive listeners against experts, where a word was heard by both.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub reference: Option<Box<ReferenceFinding>>,
    /// What the kept listeners say of each token.
    pub consensus: Consensus,
    /// Sessions, changes and verdicts.
    pub outcome: Outcome,
    /// The design held against published rules for single cases.
    pub design: Vec<DesignCheck>,
    /// What a reader must keep in mind, by stated rules.
    pub warnings: Vec<Warning>,
    /// Each change under other readings of the same judgements.
    pub sensitivity: Vec<ReadingFinding>,
    /// This round and those unlocked before it, on one scale; nothing where it is the first.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub over_rounds: Option<RoundsFinding>,
    /// Where an analyst who knew neither phase nor child saw changes begin, beside the real starts.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub masked: Option<MaskedFinding>,
    /// Which version of which word list each session followed; empty where the study fixes none.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub lists: Vec<ListFollowed>,
    /// What is missing by phase, and how far it could move a change.
    pub completeness: Completeness,
    /// The clinician's scores in the sessions beside the panel's, where she scored.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub own_ear: Option<OwnEar>,
    /// Words without a recording.
    pub missing: Vec<MissingRecord>,
    /// Words that were excluded before anybody judged them.
    pub excluded: Vec<ExcludedRecord>,
    /// Presentations that were set aside.
    pub set_aside: usize,
    /// The scored tokens, for whoever shows them.
    #[serde(skip)]
    pub tokens: TokenTable,
    /// What all this was computed from.
    #[serde(skip)]
    pub record: RoundRecord,
}

/// The sealed rules of screening.
///
/// # Errors
/// [`Invalid`] where a rule is none, or cannot be meant.
pub fn rules_of(screening: &Screening) -> Result<Rules, Invalid> {
    let refused = |what: String| {
        Invalid::new(
            format!("`screening`: {what}"),
            "see the example of a plan in the README",
        )
    };
    let value = serde_json::json!({
        "careful_accuracy": screening.careful_accuracy,
        "rules": screening.rules,
    });
    let rules: Rules = serde_json::from_value(value).map_err(|error| refused(error.to_string()))?;
    rules
        .check()
        .map_err(|error| Invalid::new(error.what, error.mend))?;
    Ok(rules)
}

/// Computes all findings of an unlocked round, as its sealed plan says.
///
/// # Errors
/// [`Invalid`] where tables and plan do not fit each other.
pub fn round(
    _unlocked: &Unlocked,
    record: &RoundRecord,
    tables: &RoundTables,
) -> Result<RoundFindings, Invalid> {
    let plan = &record.plan;
    let confidence = plan.analysis.confidence.level();
    let positive = Judgement::Correct.as_str();
    let listeners = screened(record, tables)?;
    let kept = kept_only(&tables.ratings, &listeners);
    let consensus = super::consensus(
        &kept,
        &ConsensusOptions {
            positive: Some(positive.to_owned()),
            confidence,
            prior: PRIOR,
        },
    )?;
    let everyone = super::consensus(
        &tables.ratings,
        &ConsensusOptions {
            positive: Some(positive.to_owned()),
            confidence,
            prior: PRIOR,
        },
    )?;
    let panel = panel(&listeners, &everyone);
    let mut outcome = super::outcome(
        &tables.ratings,
        &tables.tokens,
        Some(&panel),
        &outcome_options(record),
    )?;
    if let Some(why) = &record.not_random {
        outcome.reasons.say("cohort_test", why);
        outcome.reasons.say("randomisation", why);
    }
    let agreement = super::agreement(&kept, Some(&tables.tokens), &agreement_options(plan))?;
    let mut checks = design::timing(&plan.contrast, &design::own_points(record, &outcome));
    checks.extend(design::agreed(
        &record.settings,
        &tables.tokens,
        &kept,
        &agreement,
    ));
    Ok(RoundFindings {
        round: record.facts.clone(),
        program: env!("CARGO_PKG_VERSION"),
        study: record.settings.clone(),
        plan: plan.clone(),
        flow: flow(record, &listeners),
        left_out: left_out(&listeners),
        design: in_order(checks),
        agreement,
        reference: reference(record, &kept, &agreement_options(plan))?.map(Box::new),
        lists: lists_followed(record),
        completeness: completeness(record, tables, &outcome),
        own_ear: own_ear(record, &consensus, confidence),
        warnings: warnings(record, &kept, &outcome),
        sensitivity: sensitivity(record, tables, &kept, &outcome)?,
        outcome,
        over_rounds: None,
        masked: super::masked(record, tables)?,
        panel: panel.rows,
        consensus,
        listeners,
        missing: record.missing.clone(),
        excluded: record.excluded.clone(),
        set_aside: record
            .presentations
            .iter()
            .filter(|row| row.aside.is_some())
            .count(),
        tokens: tables.tokens.clone(),
        record: record.clone(),
    })
}

impl RoundFindings {
    /// The same with what was found over all rounds so far beside it; the design is then that of all of them.
    #[must_use]
    pub fn over(mut self, rounds: Option<RoundsFinding>) -> Self {
        if let Some(rounds) = rounds.as_ref().filter(|rounds| !rounds.sessions.is_empty()) {
            let of_time = [design::POINTS_RULE, design::STARTS_RULE];
            self.design.retain(|check| !of_time.contains(&check.rule));
            let points = design::points_over_rounds(rounds);
            self.design
                .extend(design::timing(&self.plan.contrast, &points));
            self.design = in_order(self.design);
            let smallest = self.plan.contrast.smallest_change.get();
            self.warnings
                .retain(|warning| !is_of_one_round(warning, rounds));
            self.warnings.extend(warnings_over_rounds(rounds, smallest));
        }
        self.over_rounds = rounds;
        self
    }
}

/// Pseudo-judgements in each cell of the latent classes, as the command's default.
const PRIOR: f64 = 0.1;

/// Resamples of items for the interval of alpha, as the command's default.
const RESAMPLES: u32 = 2000;

/// The listeners, with the sealed rules applied to them.
pub(in crate::analysis) fn screened(
    record: &RoundRecord,
    tables: &RoundTables,
) -> Result<Listeners, Invalid> {
    super::listeners(
        &tables.ratings,
        Some(&tables.key),
        &rules_of(&record.plan.screening)?,
        Some(Judgement::Correct.as_str()),
        record.plan.analysis.confidence.level(),
    )
}

/// The names of the listeners whom the sealed rules of a round keep.
pub(in crate::analysis) fn kept_listeners(
    record: &RoundRecord,
    tables: &RoundTables,
) -> Result<BTreeSet<String>, Invalid> {
    let listeners = screened(record, tables)?.listeners.into_iter();
    Ok(listeners
        .filter(|row| row.kept)
        .map(|row| row.rater)
        .collect())
}

/// The judgements of the listeners whom the sealed rules of a round keep.
pub(in crate::analysis) fn kept_ratings(
    record: &RoundRecord,
    tables: &RoundTables,
) -> Result<Ratings, Invalid> {
    Ok(kept_only(&tables.ratings, &screened(record, tables)?))
}

/// The judgements of the listeners who are kept.
pub(in crate::analysis) fn kept_only(ratings: &Ratings, listeners: &Listeners) -> Ratings {
    let kept: Vec<bool> = ratings
        .raters
        .names()
        .iter()
        .map(|name| {
            listeners
                .listeners
                .iter()
                .any(|row| row.rater == *name && row.kept)
        })
        .collect();
    let mut ratings = ratings.clone();
    ratings
        .rows
        .retain(|row| kept.get(row.rater as usize).copied().unwrap_or(false));
    ratings
}

/// Who was kept, and what each listener's judgements weigh: the weights come from all listeners, so
/// that they reject softly whom the rules reject outright.
fn panel(listeners: &Listeners, everyone: &Consensus) -> Panel {
    let weight = |name: &str| {
        everyone
            .raters
            .iter()
            .find(|row| row.rater == name)
            .and_then(|row| row.weight)
    };
    let rows = listeners
        .listeners
        .iter()
        .map(|row| PanelRow {
            listener: row.rater.clone(),
            kept: row.kept,
            weight: weight(&row.rater),
        })
        .collect();
    Panel { rows }
}

fn agreement_options(plan: &Plan) -> AgreementOptions {
    AgreementOptions {
        scale: ScaleKind::Nominal,
        categories: Some(Judgement::ALL.iter().map(ToString::to_string).collect()),
        confidence: plan.analysis.confidence.level(),
        replicates: RESAMPLES,
        seed: plan.analysis.seed,
    }
}

/// How the sealed plan of a round computes its outcome.
pub(in crate::analysis) fn outcome_options(record: &RoundRecord) -> OutcomeOptions {
    let plan = &record.plan;
    OutcomeOptions {
        baseline: plan.contrast.from.to_string(),
        treatment: plan.contrast.to.to_string(),
        last: plan
            .contrast
            .last
            .and_then(|last| usize::try_from(last).ok()),
        smallest_change: plan.contrast.smallest_change.get(),
        confidence: plan.analysis.confidence.level(),
        seed: plan.analysis.seed,
        words: plan.contrast.words,
        assignment: record.assignment.clone(),
        look: Some(record.facts.look).filter(|look| !look.is_the_only_one()),
        ..OutcomeOptions::default()
    }
}
