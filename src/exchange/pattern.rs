//! Name patterns: what a recording's file name tells, turned into the rows of a manifest.

use std::collections::BTreeMap;
use std::str::FromStr;

use crate::study::ChildCode;
use crate::study::Cohort;
use crate::study::Invalid;
use crate::study::Problem;
use crate::study::StudySettings;
use crate::study::Word;

/// What a pattern may name, each a column of the manifest; `skip` stands for letters that tell nothing.
const FIELDS: &[&str] = &[
    "child",
    "session",
    "phase",
    "word",
    "attempt",
    "cohort",
    "condition",
    "date",
    "target",
    "position",
    "treated",
    "elicitation",
    "age_months",
    "use",
    "answer",
    "skip",
];

/// The columns of a composed manifest.
const COMPOSED: &[&str] = &[
    "file",
    "child",
    "session",
    "phase",
    "word",
    "attempt",
    "cohort",
    "condition",
    "date",
    "target",
    "position",
    "treated",
    "elicitation",
    "age_months",
    "use",
    "answer",
    "reason",
];

/// A name pattern such as `{child}_{session}_{phase}_{word}_{attempt}`.
///
/// It is held against a file's name without its ending, and without its folders unless the pattern holds a `/`. An attempt
/// at the end may be left away: it is the first then.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NamePattern {
    parts: Vec<Part>,
    in_folders: bool,
}

#[derive(Debug, Clone, PartialEq, Eq)]
enum Part {
    /// These very signs.
    Signs(String),
    /// A column, by its place in [`FIELDS`].
    Field(&'static str),
}

impl NamePattern {
    /// What a file's name tells: a value for each field of the pattern; `None` where the name does not fit.
    pub fn read<'a>(&self, file: &'a str) -> Option<BTreeMap<&'static str, &'a str>> {
        let name = if self.in_folders {
            file
        } else {
            file.rsplit('/').next().unwrap_or(file)
        };
        let stem = match name.rsplit_once('.') {
            Some((stem, ending)) if !ending.contains('/') => stem,
            _ => name,
        };
        if let Some(found) = fit(&self.parts, stem) {
            return Some(found);
        }
        match self.parts.as_slice() {
            [first @ .., Part::Signs(_), Part::Field("attempt")] => fit(first, stem),
            _ => None,
        }
    }

    fn has(&self, field: &str) -> bool {
        self.parts
            .iter()
            .any(|part| matches!(part, Part::Field(name) if *name == field))
    }
}

/// Holds a pattern against a name: every field takes as few letters as it can, at least one.
fn fit<'a>(parts: &[Part], name: &'a str) -> Option<BTreeMap<&'static str, &'a str>> {
    match parts {
        [] => name.is_empty().then(BTreeMap::new),
        [Part::Signs(signs), rest @ ..] => fit(rest, name.strip_prefix(signs.as_str())?),
        [Part::Field(field), rest @ ..] => {
            let ends = name.char_indices().skip(1).map(|(at, _)| at);
            ends.chain([name.len()]).find_map(|end| {
                let (value, after) = name.split_at_checked(end)?;
                let mut found = fit(rest, after)?;
                if *field != "skip" {
                    found.insert(field, value);
                }
                (!value.is_empty()).then_some(found)
            })
        }
    }
}

impl FromStr for NamePattern {
    type Err = Invalid;

    fn from_str(raw: &str) -> Result<Self, Invalid> {
        let raw = raw.trim();
        let mut parts = Vec::new();
        let mut rest = raw;
        while !rest.is_empty() {
            let (signs, from_field) = rest.split_at(rest.find('{').unwrap_or(rest.len()));
            if !signs.is_empty() {
                parts.push(Part::Signs(signs.to_owned()));
            }
            rest = from_field;
            if let Some(after) = from_field.strip_prefix('{') {
                let (name, after) = after.split_once('}').ok_or_else(|| {
                    Invalid::new("the pattern opens a brace that never closes", EXAMPLE)
                })?;
                add_field(&mut parts, name)?;
                rest = after;
            }
        }
        let pattern = Self {
            in_folders: raw.contains('/'),
            parts,
        };
        if !pattern.has("word") {
            return Err(Invalid::new("the pattern names no {word}", EXAMPLE));
        }
        Ok(pattern)
    }
}

const EXAMPLE: &str = "write it like {child}_{session}_{phase}_{word}_{attempt}";

fn add_field(parts: &mut Vec<Part>, name: &str) -> Result<(), Invalid> {
    let Some(field) = FIELDS.iter().find(|field| **field == name) else {
        return Err(Invalid::new(
            format!("the pattern names {{{name}}}, which is nothing that a row holds"),
            format!("choose from {}", FIELDS.join(", ")),
        ));
    };
    if matches!(parts.last(), Some(Part::Field(_))) {
        return Err(Invalid::new(
            format!("nothing stands between {{{name}}} and the field before it"),
            "put the sign between them that the names have, such as _",
        ));
    }
    if *field != "skip" && parts.contains(&Part::Field(field)) {
        return Err(Invalid::new(
            format!("the pattern names {{{name}}} twice"),
            "write {skip} for letters that tell nothing",
        ));
    }
    parts.push(Part::Field(field));
    Ok(())
}

