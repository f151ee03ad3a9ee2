//! The report as one page that stands alone: its own style inside, no script, nothing from elsewhere, no 'now'.

pub(super) mod children;
pub(super) mod graphs;
mod hanging;
mod manuscript;
mod masked;
mod methods;
pub(super) mod over_rounds;
mod pictures;
mod results;
pub(super) mod words;

use std::ops::Deref;

use askama::Template;
use sha2::Digest;
use sha2::Sha256;

use super::chart;
use super::chart::Format;
use super::number;
use super::table::Table;
use super::tables;
use crate::analysis::RoundFindings;
use crate::study::RoundState;
use crate::study::record::AssignmentMention;
use crate::study::record::RoundMention;

pub use manuscript::manuscript;
pub use pictures::Picture;
pub use pictures::pictures;

use children::Caution;
use children::Child;
use masked::MaskedPart;
use over_rounds::OverRounds;

/// The style of the page, in it once.
const STYLE: &str = include_str!("../../../templates/report/report.css");

/// Contested tokens on the page; the file has all.
const MOST_CONTESTED: usize = 40;

/// Pairs of listeners on the page; the file has all.
const MOST_PAIRS: usize = 45;

/// The report of a round as HTML: the same findings give the same bytes.
///
/// # Errors
/// [`askama::Error`] if the template fails.
pub fn page(found: &RoundFindings) -> askama::Result<String> {
    Page::new(found).render()
}

/// What the page says, without its head and its contents: for a page that has a frame and a style of its own.
///
/// # Errors
/// [`askama::Error`] if the template fails.
pub fn sections(found: &RoundFindings) -> askama::Result<String> {
    Sections(Page::new(found)).render()
}

/// The policy under which the page asks to be shown: its own style, nothing else.
pub fn policy() -> String {
    style_alone(STYLE)
}

/// A policy that lets this style in and nothing else.
pub(super) fn style_alone(style: &str) -> String {
    let hash = data_encoding::BASE64.encode(&Sha256::digest(style));
    format!("default-src 'none'; style-src 'sha256-{hash}'; base-uri 'none'; form-action 'none'")
}

/// What a page that stands alone carries: its style, and the policy that allows nothing else.
pub(super) struct Standing {
    pub(super) style: &'static str,
    pub(super) policy: String,
}

impl Standing {
    pub(super) fn new() -> Self {
        Self {
            style: STYLE,
            policy: policy(),
        }
    }
}

#[derive(Template)]
#[template(path = "report/report.html")]
struct Page<'a> {
    found: &'a RoundFindings,
    style: &'static str,
    policy: String,
    level: String,
    children: Vec<Child>,
    hanging: Vec<String>,
    study_chart: String,
    over_rounds: Option<OverRounds>,
    changes: Table,
    measures: Table,
    ratios: Table,
    steady: Option<String>,
    readings: Table,
    warned: Vec<Caution>,
    design: Table,
    flow_table: Table,
    reference: Table,
    blinding: Table,
    guidelines: [Table; 2],
    results: Vec<String>,
    warnings: Table,
    cohorts: Table,
    peers: Table,
    agreement: Table,
    agreement_by: Table,
    pairs: Table,
    intraclass: Table,
    listeners: Table,
    rules: Table,
    contested: Table,
    missing: Table,
    completeness: Table,
    unequal_lists: Table,
    conditions: Table,
    word_sets: Table,
    lists: Table,
    own_ear: Option<(String, Table)>,
    masked: Option<MaskedPart>,
    set_aside: Table,
    recordings: Table,
    methods: Vec<String>,
}

/// The same without what is around it: its template sees the page's fields.
#[derive(Template)]
#[template(path = "report/sections.html")]
struct Sections<'a>(Page<'a>);

impl<'a> Deref for Sections<'a> {
    type Target = Page<'a>;
    fn deref(&self) -> &Page<'a> {
        &self.0
    }
}

