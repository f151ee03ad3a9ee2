//! What is to be assigned by a draw before treatment begins, and the contrast that is fixed with it.

use std::collections::BTreeMap;

use super::ChildCode;
use super::Cohort;
use super::Condition;
use super::Drawn;
use super::Invalid;
use super::plan::Contrast;

/// The plan of an assignment, as a file gives it and the seal holds it.
#[derive(Debug, Clone, PartialEq, serde::Serialize, serde::Deserialize)]
#[serde(deny_unknown_fields)]
pub struct AssignmentPlan {
    /// The children, in the order in which they are numbered.
    pub children: Vec<Enrolled>,
    /// What is drawn, among what.
    pub draw: Design,
    /// The words practised in treatment and those never practised, where that is fixed now.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub words: Option<WordLists>,
    /// What will be compared with what, on which words, and the smallest change that matters.
    pub contrast: Contrast,
    /// How often results are to be looked at, the last time included.
    #[serde(default = "one")]
    pub looks: u32,
}

/// A child before treatment.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize, serde::Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Enrolled {
    /// The code.
    pub code: ChildCode,
    /// The age in months.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub age_months: Option<u32>,
    /// How severe, in the study's own words.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub severity: Option<String>,
}

/// The two lists of words, without brackets.
#[derive(Debug, Clone, Default, PartialEq, Eq, serde::Serialize, serde::Deserialize)]
#[serde(deny_unknown_fields)]
pub struct WordLists {
    /// Practised in treatment.
    #[serde(default)]
    pub treated: Vec<String>,
    /// Never practised.
    #[serde(default)]
    pub control: Vec<String>,
}

/// What is drawn.
#[derive(Debug, Clone, PartialEq, serde::Serialize, serde::Deserialize)]
#[serde(tag = "design", rename_all = "kebab-case", deny_unknown_fields)]
pub enum Design {
    /// Which child is treated in which way.
    Cohorts {
        /// The ways of treating.
        cohorts: Vec<Cohort>,
        /// How the children are dealt to them.
        #[serde(default)]
        how: How,
        /// Blocked: children among whom the cohorts are dealt apart from others.
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        blocks: Vec<Vec<ChildCode>>,
        /// Stratified, minimised: what is to be balanced.
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        by: Vec<Trait>,
        /// Stratified by age: an age group begins at each of these months.
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        age_bounds: Vec<u32>,
        /// Minimised: at least so many of the best balanced draws stay possible.
        #[serde(default = "twenty", skip_serializing_if = "is_twenty")]
        keep: usize,
    },
    /// At which session treatment begins.
    StartPoints {
        /// What is drawn.
        #[serde(default)]
        drawn: Drawn,
        /// Sets of words, where sets start at different times: a case is then `CODE/SET`.
        #[serde(default, skip_serializing_if = "BTreeMap::is_empty")]
        sets: BTreeMap<String, Vec<String>>,
        /// Each case, in its order, with the sessions at which treatment may begin. With `drawn = "cases"` one session
        /// each: the sessions are dealt to the cases.
        allowed: BTreeMap<String, Vec<usize>>,
    },
    /// Which condition each session has.
    Alternating {
        /// The first and the second condition.
        conditions: Vec<Condition>,
        /// Sessions of each child.
        sessions: usize,
        /// The longest run of one condition.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        longest_run: Option<usize>,
        /// Whether the order is drawn inside each pair of sessions.
        #[serde(default)]
        pairs: bool,
    },
    /// Which set of words is treated under which condition.
    WordSets {
        /// The first and the second condition.
        conditions: Vec<Condition>,
        /// Each set with its words, without brackets.
        sets: BTreeMap<String, Vec<String>>,
    },
}

/// How children are dealt to cohorts.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, serde::Serialize, serde::Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum How {
    /// All together, the sizes of the cohorts fixed as equal as can be.
    #[default]
    Simple,
    /// Inside blocks that the plan lists.
    Blocked,
    /// Inside groups of the same age or severity.
    Stratified,
    /// One of the draws that balance age and severity best.
    Minimised,
}

/// What a draw can balance.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize, serde::Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Trait {
    /// The age in months.
    Age,
    /// The severity.
    Severity,
}

impl AssignmentPlan {
    /// What is wrong with the plan by itself.
    ///
    /// # Errors
    /// [`Invalid`] for a child given twice or none, a look count of 0, a word in two lists, or a contrast of a phase with itself.
    pub fn check(&self) -> Result<(), Invalid> {
        if self.children.is_empty() {
            return Err(Invalid::new(
                "`children` is empty",
                "list every child with its code",
            ));
        }
        for (place, child) in self.children.iter().enumerate() {
            if self
                .children
                .iter()
                .take(place)
                .any(|c| c.code == child.code)
            {
                return Err(Invalid::new(
                    format!("the child `{}` is listed twice", child.code),
                    "list it once",
                ));
            }
        }
        if self.looks == 0 {
            return Err(Invalid::new(
                "`looks` is 0",
                "count the last look too: 1 where results are seen at the end only",
            ));
        }
        if self.contrast.from == self.contrast.to {
            return Err(Invalid::new(
                format!("the contrast compares `{}` with itself", self.contrast.from),
                "name two phases in `contrast.from` and `contrast.to`",
            ));
        }
        if let Some(words) = &self.words
            && let Some(both) = words
                .treated
                .iter()
                .find(|word| words.control.contains(word))
        {
            return Err(Invalid::new(
                format!("the word `{both}` is treated and a control"),
                "keep it in one list",
            ));
        }
        self.draw.check()
    }

