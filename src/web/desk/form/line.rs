//! One line of a long form: what it asks, what stands in it, what is wrong with it.

use super::reader::FieldProblem;
use super::values::Values;

/// What a line takes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(in crate::web::desk) enum Kind {
    /// A line of text.
    Words,
    /// A number.
    Number,
    /// Paragraphs.
    Text,
    /// One of several.
    One,
    /// Any of several.
    Several,
    /// A box to tick.
    Box,
}

/// One line of the form.
#[derive(Debug, Clone)]
pub(in crate::web::desk) struct Line {
    /// Its name in the form; its id too.
    pub(in crate::web::desk) name: String,
    /// What it asks for.
    pub(in crate::web::desk) label: String,
    /// A sentence under the label; empty for none.
    pub(in crate::web::desk) hint: String,
    /// What stands behind a number, such as `%`; empty for nothing.
    pub(in crate::web::desk) unit: &'static str,
    /// What it takes.
    pub(in crate::web::desk) kind: Kind,
    /// What may be chosen: value, and how it is called.
    pub(in crate::web::desk) choices: Vec<(String, String)>,
    /// What stands in it.
    pub(in crate::web::desk) values: Vec<String>,
    /// What is wrong with it; empty for nothing.
    pub(in crate::web::desk) error: String,
}

impl Line {
    fn new(kind: Kind, name: impl Into<String>, label: impl Into<String>) -> Self {
        Self {
            name: name.into(),
            label: label.into(),
            hint: String::new(),
            unit: "",
            kind,
            choices: Vec::new(),
            values: Vec::new(),
            error: String::new(),
        }
    }

    /// A line of text.
    pub(in crate::web::desk) fn words(name: impl Into<String>, label: impl Into<String>) -> Self {
        Self::new(Kind::Words, name, label)
    }

    /// Paragraphs.
    pub(in crate::web::desk) fn paragraphs(
        name: impl Into<String>,
        label: impl Into<String>,
    ) -> Self {
        Self::new(Kind::Text, name, label)
    }

    /// A number with its unit.
    pub(in crate::web::desk) fn number(name: &str, label: &str, unit: &'static str) -> Self {
        let mut line = Self::new(Kind::Number, name, label);
        line.unit = unit;
        line
    }

    /// A box to tick.
    pub(in crate::web::desk) fn tick(name: &str, label: &str) -> Self {
        Self::new(Kind::Box, name, label)
    }

    /// One of several; the first is what an empty form means.
    pub(in crate::web::desk) fn one(name: &str, label: &str, choices: &[(&str, &str)]) -> Self {
        Self::new(Kind::One, name, label).with(choices)
    }

    /// Any of several.
    pub(in crate::web::desk) fn several(name: &str, label: &str, choices: &[(&str, &str)]) -> Self {
        Self::new(Kind::Several, name, label).with(choices)
    }

    fn with(mut self, choices: &[(&str, &str)]) -> Self {
        let choices = choices.iter();
        self.choices = choices
            .map(|(value, name)| ((*value).to_owned(), (*name).to_owned()))
            .collect();
        self
    }

    /// With a sentence under the label.
    pub(in crate::web::desk) fn hint(mut self, hint: impl Into<String>) -> Self {
        self.hint = hint.into();
        self
    }

    /// With what was entered.
    pub(in crate::web::desk) fn filled(mut self, values: &Values) -> Self {
        self.values = values.all(&self.name).map(str::to_owned).collect();
        self
    }

    /// With what is wrong with it.
    pub(in crate::web::desk) fn told(mut self, wrong: &[FieldProblem]) -> Self {
        let found = wrong.iter().find(|problem| problem.field == self.name);
        self.error = found
            .map(|problem| problem.said.clone())
            .unwrap_or_default();
        self
    }

    /// What stands in it, where that is one value.
    pub(in crate::web::desk) fn value(&self) -> &str {
        self.values.first().map_or("", String::as_str)
    }

    /// Whether a choice is made.
    pub(in crate::web::desk) fn is_chosen(&self, choice: &str) -> bool {
        self.values.iter().any(|value| value == choice)
    }

    /// The ids of what describes it, for those who hear the page.
    pub(in crate::web::desk) fn described_by(&self) -> String {
        let error = format!("{}-error", self.name);
        if self.hint.is_empty() {
            error
        } else {
            format!("{}-hint {error}", self.name)
        }
    }
}

/// Lines that belong together.
#[derive(Debug, Clone)]
pub(in crate::web::desk) struct Part {
    /// What they are about.
    pub(in crate::web::desk) title: &'static str,
    /// A sentence under the title; empty for none.
    pub(in crate::web::desk) lead: String,
    /// The lines that are always shown.
    pub(in crate::web::desk) lines: Vec<Line>,
    /// What the further lines are called.
    pub(in crate::web::desk) more: &'static str,
    /// Lines whose usual values mostly do.
    pub(in crate::web::desk) further: Vec<Line>,
}

impl Part {
    /// Whether one of the further lines is wrong: then they are shown.
    pub(in crate::web::desk) fn is_open(&self) -> bool {
        self.further.iter().any(|line| !line.error.is_empty())
    }

    /// All its lines.
    pub(in crate::web::desk) fn all_lines(&mut self) -> impl Iterator<Item = &mut Line> {
        self.lines.iter_mut().chain(&mut self.further)
    }

    /// Puts into its lines what was entered, and what is wrong with it.
    pub(in crate::web::desk) fn fill(&mut self, values: &Values, wrong: &[FieldProblem]) {
        for line in self.all_lines() {
            *line = line.clone().filled(values).told(wrong);
        }
    }
}
