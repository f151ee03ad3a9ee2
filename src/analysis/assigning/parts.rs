//! The parts of a draw as a plan sets them out.

use std::collections::BTreeMap;

use super::minimised::best_balanced;
use crate::stats::change::Part;
use crate::study::AssignmentPlan;
use crate::study::Design;
use crate::study::Drawn;
use crate::study::Enrolled;
use crate::study::How;
use crate::study::Invalid;
use crate::study::Trait;

/// What is drawn for whom.
#[derive(Debug, Clone, Default)]
pub(super) struct Layout {
    pub(super) parts: Vec<Part>,
    pub(super) cases: Vec<Case>,
    /// For each part of a draw of cohorts, the children that it deals to, as places in `cases`.
    pub(super) members: Vec<Vec<usize>>,
    /// The allowed starts of each case, in the order of `cases`.
    pub(super) windows: Vec<Vec<usize>>,
}

/// Whoever something falls to.
#[derive(Debug, Clone)]
pub(super) struct Case {
    pub(super) name: String,
    pub(super) child: String,
    pub(super) words: Option<Vec<String>>,
}

impl Layout {
    pub(super) fn of(plan: &AssignmentPlan) -> Result<Self, Invalid> {
        let whole = |child: &Enrolled| Case {
            name: child.code.to_string(),
            child: child.code.to_string(),
            words: None,
        };
        let children = Self {
            cases: plan.children.iter().map(whole).collect(),
            ..Self::default()
        };
        match &plan.draw {
            Design::Cohorts { .. } => children.cohorts(plan),
            Design::StartPoints {
                drawn,
                sets,
                allowed,
            } => Self::starts(plan, *drawn, sets, allowed),
            Design::Alternating {
                sessions,
                longest_run,
                pairs,
                ..
            } => children.orders(*sessions, *longest_run, *pairs),
            Design::WordSets { sets, .. } => {
                let part = Part::deal(shares(sets.len(), 2, &mut [0; 2]));
                let parts = vec![part; children.cases.len()];
                Ok(Self { parts, ..children })
            }
        }
    }

    /// Where a rule left only some draws over, all of them, for the children in the order of their codes.
    pub(super) fn listed_by_code(&self) -> Vec<String> {
        let [Part::Listed(list)] = self.parts.as_slice() else {
            return Vec::new();
        };
        let mut order: Vec<usize> = (0..self.cases.len()).collect();
        order.sort_by_key(|place| self.cases.get(*place).map(|case| case.name.clone()));
        let digits = |way: &Vec<usize>| -> String {
            let labels = order.iter().filter_map(|place| way.get(*place));
            labels.map(ToString::to_string).collect()
        };
        list.iter().map(digits).collect()
    }

    fn cohorts(self, plan: &AssignmentPlan) -> Result<Self, Invalid> {
        let Design::Cohorts {
            cohorts,
            how,
            blocks,
            by,
            age_bounds,
            keep,
        } = &plan.draw
        else {
            return Ok(self);
        };
        let everybody: Vec<usize> = (0..plan.children.len()).collect();
        check_traits(plan, *how, by)?;
        let members = match how {
            How::Simple | How::Minimised => vec![everybody],
            How::Blocked => blocks_of(plan, blocks)?,
            How::Stratified => strata(plan, by, age_bounds),
        };
        let mut totals = vec![0; cohorts.len()];
        let mut parts = Vec::with_capacity(members.len());
        for group in &members {
            if group.len() < 2 {
                let alone = group.first().and_then(|child| plan.children.get(*child));
                let code = alone
                    .map(|child| child.code.to_string())
                    .unwrap_or_default();
                return Err(Invalid::new(
                    format!(
                        "`{code}` stands alone in a group, so that its cohort would not be drawn"
                    ),
                    "make the groups larger, or draw with how = \"minimised\"",
                ));
            }
            let counts = shares(group.len(), cohorts.len(), &mut totals);
            parts.push(if *how == How::Minimised {
                Part::Listed(best_balanced(&plan.children, counts, by, *keep)?)
            } else {
                Part::deal(counts)
            });
        }
        Ok(Self {
            parts,
            members,
            ..self
        })
    }

    fn starts(
        plan: &AssignmentPlan,
        drawn: Drawn,
        sets: &BTreeMap<String, Vec<String>>,
        allowed: &BTreeMap<String, Vec<usize>>,
    ) -> Result<Self, Invalid> {
        let mut layout = Self::default();
        for child in &plan.children {
            let code = child.code.as_str();
            for (name, starts) in allowed {
                let set = name
                    .strip_prefix(code)
                    .and_then(|rest| rest.strip_prefix('/'));
                if name != code && set.is_none() {
                    continue;
                }
                let words = set
                    .map(|set| {
                        sets.get(set).cloned().ok_or_else(|| {
                            Invalid::new(
                                format!("`draw.allowed` names the set `{set}`"),
                                "list its words in `draw.sets`",
                            )
                        })
                    })
                    .transpose()?;
                layout.windows.push(check_starts(name, starts, drawn)?);
                layout.cases.push(Case {
                    name: name.clone(),
                    child: code.to_owned(),
                    words,
                });
            }
        }
        if layout.cases.len() != allowed.len() {
            return Err(Invalid::new(
                "`draw.allowed` names a case of no child that is listed",
                "write CODE, or CODE/SET, with the codes of `children`",
            ));
        }
        let n = layout.cases.len();
        let mut all: Vec<usize> = layout.windows.iter().flatten().copied().collect();
        all.sort_unstable();
        if drawn != Drawn::Starts && all.windows(2).any(|pair| pair.first() == pair.last()) {
            return Err(Invalid::new(
                "a session stands twice in `draw.allowed`",
                "where cases are dealt to starts, each start belongs to one of them",
            ));
        }
        let picks = layout.windows.iter().map(|window| Part::Pick(window.len()));
        layout.parts = match drawn {
            Drawn::Starts => picks.collect(),
            Drawn::Cases => vec![Part::deal(vec![1; n])],
            Drawn::Both => [Part::deal(vec![1; n])].into_iter().chain(picks).collect(),
        };
        Ok(layout)
    }

