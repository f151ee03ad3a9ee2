//! Judgements joined with what is known of their tokens, by number, ready for any panel and any set of words.

use std::collections::BTreeMap;

use super::super::Reasons;
use super::OutcomeOptions;
use super::Words;
use crate::stats::interval::IntervalError;
use crate::stats::interval::Judgement;
use crate::stats::interval::Place;
use crate::stats::interval::Round;
use crate::study::Invalid;
use crate::study::Panel;
use crate::study::PresentationKind;
use crate::study::Ratings;
use crate::study::TokenRow;
use crate::study::TokenTable;
use crate::study::Use;

/// The main judgements of a round with their tokens and sessions.
pub(in crate::analysis) struct Joined<'a> {
    pub(super) ratings: &'a Ratings,
    pub(super) tokens: &'a TokenTable,
    /// For each main judgement: token row, listener, whether correct.
    heard: Vec<Heard>,
    /// The sessions, ordered by child (as first met) and number.
    pub(in crate::analysis) sessions: Vec<Session>,
    /// The session of each token row.
    session_of: Vec<u32>,
}

#[derive(Clone, Copy)]
struct Heard {
    token: u32,
    listener: u32,
    correct: bool,
}

/// One recording occasion.
#[derive(Debug, Clone, Copy)]
pub(in crate::analysis) struct Session {
    pub(in crate::analysis) child: u32,
    pub(super) number: u32,
    pub(super) phase: u32,
    pub(in crate::analysis) peer: bool,
}

/// A weight for each listener; 0 leaves her out.
pub(super) struct PanelWeights {
    pub(super) kept: Vec<f64>,
    pub(super) weighted: Option<Vec<f64>>,
}

impl<'a> Joined<'a> {
    /// # Errors
    /// [`Invalid`] for a value that is no judgement, an unknown token, or a session with two phases.
    pub(in crate::analysis) fn new(
        ratings: &'a Ratings,
        tokens: &'a TokenTable,
    ) -> Result<Self, Invalid> {
        let (sessions, session_of) = sessions(tokens)?;
        let correct = meanings(ratings)?;
        let rows = rows_of_items(ratings, tokens);
        let mut heard = Vec::with_capacity(ratings.rows.len());
        for rating in ratings.of_kind(PresentationKind::Main) {
            let token = match rows.get(rating.item as usize) {
                Some(Item::Scored(token)) => *token,
                Some(Item::Unscored) => continue,
                _ => return Err(unknown_token(ratings.items.name(rating.item))),
            };
            let correct = match correct.get(rating.value as usize) {
                Some(Some(correct)) => *correct,
                _ => return Err(no_judgement(ratings.values.name(rating.value))),
            };
            heard.push(Heard {
                token,
                listener: rating.rater,
                correct,
            });
        }
        Ok(Self {
            ratings,
            tokens,
            heard,
            sessions,
            session_of,
        })
    }

    /// All words; treated and untreated ones apart where tokens of both kinds are marked.
    pub(super) fn word_sets(&self) -> Vec<Words> {
        let marked = |treated| {
            self.tokens
                .rows
                .iter()
                .any(|row| row.treated == Some(treated))
        };
        if marked(true) && marked(false) {
            vec![Words::All, Words::Treated, Words::Untreated]
        } else {
            vec![Words::All]
        }
    }

    /// Notes in `reasons` where a phase of the contrast does not occur.
    pub(super) fn check_phases(&self, options: &OutcomeOptions, reasons: &mut Reasons) {
        let missing: Vec<&str> = [options.baseline.as_str(), options.treatment.as_str()]
            .into_iter()
            .filter(|phase| self.tokens.phases.find(phase).is_none())
            .collect();
        if self.tokens.phases.is_empty() {
            reasons.say("changes", "there are no sessions");
        } else if !missing.is_empty() {
            let there = self.tokens.phases.names().join("`, `");
            reasons.say(
                "changes",
                format!(
                    "no session has the phase `{}` (there are: `{there}`)",
                    missing.join("` or `")
                ),
            );
        }
    }

