//! One line of the form of a round: what it asks, what stands in it, what is wrong with it.

use super::values::Values;

/// What a line takes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Kind {
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
pub(super) struct Line {
    /// Its name in the form; its id too.
    pub(super) name: String,
    /// What it asks for.
    pub(super) label: String,
    /// A sentence under the label; empty for none.
    pub(super) hint: String,
    /// What stands behind a number, such as `%`; empty for nothing.
    pub(super) unit: &'static str,
    /// What it takes.
    pub(super) kind: Kind,
    /// What may be chosen: value, and how it is called.
    pub(super) choices: Vec<(String, String)>,
    /// What stands in it.
    pub(super) values: Vec<String>,
    /// What is wrong with it; empty for nothing.
    pub(super) error: String,
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
    pub(super) fn words(name: impl Into<String>, label: impl Into<String>) -> Self {
        Self::new(Kind::Words, name, label)
    }

    /// Paragraphs.
    pub(super) fn paragraphs(name: impl Into<String>, label: impl Into<String>) -> Self {
        Self::new(Kind::Text, name, label)
    }

    /// A number with its unit.
    pub(super) fn number(name: &str, label: &str, unit: &'static str) -> Self {
        let mut line = Self::new(Kind::Number, name, label);
        line.unit = unit;
        line
    }

    /// A box to tick.
    pub(super) fn tick(name: &str, label: &str) -> Self {
        Self::new(Kind::Box, name, label)
    }

    /// One of several; the first is what an empty form means.
    pub(super) fn one(name: &str, label: &str, choices: &[(&str, &str)]) -> Self {
        Self::new(Kind::One, name, label).with(choices)
    }

    /// Any of several.
    pub(super) fn several(name: &str, label: &str, choices: &[(&str, &str)]) -> Self {
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
    pub(super) fn hint(mut self, hint: impl Into<String>) -> Self {
        self.hint = hint.into();
        self
    }

    /// With what was entered.
    pub(super) fn filled(mut self, values: &Values) -> Self {
        self.values = values.all(&self.name).map(str::to_owned).collect();
        self
    }

    /// What stands in it, where that is one value.
    pub(super) fn value(&self) -> &str {
        self.values.first().map_or("", String::as_str)
    }

    /// Whether a choice is made.
    pub(super) fn is_chosen(&self, choice: &str) -> bool {
        self.values.iter().any(|value| value == choice)
    }

    /// The ids of what describes it, for those who hear the page.
    pub(super) fn described_by(&self) -> String {
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
pub(super) struct Part {
    /// What they are about.
    pub(super) title: &'static str,
    /// A sentence under the title; empty for none.
    pub(super) lead: String,
    /// The lines that every round needs.
    pub(super) lines: Vec<Line>,
    /// What the further lines are called.
    pub(super) more: &'static str,
    /// Lines whose usual values do for most rounds.
    pub(super) further: Vec<Line>,
}

impl Part {
    /// Whether one of the further lines is wrong: then they are shown.
    pub(super) fn is_open(&self) -> bool {
        self.further.iter().any(|line| !line.error.is_empty())
    }

    /// All its lines.
    pub(super) fn all_lines(&mut self) -> impl Iterator<Item = &mut Line> {
        self.lines.iter_mut().chain(&mut self.further)
    }
}
