//! Assigning: from a plan to all draws that it allows, to one of them, and to what was drawn in words.

mod minimised;
mod parts;
mod sheet;

use std::collections::BTreeMap;

use serde::Serialize;

use crate::stats::change::Draws;
use crate::stats::change::DrawsError;
use crate::study::Assignment;
use crate::study::AssignmentPlan;
use crate::study::Design;
use crate::study::Drawn;
use crate::study::Invalid;
use crate::study::StartDrawn;

pub use sheet::AssignmentSheet;

use parts::Layout;

/// All that a plan can draw.
#[derive(Debug, Clone)]
pub struct Possible {
    plan: AssignmentPlan,
    layout: Layout,
    draws: Draws,
}

/// What a plan can draw, in numbers: said before anything is drawn.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct DrawNumbers {
    /// In how many ways the draw can fall out.
    pub draws: f64,
    /// The smallest p for a change one way; nothing where the design has no test.
    pub smallest_p: Option<f64>,
    /// The smallest p for a change either way.
    pub smallest_p_two_sided: Option<f64>,
}

/// One line of what was drawn.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct DrawnLine {
    /// The child, or the child and its set of words.
    pub case: String,
    /// What fell to it.
    pub drawn: String,
}

impl Possible {
    /// # Errors
    /// [`Invalid`] where the plan names a child that it does not list, leaves something without a choice, or asks for
    /// more than can be counted.
    pub fn of(plan: &AssignmentPlan) -> Result<Self, Invalid> {
        let layout = Layout::of(plan)?;
        let draws = Draws::new(layout.parts.clone()).map_err(refused)?;
        if draws.count() <= 1.0 {
            return Err(Invalid::new(
                "the draw could fall out in one way only",
                "give it something to choose from",
            ));
        }
        Ok(Self {
            plan: plan.clone(),
            layout,
            draws,
        })
    }

    /// How many draws there are, and what a test over them can reach.
    pub fn numbers(&self) -> DrawNumbers {
        let draws = self.draws.count();
        let tested = match &self.plan.draw {
            Design::Cohorts { cohorts, .. } => cohorts.len() == 2,
            _ => true,
        };
        let ways = if self.draws.is_mirrored() { 2.0 } else { 1.0 };
        DrawNumbers {
            draws,
            smallest_p: tested.then(|| 1.0 / draws),
            smallest_p_two_sided: tested.then(|| ways / draws),
        }
    }

    /// Draws: `below(n)` gives 0 to n − 1, each equally likely. One list of small numbers for each part of the draw.
    pub fn draw(&self, below: impl FnMut(u64) -> u64) -> Vec<Vec<usize>> {
        self.draws.draw(below)
    }

    /// Whether the plan allows this draw.
    pub fn allows(&self, drawn: &[Vec<usize>]) -> bool {
        self.draws.allows(drawn)
    }

    /// What was drawn, as files say it.
    pub fn assignment(&self, drawn: &[Vec<usize>]) -> Assignment {
        match &self.plan.draw {
            Design::Cohorts { cohorts, .. } => {
                let cohorts: Vec<String> = cohorts.iter().map(ToString::to_string).collect();
                self.cohorts(drawn, &cohorts)
            }
            Design::StartPoints { drawn: what, .. } => self.starts(drawn, *what),
            Design::Alternating {
                conditions,
                longest_run,
                pairs,
                ..
            } => {
                let conditions: Vec<String> = conditions.iter().map(ToString::to_string).collect();
                Assignment::Alternating {
                    longest_run: *longest_run,
                    pairs: *pairs,
                    cases: self.orders(drawn, &conditions),
                    conditions,
                }
            }
            Design::WordSets { conditions, sets } => {
                let conditions: Vec<String> = conditions.iter().map(ToString::to_string).collect();
                let cases = self.layout.cases.iter().zip(drawn);
                let of = |way: &[usize]| -> BTreeMap<String, String> {
                    sets.keys()
                        .zip(way)
                        .map(|(set, label)| (set.clone(), named(&conditions, *label)))
                        .collect()
                };
                Assignment::WordSets {
                    sets: sets.clone(),
                    cases: cases
                        .map(|(case, way)| (case.name.clone(), of(way)))
                        .collect(),
                    conditions,
                }
            }
        }
    }

