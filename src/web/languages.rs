//! The languages of what listeners read: a file a language. Some are compiled in, and a study may add others, or put its
//! own in their place, by files in its folder.

use std::collections::BTreeMap;

use axum::http::HeaderMap;
use axum::http::header::ACCEPT_LANGUAGE;
use rust_embed::Embed;

use super::page::Frame;
use super::texts::LEFT_TO_RIGHT;
use super::texts::RIGHT_TO_LEFT;
use super::texts::Texts;
use crate::app::AppError;
use crate::app::LanguageFile;
use crate::app::Workspace;
use crate::study::Problem;
use crate::study::Problems;

#[derive(Embed)]
#[folder = "src/web/listener/texts/"]
struct CompiledIn;

/// The language that is always there, and that tells which sentences there are.
const ENGLISH: &str = "en";

/// One language.
#[derive(Debug)]
pub(super) struct Language {
    /// Its tag as its file is called, such as `pt-BR`.
    pub(super) tag: String,
    /// What is said in it.
    pub(super) texts: Texts,
    /// The sentences that its file lacks, as `rest.go_on`: the English ones stand in.
    lacks: Vec<String>,
}

/// All languages of what listeners read.
#[derive(Debug)]
pub(super) struct Languages {
    english: Language,
    /// The others, by their tags in small letters.
    others: BTreeMap<String, Language>,
}

impl Language {
    /// The frame of a page in it.
    pub(super) fn frame(&self) -> Frame {
        Frame {
            lang: self.tag.clone(),
            dir: self.texts.direction(),
            unsent: None,
            hand_over: None,
        }
    }
}

impl Languages {
    /// Reads what was compiled in, and what the study adds. A study's file goes before one of the same tag.
    ///
    /// # Errors
    /// [`AppError::Input`] with every sentence that a file leaves empty or does not know; [`AppError::File`] if one
    /// cannot be read.
    pub(super) fn load(workspace: &Workspace) -> Result<Self, AppError> {
        let mut files: Vec<_> = compiled_in().collect();
        files.extend(workspace.languages()?);
        let languages = Self::read(files)?;
        for language in languages.all().filter(|one| !one.lacks.is_empty()) {
            let (tag, lacks) = (&language.tag, language.lacks.join(", "));
            tracing::warn!(
                "the language {tag} lacks {lacks}: say them in its file; until then they are in English"
            );
        }
        Ok(languages)
    }

    /// What was compiled in, alone.
    ///
    /// # Errors
    /// What is wrong with a file.
    #[cfg(test)]
    pub(super) fn compiled_in() -> Result<Self, Problems> {
        Self::read(compiled_in().collect())
    }

    fn read(files: Vec<LanguageFile>) -> Result<Self, Problems> {
        let pattern = pattern()?;
        let mut problems = Problems::default();
        let mut all = BTreeMap::new();
        for file in files {
            match read_one(&file, &pattern) {
                Ok(language) => {
                    all.insert(in_small_letters(&language.tag), language);
                }
                Err(wrong) => problems.extend(wrong),
            }
        }
        let mut others = problems.or(all)?;
        let english = others.remove(ENGLISH).ok_or_else(no_english)?;
        Ok(Self { english, others })
    }

    /// The language that is wanted, in that form, its main one (`es` for `es-MX`) or another one (`pt-BR` for `pt`); English
    /// where there is none.
    pub(super) fn of(&self, wanted: &str) -> &Language {
        let wanted = in_small_letters(wanted);
        let mut form = Some(wanted.as_str());
        while let Some(tag) = form {
            if let Some(language) = self.named(tag) {
                return language;
            }
            form = tag.rsplit_once('-').map(|(wider, _)| wider);
        }
        let main = wanted.split('-').next().unwrap_or_default();
        let another = self.others.iter().find(|(tag, _)| {
            tag.strip_prefix(main)
                .is_some_and(|rest| rest.starts_with('-'))
        });
        another.map_or(&self.english, |(_, language)| language)
    }

    /// The language of the study; where its settings cannot be read, the one that the browser asks for.
    pub(super) async fn of_study(&self, workspace: &Workspace, headers: &HeaderMap) -> &Language {
        let workspace = workspace.clone();
        let settings = tokio::task::spawn_blocking(move || workspace.settings()).await;
        if let Ok(Ok(settings)) = settings {
            return self.of(&settings.language);
        }
        let asked = headers
            .get(ACCEPT_LANGUAGE)
            .and_then(|value| value.to_str().ok());
        let first = asked.unwrap_or_default().split([',', ';']).next();
        self.of(first.unwrap_or_default())
    }

    /// Whether a language is there under this very tag.
    pub(super) fn has(&self, tag: &str) -> bool {
        self.named(&in_small_letters(tag)).is_some()
    }

    /// All of them, English first.
    pub(super) fn all(&self) -> impl Iterator<Item = &Language> {
        std::iter::once(&self.english).chain(self.others.values())
    }

    fn named(&self, tag: &str) -> Option<&Language> {
        if tag == ENGLISH {
            Some(&self.english)
        } else {
            self.others.get(tag)
        }
    }
}

