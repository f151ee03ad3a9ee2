//! The abscissa: days where every date is known and in order, else the sessions' numbers to scale.

use super::data::Graph;
use super::data::Session;

/// The time axis that all panels of a chart share.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Time {
    by_day: bool,
    first: f64,
    last: f64,
    left: f64,
    right: f64,
}

/// Room between the frame and the outermost point.
const INSET: f64 = 20.0;

/// Ticks that are nearer than this crowd the axis.
const BETWEEN_TICKS: f64 = 35.0;

const DAYS_A_WEEK: f64 = 7.0;

impl Time {
    /// An axis from `left` to `right`.
    pub(super) fn new(graphs: &[Graph], left: f64, right: f64) -> Self {
        let by_day = !graphs.is_empty() && graphs.iter().all(days_are_in_order);
        let mut time = Self {
            by_day,
            first: f64::INFINITY,
            last: f64::NEG_INFINITY,
            left: left + INSET,
            right: right - INSET,
        };
        for session in graphs.iter().flat_map(|graph| &graph.sessions) {
            time.first = time.first.min(time.when(session));
            time.last = time.last.max(time.when(session));
        }
        time
    }

    /// Where a session lies.
    pub(super) fn x(&self, session: &Session) -> f64 {
        self.place(self.when(session))
    }

    /// What the axis counts.
    pub(super) const fn title(&self) -> &'static str {
        match (self.by_day, self.in_weeks()) {
            (false, _) => "session",
            (true, true) => "weeks since the first recording",
            (true, false) => "days since the first recording",
        }
    }

    /// Places with their labels.
    pub(super) fn ticks(&self) -> Vec<(f64, String)> {
        if self.first > self.last {
            return Vec::new();
        }
        let unit = if self.in_weeks() { DAYS_A_WEEK } else { 1.0 };
        let (first, last) = ((self.first / unit).ceil(), (self.last / unit).floor());
        let step = [1.0, 2.0, 4.0, 8.0, 13.0, 26.0, 52.0, 104.0]
            .into_iter()
            .find(|step| (last - first) / step * BETWEEN_TICKS < self.right - self.left)
            .unwrap_or(208.0);
        // Sessions count from 1, weeks from 0.
        let start = if self.by_day {
            (first / step).ceil() * step
        } else {
            first
        };
        std::iter::successors(Some(start), |tick| Some(tick + step))
            .take_while(|tick| *tick <= last)
            .map(|tick| (self.place(tick * unit), tick.to_string()))
            .collect()
    }

    const fn in_weeks(&self) -> bool {
        self.by_day && self.last - self.first >= 3.0 * DAYS_A_WEEK
    }

    fn when(&self, session: &Session) -> f64 {
        let number = if self.by_day {
            session.day.unwrap_or(0)
        } else {
            session.number
        };
        f64::from(number)
    }

    fn place(&self, when: f64) -> f64 {
        if self.last > self.first {
            let share = (when - self.first) / (self.last - self.first);
            self.left + share * (self.right - self.left)
        } else {
            f64::midpoint(self.left, self.right)
        }
    }
}

fn days_are_in_order(graph: &Graph) -> bool {
    graph.sessions.iter().all(|session| session.day.is_some())
        && graph
            .sessions
            .iter()
            .zip(graph.sessions.iter().skip(1))
            .all(|(a, b)| a.day < b.day)
}
