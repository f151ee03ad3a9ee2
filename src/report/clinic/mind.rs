//! What to keep in mind of a child's figures: the warnings of the report that concern her, a line for each concern.

use super::sheet::Line;
use crate::analysis::Concern;
use crate::analysis::Warning;

/// Findings of one concern that are told in full (ours); the report has all.
const MOST_FINDINGS: usize = 2;

/// The warnings that concern a child: those of the round, then her own, each concern once.
pub(super) fn in_mind(warnings: &[Warning], child: &str) -> Vec<Line> {
    let hers = |warning: &&Warning| warning.child.as_deref().is_none_or(|of| of == child);
    let own: Vec<&Warning> = warnings.iter().filter(hers).collect();
    let mut told: Vec<Concern> = Vec::new();
    let mut lines = Vec::new();
    for warning in &own {
        if told.contains(&warning.concern) {
            continue;
        }
        told.push(warning.concern);
        let alike = own.iter().filter(|one| one.concern == warning.concern);
        lines.push(line(warning, alike.copied()));
    }
    lines
}

fn line<'a>(warning: &Warning, alike: impl Iterator<Item = &'a Warning>) -> Line {
    let found: Vec<&str> = alike.map(|one| one.found.as_str()).collect();
    let mut said: Vec<String> = found
        .iter()
        .take(MOST_FINDINGS)
        .map(|found| (*found).to_owned())
        .collect();
    match found.len().saturating_sub(MOST_FINDINGS) {
        0 => {}
        1 => said.push("One more such difference stands in the report.".to_owned()),
        n => said.push(format!("{n} more such differences stand in the report.")),
    }
    said.push(warning.means.to_owned());
    Line {
        about: about(warning.concern),
        said: said.join(" "),
        advice: Some(warning.advice),
    }
}

/// What a warning is about, in the words of the page.
const fn about(concern: Concern) -> &'static str {
    match concern {
        Concern::ShortBaseline => "Few sessions before",
        Concern::RisingBaseline => "A rise before treatment",
        Concern::LowStart => "A low first session",
        Concern::ChosenLow => "Chosen for a low score",
        Concern::UnequalLists => "Not the same words",
        Concern::RoomTells => "The room can be heard",
        Concern::SmallPanel => "Few listeners",
        Concern::PhasesGuessed => "Early or late was guessed",
        Concern::VoiceKnown => "A known voice",
    }
}
