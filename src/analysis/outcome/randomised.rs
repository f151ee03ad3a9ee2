//! The randomisation test of what was drawn within children: starts, orders of conditions, sets of words.

use std::collections::BTreeMap;

use rand::SeedableRng;
use rand_chacha::ChaCha12Rng;

use super::super::RandomisationFinding;
use super::super::Reasons;
use super::super::alternating;
use super::OutcomeOptions;
use super::joined::View;
use crate::stats::change::Better;
use crate::stats::change::ChangeError;
use crate::stats::change::Draws;
use crate::stats::change::Order;
use crate::stats::change::Part;
use crate::stats::change::RandomisationTest;
use crate::stats::change::StartPoints;
use crate::stats::change::alternation_test;
use crate::stats::change::drawn_test;
use crate::stats::change::start_point_test;
use crate::study::Assignment;
use crate::study::Drawn;
use crate::study::StartDrawn;

/// Tests what was drawn, or says in `reasons` why not.
pub(super) fn randomised(
    scored: &Scored<'_>,
    assignment: &Assignment,
    reasons: &mut Reasons,
) -> Option<RandomisationFinding> {
    let mut rng = ChaCha12Rng::seed_from_u64(scored.seed);
    rng.set_stream(u64::MAX - 1);
    let tested = match assignment {
        Assignment::Cohorts { .. } => return None,
        Assignment::PhaseChanges { .. } => {
            Err("drawn phase changes are tested by `series`".to_owned())
        }
        Assignment::StartPoints { drawn, cases } => scored.starts(*drawn, cases, &mut rng, reasons),
        Assignment::Alternating { .. } => scored.orders(assignment, &mut rng),
        Assignment::WordSets {
            conditions,
            sets,
            cases,
        } => scored.sets(conditions, sets, cases, &mut rng),
    };
    match tested {
        Ok((test, statistic)) => Some(RandomisationFinding {
            statistic,
            ..test.into()
        }),
        Err(why) => {
            reasons.say("randomisation", why);
            None
        }
    }
}

type Tested = Result<(RandomisationTest, String), String>;

/// The cases of a draw of starts that can be tested, and the names of those that cannot.
#[derive(Default)]
pub(super) struct Placed {
    pub(super) cases: Vec<PlacedCase>,
    pub(super) left_out: Vec<String>,
}

/// A case of a draw of starts, with its judged sessions.
pub(super) struct PlacedCase {
    pub(super) child: String,
    /// Whether it is a set of words of the child, not all of them.
    pub(super) of_words: bool,
    pub(super) allowed: Vec<usize>,
    pub(super) start: usize,
    pub(super) sessions: Vec<usize>,
    pub(super) scores: Vec<f64>,
}

/// Whose cases could not be tested.
pub(super) fn left_out_says(names: &[String]) -> String {
    format!(
        "left out, for want of judged sessions: {}",
        names.join(", ")
    )
}

pub(super) const fn order_of(drawn: Drawn) -> Order {
    match drawn {
        Drawn::Starts => Order::Starts,
        Drawn::Cases => Order::Cases,
        Drawn::Both => Order::Both,
    }
}

/// The scores of whatever children and words are asked for.
pub(super) struct Scored<'a> {
    /// A child's judged sessions of the two phases in order of time, on these words or on those of the contrast.
    of: Box<OfChild<'a>>,
    children: &'a [String],
    /// The conditions in the order in which they were met.
    conditions: &'a [String],
    pub(super) seed: u64,
}

type OfChild<'a> = dyn Fn(&str, Option<&[String]>) -> Vec<Scores> + 'a;

/// A session of the contrast.
pub(super) struct Scores {
    pub(super) number: u32,
    pub(super) later: bool,
    pub(super) score: f64,
    pub(super) condition: Option<String>,
}

impl<'a> Scored<'a> {
    /// As one round's panel heard them.
    pub(super) fn in_round(view: &'a View<'a>, options: &'a OutcomeOptions) -> Self {
        let tokens = view.joined.tokens;
        Self {
            of: Box::new(|child, words| sessions(view, options, child, words)),
            children: tokens.children.names(),
            conditions: tokens.conditions.names(),
            seed: options.seed,
        }
    }

