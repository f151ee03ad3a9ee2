//! Intervals for accuracy that a panel has heard: of a session, and of a change.
//!
//! Closed formulas and one bisection, from the judgements alone, for any holes in the table. They carry the sampling
//! of tokens, of words and of listeners, and for a child's change the good and bad days too; they never close
//! at 0 or 100%. Four steps, a file each:
//!
//! 1. [`sums`]: what pairs of judgements inside a session say, and pairs across the sessions of a child (`pairs`).
//! 2. [`components`]: one latent correlation for each kind of sharing, pooled over the round.
//! 3. [`session`]: the interval of one session.
//! 4. [`change`]: the interval of a change and the minimal detectable change.
//!
//! Formulas and failures are this project's own, found by simulation. How often 95% intervals cover, in percent (least–greatest of 15
//! worlds, mean, then the mean width in points): 9 listeners who all judge everything, 8 children, 4 + 4 sessions;
//! standard deviations in logits of tokens/listeners/listener × session .6/1/.3, 2/.4/0, 2/1/.3, .6/.4/0 and 1.2/.7/.3, each with
//! sessions 0, .3 and .6, words .5. Monte-Carlo limits of one world (95%, replicates as the unit): about ±1 point at 1,500
//! replicates, up to ±4.6 at 100; all designs share their random numbers, so a mean over worlds is little surer.
//!
//! | | 10 words, 1,500 replicates a world | 20 words, 100 replicates a world | 50 words, 100 replicates a world |
//! |--|--|--|--|
//! | session .1 | 96.1–96.9 (96.53; 21.8) | 95.5–96.8 (96.21; 16.6) | 96.6–97.9 (97.26; 12.4) |
//! | session .5 | 94.6–94.9 (94.75; 33.9) | 93.2–95.1 (94.38; 27.5) | 94.8–95.7 (95.34; 22.2) |
//! | session .9 | 96.2–96.9 (96.54; 21.7) | 95.9–97.1 (96.42; 16.5) | 95.0–98.2 (96.50; 12.7) |
//! | these days .1 | 96.6–98.0 (97.19; 13.8) | 93.5–97.0 (96.03; 9.7) | 96.0–99.0 (97.50; 6.2) |
//! | these days .5 | 94.9–96.5 (95.64; 24.0) | 91.5–95.0 (92.77; 16.8) | 94.0–97.0 (95.30; 11.1) |
//! | these days .9 | 96.6–97.8 (97.14; 13.7) | 94.0–98.0 (96.30; 9.6) | 95.5–99.0 (98.10; 6.4) |
//! | these days .1 to .5 | 94.8–96.6 (96.00; 23.5) | 94.0–96.5 (95.43; 18.4) | 95.0–98.5 (96.63; 15.1) |
//! | child .1 | 96.3–98.4 (97.31; 16.8) | 94.5–98.5 (96.53; 12.9) | 96.0–99.0 (97.90; 10.4) |
//! | child .5 | 95.0–97.6 (95.98; 31.1) | 90.5–96.0 (92.87; 25.1) | 92.5–97.5 (95.63; 21.8) |
//! | child .9 | 96.6–98.4 (97.39; 16.6) | 93.5–98.0 (95.80; 13.0) | 97.0–99.5 (98.20; 10.6) |
//! | child .1 to .5 | 94.8–97.2 (95.94; 27.8) | 94.0–97.0 (95.03; 23.1) | 95.5–99.0 (97.63; 20.7) |
//! | improved, falsely | 1.1–1.8 (1.43) | 1.3–3.5 (2.67) | 0.7–2.5 (1.43) |
//!
//! Run by `benches/src/bin/calibration.rs`, which counts 1,500 replicates of four panels where nothing else is said; what is
//! not in the table was not run by it, and rests on the simulation that the formulas come with: 1,500 replicates of 180 designs
//! with panels of 9, 15, 9 of 15 and 9 of 30, in which sessions covered 94.0–97.4%, these days 93.7–98.7% and the child
//! 93.5–99.1%, and 'improved' was false in at most 3.3% of children. What breaks them, from there too: one listener far from all
//! others (−3 logits) makes sessions wrong (75–99%) and leaves changes sound, so screening has to remove her; a child far
//! more variable than the round's others keeps about 90%.
//!
//! Shorter intervals were sought in that simulation, not yet by the program here. Without the guard on a change they are 4.5%
//! narrower and still cover 92.8% and more in worlds like those above, but fall to 74.9% where listeners differ in
//! sensitivity and to 86.6% where they take differently to children and words, so the guard stays. A Wald interval on the logit
//! of a session's share covers nearly as well (94.1–99.0%) without a search for roots, which is no reason to change.

pub mod change;
pub mod components;
pub mod forecast;
mod latent;
mod pairs;
pub mod session;
pub mod sums;

