//! An open round as staff follow it: who listens now, what is missing, how fast it goes. Nothing in it tells an outcome.

use std::collections::BTreeSet;

use super::AppError;
use super::ListeningQuality;
use super::Now;
use super::Progress;
use super::Workspace;
use super::desk;
use super::round;
use crate::store::Reading;
use crate::store::RoundRow;
use crate::study::ListenerKind;
use crate::study::PresentationKind;
use crate::study::RoundName;
use crate::study::RoundState;

const HOUR_MS: i64 = 3_600_000;
const DAY_MS: i64 = 24 * HOUR_MS;

/// Over how long the pace is taken at most (ours): a week has every weekday once.
const WINDOW_MS: i64 = 7 * DAY_MS;

/// A round as it goes on.
#[derive(Debug, Clone, PartialEq)]
pub struct Followed {
    /// How far it has come.
    pub progress: Progress,
    /// How its listeners listen.
    pub quality: Vec<ListeningQuality>,
    /// Sittings that have begun and not ended, in the order of their links.
    pub sittings: Vec<SittingUnderWay>,
    /// Words with fewer judgements than are wanted.
    pub words_short: usize,
    /// Judgements that are missing in all.
    pub judgements_short: usize,
    /// How fast it goes.
    pub pace: Pace,
}

/// A sitting that has begun and not ended.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SittingUnderWay {
    /// The number of the listener's link.
    pub link: u32,
    /// Her code.
    pub listener: String,
    /// The sitting, counted from 1 for its listener.
    pub number: u32,
    /// When it began, in milliseconds since 1970 in UTC.
    pub begun_ms: i64,
    /// When it was last heard of.
    pub last_ms: i64,
}

/// How fast judgements come.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Pace {
    /// Judgements of the last 24 hours.
    pub last_day: usize,
    /// Judgements of the last seven days.
    pub last_week: usize,
    /// When the latest came, in milliseconds since 1970 in UTC.
    pub latest_ms: Option<i64>,
    /// When the last one that is wanted would come at the pace of the last week, or since the first
    /// where that is shorter; nothing is expected in the first hour.
    pub expected_ms: Option<i64>,
}

/// A round as it goes on.
///
/// # Errors
/// [`AppError::Refused`] if there is no such round; [`AppError::Store`] if the study cannot be read.
pub fn follow(workspace: &Workspace, name: &RoundName, now: Now) -> Result<Followed, AppError> {
    workspace.store().read(|reading| {
        let round = round::named(reading, name)?;
        let progress = round::progress_of(reading, &round)?;
        let counts = reading.judged_counts(round.id, progress.kind)?;
        let short = counts
            .iter()
            .map(|(_, judged)| progress.wanted.saturating_sub(*judged) as usize);
        let judgements_short = short.clone().sum();
        Ok(Followed {
            quality: desk::quality_in(reading, &round)?,
            sittings: under_way(reading, &round)?,
            words_short: short.filter(|short| *short > 0).count(),
            judgements_short,
            pace: pace(
                &answered(reading, &round, progress.kind)?,
                judgements_short,
                now,
            ),
            progress,
        })
    })
}

/// Events in the log so far: as long as there is none more, nothing happened in the study.
///
/// # Errors
/// [`AppError::Store`] if the study cannot be read.
pub fn events_so_far(workspace: &Workspace) -> Result<u64, AppError> {
    workspace.store().read(|reading| Ok(reading.head()?.count))
}

/// The state of a round.
///
/// # Errors
/// [`AppError::Refused`] if there is no such round.
pub fn state_of(workspace: &Workspace, name: &RoundName) -> Result<RoundState, AppError> {
    workspace
        .store()
        .read(|reading| Ok(round::named(reading, name)?.state))
}

