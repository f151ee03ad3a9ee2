//! What one study is about: the content of `study.toml`.

use std::collections::BTreeMap;

use super::Cohort;
use super::Invalid;
use super::Phase;
use super::Word;

/// The study's settings, as `study.toml` gives them.
#[derive(Debug, Clone, PartialEq, serde::Serialize, serde::Deserialize)]
#[serde(deny_unknown_fields)]
pub struct StudySettings {
    /// What staff call the study.
    pub name: String,
    /// The sound under treatment, as listeners are told it: "the s sound".
    pub target: String,
    /// The phases in their order.
    pub phases: Vec<Phase>,
    /// The ways of treating that cohorts are named by; empty if there is one only.
    #[serde(default)]
    pub cohorts: Vec<Cohort>,
    /// The lists of words that are recorded at probes, each in its version; empty where none is fixed.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub lists: Vec<WordList>,
    /// The loudness to which every token is brought, in LUFS.
    #[serde(default = "usual_level")]
    pub level_lufs: f64,
    /// The language of the listener's page, such as `en`.
    #[serde(default = "english")]
    pub language: String,
    /// The words that the children are asked to say, their judged letters marked: a probe sheet lists them, and a recording
    /// that is named by a bare word finds its marks here.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub words: Vec<Word>,
    /// What each way of treating was, in a sentence, by its cohort.
    #[serde(default, skip_serializing_if = "BTreeMap::is_empty")]
    pub cues: BTreeMap<Cohort, String>,
    /// Which children were chosen because they scored low.
    #[serde(default, skip_serializing_if = "ChosenLow::is_nobody")]
    pub chosen_for_low_scores: ChosenLow,
}

/// Which children were chosen because they scored low: they would score higher the next time by chance alone.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize, serde::Deserialize)]
#[serde(
    untagged,
    expecting = "`chosen_for_low_scores` is true, false or a list of cohorts"
)]
pub enum ChosenLow {
    /// All of them, or none.
    Everybody(bool),
    /// Those of these cohorts.
    Cohorts(Vec<Cohort>),
}

impl Default for ChosenLow {
    fn default() -> Self {
        Self::Everybody(false)
    }
}

impl ChosenLow {
    /// Whether no child was.
    pub fn is_nobody(&self) -> bool {
        match self {
            Self::Everybody(all) => !all,
            Self::Cohorts(cohorts) => cohorts.is_empty(),
        }
    }

    /// Whether a child of this cohort was.
    pub fn holds(&self, cohort: Option<&Cohort>) -> bool {
        match self {
            Self::Everybody(all) => *all,
            Self::Cohorts(cohorts) => cohort.is_some_and(|cohort| cohorts.contains(cohort)),
        }
    }

    /// The first of its cohorts that is none of these.
    fn unknown(&self, known: &[Cohort]) -> Option<&Cohort> {
        match self {
            Self::Everybody(_) => None,
            Self::Cohorts(cohorts) => cohorts.iter().find(|cohort| !known.contains(cohort)),
        }
    }
}

/// A list of words in one version: a changed list is another version, never the same one.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize, serde::Deserialize)]
#[serde(deny_unknown_fields)]
pub struct WordList {
    /// Its name.
    pub name: String,
    /// Its version.
    pub version: String,
    /// Its words, without brackets.
    pub words: Vec<String>,
}

/// −27 LUFS: quiet enough that a word brought up to it does not reach full scale (ours).
const fn usual_level() -> f64 {
    -27.0
}

fn english() -> String {
    "en".to_owned()
}

impl StudySettings {
    /// What is wrong with the settings taken together.
    ///
    /// # Errors
    /// [`Invalid`] for no phase, a phase, cohort or word given twice, a cue or a choice of no cohort, or a level outside −40 to −16 LUFS.
    pub fn check(&self) -> Result<(), Invalid> {
        if self.phases.is_empty() {
            return Err(Invalid::new(
                "`phases` is empty",
                "list the phases in their order",
            ));
        }
        if let Some(twice) = first_repeated(&self.phases) {
            return Err(Invalid::new(
                format!("phase `{twice}` is listed twice"),
                "list it once",
            ));
        }
        if let Some(twice) = first_repeated(&self.cohorts) {
            return Err(Invalid::new(
                format!("cohort `{twice}` is listed twice"),
                "list it once",
            ));
        }
        let bare: Vec<String> = self.words.iter().map(Word::text).collect();
        if let Some(twice) = first_repeated(&bare) {
            return Err(Invalid::new(
                format!("the word `{twice}` is listed twice"),
                "list it once",
            ));
        }
        let titles: Vec<_> = self
            .lists
            .iter()
            .map(|list| (&list.name, &list.version))
            .collect();
        if let Some((name, version)) = first_repeated(&titles) {
            return Err(Invalid::new(
                format!("version `{version}` of the list `{name}` is given twice"),
                "give a changed list another version",
            ));
        }
        if let Some(unknown) = self.cues.keys().find(|cue| !self.cohorts.contains(cue)) {
            return Err(Invalid::new(
                format!("`cues` tells of `{unknown}`, which is no cohort"),
                "name it as `cohorts` does",
            ));
        }
        if let Some(unknown) = self.chosen_for_low_scores.unknown(&self.cohorts) {
            return Err(Invalid::new(
                format!("`chosen_for_low_scores` names `{unknown}`, which is no cohort"),
                "name it as `cohorts` does, or write true where all children were chosen so",
            ));
        }
        if !(-40.0..=-16.0).contains(&self.level_lufs) {
            return Err(Invalid::new(
                format!("`level_lufs` is {}", self.level_lufs),
                "choose a level from -40 to -16; -27 is usual",
            ));
        }
        Ok(())
    }
}

fn first_repeated<T: PartialEq>(values: &[T]) -> Option<&T> {
    values
        .iter()
        .enumerate()
        .find(|(i, v)| values.iter().take(*i).any(|w| w == *v))
        .map(|(_, v)| v)
}