    /// # Errors
    /// [`Invalid`] where a listener who judged stands in no row.
    pub(super) fn panel_weights(&self, panel: &Panel) -> Result<PanelWeights, Invalid> {
        let listeners = self.ratings.raters.len();
        let mut kept = vec![None; listeners];
        let mut weighted = vec![0.0; listeners];
        for row in &panel.rows {
            let Some(number) = self.ratings.raters.find(&row.listener) else {
                continue;
            };
            if let (Some(kept), Some(weight)) = (
                kept.get_mut(number as usize),
                weighted.get_mut(number as usize),
            ) {
                *kept = Some(f64::from(u8::from(row.kept)));
                *weight = row.weight.unwrap_or(0.0);
            }
        }
        if let Some(unknown) = kept.iter().position(Option::is_none) {
            let name = self
                .ratings
                .raters
                .names()
                .get(unknown)
                .map_or("", String::as_str);
            return Err(Invalid::new(
                format!("the panel says nothing of the listener `{name}`, who judged"),
                "give every listener a row with kept true or false",
            ));
        }
        Ok(PanelWeights {
            kept: kept.into_iter().map(Option::unwrap_or_default).collect(),
            weighted: weighted
                .iter()
                .any(|weight| *weight > 0.0)
                .then_some(weighted),
        })
    }

    fn token_row(&self, token: u32) -> Option<&TokenRow> {
        self.tokens.rows.get(token as usize)
    }

    /// The judgements that were joined.
    pub(in crate::analysis) const fn ratings(&self) -> &Ratings {
        self.ratings
    }

    /// The judgements of one set of words by listeners with a weight above 0, numbered for the statistics.
    pub(in crate::analysis) fn judgements(&self, words: Words, weights: &[f64]) -> Vec<Judgement> {
        let mut judgements = Vec::with_capacity(self.heard.len());
        for heard in &self.heard {
            let weight = weights.get(heard.listener as usize).copied().unwrap_or(0.0);
            let Some(row) = self.token_row(heard.token) else {
                continue;
            };
            let wanted = match words {
                Words::All => true,
                Words::Treated => row.treated == Some(true),
                Words::Untreated => row.treated == Some(false),
            };
            if !wanted || weight <= 0.0 {
                continue;
            }
            judgements.push(Judgement {
                session: self
                    .session_of
                    .get(heard.token as usize)
                    .copied()
                    .unwrap_or(u32::MAX),
                token: heard.token,
                word: row.word,
                listener: heard.listener,
                correct: heard.correct,
                weight,
            });
        }
        judgements
    }

    /// For each session its tokens that were judged, each with its judgements summed.
    fn heard_tokens(&self, judgements: &[Judgement]) -> Vec<Vec<HeardToken>> {
        let mut tallies = vec![HeardToken::default(); self.tokens.rows.len()];
        for judgement in judgements {
            if let Some(tally) = tallies.get_mut(judgement.token as usize) {
                tally.judgements += 1;
                tally.weight += judgement.weight;
                tally.correct += judgement.weight * f64::from(u8::from(judgement.correct));
            }
        }
        let mut heard = vec![Vec::new(); self.sessions.len()];
        for ((token, tally), session) in (0..).zip(&tallies).zip(&self.session_of) {
            if let Some(tokens) = heard.get_mut(*session as usize)
                && tally.judgements > 0
            {
                tokens.push(HeardToken { token, ..*tally });
            }
        }
        heard
    }

    /// Child and phase of each session.
    pub(in crate::analysis) fn places(&self) -> Vec<Place> {
        let place = |s: &Session| Place {
            child: s.child,
            phase: s.phase,
        };
        self.sessions.iter().map(place).collect()
    }
}

/// What one panel made of one set of words.
pub(super) struct View<'a> {
    pub(super) joined: &'a Joined<'a>,
    pub(super) words: Words,
    pub(super) round: Result<Round, IntervalError>,
    /// For each session its tokens that were judged.
    pub(super) heard: Vec<Vec<HeardToken>>,
}

/// The judgements of one token, summed.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct HeardToken {
    pub(super) token: u32,
    pub(super) judgements: usize,
    weight: f64,
    correct: f64,
}

impl HeardToken {
    /// The share of its judgements that say correct.
    pub(super) fn share(&self) -> f64 {
        self.correct / self.weight
    }

    /// 1 where the majority says correct, 0 where it says distorted, ½ in a tie.
    pub(super) fn majority(&self) -> f64 {
        let margin = 2.0 * self.correct - self.weight;
        if margin.abs() <= 1e-9 * self.weight {
            0.5
        } else {
            f64::from(u8::from(margin > 0.0))
        }
    }
}

