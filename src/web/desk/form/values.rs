//! What stands in a long form, as it was typed.

/// The fields in their order; a name may come several times.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub(in crate::web::desk) struct Values(Vec<(String, String)>);

impl Values {
    /// What a form sent, without what tells only which button was pressed.
    pub(in crate::web::desk) fn new(fields: Vec<(String, String)>) -> Self {
        let fields = fields.into_iter().filter(|(name, _)| name != "do");
        // Browsers send line ends as two signs; one is kept.
        Self(
            fields
                .map(|(name, value)| (name, value.replace("\r\n", "\n")))
                .collect(),
        )
    }

    /// The fields.
    pub(in crate::web::desk) fn fields(&self) -> &[(String, String)] {
        &self.0
    }

    /// What stands under a name, without blanks around it; nothing where the field is missing.
    pub(in crate::web::desk) fn text(&self, name: &str) -> &str {
        self.all(name).next().unwrap_or_default()
    }

    /// Everything that was entered or chosen under a name.
    pub(in crate::web::desk) fn all(&self, name: &str) -> impl Iterator<Item = &str> {
        let fields = self.0.iter().filter(move |(field, _)| field == name);
        fields.map(|(_, value)| value.trim())
    }

    /// Whether something was chosen under a name.
    pub(in crate::web::desk) fn has(&self, name: &str, value: &str) -> bool {
        self.all(name).any(|chosen| chosen == value)
    }

    /// Puts a further value under a name.
    pub(in crate::web::desk) fn add(&mut self, name: &str, value: &str) {
        self.0.push((name.to_owned(), value.to_owned()));
    }

    /// Puts one value under a name, instead of all that stood there.
    pub(in crate::web::desk) fn set(&mut self, name: &str, value: &str) {
        self.0.retain(|(field, _)| field != name);
        if !value.is_empty() {
            self.0.push((name.to_owned(), value.to_owned()));
        }
    }
}
