//! The sheet of an assignment: what was drawn, among how many ways, and what was fixed with it; for a terminal and for paper.

use askama::Template;

use super::number::count;
use super::number::counted;
use super::number::fixed;
use super::number::minute;
use super::number::p_value;
use super::page::Standing;
use crate::analysis::AssignmentSheet;
use crate::analysis::DrawNumbers;
use crate::study::AssignmentPlan;
use crate::study::Design;
use crate::study::Drawn;
use crate::study::How;
use crate::study::plan::WordSet;

/// The sheet as a page to be printed: the same assignment gives the same bytes.
///
/// # Errors
/// [`askama::Error`] if the template fails.
pub fn page(sheet: &AssignmentSheet) -> askama::Result<String> {
    Page {
        sheet,
        standing: Standing::new(),
    }
    .render()
}

/// The sheet as plain text.
pub fn text(sheet: &AssignmentSheet) -> String {
    let width = sheet
        .lines
        .iter()
        .map(|line| line.case.chars().count())
        .max();
    let width = width.unwrap_or(0);
    let lines: Vec<_> = sheet
        .lines
        .iter()
        .map(|line| format!("  {:<width$}  {}", line.case, line.drawn))
        .collect();
    let again = again(sheet).map_or_else(String::new, |said| format!("{said}\n"));
    format!(
        "{}: assignment {}, drawn {}\n{again}\n{}\n\n{}\n{}\n{}\n{}\n\nseal  {}\nseed  {}\n",
        sheet.study,
        sheet.number,
        sheet.drawn,
        lines.join("\n"),
        design(&sheet.plan),
        numbers(&sheet.numbers),
        contrast(&sheet.plan),
        before(sheet),
        sheet.seal,
        sheet.seed,
    )
}

/// What a plan would draw, before it is drawn.
pub fn preview(plan: &AssignmentPlan, found: &DrawNumbers) -> String {
    format!(
        "Nothing is drawn yet.\n{}\n",
        before_it_is_drawn(plan, found).join("\n")
    )
}

/// What would be drawn, in how many ways it can fall out, and what will be compared: a sentence or two each.
pub fn before_it_is_drawn(plan: &AssignmentPlan, found: &DrawNumbers) -> Vec<String> {
    vec![design(plan), numbers(found), contrast(plan)]
}

#[derive(Template)]
#[template(path = "report/assignment.html")]
struct Page<'a> {
    sheet: &'a AssignmentSheet,
    standing: Standing,
}

impl Page<'_> {
    fn said(&self) -> Vec<String> {
        let sheet = self.sheet;
        vec![
            design(&sheet.plan),
            numbers(&sheet.numbers),
            contrast(&sheet.plan),
            before(sheet),
        ]
    }

    fn again(&self) -> Option<String> {
        again(self.sheet)
    }

    fn lists(&self) -> Vec<(&'static str, String)> {
        let words = self.sheet.plan.words.clone().unwrap_or_default();
        [("treated", words.treated), ("control", words.control)]
            .into_iter()
            .filter(|(_, words)| !words.is_empty())
            .map(|(list, words)| (list, words.join(", ")))
            .collect()
    }
}

/// What was drawn among what, in a sentence.
fn design(plan: &AssignmentPlan) -> String {
    let children = children(plan.children.len());
    match &plan.draw {
        Design::Cohorts { cohorts, how, .. } => {
            let how = match how {
                How::Simple => "all together",
                How::Blocked => "inside blocks",
                How::Stratified => "inside groups of like children",
                How::Minimised => "as one of the ways that balance the cohorts best",
            };
            let names: Vec<_> = cohorts.iter().map(ToString::to_string).collect();
            format!("{children} dealt to {}, {how}.", names.join(", "))
        }
        Design::StartPoints { drawn, allowed, .. } => {
            let what = match drawn {
                Drawn::Starts => "each start drawn among its own allowed sessions",
                Drawn::Cases => "the starts dealt to the cases",
                Drawn::Both => {
                    "the allowed sessions dealt to the cases, and the start drawn among them"
                }
            };
            format!(
                "{children}, {} whose treatment starts at a drawn session: {what}.",
                counted(allowed.len(), "case")
            )
        }
        Design::Alternating {
            sessions,
            longest_run,
            pairs,
            ..
        } => {
            let rule = match (pairs, longest_run) {
                (true, _) => "the order drawn inside each pair".to_owned(),
                (false, Some(longest)) => format!("no condition more than {longest} times running"),
                (false, None) => "in any order".to_owned(),
            };
            format!(
                "{children}, two conditions over {} each: {rule}.",
                counted(*sessions, "session")
            )
        }
        Design::WordSets { sets, .. } => format!(
            "{children}, {} sets of words each, dealt to two conditions.",
            count(sets.len())
        ),
    }
}

fn children(n: usize) -> String {
    if n == 1 {
        "1 child".to_owned()
    } else {
        format!("{} children", count(n))
    }
}

fn numbers(found: &DrawNumbers) -> String {
    let draws = if found.draws < 1e9 {
        fixed(found.draws, 0)
    } else {
        format!("{:.2e}", found.draws)
    };
    let smallest = match (found.smallest_p, found.smallest_p_two_sided) {
        (Some(one), Some(two)) => format!(
            "The smallest p that its exact test can give is {} one-sided, {} two-sided{}.",
            p_value(Some(one)),
            p_value(Some(two)),
            if two > 0.05 {
                ": whatever happens, it cannot fall to .05"
            } else {
                ""
            }
        ),
        _ => "More than two ways of treating are described and not tested.".to_owned(),
    };
    format!("The draw can fall out in {draws} ways, each equally likely. {smallest}")
}

fn contrast(plan: &AssignmentPlan) -> String {
    let contrast = &plan.contrast;
    let last = contrast.last.map_or_else(String::new, |last| {
        format!("the last {} of ", counted(last as usize, "session"))
    });
    let words = match contrast.words {
        WordSet::All => "all words",
        WordSet::Treated => "the treated words",
        WordSet::Untreated => "the untreated words",
    };
    let looks = match plan.looks {
        1 => "Results are to be seen once, at the end.".to_owned(),
        n => format!("Results are to be seen {n} times, the end included."),
    };
    format!(
        "Compared will be {} with {last}{}, on {words}; the smallest change that matters is {} points. {looks}",
        contrast.from,
        contrast.to,
        fixed(contrast.smallest_change.get() * 100.0, 0),
    )
}

fn before(sheet: &AssignmentSheet) -> String {
    let recordings = |n: u64| counted(usize::try_from(n).unwrap_or(usize::MAX), "recording");
    let later_phase = &sheet.plan.contrast.to;
    match (sheet.recordings, sheet.later_recordings) {
        (0, _) => "Drawn before the first recording was imported.".to_owned(),
        (all, 0) => format!(
            "{} had been imported by then, none of {later_phase}.",
            recordings(all)
        ),
        (_, later) => format!(
            "{} of {later_phase} had been imported by then: what was drawn after treatment began is described and not tested.",
            recordings(later)
        ),
    }
}

fn again(sheet: &AssignmentSheet) -> Option<String> {
    let why = sheet.why.as_ref()?;
    Some(format!(
        "This is draw number {}, not the first. Why: {why}",
        sheet.number
    ))
}
