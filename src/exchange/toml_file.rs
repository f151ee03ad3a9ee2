//! The files that a researcher writes by hand: `study.toml`, a round's plan, screening rules.

use std::fmt::Write;
use std::io::Read;

use serde::de::DeserializeOwned;

use crate::study::AssignmentPlan;
use crate::study::ChosenLow;
use crate::study::Invalid;
use crate::study::Plan;
use crate::study::Problem;
use crate::study::Problems;
use crate::study::StudySettings;

/// Reads `study.toml`. `name` is the file as problems call it.
///
/// # Errors
/// What is wrong, with its line: a field that is missing, unknown or of another kind, or settings
/// that contradict each other.
pub fn read_settings(name: &str, text: &str) -> Result<StudySettings, Problems> {
    let settings: StudySettings = parsed(name, text)?;
    settings.check().map_err(|refusal| problem(name, refusal))?;
    Ok(settings)
}

/// The text of `study.toml` for these settings, with what each of them means.
pub fn write_settings(settings: &StudySettings) -> String {
    fn quoted(text: &str) -> String {
        toml::Value::String(text.to_owned()).to_string()
    }
    fn list<T: ToString>(entries: &[T]) -> String {
        let quoted: Vec<String> = entries.iter().map(|one| quoted(&one.to_string())).collect();
        format!("[{}]", quoted.join(", "))
    }
    let mut text = format!(
        "# What this study is about. Everything here is sealed with each round.\n\n\
         # What you call the study. Listeners do not see it.\nname = {}\n\n\
         # The sound under treatment, in the words that listeners read: \"the s sound\".\ntarget = {}\n\n\
         # The phases in their order.\nphases = {}\n\n\
         # The ways of treating that children belong to; empty if there is one only.\ncohorts = {}\n\n\
         # The words that the children are asked to say, their judged letters marked.\nwords = {}\n\n\
         # The loudness to which every word is brought, in LUFS. It cannot change after the first import.\nlevel_lufs = {:?}\n\n\
         # The language of the listener's page, such as en or es. The settings at the desk list all that there are.\nlanguage = {}\n",
        quoted(&settings.name),
        quoted(&settings.target),
        list(&settings.phases),
        list(&settings.cohorts),
        list(&settings.words),
        settings.level_lufs,
        quoted(&settings.language),
    );
    let chosen = match &settings.chosen_for_low_scores {
        ChosenLow::Everybody(all) => all.to_string(),
        ChosenLow::Cohorts(cohorts) => list(cohorts),
    };
    let _ = write!(
        text,
        "\n# The children who were chosen because they scored low: true for all, or a list of their cohorts.\nchosen_for_low_scores = {chosen}\n"
    );
    for one in &settings.lists {
        let _ = write!(
            text,
            "\n[[lists]]\nname = {}\nversion = {}\nwords = {}\n",
            quoted(&one.name),
            quoted(&one.version),
            list(&one.words)
        );
    }
    if !settings.cues.is_empty() {
        text.push_str("\n# What each way of treating was, in a sentence.\n[cues]\n");
    }
    for (cohort, cue) in &settings.cues {
        let _ = writeln!(text, "{} = {}", quoted(cohort.as_str()), quoted(cue));
    }
    text
}

/// Reads the plan of a round. `name` is the file as problems call it.
///
/// # Errors
/// What is wrong, with its line: a field that is missing, unknown or of another kind, or a plan
/// that cannot be meant.
pub fn read_plan(name: &str, text: &str) -> Result<Plan, Problems> {
    let plan = parsed::<Plan>(name, text)?.settled();
    plan.check().map_err(|refusal| problem(name, refusal))?;
    Ok(plan)
}

/// Reads what is to be assigned by a draw. `name` is the file as problems call it.
///
/// # Errors
/// What is wrong, with its line: a field that is missing, unknown or of another kind, or a plan
/// that cannot be meant.
pub fn read_assignment_plan(name: &str, text: &str) -> Result<AssignmentPlan, Problems> {
    let plan: AssignmentPlan = parsed(name, text)?;
    plan.check().map_err(|refusal| problem(name, refusal))?;
    Ok(plan)
}