impl<'a> View<'a> {
    pub(super) fn new(joined: &'a Joined<'a>, words: Words, weights: &[f64]) -> Self {
        Self::keeping(joined, words, weights, |_| true)
    }

    /// The same of the tokens that `keep` keeps.
    pub(super) fn keeping(
        joined: &'a Joined<'a>,
        words: Words,
        weights: &[f64],
        keep: impl Fn(&TokenRow) -> bool,
    ) -> Self {
        let mut judgements = joined.judgements(words, weights);
        judgements.retain(|judgement| joined.token_row(judgement.token).is_some_and(&keep));
        let (heard, round) = rayon::join(
            || joined.heard_tokens(&judgements),
            || Round::new(&judgements, &joined.places()),
        );
        Self {
            joined,
            words,
            round,
            heard,
        }
    }

    /// The condition of a session that was judged.
    pub(super) fn condition_of(&self, session: usize) -> Option<&str> {
        let heard = self.tokens_of(session).first()?;
        let condition = self.joined.token_row(heard.token)?.condition?;
        Some(self.joined.tokens.conditions.name(condition))
    }

    /// The tokens of a session that were judged.
    pub(super) fn tokens_of(&self, session: usize) -> &[HeardToken] {
        self.heard.get(session).map_or(&[], Vec::as_slice)
    }
}

enum Item {
    Scored(u32),
    Unscored,
    Unknown,
}

fn rows_of_items(ratings: &Ratings, tokens: &TokenTable) -> Vec<Item> {
    let names = ratings.items.names().iter();
    names
        .map(|name| match tokens.tokens.find(name) {
            Some(row) => Item::Scored(row),
            None if tokens.unscored.find(name).is_some() => Item::Unscored,
            None => Item::Unknown,
        })
        .collect()
}

/// What each value means; nothing for one that is no judgement.
fn meanings(ratings: &Ratings) -> Result<Vec<Option<bool>>, Invalid> {
    let meaning = |value: &String| match value.as_str() {
        "correct" | "1" => Some(true),
        "distorted" | "0" => Some(false),
        _ => None,
    };
    let meanings: Vec<_> = ratings.values.names().iter().map(meaning).collect();
    if !meanings.is_empty() && meanings.iter().all(Option::is_none) {
        let first = ratings.values.names().first().map_or("", String::as_str);
        return Err(no_judgement(first));
    }
    Ok(meanings)
}

fn no_judgement(value: &str) -> Invalid {
    Invalid::new(
        format!("holds the value `{value}`, which is no judgement"),
        "write correct or distorted (or 1 or 0), or leave it empty where none was given",
    )
}

fn unknown_token(name: &str) -> Invalid {
    Invalid::new(
        format!("judges the token `{name}`, which the table of tokens does not hold"),
        "add its row, or give it a `use` such as check or practice",
    )
}

/// The sessions in order, and the session of each token row.
fn sessions(tokens: &TokenTable) -> Result<(Vec<Session>, Vec<u32>), Invalid> {
    let mut found: BTreeMap<(u32, u32), Session> = BTreeMap::new();
    for row in &tokens.rows {
        let session = Session {
            child: row.child,
            number: row.session,
            phase: row.phase,
            peer: row.use_ == Use::Peer,
        };
        let before = found.entry((row.child, row.session)).or_insert(session);
        let child = tokens.children.name(row.child);
        if before.phase != row.phase {
            return Err(Invalid::new(
                format!(
                    "session {} of child `{child}` has two phases, `{}` and `{}`",
                    row.session,
                    tokens.phases.name(before.phase),
                    tokens.phases.name(row.phase)
                ),
                "give each session one phase",
            ));
        }
        if before.peer != session.peer {
            return Err(Invalid::new(
                format!(
                    "session {} of child `{child}` is of a peer and of a child in treatment",
                    row.session
                ),
                "give all tokens of a child the same `use`",
            ));
        }
    }
    let numbers: BTreeMap<(u32, u32), u32> = found.keys().copied().zip(0..).collect();
    let session_of = tokens
        .rows
        .iter()
        .map(|row| {
            numbers
                .get(&(row.child, row.session))
                .copied()
                .unwrap_or(u32::MAX)
        })
        .collect();
    Ok((found.into_values().collect(), session_of))
}