fn compiled_in() -> impl Iterator<Item = LanguageFile> {
    CompiledIn::iter().filter_map(|name| {
        let content = CompiledIn::get(&name)?.data;
        Some(LanguageFile {
            tag: name.strip_suffix(".toml")?.to_owned(),
            text: String::from_utf8_lossy(&content).into_owned(),
            path: name.into_owned(),
        })
    })
}

/// The sentences of the English file as it was compiled in: every file has these.
fn pattern() -> Result<toml::Table, Problems> {
    let english = compiled_in().find(|file| file.tag == ENGLISH);
    table(&english.ok_or_else(no_english)?)
}

fn read_one(file: &LanguageFile, pattern: &toml::Table) -> Result<Language, Problems> {
    let mut table = table(file)?;
    let mut wrong = Wrong::of(file);
    wrong.look_at(&table, pattern);
    wrong.problems.or(())?;
    let lacks = complete(&mut table, pattern);
    let texts = table.try_into().map_err(|error: toml::de::Error| {
        let what = error.message().to_owned();
        Problem::new(&file.path, what, "write the file as the English one")
    })?;
    Ok(Language {
        tag: file.tag.replace('_', "-"),
        texts,
        lacks,
    })
}

/// Puts the English sentences where a file lacks its own, as after an update of the program, and names them.
fn complete(table: &mut toml::Table, pattern: &toml::Table) -> Vec<String> {
    let mut lacks = Vec::new();
    for (section, sentences) in tables(pattern) {
        let told = table
            .entry(section)
            .or_insert_with(|| toml::Table::new().into());
        let Some(told) = told.as_table_mut() else {
            continue;
        };
        for (name, english) in sentences {
            if !told.contains_key(name) {
                lacks.push(format!("`{section}.{name}`"));
                told.insert(name.clone(), english.clone());
            }
        }
    }
    lacks
}

fn table(file: &LanguageFile) -> Result<toml::Table, Problems> {
    Ok(file.text.parse().map_err(|error: toml::de::Error| {
        let place = error.span().map_or(0, |span| span.start);
        let lines = file.text.bytes().take(place);
        let line = lines.filter(|byte| *byte == b'\n').count() as u64 + 1;
        let said = error.message().trim().replace('\n', ", ");
        Problem::new(&file.path, said, "mend this line").at_line(line)
    })?)
}

fn no_english() -> Problem {
    Problem::new("en.toml", "is not there", "build the program anew")
}

/// What is wrong with one file.
struct Wrong<'a> {
    file: &'a LanguageFile,
    problems: Problems,
}

impl<'a> Wrong<'a> {
    fn of(file: &'a LanguageFile) -> Self {
        Self {
            file,
            problems: Problems::default(),
        }
    }

    fn look_at(&mut self, table: &toml::Table, pattern: &toml::Table) {
        let letters = |tag: &str| {
            tag.chars()
                .all(|c| c.is_ascii_alphanumeric() || c == '-' || c == '_')
        };
        if !self.file.tag.starts_with(|c: char| c.is_ascii_alphabetic()) || !letters(&self.file.tag)
        {
            self.add(
                "has no language’s tag for its name",
                "call it such as `pt-BR.toml`",
            );
        }
        for (section, sentences) in tables(pattern) {
            let told = table.get(section).and_then(toml::Value::as_table);
            for (name, english) in sentences {
                self.look_at_one(
                    &format!("{section}.{name}"),
                    told.and_then(|told| told.get(name)),
                    english.as_str().unwrap_or_default(),
                );
            }
        }
        for (section, sentences) in table {
            let known = pattern.get(section).and_then(toml::Value::as_table);
            let names = sentences.as_table().into_iter().flat_map(toml::Table::keys);
            for name in names.filter(|name| !known.is_some_and(|known| known.contains_key(*name))) {
                self.add(
                    &format!("says `{section}.{name}`, which no page asks for"),
                    "take it out",
                );
            }
        }
        let direction = table.get("page").and_then(|page| page.get("direction"));
        let direction = direction
            .and_then(toml::Value::as_str)
            .unwrap_or(LEFT_TO_RIGHT);
        if ![LEFT_TO_RIGHT, RIGHT_TO_LEFT].contains(&direction) {
            self.add(
                &format!("has `page.direction = \"{direction}\"`"),
                "write ltr, or rtl where the language runs from right to left",
            );
        }
    }

    fn look_at_one(&mut self, name: &str, told: Option<&toml::Value>, english: &str) {
        match told.map(toml::Value::as_str) {
            // An update of the program may ask for more: the English sentence stands in.
            None => {}
            Some(said) if said.is_none_or(|said| said.trim().is_empty()) => self.add(
                &format!("leaves `{name}` empty"),
                &format!("say in this language: {english}"),
            ),
            Some(said) => {
                let said = said.unwrap_or_default();
                if filled_in(said) != filled_in(english) {
                    self.add(
                        &format!("does not fill the same values into `{name}`"),
                        &format!("keep what stands in braces: {english}"),
                    );
                }
            }
        }
    }

