//! In which order a sitting is heard.

mod arrangement;
mod exact;
mod repeats;
mod spread;

use std::collections::BTreeSet;

use super::Candidate;
use super::Chance;
use crate::study::PresentationKind;

use arrangement::Arrangement;
use arrangement::Item;

/// How often a sitting is laid out afresh before the search becomes exhaustive.
const LAYOUTS: usize = 3;

/// A check, practice or warm-up token.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Extra {
    /// The token.
    pub token: u32,
    /// Who speaks, where that is known.
    pub child: Option<u32>,
    /// The word, where that is known.
    pub word: Option<u32>,
}

/// What the plan says of every sitting.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct SittingDesign {
    /// Main tokens to be heard again.
    pub repeats: usize,
    /// A repeat comes at least so many places after its first.
    pub repeat_distance: usize,
}

/// One place of a sitting.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Slot {
    /// What it is for.
    pub kind: PresentationKind,
    /// The token that is played.
    pub token: u32,
}

/// Why no order can be made.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum OrderError {
    /// A token is given more than once.
    #[error("token {token} is listed twice for one sitting; only repeats may play a token again")]
    TokenTwice {
        /// The token.
        token: u32,
    },
}

/// The whole order of one sitting: practice in the order given, then the warm-ups, then the main
/// tokens with checks and repeats among them.
///
/// Phases are spread evenly over the places, strata evenly over those of their phase, checks over
/// all, each at a random point of its share, so that a listener's drift falls on all alike. The
/// same child and the same word never follow each other where an order without that exists and can
/// be found; else as rarely as can be found. Repeats come from all phases in proportion, at least
/// `repeat_distance` places after their first; as many as `design` asks for and this sitting has
/// room for (it always has where main and check tokens together are as many as the distance).
///
/// # Errors
/// [`OrderError::TokenTwice`] where the lists name a token twice.
pub fn order(
    main: &[Candidate],
    checks: &[Extra],
    warm_ups: &[Extra],
    practice: &[Extra],
    design: &SittingDesign,
    chance: &mut Chance,
) -> Result<Vec<Slot>, OrderError> {
    refuse_doubles(main, &[checks, warm_ups, practice])?;
    let lead: Vec<Item> = practice
        .iter()
        .map(|extra| Item::extra(PresentationKind::Practice, extra))
        .collect();
    let mut best: Option<Arrangement> = None;
    for _ in 0..LAYOUTS {
        let mut layout = spread::lay_out(lead.last(), warm_ups, main, checks, chance);
        layout.mend(chance);
        repeats::insert(&mut layout, design, chance);
        layout.mend(chance);
        if best.as_ref().is_none_or(|b| layout.cost() < b.cost()) {
            best = Some(layout);
        }
        if best.as_ref().is_some_and(Arrangement::is_as_good_as_can_be) {
            break;
        }
    }
    let best = best.map(|layout| exact::improve(layout, design.repeat_distance, chance));
    let heard = best.iter().flat_map(|layout| layout.after_lead().iter());
    Ok(lead.iter().chain(heard).map(|item| item.slot).collect())
}

fn refuse_doubles(main: &[Candidate], extras: &[&[Extra]]) -> Result<(), OrderError> {
    let mut seen = BTreeSet::new();
    let extras = extras.iter().flat_map(|list| list.iter().map(|e| e.token));
    for token in main.iter().map(|candidate| candidate.token).chain(extras) {
        if !seen.insert(token) {
            return Err(OrderError::TokenTwice { token });
        }
    }
    Ok(())
}