    /// What was drawn, a line a case in the order of the plan.
    pub fn lines(&self, drawn: &[Vec<usize>]) -> Vec<DrawnLine> {
        let said: Vec<(String, String)> = match self.assignment(drawn) {
            Assignment::Cohorts { children, .. } => children.into_iter().collect(),
            Assignment::StartPoints { cases, .. } => cases
                .into_iter()
                .map(|(case, at)| (case, format!("treatment from session {}", at.start)))
                .collect(),
            Assignment::Alternating { cases, .. } => cases
                .into_iter()
                .map(|(case, order)| (case, order.join(", ")))
                .collect(),
            Assignment::WordSets { cases, .. } => cases
                .into_iter()
                .map(|(case, sets)| {
                    let sets: Vec<_> = sets
                        .iter()
                        .map(|(set, condition)| format!("set {set}: {condition}"))
                        .collect();
                    (case, sets.join(", "))
                })
                .collect(),
            Assignment::PhaseChanges { .. } => Vec::new(),
        };
        let said: BTreeMap<String, String> = said.into_iter().collect();
        self.layout
            .cases
            .iter()
            .filter_map(|case| {
                Some(DrawnLine {
                    case: case.name.clone(),
                    drawn: said.get(&case.name)?.clone(),
                })
            })
            .collect()
    }

    fn cohorts(&self, drawn: &[Vec<usize>], cohorts: &[String]) -> Assignment {
        let members = self.layout.members.iter().flatten();
        let children: BTreeMap<String, String> = members
            .zip(drawn.iter().flatten())
            .filter_map(|(child, label)| {
                let case = self.layout.cases.get(*child)?;
                Some((case.name.clone(), named(cohorts, *label)))
            })
            .collect();
        let blocks = if self.layout.members.len() < 2 {
            Vec::new()
        } else {
            let block = |members: &Vec<usize>| -> Vec<String> {
                let cases = members
                    .iter()
                    .filter_map(|child| self.layout.cases.get(*child));
                cases.map(|case| case.name.clone()).collect()
            };
            self.layout.members.iter().map(block).collect()
        };
        Assignment::Cohorts {
            possible: self.layout.listed_by_code(),
            blocks,
            cohorts: cohorts.to_vec(),
            children,
        }
    }

    fn starts(&self, drawn: &[Vec<usize>], what: Drawn) -> Assignment {
        let Layout { cases, windows, .. } = &self.layout;
        let picked = |part: usize| drawn.get(part).and_then(|way| way.first()).copied();
        let dealt = |case: usize| drawn.first().and_then(|way| way.get(case)).copied();
        let all: Vec<usize> = windows.iter().flatten().copied().collect();
        let drawn_of = |number: usize| -> Option<(usize, Vec<usize>)> {
            Some(match what {
                Drawn::Starts => {
                    let own = windows.get(number)?;
                    (*own.get(picked(number)?)?, own.clone())
                }
                Drawn::Cases => (*all.get(dealt(number)?)?, all.clone()),
                Drawn::Both => {
                    let window = dealt(number)?;
                    let own = windows.get(window)?;
                    (*own.get(picked(window + 1)?)?, own.clone())
                }
            })
        };
        let cases = cases.iter().enumerate().filter_map(|(number, case)| {
            let (start, allowed) = drawn_of(number)?;
            let of_set = case.words.as_ref();
            let start = StartDrawn {
                start,
                allowed,
                child: of_set.map(|_| case.child.clone()),
                words: of_set.cloned(),
            };
            Some((case.name.clone(), start))
        });
        Assignment::StartPoints {
            drawn: what,
            cases: cases.collect(),
        }
    }

    /// The conditions of each case's sessions: its parts, one after another.
    fn orders(&self, drawn: &[Vec<usize>], conditions: &[String]) -> BTreeMap<String, Vec<String>> {
        let cases = self.layout.cases.iter();
        let each = drawn.len() / self.layout.cases.len().max(1);
        cases
            .zip(drawn.chunks(each.max(1)))
            .map(|(case, parts)| {
                let order = parts.iter().flatten();
                let order = order.map(|label| named(conditions, *label)).collect();
                (case.name.clone(), order)
            })
            .collect()
    }
}

fn named(names: &[String], label: usize) -> String {
    names.get(label).cloned().unwrap_or_default()
}

fn refused(error: DrawsError) -> Invalid {
    let mend = match error {
        DrawsError::TooMany => "divide it into blocks, or name fewer sessions",
        _ => "loosen the rules of `draw`",
    };
    Invalid::new(error.to_string(), mend)
}
