//! A plan that is not sealed yet: what it costs, what it can show, and what stands in its way.

use super::counted;
use crate::analysis::PlanForecast;
use crate::report::number::NONE;
use crate::report::number::fixed;
use crate::study::Plan;

/// The forecast of a plan. `problems`: what stands in the way of its seal.
pub fn planned(plan: &Plan, problems: &[String], forecast: &PlanForecast) -> String {
    let points = |share: f64| fixed(share * 100.0, 1);
    let session = forecast.session.map_or_else(
        || NONE.to_owned(),
        |session| format!("± {} points", points(session.half_width)),
    );
    let change = match forecast.mdc95 {
        None => NONE.to_owned(),
        Some([least, most]) => format!("{} to {} points", points(least), points(most)),
    };
    let mut lines = vec![
        format!("Round {}, not sealed.", plan.round),
        format!(
            "{} of {} in {}, {} h in all",
            counted(forecast.judgements as usize, "judgement"),
            counted(forecast.tokens as usize, "word"),
            counted(forecast.sessions, "session"),
            fixed(forecast.hours, 1),
        ),
        format!(
            "{} of about {} min by {} or more",
            counted(forecast.sittings as usize, "sitting"),
            fixed(forecast.minutes, 0),
            counted(forecast.listeners as usize, "listener"),
        ),
        format!("A session's score:             {session}"),
        format!("Smallest change that shows:    {change}"),
    ];
    lines.extend(forecast.linking.map(|linking| linking.sentence()));
    if problems.is_empty() {
        lines.push("Nothing stands in the way of the seal.".to_owned());
    } else {
        lines.push("This stands in the way of the seal:".to_owned());
        lines.extend(problems.iter().map(|problem| format!("- {problem}")));
    }
    lines.join("\n") + "\n"
}
