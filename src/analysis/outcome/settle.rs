//! What would settle a change that cannot be told yet: how many more listeners, words or sessions.

use serde::Serialize;

use crate::stats::interval::Design;
use crate::stats::interval::Forecast;
use crate::stats::interval::Outlook;

/// More listeners nobody can ask for (ours).
pub const MOST_LISTENERS: u32 = 60;
/// Nor more words a session (ours).
pub const MOST_WORDS: u32 = 100;
/// Nor more sessions a phase (ours).
pub const MOST_SESSIONS: u32 = 12;

/// How many more of one kind, the others as they are, would settle it if the difference stays; nothing where none would.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub struct Settling {
    /// Listeners who judge each word, at most [`MOST_LISTENERS`].
    pub listeners: Option<u32>,
    /// Words in every session, at most [`MOST_WORDS`].
    pub words: Option<u32>,
    /// Sessions in each phase, at most [`MOST_SESSIONS`].
    pub sessions: Option<u32>,
}

/// A change as it was seen.
pub(super) struct Seen {
    /// Later less earlier mean.
    pub(super) difference: f64,
    /// Its limits.
    pub(super) limits: [f64; 2],
    /// The minimal detectable change.
    pub(super) mdc95: f64,
    /// The smallest change that matters.
    pub(super) smallest_change: f64,
}

impl Settling {
    /// Searches upwards from the design at hand; the forecast is scaled to agree with what that design gave.
    pub(super) fn find(outlook: &Outlook, seen: &Seen, design: &Design) -> Self {
        let [low, high] = seen.limits;
        let half_width = (high - seen.difference).max(seen.difference - low);
        let Some(now) = outlook.forecast(*design) else {
            return Self {
                listeners: None,
                words: None,
                sessions: None,
            };
        };
        let scale = [half_width / now.half_width, seen.mdc95 / now.mdc95];
        let size = seen.difference.abs();
        let clears = |then: Forecast| {
            let (half_width, mdc95) = (scale[0] * then.half_width, scale[1] * then.mdc95);
            let clear = size > half_width && size > mdc95;
            clear || size + half_width < seen.smallest_change
        };
        let settled = |design: Design| {
            clears(outlook.at_best(design)) && outlook.forecast(design).is_some_and(clears)
        };
        let fewest = |most: u32, more: &dyn Fn(f64) -> Design| {
            (1..=most).find(|added| settled(more(f64::from(*added))))
        };
        Self {
            listeners: fewest(MOST_LISTENERS, &|added| Design {
                listeners: design.listeners + added,
                ..*design
            }),
            words: fewest(MOST_WORDS, &|added| Design {
                words: design.words + added,
                ..*design
            }),
            sessions: fewest(MOST_SESSIONS, &|added| Design {
                sessions: design.sessions.map(|sessions| sessions + added),
                ..*design
            }),
        }
    }
}
