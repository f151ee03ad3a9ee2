//! How cases were assigned: what a randomisation test may count as possible. Nothing is tested without it.

use std::collections::BTreeMap;

use serde::Deserialize;
use serde::Serialize;

/// The assignment that was really drawn, as it stands in a file of its own.
///
/// ```json
/// {"design": "cohorts"}
/// {"design": "cohorts", "blocks": [["C01", "C02"], ["C03", "C04"]], "cohorts": ["cued", "free"],
///  "children": {"C01": "cued", "C02": "free", "C03": "free", "C04": "cued"}}
/// {"design": "cohorts", "cohorts": ["cued", "free"], "children": {"C01": "cued", "C02": "free", "C03": "cued"},
///  "possible": ["010", "001"]}
/// {"design": "start_points", "drawn": "starts",
///  "cases": {"C01": {"start": 5, "allowed": [4, 5, 6]}, "C02": {"start": 7, "allowed": [6, 7, 8]}}}
/// {"design": "phase_changes", "min_per_phase": 4, "cases": {"C01": [7, 13, 19]}}
/// {"design": "alternating", "longest_run": 2}
/// {"design": "alternating", "pairs": true}
/// {"design": "alternating", "conditions": ["cued", "free"], "cases": {"C01": ["cued", "free", "free", "cued"]}}
/// {"design": "word_sets", "conditions": ["cued", "free"], "sets": {"a": ["sail", "sun"], "b": ["soup", "ice"]},
///  "cases": {"C01": {"a": "cued", "b": "free"}, "C02": {"a": "free", "b": "cued"}}}
/// ```
///
/// A case of `start_points` may be a set of words of a child: it then has `child` and `words`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(tag = "design", rename_all = "snake_case", deny_unknown_fields)]
pub enum Assignment {
    /// Children were assigned to cohorts at random, with the cohort sizes fixed beforehand.
    Cohorts {
        /// Children among whom the assignment was drawn apart from others (matched pairs, say); absent: all together.
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        blocks: Vec<Vec<String>>,
        /// The cohorts in the order in which they are numbered; empty: as the tokens name them.
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        cohorts: Vec<String>,
        /// Each child with the cohort that was drawn; empty: as the tokens say.
        #[serde(default, skip_serializing_if = "BTreeMap::is_empty")]
        children: BTreeMap<String, String>,
        /// Where a rule left only some draws over, all of them: for each child, in the order of the codes, the number of
        /// its cohort from 0. Empty: every way of dealing the cohorts inside each block.
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        possible: Vec<String>,
    },
    /// The session at which treatment began was drawn.
    StartPoints {
        /// What was drawn.
        #[serde(default)]
        drawn: Drawn,
        /// Each case with its start and the starts it could have had, counted in its sessions from 1.
        cases: BTreeMap<String, StartDrawn>,
    },
    /// The sessions at which phases changed were drawn within each case.
    PhaseChanges {
        /// The fewest sessions a phase could have.
        min_per_phase: usize,
        /// Each case with the sessions at which each phase after the first began, counted from 1.
        cases: BTreeMap<String, Vec<usize>>,
    },
    /// The order of two conditions was drawn from session to session; it stands in the column `condition` too.
    Alternating {
        /// The longest run of one condition that was possible.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        longest_run: Option<usize>,
        /// Whether sessions were paired and the order drawn in each pair.
        #[serde(default, skip_serializing_if = "is_false")]
        pairs: bool,
        /// The first and the second condition; empty: as the sessions name them.
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        conditions: Vec<String>,
        /// Each case with the conditions of its sessions in their order; empty: as the sessions say.
        #[serde(default, skip_serializing_if = "BTreeMap::is_empty")]
        cases: BTreeMap<String, Vec<String>>,
    },
    /// Which set of words is treated under which condition was drawn for each child.
    WordSets {
        /// The first and the second condition.
        conditions: Vec<String>,
        /// Each set with its words, without brackets.
        sets: BTreeMap<String, Vec<String>>,
        /// Each child with the condition of each set.
        cases: BTreeMap<String, BTreeMap<String, String>>,
    },
}

#[expect(
    clippy::trivially_copy_pass_by_ref,
    reason = "the signature that serde asks for"
)]
const fn is_false(value: &bool) -> bool {
    !*value
}

/// What was drawn where starts were staggered.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Drawn {
    /// Each case's start among its own allowed ones.
    #[default]
    Starts,
    /// Which case gets which of the starts.
    Cases,
    /// Which case gets which set of allowed starts, and the start in it.
    Both,
}