    /// The same with each child's number for its code, and nothing else of the child: what may be shown to anybody.
    #[must_use]
    pub fn numbered(&self) -> Self {
        let numbers: BTreeMap<&str, String> = self
            .children
            .iter()
            .map(|child| child.code.as_str())
            .zip((1..).map(|number: usize| number.to_string()))
            .collect();
        let names = |code: &str| numbers.get(code).cloned().unwrap_or_default();
        let bare = self.renamed(&names);
        Self {
            children: bare
                .children
                .into_iter()
                .map(|child| Enrolled {
                    age_months: None,
                    severity: None,
                    ..child
                })
                .collect(),
            ..bare
        }
    }

    /// The same with every code exchanged by `name`; a code whose new name is no code stays away.
    #[must_use]
    pub fn renamed(&self, name: &dyn Fn(&str) -> String) -> Self {
        let code = |old: &ChildCode| ChildCode::new(&name(old.as_str())).ok();
        let case = |old: &String| match old.split_once('/') {
            Some((child, set)) => format!("{}/{set}", name(child)),
            None => name(old),
        };
        let draw = match &self.draw {
            Design::Cohorts {
                cohorts,
                how,
                blocks,
                by,
                age_bounds,
                keep,
            } => Design::Cohorts {
                blocks: blocks
                    .iter()
                    .map(|block| block.iter().filter_map(code).collect())
                    .collect(),
                cohorts: cohorts.clone(),
                how: *how,
                by: by.clone(),
                age_bounds: age_bounds.clone(),
                keep: *keep,
            },
            Design::StartPoints {
                drawn,
                sets,
                allowed,
            } => Design::StartPoints {
                drawn: *drawn,
                sets: sets.clone(),
                allowed: allowed
                    .iter()
                    .map(|(old, starts)| (case(old), starts.clone()))
                    .collect(),
            },
            other => other.clone(),
        };
        Self {
            children: self
                .children
                .iter()
                .filter_map(|child| {
                    Some(Enrolled {
                        code: code(&child.code)?,
                        ..child.clone()
                    })
                })
                .collect(),
            draw,
            ..self.clone()
        }
    }
}

impl Design {
    fn check(&self) -> Result<(), Invalid> {
        let two = |what: &str, there: usize, most: usize| {
            if (2..=most).contains(&there) {
                Ok(())
            } else {
                Err(Invalid::new(
                    format!("`draw.{what}` names {there}"),
                    if most == 2 {
                        "name two".to_owned()
                    } else {
                        format!("name 2 to {most}")
                    },
                ))
            }
        };
        match self {
            Self::Cohorts { cohorts, .. } => two("cohorts", cohorts.len(), 9),
            Self::StartPoints { sets, .. } => apart(sets),
            Self::Alternating {
                conditions,
                longest_run,
                pairs,
                ..
            } => {
                if *pairs && longest_run.is_some() {
                    return Err(Invalid::new(
                        "`draw.longest_run` says nothing where sessions are paired",
                        "leave out one of `longest_run` and `pairs`",
                    ));
                }
                two("conditions", conditions.len(), 2)
            }
            Self::WordSets { conditions, sets } => {
                two("conditions", conditions.len(), 2)?;
                two("sets", sets.len(), 9)?;
                apart(sets)
            }
        }
    }
}

/// # Errors
/// [`Invalid`] for a set without words, or a word in two sets.
fn apart(sets: &BTreeMap<String, Vec<String>>) -> Result<(), Invalid> {
    let mut home: BTreeMap<&str, &str> = BTreeMap::new();
    for (set, words) in sets {
        if words.is_empty() {
            return Err(Invalid::new(
                format!("the set `{set}` has no word"),
                "list its words, without brackets",
            ));
        }
        for word in words {
            if let Some(other) = home.insert(word, set) {
                return Err(Invalid::new(
                    format!("the word `{word}` stands in the set `{set}` and in `{other}`"),
                    "a word belongs to one set, once",
                ));
            }
        }
    }
    Ok(())
}

const fn one() -> u32 {
    1
}

/// Twenty (ours): with the exact test over them a p of .05 can just be reached.
const fn twenty() -> usize {
    20
}

#[expect(
    clippy::trivially_copy_pass_by_ref,
    reason = "the signature that serde asks for"
)]
const fn is_twenty(value: &usize) -> bool {
    *value == 20
}
