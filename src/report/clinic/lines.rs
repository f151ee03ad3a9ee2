//! What stands under the sentence: how sure it is, what would settle it, how far typical peers are.

use super::super::chart::Band;
use super::super::chart::Graph;
use super::super::number::percent;
use super::super::number::whole_percent;
use super::sentence::points;
use super::told::Told;

/// Sessions in each phase from which a change is the child's (as in the analysis).
const ENOUGH: usize = 3;

/// How sure the sentence is, in words for somebody without statistics.
pub fn how_sure(told: &Told) -> String {
    if told.limits.is_none() {
        return "There are no limits, so this is no more than a first impression.".to_owned();
    }
    let level = percent(told.confidence);
    let [before, after] = told.sessions;
    if told.of_the_child {
        return format!(
            "The two limits are made so that they hold the child's own change in {level} of cases. They allow for other \
             words, other listeners and other days: {} before and {after} after.",
            sessions(before)
        );
    }
    format!(
        "The two limits are made so that they hold the difference between these recordings in {level} of cases, with \
         other words and other listeners. Good and bad days of the child are not in them: {} before and {after} after \
         are too few to know those.",
        sessions(before)
    )
}

/// How much more of what would settle it; nothing where it is settled.
pub fn what_would_settle_it(told: &Told) -> Option<String> {
    let cannot_tell = told.verdict == "cannot_tell";
    if told.limits.is_none() {
        return Some(
            "Two words in each session, each judged by the same two listeners, would be a beginning."
                .to_owned(),
        );
    }
    let joined = joined(told).unwrap_or_default();
    let days = days(told.sessions);
    if !told.of_the_child {
        let within = forecast(told).filter(|_| cannot_tell);
        let within = within.map_or_else(String::new, |said| {
            format!(" Of these recordings alone: {said}.{joined}")
        });
        return Some(format!("To know of the child: {days}.{within}"));
    }
    if !cannot_tell {
        return None;
    }
    forecast(told).map(|said| format!("If the difference stays as it is: {said}.{joined}"))
}

/// What stands in the way where rounds were joined and the error of that alone hides both that there is a difference and
/// that it is less than what matters.
fn joined(told: &Told) -> Option<&'static str> {
    let size = size(told)?;
    let hides = 1.96 * told.linking_error? >= size.max(told.smallest_change - size);
    hides.then_some(
        " Several rounds are joined here by the words that both panels heard, and the error of that alone hides such a \
         difference: more words heard in both rounds, or all these recordings in one new round, would help.",
    )
}

/// What would be known then. Between the two, either may come first.
fn would_show(told: &Told) -> String {
    match size(told) {
        Some(size) if size >= told.smallest_change => "might just show it".to_owned(),
        Some(size) if 2.0 * size < told.smallest_change => format!(
            "might just show that it is less than the {} that matter",
            points(whole_percent(told.smallest_change))
        ),
        _ => "might just settle it".to_owned(),
    }
}

fn size(told: &Told) -> Option<f64> {
    told.means.map(|[before, after]| (after - before).abs())
}

/// "2 more sessions after, and 1 more from before, …": what was not recorded before can be made up by nothing.
fn days([before, after]: [usize; 2]) -> String {
    let more = |there: usize| ENOUGH.saturating_sub(there);
    let unheard = "if recordings made then are still unheard: a baseline cannot be made later";
    match (more(before), more(after)) {
        (0, after) => format!("{} after", more_of(after, "session")),
        (before, 0) => format!("{} from before, {unheard}", more_of(before, "session")),
        (before, after) => format!(
            "{} after, and {before} more from before, {unheard}",
            more_of(after, "session")
        ),
    }
}

fn forecast(told: &Told) -> Option<String> {
    let settling = told.settling?;
    let sessions = told.of_the_child.then_some((
        settling.sessions,
        "session",
        " in each phase (before, only recordings that are still unheard)",
    ));
    let kinds = [
        Some((settling.listeners, "listener", "")),
        Some((settling.words, "word", " in every session")),
        sessions,
    ];
    let ways: Vec<String> = kinds
        .into_iter()
        .flatten()
        .filter_map(|(needed, noun, place)| {
            Some(format!("{}{place}", more_of(needed? as usize, noun)))
        })
        .collect();
    if ways.is_empty() {
        return Some(
            "listening to these recordings again will not settle it; watch the next sessions"
                .to_owned(),
        );
    }
    Some(format!("about {} {}", ways.join(", or "), would_show(told)))
}

/// "6 more listeners".
fn more_of(count: usize, noun: &str) -> String {
    let ending = if count == 1 { "" } else { "s" };
    format!("{count} more {noun}{ending}")
}

fn sessions(count: usize) -> String {
    let ending = if count == 1 { "" } else { "s" };
    format!("{count} session{ending}")
}

/// "6 years 2 months at session 9".
pub fn age(months: u32, session: u32) -> String {
    let (years, months) = (months / 12, months % 12);
    let plural = |n: u32| if n == 1 { "" } else { "s" };
    let months = match months {
        0 => String::new(),
        n => format!(" {n} month{}", plural(n)),
    };
    format!("{years} year{}{months} at session {session}", plural(years))
}

/// What the band and the signs of a graph stand for, for whoever sees no label of theirs.
pub(super) fn key(graph: Option<&Graph>, band: Option<&Band>) -> String {
    let band = band.map(|band| {
        let [low, high] = [band.low, band.high].map(percent);
        format!("The shaded band holds typical peers, from {low} to {high}.")
    });
    let series = graph.map_or(&[][..], |graph| &graph.series);
    let signs: Vec<String> = series
        .iter()
        .map(|series| format!("{} {}", series.symbol.sign(), series.label))
        .collect();
    let signs = (signs.len() > 1).then(|| format!("{}.", signs.join(", ")));
    [signs, band]
        .into_iter()
        .flatten()
        .collect::<Vec<_>>()
        .join(" ")
}

/// Where typical peers lie, and how far from there the child is now. `heard`: "in the same round"; `now`: her later mean.
pub fn peers(count: usize, heard: &str, band: &Band, now: Option<f64>) -> String {
    let who = if count == 1 {
        "One peer".to_owned()
    } else {
        format!("{count} peers")
    };
    let [low, high] = [band.low, band.high].map(percent);
    let range = if low == high {
        low
    } else {
        format!("{low} to {high}")
    };
    let said = format!(
        "{who} of the same age with typical speech, heard {heard}: {range} heard as correct."
    );
    let Some(now) = now else {
        return said;
    };
    let [low, high, now] = [band.low, band.high, now].map(whole_percent);
    let place = match low - now {
        gap if gap > 0 => format!(
            "{} below the lowest of these sessions: of 100 words, {gap} fewer were heard as correct; children differ widely",
            points(gap)
        ),
        _ if now > high => "above the highest of these sessions".to_owned(),
        _ => "within the range of these sessions".to_owned(),
    };
    format!("{said} This child's later mean is {place}.")
}
