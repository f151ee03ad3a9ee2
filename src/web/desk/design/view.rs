//! The forecast as the page shows it.

use crate::app::planning;
use crate::app::planning::PlanForecast;
use crate::app::planning::Planned;
use crate::app::planning::Proof;
use crate::app::planning::ProofLine;
use crate::report::number;
use crate::report::number::count;
use crate::report::number::counted;
use crate::report::number::fixed;
use crate::study::Plan;

/// A figure with what it is and what stands beside it.
pub(super) struct Fact {
    /// What it is.
    pub(super) name: &'static str,
    /// The figure.
    pub(super) figure: String,
    /// What to know of it.
    pub(super) beside: String,
}

/// The forecast of a plan.
pub(super) struct ForecastView {
    /// The figures.
    pub(super) facts: Vec<Fact>,
    /// What they mean for the change that matters.
    pub(super) verdict: String,
    /// Whether that change would show.
    pub(super) shows: bool,
    /// Whether the round will stand on one scale with earlier ones, and whether that is likely.
    pub(super) linking: Option<(String, bool)>,
    /// Where the precision comes from.
    pub(super) basis: String,
    /// What is assumed of times.
    pub(super) times: String,
    /// Each rule with the chances that a guesser passes it and a careful listener fails it.
    pub(super) rules: Vec<(String, String, String)>,
    /// What stands in the way of the seal.
    pub(super) problems: Vec<String>,
    /// What had better be looked at before it.
    pub(super) notices: Vec<String>,
}

impl ForecastView {
    pub(super) fn new(plan: &Plan, planned: &Planned) -> Self {
        let forecast = &planned.forecast;
        let (verdict, shows) = verdict(plan, forecast);
        Self {
            facts: facts(plan, forecast),
            verdict,
            shows,
            linking: forecast
                .linking
                .map(|links| (links.sentence(), links.enough())),
            basis: basis(planned),
            times: format!(
                "Times are assumed: {} s a word, {} min before the first one, {} min a rest.",
                fixed(planning::SECONDS_A_WORD, 0),
                fixed(planning::MINUTES_BEFORE, 0),
                fixed(planning::MINUTES_A_REST, 0),
            ),
            rules: forecast
                .screening
                .rules
                .iter()
                .map(|(rule, chances)| {
                    let passes = number::percent_1(chances.guesser_passes);
                    (
                        rule.clone(),
                        passes,
                        number::percent_1(chances.careful_listener_fails),
                    )
                })
                .collect(),
            problems: planned.problems.clone(),
            notices: planned.notices.clone(),
        }
    }

    /// The forecast in one line, for those who hear the page.
    pub(super) fn in_short(&self) -> String {
        let figures = self.facts.iter().take(5);
        let parts: Vec<_> = figures
            .map(|fact| format!("{}: {}", fact.name, fact.figure))
            .collect();
        format!("Forecast. {}.", parts.join("; "))
    }
}

fn facts(plan: &Plan, forecast: &PlanForecast) -> Vec<Fact> {
    let fact = |name, figure, beside| Fact {
        name,
        figure,
        beside,
    };
    let promised = plan.listeners.invited.saturating_add(plan.listeners.open);
    let session = forecast.session;
    vec![
        fact(
            "Sittings needed",
            count(forecast.sittings as usize),
            format!(
                "of about {} each, with {} in it",
                minutes(forecast.minutes),
                counted(forecast.heard as usize, "word"),
            ),
        ),
        fact(
            "Listeners needed",
            count(forecast.listeners as usize),
            format!("{} invited; some never come", count(promised as usize)),
        ),
        fact("Listening in all", hours(forecast.hours), judged(forecast)),
        fact(
            "A session’s score",
            session.map_or_else(
                || number::NONE.to_owned(),
                |session| plus_minus(session.half_width),
            ),
            session.map_or_else(
                || "no session is played".to_owned(),
                |session| {
                    format!(
                        "for a session of {}",
                        counted(session.words as usize, "word")
                    )
                },
            ),
        ),
        fact(
            "Smallest change that shows",
            change(forecast.mdc95),
            without_change(forecast),
        ),
        fact(
            "A guesser passes",
            number::percent_1(forecast.screening.guesser_passes),
            if forecast.screening.guesser_passes.is_some() {
                "all rules on checks and repeats together"
            } else {
                "no rule tells right from wrong"
            }
            .to_owned(),
        ),
        fact(
            "A careful listener fails",
            number::percent_1(forecast.screening.careful_listener_fails),
            format!(
                "one who is right in {} of checks",
                number::percent(plan.screening.careful_accuracy.get())
            ),
        ),
    ]
}

fn judged(forecast: &PlanForecast) -> String {
    format!(
        "{} of {} in {}",
        counted(forecast.judgements as usize, "judgement"),
        counted(forecast.tokens as usize, "word"),
        counted(forecast.sessions, "session"),
    )
}

