//! All children whom somebody may read of, with the findings that tell of each, and when the next probe is due.

use std::collections::BTreeMap;

use jiff::civil::Date;

use super::is_heard;
use super::unlocked_rounds;
use crate::analysis::RoundFindings;
use crate::app::AppError;
use crate::app::Now;
use crate::app::Person;
use crate::app::Workspace;
use crate::app::consent;
use crate::app::findings;
use crate::store::SessionRow;
use crate::study::ChildCode;
use crate::study::Unlocked;

/// The children, by code, and the rounds that tell of them.
pub struct Caseload {
    /// The findings of every round that is the latest of a child.
    pub rounds: Vec<RoundFindings>,
    /// The children.
    pub children: Vec<Case>,
    /// Days from one probe to the next in this study, where dates tell.
    pub usual_days: Option<u32>,
}

/// A child.
pub struct Case {
    /// Her code.
    pub code: ChildCode,
    /// The round that tells of her, as a place in the caseload's.
    pub round: Option<usize>,
    /// Her last session: number, phase and date.
    pub last: Option<(u32, String, Option<Date>)>,
    /// When the next probe is due.
    pub next: Option<Date>,
    /// Whether that day has come.
    pub due: bool,
}

/// The children whom a person may read of, peers and those out of use left out.
///
/// # Errors
/// [`AppError::Store`] or [`AppError::Unreadable`] if the study cannot be read.
pub fn caseload(workspace: &Workspace, by: &Person, now: Now) -> Result<Caseload, AppError> {
    let (children, sessions) = workspace.store().read(|reading| {
        let stopped = consent::stopped(reading)?;
        let mut children = reading.children()?;
        children.retain(|child| {
            !child.peer && !stopped.contains(&child.code) && by.may_see(&child.code)
        });
        Ok::<_, AppError>((children, reading.sessions()?))
    })?;
    let usual_days = usual_days(&sessions);
    let today = day_of(now);
    let mut rounds = Rounds::of(workspace)?;
    let mut cases = Vec::new();
    for child in children {
        let last = sessions.iter().rfind(|session| session.child == child.id);
        let next = last
            .and_then(|session| session.date)
            .zip(usual_days)
            .and_then(|(date, days)| date.checked_add(jiff::Span::new().days(days)).ok());
        cases.push(Case {
            round: rounds.latest_of(workspace, &child.code)?,
            code: child.code,
            last: last.map(|session| (session.ordinal, session.phase.to_string(), session.date)),
            next,
            due: next.zip(today).is_some_and(|(next, today)| next <= today),
        });
    }
    Ok(Caseload {
        rounds: rounds.found,
        children: cases,
        usual_days,
    })
}

/// The unlocked rounds, with the findings of those that were asked for.
struct Rounds {
    unlocked: Vec<Unlocked>,
    /// Where the findings of a round stand, by its place among the unlocked.
    places: BTreeMap<usize, usize>,
    found: Vec<RoundFindings>,
}

impl Rounds {
    fn of(workspace: &Workspace) -> Result<Self, AppError> {
        Ok(Self {
            unlocked: unlocked_rounds(workspace)?,
            places: BTreeMap::new(),
            found: Vec::new(),
        })
    }

    /// The latest round in which a child was heard, as a place among the findings.
    fn latest_of(
        &mut self,
        workspace: &Workspace,
        child: &ChildCode,
    ) -> Result<Option<usize>, AppError> {
        for (number, unlocked) in self.unlocked.iter().enumerate().rev() {
            if !is_heard(workspace, unlocked, child)? {
                continue;
            }
            if let Some(place) = self.places.get(&number) {
                return Ok(Some(*place));
            }
            self.found
                .push(findings::findings(workspace, unlocked)?.round);
            self.places.insert(number, self.found.len() - 1);
            return Ok(Some(self.found.len() - 1));
        }
        Ok(None)
    }
}

/// The day in UTC.
fn day_of(now: Now) -> Option<Date> {
    let moment = jiff::Timestamp::from_millisecond(now.ms()).ok()?;
    Some(jiff::tz::Offset::UTC.to_datetime(moment).date())
}

/// The middle of the gaps between neighbouring dated sessions of a child in one phase, over all children.
fn usual_days(sessions: &[SessionRow]) -> Option<u32> {
    let pairs = sessions.iter().zip(sessions.iter().skip(1));
    let neighbours = pairs
        .filter(|(a, b)| a.child == b.child && a.phase == b.phase && a.ordinal + 1 == b.ordinal);
    middle_gap(neighbours.filter_map(|(a, b)| Some((a.date?, b.date?))))
}

fn middle_gap(neighbours: impl Iterator<Item = (Date, Date)>) -> Option<u32> {
    let days = neighbours.map(|(before, after)| (after - before).get_days());
    let mut gaps: Vec<i32> = days.filter(|days| *days > 0).collect();
    gaps.sort_unstable();
    let middle = gaps.len().checked_sub(1)? / 2;
    u32::try_from(*gaps.get(middle)?).ok()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_usual_gap_is_the_middle_one_and_of_two_the_shorter() {
        let date = |text: &str| text.parse::<Date>().unwrap();
        // 7, 7 and 21 days by the calendar.
        let gaps = [
            (date("2031-01-06"), date("2031-01-13")),
            (date("2031-05-01"), date("2031-05-22")),
            (date("2031-02-26"), date("2031-03-05")),
        ];
        assert_eq!(middle_gap(gaps.into_iter()), Some(7));
        assert_eq!(middle_gap(gaps[..2].iter().copied()), Some(7));
        assert_eq!(middle_gap(gaps[1..2].iter().copied()), Some(21));
        assert_eq!(middle_gap([].into_iter()), None);
    }
}