/// A start that was drawn.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct StartDrawn {
    /// The first session of treatment.
    pub start: usize,
    /// The sessions at which it could have begun.
    pub allowed: Vec<usize>,
    /// Whose case it is, where a child has several.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub child: Option<String>,
    /// The words of the case, without brackets; absent: all of the child.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub words: Option<Vec<String>>,
}

impl Assignment {
    /// Whether sets of words were drawn, or starts of them, and not children or their sessions.
    pub fn is_of_words(&self) -> bool {
        match self {
            Self::WordSets { .. } => true,
            Self::StartPoints { cases, .. } => cases.values().any(|case| case.words.is_some()),
            Self::Cohorts { .. } | Self::PhaseChanges { .. } | Self::Alternating { .. } => false,
        }
    }

    /// The same with other codes for children and words. The draws that were possible follow the new order of codes.
    #[must_use]
    pub fn renamed(&self, child: &dyn Fn(&str) -> String, word: &dyn Fn(&str) -> String) -> Self {
        let case = |old: &String| match old.split_once('/') {
            Some((whose, set)) => format!("{}/{set}", child(whose)),
            None => child(old),
        };
        let words = |old: &Vec<String>| old.iter().map(|text| word(text)).collect::<Vec<_>>();
        match self.clone() {
            Self::Cohorts {
                blocks,
                cohorts,
                children,
                possible,
            } => Self::Cohorts {
                blocks: blocks
                    .iter()
                    .map(|block| block.iter().map(|code| child(code)).collect())
                    .collect(),
                possible: reordered(&possible, children.keys(), child),
                children: by_new(&children, &|old| child(old)),
                cohorts,
            },
            Self::StartPoints { drawn, mut cases } => {
                for start in cases.values_mut() {
                    start.child = start.child.as_ref().map(|code| child(code));
                    start.words = start.words.as_ref().map(words);
                }
                Self::StartPoints {
                    drawn,
                    cases: by_new(&cases, &case),
                }
            }
            Self::PhaseChanges {
                min_per_phase,
                cases,
            } => Self::PhaseChanges {
                min_per_phase,
                cases: by_new(&cases, &case),
            },
            Self::Alternating {
                longest_run,
                pairs,
                conditions,
                cases,
            } => Self::Alternating {
                longest_run,
                pairs,
                conditions,
                cases: by_new(&cases, &case),
            },
            Self::WordSets {
                conditions,
                sets,
                cases,
            } => Self::WordSets {
                conditions,
                sets: sets
                    .iter()
                    .map(|(set, texts)| (set.clone(), words(texts)))
                    .collect(),
                cases: by_new(&cases, &case),
            },
        }
    }

    /// The children whom it names.
    pub fn children(&self) -> Vec<&str> {
        fn whose(case: &str) -> &str {
            case.split_once('/').map_or(case, |(child, _)| child)
        }
        match self {
            Self::Cohorts {
                blocks, children, ..
            } => {
                let named = children.keys().chain(blocks.iter().flatten());
                named.map(String::as_str).collect()
            }
            Self::StartPoints { cases, .. } => cases
                .iter()
                .flat_map(|(case, start)| [Some(whose(case)), start.child.as_deref()])
                .flatten()
                .collect(),
            Self::PhaseChanges { cases, .. } => cases.keys().map(|case| whose(case)).collect(),
            Self::Alternating { cases, .. } => cases.keys().map(|case| whose(case)).collect(),
            Self::WordSets { cases, .. } => cases.keys().map(|case| whose(case)).collect(),
        }
    }

    /// Children assigned to cohorts at random, all together: `--assignment random`.
    pub const fn random() -> Self {
        Self::Cohorts {
            blocks: Vec::new(),
            cohorts: Vec::new(),
            children: BTreeMap::new(),
            possible: Vec::new(),
        }
    }
}

fn by_new<T: Clone>(
    old: &BTreeMap<String, T>,
    name: &dyn Fn(&String) -> String,
) -> BTreeMap<String, T> {
    old.iter()
        .map(|(code, value)| (name(code), value.clone()))
        .collect()
}

/// Draws of one sign for each child, in the order of the codes, put in the order of the new codes.
fn reordered<'a>(
    draws: &[String],
    codes: impl Iterator<Item = &'a String>,
    name: &dyn Fn(&str) -> String,
) -> Vec<String> {
    let mut places: Vec<(String, usize)> = codes.map(|code| name(code)).zip(0..).collect();
    places.sort_unstable();
    draws
        .iter()
        .map(|draw| {
            let signs: Vec<char> = draw.chars().collect();
            let moved = places.iter().filter_map(|(_, place)| signs.get(*place));
            moved.collect()
        })
        .collect()
}