/// Reads screening rules, whatever shape the caller gives them. `name` is the file as problems call it.
///
/// # Errors
/// What is wrong, with its line: no text in UTF-8, or a field that is missing, unknown or of another kind.
pub fn read_rules<T: DeserializeOwned>(name: &str, mut source: impl Read) -> Result<T, Problems> {
    let mut text = String::new();
    source.read_to_string(&mut text).map_err(|error| {
        Problem::new(
            name,
            format!("cannot be read ({error})"),
            "save it as plain text in UTF-8",
        )
    })?;
    parsed(name, &text)
}

fn parsed<T: DeserializeOwned>(name: &str, text: &str) -> Result<T, Problems> {
    toml::from_str(text).map_err(|error| {
        let said = error.message().trim().replace('\n', ", ");
        // A field of the whole file that is missing has no line of its own.
        let line = error.span().map(|span| line_of(text, span.start));
        if let Some(field) = said.strip_prefix("missing field ") {
            let problem = Problem::new(
                name,
                format!("lacks {field}"),
                "write it, or the table in square brackets of that name; the README shows every field",
            );
            return match line.filter(|line| *line > 1) {
                Some(line) => problem.at_line(line).into(),
                None => problem.into(),
            };
        }
        let problem = Problem::new(
            name,
            in_plain_words(&said),
            "mend this line; the README shows every field",
        );
        match line {
            Some(line) => problem.at_line(line).into(),
            None => problem.into(),
        }
    })
}

/// What the reader of the file says, without the names of this program's types.
fn in_plain_words(said: &str) -> String {
    let words = [
        ("expected u32", "expected a whole number, 0 or more"),
        ("expected u64", "expected a whole number, 0 or more"),
        ("expected f64", "expected a number"),
        ("expected a string", "expected a text in quotes"),
        ("expected a boolean", "expected true or false"),
        ("expected a sequence", "expected a list in square brackets"),
        ("invalid type: ", "a value of another kind: "),
        (", expected literal string", ""),
        ("expected struct ", "expected a table for "),
    ];
    words.iter().fold(said.to_owned(), |text, (theirs, ours)| {
        text.replace(theirs, ours)
    })
}

fn problem(name: &str, refusal: Invalid) -> Problems {
    Problem::new(name, refusal.what, refusal.mend).into()
}

/// The line, counted from 1, in which a byte of a text stands.
fn line_of(text: &str, byte: usize) -> u64 {
    let breaks = text
        .bytes()
        .take(byte)
        .filter(|byte| *byte == b'\n')
        .count();
    u64::try_from(breaks).unwrap_or(0) + 1
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_wrong_field_is_named_with_its_line() {
        let text = "name = \"x\"\ntarget = \"s\"\nphases = [\"baseline\"]\nlevell = 3\n";
        let said = read_settings("study.toml", text).unwrap_err().to_string();
        assert!(
            said.starts_with("study.toml:4: unknown field `levell`"),
            "{said}"
        );
    }

    #[test]
    fn a_table_that_is_missing_is_named_and_blames_no_line() {
        let said = read_plan("plan.toml", "round = \"spring\"\n").unwrap_err();
        let said = said.to_string();
        assert!(
            said.starts_with("plan.toml: lacks `listeners`; write it"),
            "{said}"
        );
    }

    #[test]
    fn a_value_of_another_kind_is_named_without_our_types() {
        let text = "round = \"spring\"\n[listeners]\ninvited = \"five\"\n";
        let said = read_plan("plan.toml", text).unwrap_err().to_string();
        assert!(
            said.starts_with(
                "plan.toml:3: a value of another kind: string \"five\", expected a whole number"
            ),
            "{said}"
        );
    }

    #[test]
    fn written_settings_are_read_as_they_were() {
        let text = "name = 'A \"quoted\" \\ name'\ntarget = \"s\"\nphases = [\"a\", \"b\"]\nwords = [\"[s]ail\"]\nlevel_lufs = -23\n[[lists]]\nname = \"probe\"\nversion = \"2\"\nwords = [\"sail\", \"ice\"]\n";
        let settings = read_settings("study.toml", text).unwrap();
        let again = read_settings("study.toml", &write_settings(&settings)).unwrap();
        assert_eq!(again, settings);
    }

    #[test]
    fn settings_that_contradict_themselves_are_refused() {
        let text = "name = \"x\"\ntarget = \"s\"\nphases = [\"a\", \"a\"]\n";
        let said = read_settings("study.toml", text).unwrap_err().to_string();
        assert_eq!(said, "study.toml: phase `a` is listed twice; list it once");
    }
}