impl<'a> Page<'a> {
    fn new(found: &'a RoundFindings) -> Self {
        let (outcome, tokens) = (&found.outcome, &found.tokens);
        let graphs = children::graphs_of(found);
        let band = graphs::band(outcome);
        let peers = outcome.sessions.iter().filter(|session| session.peer);
        let apart = outcome.changes.len() > graphs.len();
        let plain = |table: Table| if apart { table } else { table.without("Words") };
        Self {
            found,
            style: STYLE,
            policy: policy(),
            level: words::level(found),
            children: children::children(found),
            hanging: hanging::hanging(found),
            study_chart: chart::study("study", &graphs, band.as_ref(), Format::WIDE),
            over_rounds: found.over_rounds.as_ref().map(OverRounds::new),
            changes: plain(tables::changes(outcome.changes.iter())).without("It carries"),
            measures: plain(tables::measures(outcome.changes.iter())).without_empty(),
            ratios: plain(tables::ratios(outcome.changes.iter())).without_empty(),
            steady: hanging::steady(found),
            readings: plain(tables::sensitivity(found.sensitivity.iter())).without("Other verdict"),
            warned: children::of_the_round(found),
            design: with_rules_below(tables::design(found.design.iter())),
            flow_table: tables::flow(found),
            reference: tables::reference(found.reference.as_deref()),
            blinding: tables::blinding(found),
            guidelines: [tables::grras(found), tables::scribe(found)],
            results: results::results(found),
            warnings: rules_of_warnings(found),
            cohorts: tables::cohorts(&outcome.cohorts),
            peers: Table {
                caption: "Sessions of the peers".to_owned(),
                ..plain(tables::sessions(peers)).without("Effective n")
            },
            agreement: tables::agreement(&found.agreement),
            agreement_by: tables::agreement_by(&found.agreement),
            pairs: tables::pairs(&found.agreement),
            intraclass: tables::intraclass(&found.agreement),
            listeners: tables::listeners(&found.listeners)
                .without("Why left out")
                .without_empty(),
            rules: tables::rules(&found.listeners),
            contested: tables::contested(&found.consensus, tokens, MOST_CONTESTED),
            completeness: tables::completeness(&found.completeness),
            unequal_lists: tables::unequal_lists(outcome),
            conditions: tables::conditions(outcome),
            word_sets: tables::word_sets(outcome),
            lists: tables::lists(&found.lists),
            own_ear: found
                .own_ear
                .as_ref()
                .map(|ear| (ear.sentence.clone(), tables::own_ear(ear))),
            masked: MaskedPart::of(found),
            missing: tables::missing(&found.missing, &found.excluded, &found.study.phases),
            set_aside: tables::set_aside(&found.record, tokens),
            recordings: tables::recordings(&found.record, tokens),
            methods: methods::methods(found),
        }
    }

    fn events(&self) -> String {
        let events = usize::try_from(self.found.round.events);
        number::count(events.unwrap_or(usize::MAX))
    }

    fn title(&self) -> String {
        format!(
            "{}: round {}",
            self.found.study.name, self.found.round.round
        )
    }

    fn contrast(&self) -> String {
        words::contrast(self.found)
    }

    fn flow(&self) -> String {
        words::flow(self.found)
    }

    fn by_chance(&self) -> String {
        words::by_chance(self.found)
    }

    fn looks(&self) -> Option<String> {
        words::looks(self.found)
    }

    fn randomisation(&self) -> Option<String> {
        words::randomisation(self.found)
    }

    fn peers_sentence(&self) -> Option<String> {
        words::peers(self.found)
    }

    fn cohort_test(&self) -> String {
        words::cohort_test(self.found)
    }

    /// Agreement in one line.
    fn agreement_sentence(&self) -> String {
        let found = &self.found.agreement;
        format!(
            "Two listeners who judged the same word agreed in {} of cases; Krippendorff's alpha {} ({} interval {}).",
            number::percent_1(found.percent_agreement.estimate),
            number::coefficient(found.krippendorff_alpha.estimate),
            self.level,
            number::limits(found.krippendorff_alpha.ci),
        )
    }

    fn shows_pairs(&self) -> bool {
        !self.pairs.is_empty() && self.pairs.rows.len() <= MOST_PAIRS
    }
}

/// A table whose rules stand below it, each once, instead of in every row.
fn with_rules_below(table: Table) -> Table {
    let rule = table
        .columns
        .iter()
        .position(|column| column.head == "Rule");
    let rules = table.rows.iter().filter_map(|row| row.get(rule?));
    let mut notes: Vec<String> = Vec::new();
    for said in rules.map(|cell| &cell.shown) {
        if !notes.contains(said) {
            notes.push(said.clone());
        }
    }
    Table {
        notes,
        ..table.without("Rule")
    }
}

/// The rules by which warnings are said, each once.
fn rules_of_warnings(found: &RoundFindings) -> Table {
    let mut table = tables::warnings(&found.warnings);
    for head in ["Child", "Found", "Means", "Do"] {
        table = table.without(head);
    }
    table
        .rows
        .sort_by(|a, b| a.iter().map(|c| &c.shown).cmp(b.iter().map(|c| &c.shown)));
    table.rows.dedup();
    table
}

/// How far a round of the study had come when this one closed, or has come since.
fn state(mention: &RoundMention) -> &'static str {
    match mention.state {
        RoundState::Draft | RoundState::Open if mention.later => "sealed later, still open",
        RoundState::Closed if mention.later => "sealed later, closed",
        RoundState::Unlocked if mention.later => "sealed later, unlocked",
        RoundState::Draft | RoundState::Open => "never closed before this one was",
        RoundState::Closed => "closed",
        RoundState::Unlocked => "unlocked",
    }
}

/// An assignment in a sentence.
fn drawn(mention: &AssignmentMention) -> String {
    let count = |n: u64| number::count(usize::try_from(n).unwrap_or(usize::MAX));
    let before = match (mention.recordings, mention.later_recordings) {
        (0, _) => "before the first recording was imported".to_owned(),
        (all, 0) => format!("after {} recordings, none of the later phase", count(all)),
        (_, later) => format!("after {} recordings of the later phase", count(later)),
    };
    let why = mention
        .why
        .as_ref()
        .map_or_else(String::new, |why| format!(" Drawn again: {why}."));
    format!(
        "Assignment {}, drawn {} {before}.{why}",
        mention.number,
        number::minute(&mention.drawn)
    )
}
