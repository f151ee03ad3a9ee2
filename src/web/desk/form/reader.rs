//! Reading fields one by one: a value, or a sentence at the field and something to go on with.

use super::values::Values;
use crate::app::AppError;
use crate::study::Invalid;
use crate::study::Problem;
use crate::study::Share;

/// The most of anything that a form takes (ours): far more than a round can want, and safe to multiply.
const MOST: u32 = 10_000;

/// What is wrong with a field.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(in crate::web::desk) struct FieldProblem {
    /// The field's name.
    pub(in crate::web::desk) field: String,
    /// What is wrong, with the mend.
    pub(in crate::web::desk) said: String,
    /// Whether it is only empty: that is told once its owner asks.
    pub(in crate::web::desk) missing: bool,
}

/// Reads fields and keeps what is wrong with them.
pub(in crate::web::desk) struct Reader<'v> {
    values: &'v Values,
    pub(in crate::web::desk) problems: Vec<FieldProblem>,
}

impl<'v> Reader<'v> {
    pub(in crate::web::desk) const fn new(values: &'v Values) -> Self {
        Self {
            values,
            problems: Vec::new(),
        }
    }

    /// Says what is wrong with a field, unless something was said of it before.
    pub(in crate::web::desk) fn say(&mut self, field: &str, said: impl Into<String>) {
        self.note(field, said.into(), false);
    }

    fn note(&mut self, field: &str, said: String, missing: bool) {
        if !self.problems.iter().any(|problem| problem.field == field) {
            self.problems.push(FieldProblem {
                field: field.to_owned(),
                said,
                missing,
            });
        }
    }

    /// A line or a text that must not be empty; `asks` is what to write.
    pub(in crate::web::desk) fn text(&mut self, field: &str, asks: &str) -> String {
        let text = self.values.text(field);
        if text.is_empty() {
            self.note(field, asks.to_owned(), true);
        }
        text.to_owned()
    }

    /// A text that may be empty.
    pub(in crate::web::desk) fn text_if_any(&self, field: &str) -> Option<String> {
        let text = self.values.text(field);
        (!text.is_empty()).then(|| text.to_owned())
    }

    /// A whole number.
    pub(in crate::web::desk) fn whole(&mut self, field: &str, least: u32) -> u32 {
        if let Some(number) = self.whole_if_any(field, least) {
            return number;
        }
        let asks = format!("Write a whole number from {least} on.");
        self.note(field, asks, true);
        least
    }

    /// A whole number, or nothing.
    pub(in crate::web::desk) fn whole_if_any(&mut self, field: &str, least: u32) -> Option<u32> {
        let text = self.text_if_any(field)?;
        match text.parse::<u32>() {
            Ok(number) if (least..=MOST).contains(&number) => Some(number),
            _ => {
                self.say(
                    field,
                    format!(
                        "“{text}” does not fit here. Write a whole number from {least} to {MOST}."
                    ),
                );
                Some(least)
            }
        }
    }

    /// A share that is written in percent.
    pub(in crate::web::desk) fn percent(&mut self, field: &str) -> Share {
        if let Some(share) = self.percent_if_any(field) {
            return share;
        }
        self.note(field, "Write a percentage from 0 to 100.".to_owned(), true);
        Share::FIFTEEN_PERCENT
    }

    /// A share that is written in percent, or nothing.
    pub(in crate::web::desk) fn percent_if_any(&mut self, field: &str) -> Option<Share> {
        let text = self.text_if_any(field)?;
        let share = share_of(&text);
        if share.is_none() {
            self.say(
                field,
                format!(
                    "“{text}” does not fit here. Write a percentage from 0 to 100, such as 15."
                ),
            );
        }
        Some(share.unwrap_or(Share::FIFTEEN_PERCENT))
    }

    /// A choice of one.
    pub(in crate::web::desk) fn choice<T: Copy>(
        &mut self,
        field: &str,
        choices: &[(&str, T)],
        usual: T,
    ) -> T {
        let text = self.values.text(field);
        let found = choices.iter().find(|(name, _)| *name == text);
        if found.is_none() && !text.is_empty() {
            self.say(field, "Choose one of the answers that are offered.");
        }
        found.map_or(usual, |(_, choice)| *choice)
    }

    /// What was chosen of several; unknown ones are said.
    pub(in crate::web::desk) fn several<T>(
        &mut self,
        field: &str,
        read: impl Fn(&str) -> Option<T>,
    ) -> Vec<T> {
        let chosen: Vec<_> = self.values.all(field).map(&read).collect();
        if chosen.iter().any(Option::is_none) {
            self.say(
                field,
                "One of these is not in the study any more. Choose again.",
            );
        }
        chosen.into_iter().flatten().collect()
    }

    /// Whether a box is ticked.
    pub(in crate::web::desk) fn ticked(&self, field: &str) -> bool {
        self.values.has(field, "yes")
    }

    /// What a type says of a text; `usual` goes on where it refuses.
    pub(in crate::web::desk) fn made<T>(
        &mut self,
        field: &str,
        asks: &str,
        make: impl Fn(&str) -> Result<T, Invalid>,
    ) -> Option<T> {
        let text = self.text(field, asks);
        if text.is_empty() {
            return None;
        }
        match make(&text) {
            Ok(made) => Some(made),
            Err(refused) => {
                self.say(field, sentence(&refused.to_string()));
                None
            }
        }
    }
}

/// A refusal as a sentence of its own.
pub(in crate::web::desk) fn sentence(refused: &str) -> String {
    let mut signs = refused.chars();
    let first = signs
        .next()
        .map(|sign| sign.to_uppercase().collect::<String>());
    format!("{}{}.", first.unwrap_or_default(), signs.as_str())
}

/// A refused act, a sentence for each thing that is wrong.
pub(in crate::web::desk) fn sentences(refused: &AppError) -> Vec<String> {
    let said = match refused {
        AppError::Input(problems) => problems.iter().map(Problem::sentence).collect(),
        other => vec![other.to_string()],
    };
    said.iter().map(|one| sentence(one)).collect()
}

/// A percentage as the share that a plan would write: `66.7` is the number next to 0.667.
fn share_of(percent: &str) -> Option<Share> {
    let plain = percent.trim_end_matches('%').trim().replace(',', ".");
    let digits = plain
        .chars()
        .all(|sign| sign.is_ascii_digit() || sign == '.');
    let share = format!("{plain}e-2").parse().ok().filter(|_| digits)?;
    Share::new(share).ok()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_percentage_is_the_very_number_that_a_plan_would_write() {
        for (percent, share) in [("15", 0.15), ("66.7", 0.667), ("2,5", 0.025), ("90 %", 0.9)] {
            assert_eq!(share_of(percent).map(Share::get), Some(share), "{percent}");
        }
        for wrong in ["", "-1", "101", "1e1", "a", "1.2.3", "."] {
            assert_eq!(share_of(wrong), None, "{wrong}");
        }
    }

    #[test]
    fn a_wrong_number_is_told_with_its_bounds_and_something_goes_on() {
        let values = Values::new(vec![("invited".to_owned(), "twelve".to_owned())]);
        let mut reader = Reader::new(&values);
        assert_eq!(reader.whole("invited", 1), 1);
        assert_eq!(
            reader.problems[0].said,
            "“twelve” does not fit here. Write a whole number from 1 to 10000."
        );
        assert_eq!(reader.whole("checks", 0), 0);
        assert!(reader.problems[1].missing);
    }
}