    fn orders(
        self,
        sessions: usize,
        longest_run: Option<usize>,
        pairs: bool,
    ) -> Result<Self, Invalid> {
        if sessions < 2 || (pairs && !sessions.is_multiple_of(2)) {
            return Err(Invalid::new(
                format!("`draw.sessions` is {sessions}"),
                "give at least 2, an even number where sessions are paired",
            ));
        }
        let of_child = if pairs {
            vec![Part::deal(vec![1, 1]); sessions / 2]
        } else {
            vec![Part::Deal {
                counts: shares(sessions, 2, &mut [0; 2]),
                longest_run,
            }]
        };
        let parts = self.cases.iter().flat_map(|_| of_child.clone()).collect();
        Ok(Self { parts, ..self })
    }
}

/// So many places shared among labels as equally as can be; what is left over goes to whoever has least so far.
fn shares(places: usize, labels: usize, totals: &mut [usize]) -> Vec<usize> {
    let each = places / labels.max(1);
    let mut counts = vec![each; labels];
    let mut order: Vec<usize> = (0..labels).collect();
    order.sort_by_key(|label| totals.get(*label).copied());
    for label in order.into_iter().take(places - each * labels) {
        if let Some(count) = counts.get_mut(label) {
            *count += 1;
        }
    }
    for (total, count) in totals.iter_mut().zip(&counts) {
        *total += count;
    }
    counts
}

fn check_traits(plan: &AssignmentPlan, how: How, by: &[Trait]) -> Result<(), Invalid> {
    if matches!(how, How::Simple | How::Blocked) {
        return Ok(());
    }
    if by.is_empty() {
        return Err(Invalid::new(
            "`draw.by` is empty",
            "name what is to be balanced: \"age\", \"severity\"",
        ));
    }
    let lacks = |child: &&Enrolled| {
        (by.contains(&Trait::Age) && child.age_months.is_none())
            || (by.contains(&Trait::Severity) && child.severity.is_none())
    };
    plan.children.iter().find(lacks).map_or(Ok(()), |child| {
        Err(Invalid::new(
            format!("`{}` has no age or severity to balance by", child.code),
            "give every child `age_months` and `severity`, as far as `draw.by` names them",
        ))
    })
}

fn blocks_of(
    plan: &AssignmentPlan,
    blocks: &[Vec<crate::study::ChildCode>],
) -> Result<Vec<Vec<usize>>, Invalid> {
    let place = |code: &crate::study::ChildCode| {
        plan.children
            .iter()
            .position(|child| child.code == *code)
            .ok_or_else(|| {
                Invalid::new(
                    format!("a block names `{code}`, who is not listed"),
                    "list the child in `children`",
                )
            })
    };
    let members = blocks
        .iter()
        .map(|block| block.iter().map(place).collect())
        .collect::<Result<Vec<Vec<usize>>, Invalid>>()?;
    for (number, child) in plan.children.iter().enumerate() {
        if members
            .iter()
            .flatten()
            .filter(|member| **member == number)
            .count()
            != 1
        {
            return Err(Invalid::new(
                format!("`{}` does not stand in exactly one block", child.code),
                "put every child in one of `draw.blocks`",
            ));
        }
    }
    Ok(members)
}

/// Children of the same age group and severity together, in the order of their first child.
fn strata(plan: &AssignmentPlan, by: &[Trait], age_bounds: &[u32]) -> Vec<Vec<usize>> {
    let group_of = |child: &Enrolled| {
        let age = child.age_months.filter(|_| by.contains(&Trait::Age));
        let older = age_bounds
            .iter()
            .filter(|bound| age >= Some(**bound))
            .count();
        let severity = child
            .severity
            .clone()
            .filter(|_| by.contains(&Trait::Severity));
        (older, severity)
    };
    let mut known: Vec<(usize, Option<String>)> = Vec::new();
    let mut groups: Vec<Vec<usize>> = Vec::new();
    for (number, child) in plan.children.iter().enumerate() {
        let group = group_of(child);
        let place = known.iter().position(|k| *k == group).unwrap_or_else(|| {
            known.push(group);
            groups.push(Vec::new());
            groups.len() - 1
        });
        if let Some(members) = groups.get_mut(place) {
            members.push(number);
        }
    }
    groups
}

fn check_starts(name: &str, starts: &[usize], drawn: Drawn) -> Result<Vec<usize>, Invalid> {
    let mut own = starts.to_vec();
    own.sort_unstable();
    own.dedup();
    let refuse = |what: &str, mend: &str| Err(Invalid::new(format!("`{name}` {what}"), mend));
    if own.len() != starts.len() || own.first().is_none_or(|first| *first < 2) {
        return refuse(
            "has a start twice, none, or one before session 2",
            "sessions are counted from 1, and a baseline needs one",
        );
    }
    match drawn {
        Drawn::Cases if own.len() != 1 => refuse(
            "has more than one start, and starts are dealt to cases",
            "give each case one session; the draw deals them",
        ),
        Drawn::Starts if own.len() < 2 => refuse(
            "has one start only, so that it would not be drawn",
            "give at least two sessions",
        ),
        _ => Ok(own),
    }
}