pub use change::ChangeInterval;
pub use change::Contrast;
pub use change::Reading;
pub use components::Components;
pub use forecast::Design;
pub use forecast::Expected;
pub use forecast::Forecast;
pub use forecast::Outlook;
pub use session::SessionInterval;

use sums::SessionSums;

/// One judgement of one token, everything by number: 0, 1, 2, … without large holes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Judgement {
    /// Which session; an index into the places given beside the judgements.
    pub session: u32,
    /// Which token, over the whole round.
    pub token: u32,
    /// Which word, over the whole round; a token without one counts as a word of its own.
    pub word: Option<u32>,
    /// Which listener.
    pub listener: u32,
    /// Whether the token was judged correct.
    pub correct: bool,
    /// The listener's quality, above 0; 1 for all where none is better than another. Only ratios matter.
    pub weight: f64,
}

/// Where a session stands: which child, in which phase.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Place {
    /// Which child.
    pub child: u32,
    /// Which phase.
    pub phase: u32,
}

/// Why there is no interval.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum IntervalError {
    /// With one listener nothing can be known about another.
    #[error("only one listener judged, so nothing is known of how another would judge")]
    OneListener,
    /// No two judgements of a session differ in both token and listener.
    #[error(
        "no session has two tokens judged by two listeners, so tokens and listeners cannot be told apart"
    )]
    NothingCrossed,
    /// The session holds no judgement.
    #[error("the session has no judgement")]
    NoJudgement,
    /// One side of the change holds no session.
    #[error("one side of the change has no session")]
    EmptySide,
    /// The child's own spread of days needs two sessions a side.
    #[error("fewer than two sessions on one side, so good and bad days cannot be seen")]
    TooFewSessions,
    /// The level is no level.
    #[error("a confidence level lies strictly between 0 and 1")]
    Level,
    /// A weight is not a finite number above 0, or a session has no place.
    #[error(
        "a judgement's weight must be a finite number above 0 and its session must have a place"
    )]
    Judgement,
}

/// A round of judgements with all that its intervals share.
///
/// Cost: proportional to the judgements (sorting inside a session apart), about 40 bytes each.
///
/// ```
/// use fairhearing::stats::interval::{Judgement, Place, Round};
/// // One session, 4 words, 3 listeners; the third word sounds distorted to two of them.
/// let heard = |word: u32, listener: u32| Judgement {
///     session: 0, token: word, word: Some(word), listener, weight: 1.0,
///     correct: word != 2 || listener == 0,
/// };
/// let judgements: Vec<_> = (0..4).flat_map(|w| (0..3).map(move |l| heard(w, l))).collect();
/// let round = Round::new(&judgements, &[Place { child: 0, phase: 0 }])?;
/// let session = round.session(0, 0.95)?;
/// assert!((session.estimate - 10.0 / 12.0).abs() < 1e-12);
/// assert!(session.low < 0.6 && session.high < 1.0); // four words do not prove much
/// # Ok::<(), fairhearing::stats::interval::IntervalError>(())
/// ```
#[derive(Debug, Clone)]
pub struct Round {
    sessions: Vec<Option<SessionSums>>,
    components: Components,
    listeners: usize,
}

impl Round {
    /// Sums the judgements up, once. `places`: one entry a session, in the order of the session's number.
    ///
    /// # Errors
    /// [`IntervalError::Judgement`] for a weight or a session number that cannot be.
    pub fn new(judgements: &[Judgement], places: &[Place]) -> Result<Self, IntervalError> {
        let sessions = sums::by_session(judgements, places.len())?;
        let groups = components::groups(&sessions, places);
        let loads = sums::listener_loads(judgements);
        let components = components::estimate(&sessions, &groups, &loads);
        Ok(Self {
            sessions,
            components,
            listeners: loads.len(),
        })
    }

    /// The latent correlations and what was pooled to find them.
    pub fn components(&self) -> &Components {
        &self.components
    }

    /// The mean over the session's words of the share judged correct; nothing where it has no judgement.
    pub fn estimate(&self, session: usize) -> Option<f64> {
        self.sums(session).ok().map(|sums| sums.estimate)
    }

    fn sums(&self, session: usize) -> Result<&SessionSums, IntervalError> {
        self.sessions
            .get(session)
            .and_then(Option::as_ref)
            .ok_or(IntervalError::NoJudgement)
    }

    /// Refuses where no interval can stand, and a level that is none.
    fn check(&self, level: f64) -> Result<(), IntervalError> {
        if !(level > 0.0 && level < 1.0) {
            return Err(IntervalError::Level);
        }
        if self.listeners < 2 {
            return Err(IntervalError::OneListener);
        }
        if self.sessions.iter().flatten().all(|s| s.unshared <= 0.0) {
            return Err(IntervalError::NothingCrossed);
        }
        Ok(())
    }
}
