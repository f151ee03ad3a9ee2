//! What sessions tell beside the comparison: where there is none, where the beginning makes it doubtful, what was kept.

use super::super::number::percent;
use super::super::number::percent_limits;
use super::told::Told;

/// A session as it was heard. Shares of 1.
#[derive(Debug, Clone, PartialEq)]
pub struct Heard {
    /// Its number.
    pub session: u32,
    /// Its phase.
    pub phase: String,
    /// The share heard as correct.
    pub share: f64,
    /// Its limits.
    pub ci: Option<[f64; 2]>,
}

/// What can be said where the two phases `[from, to]` cannot be compared.
pub fn without_comparison(heard: &[Heard], [from, to]: [&str; 2]) -> String {
    let before = range(heard.iter().filter(|session| session.phase == from));
    let during = range(heard.iter().filter(|session| session.phase == to));
    match (before, during) {
        (Some(before), None) => format!(
            "In {from} {before}. No session of {to} has been heard yet, so there is nothing to compare."
        ),
        (None, Some(during)) => format!(
            "In {to} {during}. No session of {from} was heard, so the starting point is not known."
        ),
        _ => range(heard.iter()).map_or_else(
            || "No session of this child has been judged yet.".to_owned(),
            |all| {
                format!(
                    "{}{all}. Neither {from} nor {to} was heard, so a change cannot be told.",
                    in_phases(heard)
                )
            },
        ),
    }
}

/// "In maintenance ".
fn in_phases(heard: &[Heard]) -> String {
    let mut phases: Vec<&str> = heard.iter().map(|session| session.phase.as_str()).collect();
    phases.dedup();
    format!("In {} ", phases.join(" and "))
}

/// "18% were heard as correct", "12% to 25% were heard as correct over 3 sessions".
fn range<'a>(heard: impl Iterator<Item = &'a Heard>) -> Option<String> {
    let mut shares: Vec<f64> = heard.map(|session| session.share).collect();
    shares.sort_by(f64::total_cmp);
    let [low, high] = [*shares.first()?, *shares.last()?].map(percent);
    let over = match shares.len() {
        1 => "in 1 session".to_owned(),
        several => format!("over {several} sessions"),
    };
    let shown = if low == high {
        low
    } else {
        format!("{low} to {high}")
    };
    Some(format!("{shown} were heard as correct {over}"))
}

/// Where the earlier mean leaves no room for the smallest change that matters.
pub fn little_room(told: &Told) -> Option<String> {
    let [before, _] = told.means?;
    if before + told.smallest_change <= 1.0 {
        return None;
    }
    Some(format!(
        "Before, {} were heard as correct already: a rise of the {} points that matter has no room above that.",
        percent(before),
        super::super::number::whole_percent(told.smallest_change),
    ))
}

/// What was heard in the phases after the later one of the comparison. `phases`: those of the study in their order.
pub fn maintenance(heard: &[Heard], phases: &[&str], to: &str) -> Option<String> {
    let place = |phase: &str| phases.iter().position(|known| *known == phase);
    let mut later: Vec<&Heard> = heard
        .iter()
        .filter(|session| place(&session.phase) > place(to))
        .collect();
    later.sort_by_key(|session| place(&session.phase));
    let said: Vec<String> = later
        .chunk_by(|one, next| one.phase == next.phase)
        .filter_map(in_one_phase)
        .collect();
    (!said.is_empty()).then(|| {
        format!(
            "{} Whether a gain was kept is seen on the graph; it was not part of the comparison that was sealed.",
            said.join(" ")
        )
    })
}

/// "In maintenance, session 9: 60% (50% to 70%); session 10: 58% (48% to 68%)."
fn in_one_phase(sessions: &[&Heard]) -> Option<String> {
    let phase = &sessions.first()?.phase;
    let said: Vec<String> = sessions
        .iter()
        .map(|session| {
            let limits = session
                .ci
                .map_or_else(String::new, |ci| format!(" ({})", percent_limits(Some(ci))));
            format!(
                "session {}: {}{limits}",
                session.session,
                percent(session.share)
            )
        })
        .collect();
    Some(format!("In {phase}, {}.", said.join("; ")))
}
