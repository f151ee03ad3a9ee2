//! Papers for an ethics board, made from the study: a data sheet, and drafts for families, children and listeners.

use askama::Template;

use super::family::day;
use super::number;
use super::page::style_alone;

/// The style of the papers, in each once.
const STYLE: &str = include_str!("../../templates/report/family.css");

/// One of the papers.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Paper {
    /// What is kept where, for how long, and who may hear it.
    DataSheet,
    /// A draft of what a family agrees to.
    Consent,
    /// A draft to be read with a child.
    Assent,
    /// A draft for those who are asked to listen.
    Listeners,
}

/// What a study tells for its papers. Nothing in it names anybody.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PaperFacts {
    /// The study.
    pub study: String,
    /// The sound under treatment, as listeners are told it.
    pub target: String,
    /// The phases in their order.
    pub phases: Vec<String>,
    /// Children and peers.
    pub children: usize,
    /// Their recordings.
    pub recordings: usize,
    /// Who may hear, in words, with the number of children whose families agreed to it.
    pub consents: Vec<(&'static str, usize)>,
    /// Children of whom no consent is noted.
    pub lacking: usize,
    /// The first and the last day until which recordings of a child may be kept.
    pub kept_until: Option<(String, String)>,
    /// Rounds with their states.
    pub rounds: Vec<(String, String)>,
    /// Copies that left the study: kind and moment, RFC 3339.
    pub copies: Vec<(String, String)>,
    /// Roles: what each is called, may do, and how many accounts have it.
    pub people: Vec<(String, &'static str, usize)>,
    /// When the papers are made, in milliseconds since 1970 in UTC.
    pub made_ms: i64,
}

impl Paper {
    /// All of them, in the order in which they are needed.
    pub const ALL: &[Self] = &[
        Self::DataSheet,
        Self::Consent,
        Self::Assent,
        Self::Listeners,
    ];

    /// Its name in addresses and files.
    pub const fn name(self) -> &'static str {
        match self {
            Self::DataSheet => "data-sheet",
            Self::Consent => "consent",
            Self::Assent => "assent",
            Self::Listeners => "listeners",
        }
    }

    /// Its heading.
    pub const fn title(self) -> &'static str {
        match self {
            Self::DataSheet => "Data sheet",
            Self::Consent => "Consent of a family",
            Self::Assent => "Would you like to help us?",
            Self::Listeners => "Information for listeners",
        }
    }

    /// What it is for.
    pub const fn purpose(self) -> &'static str {
        match self {
            Self::DataSheet => {
                "For an ethics board: what is kept where, for how long, who may hear it, what leaves the machine."
            }
            Self::Consent => "A draft for families, with the ways of hearing to tick apart.",
            Self::Assent => "A draft to be read with a child.",
            Self::Listeners => "A draft for those who are asked to listen.",
        }
    }

    /// The paper of that name.
    pub fn named(name: &str) -> Option<Self> {
        Self::ALL.iter().find(|paper| paper.name() == name).copied()
    }
}

macro_rules! page {
    ($name:ident, $path:literal) => {
        #[derive(Template)]
        #[template(path = $path)]
        struct $name<'a> {
            paper: Paper,
            facts: &'a PaperFacts,
            style: &'static str,
            policy: String,
        }

        impl<'a> $name<'a> {
            fn new(paper: Paper, facts: &'a PaperFacts) -> Self {
                Self {
                    paper,
                    facts,
                    style: STYLE,
                    policy: papers_policy(),
                }
            }
        }
    };
}

page!(DataSheet, "report/papers/data_sheet.html");
page!(ConsentDraft, "report/papers/consent.html");
page!(AssentDraft, "report/papers/assent.html");
page!(ListenersDraft, "report/papers/listeners.html");

/// A paper as one page to print: its own style inside, nothing from elsewhere.
///
/// # Errors
/// [`askama::Error`] if the template fails.
pub fn paper(paper: Paper, facts: &PaperFacts) -> askama::Result<String> {
    match paper {
        Paper::DataSheet => DataSheet::new(paper, facts).render(),
        Paper::Consent => ConsentDraft::new(paper, facts).render(),
        Paper::Assent => AssentDraft::new(paper, facts).render(),
        Paper::Listeners => ListenersDraft::new(paper, facts).render(),
    }
}

/// The policy under which the papers ask to be shown: their own style, nothing else.
pub fn papers_policy() -> String {
    style_alone(STYLE)
}
