//! Times as the pages write them: in UTC, so that the log reads alike everywhere.

use crate::app::Now;

/// A day and a time, such as `2025-06-02 08:00:00`.
pub(crate) fn day_and_time(at: Now) -> String {
    written(at, "%Y-%m-%d %H:%M:%S")
}

/// A time of day, such as `08:00:00`.
pub(crate) fn time_of_day(at: Now) -> String {
    written(at, "%H:%M:%S")
}

fn written(at: Now, form: &str) -> String {
    jiff::Timestamp::from_millisecond(at.ms())
        .map(|at| at.strftime(form).to_string())
        .unwrap_or_default()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn times_are_those_of_utc() {
        // 1748851200 s after 1970 is 2025-06-02 08:00:00 UTC (GNU date).
        let at = Now::at_ms(1_748_851_200_000);
        assert_eq!(day_and_time(at), "2025-06-02 08:00:00");
        assert_eq!(time_of_day(at), "08:00:00");
    }
}
