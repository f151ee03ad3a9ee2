//! Languages that a study adds for its listeners: files in its folder, beside its settings.

use std::path::PathBuf;

use super::AppError;
use super::Workspace;
use super::files;

/// The folder in the study's folder, and how its files end.
const FOLDER: &str = "languages";
const END: &str = "toml";

/// What listeners read, in one language.
#[derive(Debug, Clone)]
pub struct LanguageFile {
    /// The file as problems call it.
    pub path: String,
    /// The language's tag, which is the file's name: `pt-BR`.
    pub tag: String,
    /// What the file holds, in TOML.
    pub text: String,
}

impl Workspace {
    /// The languages that this study adds, by their names; none where it has no folder `languages`.
    ///
    /// # Errors
    /// [`AppError::File`] if one cannot be read.
    pub fn languages(&self) -> Result<Vec<LanguageFile>, AppError> {
        let read = |inner: PathBuf| {
            let path = self.folder().join(&inner);
            Ok(LanguageFile {
                tag: inner
                    .file_stem()
                    .map(|stem| stem.to_string_lossy().into_owned())
                    .unwrap_or_default(),
                text: files::read_text(&path)?,
                path: path.display().to_string(),
            })
        };
        self.languages_in()?.into_iter().map(read).collect()
    }

    /// The same files, from the study's folder.
    pub(super) fn languages_in(&self) -> Result<Vec<PathBuf>, AppError> {
        let folder = self.folder().join(FOLDER);
        if !folder.is_dir() {
            return Ok(Vec::new());
        }
        let mut found: Vec<_> = files::names_in(&folder)?
            .into_iter()
            .map(|name| PathBuf::from(FOLDER).join(name))
            .filter(|path| path.extension().is_some_and(|end| end == END))
            .collect();
        found.sort();
        Ok(found)
    }
}