    fn add(&mut self, what: &str, mend: &str) {
        self.problems
            .push(Problem::new(&self.file.path, what, mend));
    }
}

fn tables(table: &toml::Table) -> impl Iterator<Item = (&String, &toml::Table)> {
    table
        .iter()
        .filter_map(|(name, value)| Some((name, value.as_table()?)))
}

/// The names in braces of a sentence, in the order of letters.
fn filled_in(sentence: &str) -> Vec<&str> {
    let after = sentence.split('{').skip(1);
    let mut names: Vec<_> = after
        .filter_map(|rest| Some(rest.split_once('}')?.0))
        .collect();
    names.sort_unstable();
    names
}

/// A tag as tags are compared: in small letters, its parts joined by hyphens.
fn in_small_letters(tag: &str) -> String {
    tag.trim().to_ascii_lowercase().replace('_', "-")
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The English file with some of its text in other words, as a file of another name.
    fn file(tag: &str, words: &[(&str, &str)]) -> LanguageFile {
        let english = compiled_in().find(|file| file.tag == ENGLISH).unwrap();
        let text = words.iter().fold(english.text, |text, (from, to)| {
            assert!(text.contains(from), "{from}");
            text.replacen(from, to, 1)
        });
        LanguageFile {
            path: format!("{tag}.toml"),
            tag: tag.to_owned(),
            text,
        }
    }

    fn with(more: Vec<LanguageFile>) -> Result<Languages, Problems> {
        Languages::read(compiled_in().chain(more).collect())
    }

    #[test]
    fn every_file_that_is_compiled_in_is_a_whole_language() {
        let languages = Languages::compiled_in().unwrap();
        assert_eq!(languages.all().count(), CompiledIn::iter().count());
        for language in languages.all() {
            assert_eq!(language.lacks, Vec::<String>::new(), "{}", language.tag);
        }
    }

    #[test]
    fn where_a_sentence_is_lacking_the_english_one_stands_in() {
        let old = file("xx", &[("offline = \"No connection.", "# \"")]);
        let languages = with(vec![old]).unwrap();
        let language = languages.of("xx");
        assert_eq!(language.lacks, ["`sitting.offline`"]);
        assert!(language.texts.sitting.offline.starts_with("No connection."));
    }

    #[test]
    fn a_further_language_is_one_more_file_in_either_direction() {
        let arabic = file(
            "ar",
            &[
                ("\"ltr\"", "\"rtl\""),
                ("begin = \"Begin\"", "begin = \"ابدأ\""),
            ],
        );
        let languages = with(vec![arabic]).unwrap();
        let language = languages.of("ar-EG");
        assert_eq!(language.tag, "ar");
        assert_eq!(language.texts.direction(), "rtl");
        assert_eq!(language.texts.judge.begin, "ابدأ");
    }

    #[test]
    fn a_tag_may_have_capitals_and_several_parts() {
        let languages = with(vec![file("pt-BR", &[]), file("zh-Hant", &[])]).unwrap();
        for (wanted, found) in [
            ("pt-BR", "pt-BR"),
            ("pt_br", "pt-BR"),
            ("pt", "pt-BR"),
            ("pt-PT", "pt-BR"),
            ("zh-Hant-TW", "zh-Hant"),
            ("ZH-HANT", "zh-Hant"),
            ("es-MX", "es"),
            ("en-GB", "en"),
            ("xx", "en"),
            ("", "en"),
        ] {
            assert_eq!(languages.of(wanted).tag, found, "{wanted}");
        }
        assert!(languages.has("PT-br") && !languages.has("pt"));
    }

    #[test]
    fn a_study_can_put_its_own_words_in_place_of_a_language() {
        let own = file("es", &[("begin = \"Begin\"", "begin = \"Vamos\"")]);
        let languages = with(vec![own]).unwrap();
        assert_eq!(languages.of("es").texts.judge.begin, "Vamos");
    }

    #[test]
    fn what_a_file_leaves_empty_or_adds_is_named() {
        for (tag, from, to, said) in [
            (
                "xx",
                "title = \"Nearly done\"",
                "title = \" \"",
                "leaves `closing.title` empty; say in this language: Nearly done",
            ),
            (
                "xx",
                "Word {number} of {of}",
                "Word {number}",
                "does not fill the same values into `sitting.progress`",
            ),
            (
                "xx",
                "[rest]",
                "[rest]\nhurry = \"!\"",
                "says `rest.hurry`, which no page asks for",
            ),
            ("xx", "\"ltr\"", "\"up\"", "has `page.direction = \"up\"`"),
            ("my own", "", "", "has no language’s tag for its name"),
        ] {
            let wrong = with(vec![file(tag, &[(from, to)])]).unwrap_err();
            let all = wrong.to_string();
            assert!(all.starts_with(&format!("{tag}.toml: {said}")), "{all}");
            assert_eq!(wrong.iter().count(), 1, "{all}");
        }
    }
}
