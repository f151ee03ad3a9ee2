//! The one sentence of what changed, and the few words above it. Numbers are whole, halves away from zero.

use super::super::number::percent;
use super::super::number::whole_percent;
use super::told::Told;

/// The verdict in the words of the page.
pub fn headline(told: &Told) -> &'static str {
    match (told.verdict, told.of_the_child) {
        ("improved", true) => "Sounds better than before",
        ("improved", false) => "The later recordings sound better",
        ("declined", true) => "Sounds worse than before",
        ("declined", false) => "The later recordings sound worse",
        ("no_relevant_change", true) => "No change that matters",
        ("no_relevant_change", false) => "No change that matters in these recordings",
        _ => "Cannot be told yet",
    }
}

/// "From 18% to 61% heard as correct; 43 points, between 29 and 56; more than the 17 points that chance, ears and this
/// child's good and bad days would give."
pub fn what_changed(told: &Told) -> String {
    let why = told.why_no_limits.as_deref().unwrap_or("no interval");
    let Some(means) = told.means else {
        return format!("Whether anything changed cannot be told: {why}.");
    };
    let scope = if told.of_the_child {
        ""
    } else {
        " between these recordings"
    };
    let [before, after] = means.map(percent);
    let beginning = format!(
        "From {before} to {after} heard as correct{scope}; {}",
        size(means)
    );
    let (Some(limits), Some(mdc95)) = (told.limits, told.mdc95) else {
        return format!("{beginning}. How sure that is cannot be told: {why}.");
    };
    let meaning = meaning(told, means[1] - means[0], limits, mdc95);
    format!("{beginning}, {}; {meaning}", between(limits))
}

/// "43 points", "25 points lower"; says so where that is not the difference of the two percentages as they are shown.
fn size(means: [f64; 2]) -> String {
    let [before, after] = means.map(whole_percent);
    let difference = whole_percent(means[1] - means[0]);
    let way = if difference < 0 { " lower" } else { "" };
    match difference {
        0 if before == after => "no difference".to_owned(),
        0 => "less than half a point apart".to_owned(),
        _ if after - before == difference => format!("{}{way}", points(difference.abs())),
        _ => format!("{}{way}, counted before rounding", points(difference.abs())),
    }
}

/// The limits in the direction of the change, or both ways where it may have gone either way.
fn between([low, high]: [f64; 2]) -> String {
    let bare = |share: f64| match whole_percent(share) {
        0 => "less than 1".to_owned(),
        whole => whole.to_string(),
    };
    let end = |share: f64, way: &str| match whole_percent(share) {
        0 => "no change".to_owned(),
        whole => format!("{whole} {way}"),
    };
    if low > 0.0 {
        format!("between {} and {}", bare(low), bare(high))
    } else if high < 0.0 {
        format!("between {} and {}", bare(-high), bare(-low))
    } else {
        format!("between {} and {}", end(-low, "lower"), end(high, "higher"))
    }
}

fn meaning(told: &Told, difference: f64, [low, high]: [f64; 2], mdc95: f64) -> String {
    let size = difference.abs();
    let (noise, whose) = if told.of_the_child {
        (
            "chance, ears and this child's good and bad days",
            "this child's limits",
        )
    } else {
        ("chance and ears", "the limits of these recordings")
    };
    let noise = format!("{} that {noise} would give", the_points(mdc95));
    let just = just(size, mdc95);
    let smallest = format!(
        "{} that were set as the smallest change that matters",
        the_points(told.smallest_change)
    );
    match told.verdict {
        "improved" | "declined" if size < told.smallest_change => {
            format!("{just}more than {noise}. It is less than {smallest}.")
        }
        "improved" | "declined" => format!("{just}more than {noise}."),
        "no_relevant_change" => {
            let just = self::just(low.abs().max(high.abs()), told.smallest_change);
            format!("{just}less, either way, than {smallest}.")
        }
        _ if size > mdc95 => format!(
            "{just}more than {} that are usual by chance, yet {whose} still hold no change at all: it cannot be told yet.",
            the_points(mdc95)
        ),
        _ => format!("no more than {noise}: it cannot be told yet."),
    }
}

/// Two numbers that differ look the same when rounded.
fn just(size: f64, bound: f64) -> &'static str {
    if whole_percent(size) == whole_percent(bound) {
        "just "
    } else {
        ""
    }
}

/// "the 17 points".
fn the_points(share: f64) -> String {
    match whole_percent(share) {
        0 => "the less than 1 point".to_owned(),
        whole => format!("the {}", points(whole)),
    }
}

/// "17 points".
pub(super) fn points(whole: i64) -> String {
    let ending = if whole == 1 { "" } else { "s" };
    format!("{whole} point{ending}")
}