    /// Sessions that were scored before, of all words.
    pub(super) fn known(
        sessions: impl Fn(&str) -> Vec<Scores> + 'a,
        children: &'a [String],
        conditions: &'a [String],
        seed: u64,
    ) -> Self {
        Self {
            of: Box::new(move |child, words| match words {
                None => sessions(child),
                Some(_) => Vec::new(),
            }),
            children,
            conditions,
            seed,
        }
    }
}

impl Scored<'_> {
    fn starts(
        &self,
        drawn: Drawn,
        cases: &BTreeMap<String, StartDrawn>,
        rng: &mut ChaCha12Rng,
        reasons: &mut Reasons,
    ) -> Tested {
        let Placed {
            cases: placed,
            left_out,
        } = self.placed(cases)?;
        if !left_out.is_empty() {
            reasons.say("randomisation.cases", left_out_says(&left_out));
        }
        let tested: Vec<StartPoints> = placed
            .into_iter()
            .map(|case| StartPoints {
                allowed: case.allowed,
                start: case.start,
                sessions: case.sessions,
                scores: case.scores,
            })
            .collect();
        let test = start_point_test(&tested, order_of(drawn), Better::Higher, rng)
            .map_err(|e| said(&e))?;
        let what = format!(
            "mean from the drawn start on less mean before it, averaged over {} cases",
            tested.len()
        );
        Ok((test, what))
    }

    /// The starts that were drawn and those that were possible, with the judged sessions of each case.
    pub(super) fn placed(&self, cases: &BTreeMap<String, StartDrawn>) -> Result<Placed, String> {
        let mut found = Placed::default();
        for (name, case) in cases {
            let child = case.child.as_deref().unwrap_or(name);
            let sessions = self.sessions(child, case.words.as_deref());
            if sessions.is_empty() {
                found.left_out.push(name.clone());
                continue;
            }
            let went = sessions.iter().find(|session| session.later);
            if case.words.is_none()
                && let Some(went) = went
                && sessions
                    .iter()
                    .any(|s| s.later != (s.number as usize >= case.start))
            {
                return Err(format!(
                    "treatment of `{name}` began at session {}, and session {} was drawn: what did not go as drawn is no \
                     randomised comparison",
                    went.number, case.start
                ));
            }
            found.cases.push(PlacedCase {
                child: child.to_owned(),
                of_words: case.words.is_some(),
                allowed: case.allowed.clone(),
                start: case.start,
                sessions: sessions.iter().map(|s| s.number as usize).collect(),
                scores: sessions.iter().map(|session| session.score).collect(),
            });
        }
        Ok(found)
    }

    fn orders(&self, assignment: &Assignment, rng: &mut ChaCha12Rng) -> Tested {
        let sessions: Vec<_> = self
            .children
            .iter()
            .map(|child| (child.as_str(), self.sessions(child, None)))
            .collect();
        let under = sessions.iter().map(|(child, own)| {
            let own = own.iter();
            let under = own.filter_map(|s| Some((s.score, s.condition.as_deref()?)));
            (*child, under.collect::<Vec<_>>())
        });
        let under = under.filter(|(_, sessions)| !sessions.is_empty()).collect();
        let seen = self.conditions;
        let cases = alternating::cases(assignment, under, seen).map_err(|refusal| refusal.what)?;
        let test = alternation_test(&cases, Better::Higher, rng).map_err(|e| said(&e))?;
        let names = match assignment {
            Assignment::Alternating { conditions, .. } if conditions.len() == 2 => conditions,
            _ => seen,
        };
        let what = format!(
            "mean under {} less mean under {}, averaged over {} children",
            names.last().map_or("", String::as_str),
            names.first().map_or("", String::as_str),
            cases.len()
        );
        Ok((test, what))
    }

    fn sets(
        &self,
        conditions: &[String],
        sets: &BTreeMap<String, Vec<String>>,
        cases: &BTreeMap<String, BTreeMap<String, String>>,
        rng: &mut ChaCha12Rng,
    ) -> Tested {
        let (mut parts, mut drawn, mut changes) = (Vec::new(), Vec::new(), Vec::new());
        for (child, of_set) in cases {
            let own: Vec<Option<f64>> = sets
                .values()
                .map(|words| change(&self.sessions(child, Some(words.as_slice()))))
                .collect();
            let Some(own) = own.into_iter().collect::<Option<Vec<f64>>>() else {
                continue;
            };
            let labels = sets.keys().map(|set| {
                let condition = of_set.get(set)?;
                conditions.iter().position(|name| name == condition)
            });
            let Some(labels) = labels.collect::<Option<Vec<usize>>>() else {
                return Err(format!(
                    "the draw of `{child}` names no condition for one of the sets"
                ));
            };
            let dealt = |label: usize| labels.iter().filter(|l| **l == label).count();
            parts.push(Part::deal(vec![dealt(0), dealt(1)]));
            drawn.push(labels);
            changes.push(own);
        }
        if changes.is_empty() {
            return Err(
                "no child of the draw has judged words of every set in both phases".to_owned(),
            );
        }
        let share = 1.0 / changes.len() as f64;
        let value = |part: usize, way: &[usize]| {
            let own = changes.get(part).map_or(&[][..], Vec::as_slice);
            let mean = |label: usize| {
                let of = own.iter().zip(way).filter(|(_, l)| **l == label);
                let (sum, n) = of.fold((0.0, 0.0), |(sum, n), (c, _)| (sum + c, n + 1.0));
                sum / n
            };
            share * (mean(1) - mean(0))
        };
        let draws = Draws::new(parts).map_err(|error| error.to_string())?;
        let test = drawn_test(&draws, &drawn, value, rng).map_err(|e| said(&e))?;
        let what = format!(
            "change of the words under {} less change of those under {}, averaged over {} children",
            conditions.last().map_or("", String::as_str),
            conditions.first().map_or("", String::as_str),
            changes.len()
        );
        Ok((test, what))
    }

    /// A child's judged sessions of the two phases in order of time, on these words or on those of the contrast.
    pub(super) fn sessions(&self, child: &str, words: Option<&[String]>) -> Vec<Scores> {
        (self.of)(child, words)
    }
}

