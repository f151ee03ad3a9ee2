//! One line of a form: a label, a hint, what was entered, and what is wrong with it.

/// A field as `desk/parts.html` shows it: `{% call parts::field(form.name) %}{% endcall %}`.
#[derive(Debug, Clone)]
pub(super) struct Field {
    /// Its name in the form; its id too.
    pub(super) name: &'static str,
    /// What it asks for.
    pub(super) label: &'static str,
    /// A sentence under the label; empty for none.
    pub(super) hint: &'static str,
    /// What stands in it.
    pub(super) value: String,
    /// What is wrong with it, with the mend; empty for nothing.
    pub(super) error: String,
    /// The kind of input, such as `text`.
    pub(super) kind: &'static str,
    /// What a browser may fill in, as HTML names it.
    pub(super) autocomplete: &'static str,
}

impl Field {
    /// A line of text.
    pub(super) const fn text(name: &'static str, label: &'static str) -> Self {
        Self {
            name,
            label,
            hint: "",
            value: String::new(),
            error: String::new(),
            kind: "text",
            autocomplete: "off",
        }
    }

    /// The password of an account that is there.
    pub(super) const fn password(name: &'static str, label: &'static str) -> Self {
        let mut field = Self::text(name, label);
        field.kind = "password";
        field.autocomplete = "current-password";
        field
    }

    /// A day.
    pub(super) const fn date(name: &'static str, label: &'static str) -> Self {
        let mut field = Self::text(name, label);
        field.kind = "date";
        field
    }

    /// A password that is made up now.
    pub(super) const fn new_password(name: &'static str, label: &'static str) -> Self {
        let mut field = Self::text(name, label);
        field.kind = "password";
        field.autocomplete = "new-password";
        field
    }

    /// One that a browser may fill in with the name of the person.
    pub(super) const fn username(mut self) -> Self {
        self.autocomplete = "username";
        self
    }

    /// With a sentence under the label.
    pub(super) const fn hint(mut self, hint: &'static str) -> Self {
        self.hint = hint;
        self
    }

    /// With what was entered before.
    pub(super) fn value(mut self, value: &str) -> Self {
        value.clone_into(&mut self.value);
        self
    }

    /// The ids of what describes it, for those who hear the page.
    pub(super) fn described_by(&self) -> String {
        let mut ids = Vec::new();
        if !self.hint.is_empty() {
            ids.push(format!("{}-hint", self.name));
        }
        if !self.error.is_empty() {
            ids.push(format!("{}-error", self.name));
        }
        ids.join(" ")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_field_is_described_by_what_it_shows() {
        let plain = Field::text("name", "Name");
        assert_eq!(plain.described_by(), "");
        let mut told = plain.hint("A hint.");
        told.error = "Too short.".to_owned();
        assert_eq!(told.described_by(), "name-hint name-error");
    }
}
