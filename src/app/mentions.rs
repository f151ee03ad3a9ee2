//! The rounds of a study that a round's report tells of.

use std::collections::BTreeSet;

use super::AppError;
use super::looks;
use crate::store::EventRow;
use crate::store::Reading;
use crate::store::RoundTokenRow;
use crate::study::RoundName;
use crate::study::RoundState;
use crate::study::record::RoundMention;

/// Every round that was sealed before this one closed, and every later one that plays some of its tokens, oldest first.
///
/// `played`: this one's tokens; `until`: events in the log at its close.
pub(super) fn mentions(
    reading: &Reading<'_>,
    events: &[EventRow],
    played: &[RoundTokenRow],
    until: u64,
) -> Result<Vec<RoundMention>, AppError> {
    let own: BTreeSet<_> = played.iter().map(|token| token.token).collect();
    let mut mentions = Vec::new();
    for other in reading.rounds()? {
        let tokens = reading.round_tokens(other.id)?;
        let shared_tokens = tokens
            .iter()
            .filter(|token| token.in_use && own.contains(&token.token))
            .count();
        let later = !is_logged(events, &other.name, until);
        if later && shared_tokens == 0 {
            continue;
        }
        mentions.push(RoundMention {
            state: if later {
                other.state
            } else {
                state_at(events, &other.name, until)
            },
            round: other.name.to_string(),
            seal: other.seal,
            later,
            shared_tokens,
        });
    }
    Ok(mentions)
}

/// Whether anything of a round is among the first so many events.
fn is_logged(events: &[EventRow], name: &RoundName, until: u64) -> bool {
    of_round(events, name, until).next().is_some()
}

/// How far a round had come after so many events.
fn state_at(events: &[EventRow], name: &RoundName, until: u64) -> RoundState {
    of_round(events, name, until).fold(RoundState::Open, |state, row| {
        match row.event.kind.as_str() {
            looks::CLOSED => RoundState::Closed,
            looks::UNLOCKED => RoundState::Unlocked,
            _ => state,
        }
    })
}

fn of_round<'e>(
    events: &'e [EventRow],
    name: &RoundName,
    until: u64,
) -> impl Iterator<Item = &'e EventRow> {
    events.iter().filter(move |row| {
        row.event.seq <= until && looks::round_of(row).as_deref() == Some(name.as_str())
    })
}