fn sessions(
    view: &View<'_>,
    options: &OutcomeOptions,
    child: &str,
    words: Option<&[String]>,
) -> Vec<Scores> {
    let joined = view.joined;
    let phases = &joined.tokens.phases;
    let (from, to) = (
        phases.find(&options.baseline),
        phases.find(&options.treatment),
    );
    let Some(child) = joined.tokens.children.find(child) else {
        return Vec::new();
    };
    let all = joined.sessions.iter().enumerate();
    all.filter(|(_, session)| session.child == child && !session.peer)
        .filter(|(_, session)| [from, to].contains(&Some(session.phase)))
        .filter_map(|(index, session)| {
            Some(Scores {
                number: session.number,
                later: Some(session.phase) == to,
                score: score(view, index, words)?,
                condition: view.condition_of(index).map(str::to_owned),
            })
        })
        .collect()
}

/// The mean over a session's words of the share judged correct.
fn score(view: &View<'_>, session: usize, words: Option<&[String]>) -> Option<f64> {
    let tokens = view.joined.tokens;
    let wanted = |token: u32| {
        let word = tokens.rows.get(token as usize).and_then(|row| row.word);
        let word = word.map(|word| tokens.words.name(word).replace(['[', ']'], ""));
        words.is_none_or(|words| word.is_some_and(|word| words.contains(&word)))
    };
    let heard = view.tokens_of(session).iter();
    let (sum, n) = heard
        .filter(|heard| wanted(heard.token))
        .fold((0.0, 0.0), |(sum, n), heard| (sum + heard.share(), n + 1.0));
    (n > 0.0).then(|| sum / n)
}

/// Mean of the later sessions less mean of the earlier ones.
fn change(sessions: &[Scores]) -> Option<f64> {
    let mean = |later: bool| {
        let own = sessions.iter().filter(|session| session.later == later);
        let (sum, n) = own.fold((0.0, 0.0), |(sum, n), s| (sum + s.score, n + 1.0));
        (n > 0.0).then(|| sum / n)
    };
    Some(mean(true)? - mean(false)?)
}

fn said(error: &ChangeError) -> String {
    error.to_string()
}