fn without_change(forecast: &PlanForecast) -> String {
    match forecast.without_change {
        0 => "between the two phases, beyond chance".to_owned(),
        1 => "1 child has no session on one side".to_owned(),
        n => format!("{n} children have no session on one side"),
    }
}

fn plus_minus(half_width: f64) -> String {
    format!("± {} points", fixed(half_width * 100.0, 1))
}

fn change(mdc95: Option<[f64; 2]>) -> String {
    let points = |change: f64| fixed(change * 100.0, 1);
    match mdc95.map(|[least, most]| (points(least), points(most))) {
        None => number::NONE.to_owned(),
        Some((least, most)) if least == most => format!("{least} points"),
        Some((least, most)) => format!("{least} to {most} points"),
    }
}

fn minutes(minutes: f64) -> String {
    format!("{} min", fixed(minutes, 0))
}

fn hours(hours: f64) -> String {
    format!("{} h", fixed(hours, 1))
}

/// What the figures mean for the change that matters, and whether it would show in every child.
fn verdict(plan: &Plan, forecast: &PlanForecast) -> (String, bool) {
    let smallest = plan.contrast.smallest_change.get();
    let points = fixed(smallest * 100.0, 0);
    match forecast.mdc95 {
        None => (
            "No child has sessions on both sides: this round can show no change.".to_owned(),
            false,
        ),
        Some([_, most]) if most <= smallest => (
            format!(
                "A change of {points} points, the smallest that matters, would show in every child."
            ),
            true,
        ),
        Some([least, _]) if least <= smallest => (
            format!(
                "A change of {points} points, the smallest that matters, would show in some children and not in all."
            ),
            false,
        ),
        Some(_) => (
            format!(
                "A change of {points} points, the smallest that matters, would drown in chance. More sessions, more words a session or more listeners would help."
            ),
            false,
        ),
    }
}

fn basis(planned: &Planned) -> String {
    if let Some(round) = &planned.basis.seen_in {
        return format!("Precision comes from the listeners whom round {round} kept.");
    }
    let parts = planned.basis.parts();
    let parts: Vec<_> = parts
        .iter()
        .map(|(name, variance)| format!("{name} {}", fixed(*variance, 3)))
        .collect();
    format!(
        "No round is unlocked yet, so precision is assumed, on the careful side. Variances of one judgement: {}. A first small round would tell better.",
        parts.join(", ")
    )
}

/// What volunteers can prove, as the page shows it.
pub(super) struct ProofView {
    /// The answer in a sentence.
    pub(super) answer: String,
    /// Each line: words a session, judgements of a word, score, change; which button takes it over; whether it is the best.
    pub(super) lines: Vec<ProofRow>,
}

/// One line of what volunteers can prove.
pub(super) struct ProofRow {
    pub(super) words: String,
    pub(super) judgements: u32,
    pub(super) score: String,
    pub(super) change: String,
    pub(super) take: String,
    pub(super) best: bool,
}

impl ProofView {
    pub(super) fn new(plan: &Plan, proof: &Proof) -> Self {
        let numbered = proof.lines.iter().enumerate();
        Self {
            answer: answer(plan, proof),
            lines: numbered
                .map(|(place, line)| row(line, proof.best == Some(place)))
                .collect(),
        }
    }
}

fn row(line: &ProofLine, best: bool) -> ProofRow {
    ProofRow {
        words: line
            .drawn
            .map_or_else(|| "all".to_owned(), |words| words.to_string()),
        judgements: line.judgements_per_token,
        score: line
            .half_width
            .map_or_else(|| number::NONE.to_owned(), plus_minus),
        change: change(line.mdc95),
        take: line
            .drawn
            .map_or_else(|| "take-all".to_owned(), |words| format!("take-{words}")),
        best,
    }
}

fn answer(plan: &Plan, proof: &Proof) -> String {
    let each = format!(
        "Each of them judges {}.",
        counted(proof.main as usize, "word")
    );
    let Some(best) = proof.best.and_then(|best| proof.lines.get(best)) else {
        return format!(
            "{each} That is too few for two judgements of each word: choose fewer children, phases or sessions."
        );
    };
    let words = best.drawn.map_or_else(
        || "all words of each session".to_owned(),
        |words| format!("{} of each session", counted(words as usize, "word")),
    );
    let Some([_, most]) = best.mdc95 else {
        return format!("{each} No child has sessions on both sides, so no change can be shown.");
    };
    let smallest = plan.contrast.smallest_change.get();
    let enough = if most <= smallest {
        "enough"
    } else {
        "not enough"
    };
    format!(
        "{each} Best with {words}: a child’s change then shows from {} points on, {enough} for the {} points that matter.",
        fixed(most * 100.0, 1),
        fixed(smallest * 100.0, 0),
    )
}