fn under_way(reading: &Reading<'_>, round: &RoundRow) -> Result<Vec<SittingUnderWay>, AppError> {
    let sittings = reading.sittings_in(round.id)?;
    let mut found = Vec::new();
    for enrolment in reading.enrolments(round.id)? {
        let gone = enrolment.withdrawn_ms.is_some() || enrolment.let_go_why.is_some();
        let open = sittings
            .iter()
            .filter(|one| one.enrolment == enrolment.id && one.ended_ms.is_none());
        if gone || round.state != RoundState::Open {
            continue;
        }
        found.extend(open.map(|one| SittingUnderWay {
            link: enrolment.number,
            listener: enrolment.code.to_string(),
            number: one.number,
            begun_ms: one.begun_ms,
            last_ms: one.last_ms,
        }));
    }
    Ok(found)
}

/// When each judgement of a word to be scored came, of listeners whose judgements count so far.
fn answered(
    reading: &Reading<'_>,
    round: &RoundRow,
    kind: ListenerKind,
) -> Result<Vec<i64>, AppError> {
    let beside: BTreeSet<_> = reading
        .enrolments(round.id)?
        .into_iter()
        .filter(|enrolment| {
            enrolment.kind != kind
                || enrolment.let_go_why.is_some()
                || enrolment.withdrawn_ms.is_some()
        })
        .map(|enrolment| enrolment.code)
        .collect();
    let rows = reading.results(round.id)?.into_iter();
    Ok(rows
        .filter(|row| row.kind == PresentationKind::Main && row.aside.is_none())
        .filter(|row| !beside.contains(&row.listener))
        .filter_map(|row| row.answered_ms)
        .collect())
}

fn pace(answered: &[i64], missing: usize, now: Now) -> Pace {
    let Some(first) = answered.iter().min() else {
        return Pace::default();
    };
    let since = |span: i64| {
        let of_late = answered.iter().filter(|ms| **ms > now.ms() - span);
        of_late.count()
    };
    let last_week = since(WINDOW_MS);
    let span = (now.ms() - first).min(WINDOW_MS);
    let wait = (span >= HOUR_MS && missing > 0)
        .then(|| wait_ms(missing, last_week, span))
        .flatten();
    Pace {
        last_day: since(DAY_MS),
        last_week,
        latest_ms: answered.iter().max().copied(),
        expected_ms: wait.and_then(|wait| now.ms().checked_add(wait)),
    }
}

/// How long `missing` take where `done` came in `span`; nothing where none came, or beyond a century (ours).
fn wait_ms(missing: usize, done: usize, span: i64) -> Option<i64> {
    let (missing, done) = (i64::try_from(missing).ok()?, i64::try_from(done).ok()?);
    let wait = missing.checked_mul(span)?.checked_div(done)?;
    Some(wait).filter(|wait| *wait < 36_525 * DAY_MS)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_end_is_expected_at_the_pace_of_the_last_week() {
        // Worked out by hand: 14 judgements at noon of each of ten days, the last of them now. A week back
        // there are seven noons with 98 judgements, so 28 more take two days.
        let now = Now::at_ms(100 * DAY_MS);
        let days = (0..10).flat_map(|day| vec![now.ms() - day * DAY_MS; 14]);
        let answered: Vec<i64> = days.collect();
        let found = pace(&answered, 28, now);
        assert_eq!((found.last_day, found.last_week), (14, 98));
        assert_eq!(found.latest_ms, Some(now.ms()));
        assert_eq!(found.expected_ms, Some(now.ms() + 2 * DAY_MS));
    }

    #[test]
    fn no_end_is_expected_in_the_first_hour_or_where_nothing_comes_or_nothing_is_missing() {
        let now = Now::at_ms(100 * DAY_MS);
        assert_eq!(pace(&[], 5, now), Pace::default());
        for (first, missing) in [(HOUR_MS - 1, 5), (8 * DAY_MS, 5), (DAY_MS, 0)] {
            let found = pace(&[now.ms() - first], missing, now);
            assert_eq!(found.expected_ms, None, "{first} {missing}");
        }
    }
}