/// What stands beside the names when rows are made of them.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Beside {
    /// Words with their judged letters marked: a name holds the bare word.
    pub words: Vec<Word>,
    /// Each child's way of treating.
    pub cohorts: BTreeMap<ChildCode, Cohort>,
}

impl Beside {
    /// What is known beside the names in a study with these settings.
    pub fn of(settings: &StudySettings) -> Self {
        Self {
            words: settings.words.clone(),
            cohorts: BTreeMap::new(),
        }
    }
}

/// The row of a manifest that a file's name gives: a value for each of its columns, most of them empty.
pub fn composed_row(
    pattern: &NamePattern,
    file: &str,
    beside: &Beside,
    settings: &StudySettings,
) -> Option<Vec<(&'static str, String)>> {
    let mut told = pattern.read(file)?;
    let phase = told.get("phase").copied().unwrap_or_default();
    let phase = named_alike(
        settings.phases.iter().map(crate::study::Phase::as_str),
        phase,
    );
    let word = told.get("word").copied().unwrap_or_default();
    let marked = beside
        .words
        .iter()
        .find(|known| known.text().eq_ignore_ascii_case(word));
    let word = marked.map_or_else(|| word.to_owned(), ToString::to_string);
    let cohort = told
        .get("child")
        .and_then(|child| ChildCode::new(child).ok())
        .and_then(|child| beside.cohorts.get(&child));
    if let (Some(cohort), None) = (cohort, told.get("cohort")) {
        told.insert("cohort", cohort.as_str());
    }
    let row = COMPOSED.iter().map(|column| {
        let value = match *column {
            "file" => file,
            "phase" => phase,
            "word" => &word,
            other => told.get(other).copied().unwrap_or_default(),
        };
        (*column, value.to_owned())
    });
    Some(row.collect())
}

/// The label that differs from `raw` in small and capital letters alone, or `raw` itself.
fn named_alike<'a>(mut labels: impl Iterator<Item = &'a str>, raw: &'a str) -> &'a str {
    labels
        .find(|label| label.eq_ignore_ascii_case(raw))
        .unwrap_or(raw)
}

/// A manifest made of file names, with the problems of those that do not fit the pattern.
///
/// `name` is what problems call the list of files.
pub fn compose_manifest(
    name: &str,
    pattern: &NamePattern,
    files: &[String],
    beside: &Beside,
    settings: &StudySettings,
) -> (Vec<u8>, Vec<Problem>) {
    let mut problems = Vec::new();
    let mut csv = csv::Writer::from_writer(Vec::new());
    // Writing into memory cannot fail.
    let _ = csv.write_record(COMPOSED);
    for file in files {
        if let Some(row) = composed_row(pattern, file, beside, settings) {
            let _ = csv.write_record(row.iter().map(|(_, value)| value));
        } else {
            problems.push(Problem::new(
                name,
                format!("`{file}` does not fit the name pattern"),
                "rename it, change the pattern, or leave the file out",
            ));
        }
    }
    (csv.into_inner().unwrap_or_default(), problems)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(pattern: &str, file: &'static str) -> Option<BTreeMap<&'static str, &'static str>> {
        pattern.parse::<NamePattern>().unwrap().read(file)
    }

    #[test]
    fn a_name_tells_what_the_pattern_names() {
        let told = read(
            "{child}_{session}_{phase}_{word}_{attempt}",
            "box 3/C01_2_baseline_mussel_2.wav",
        )
        .unwrap();
        let values: Vec<_> = ["child", "session", "phase", "word", "attempt"]
            .iter()
            .map(|field| told[field])
            .collect();
        assert_eq!(values, ["C01", "2", "baseline", "mussel", "2"]);
    }

    #[test]
    fn an_attempt_at_the_end_may_be_missing() {
        let told = read("{child}_{word}_{attempt}", "C01_sail.wav").unwrap();
        assert_eq!((told["word"], told.get("attempt")), ("sail", None));
    }

    #[test]
    fn a_pattern_with_folders_reads_them_and_skips_what_tells_nothing() {
        let told = read(
            "{phase}/{child}/{skip}-{word}",
            "baseline/C01/0231-sail.flac",
        )
        .unwrap();
        assert_eq!((told["phase"], told["word"]), ("baseline", "sail"));
        assert_eq!(read("{child}_{word}", "sail.wav"), None);
    }

    #[test]
    fn a_pattern_that_cannot_be_read_is_refused() {
        for (pattern, said) in [
            ("{child}_{wurd}", "{wurd}, which is nothing"),
            ("{child}{word}", "nothing stands between"),
            ("{child}_{word}_{child}", "{child} twice"),
            ("{child}_{word", "never closes"),
            ("{child}", "names no {word}"),
        ] {
            let refusal = pattern.parse::<NamePattern>().unwrap_err().to_string();
            assert!(refusal.contains(said), "{refusal}");
        }
    }
}
