//! `new`: makes a workspace.

use std::path::PathBuf;

use crate::app::AppError;
use crate::app::Now;
use crate::app::Workspace;

/// Make a workspace: the folder of one study.
#[derive(clap::Args)]
pub(super) struct New {
    /// The folder; it is made if it is not there.
    dir: PathBuf,
}

impl New {
    pub(super) fn run(self) -> Result<(), AppError> {
        Workspace::make(&self.dir, Now::read())?;
        let dir = self.dir.display().to_string();
        println!(
            "Made a study in {dir}. Describe it in {}, then import recordings:\n  \
             fairhearing import --workspace {} --manifest MANIFEST.csv --audio FOLDER\n\
             or do all of it in a browser:\n  fairhearing serve --workspace {}",
            self.dir.join("study.toml").display(),
            as_one_word(&dir),
            as_one_word(&dir),
        );
        Ok(())
    }
}

/// A path as it is typed: in quotes where it holds a blank or another sign that a shell takes for itself.
fn as_one_word(path: &str) -> String {
    let plain = |letter: char| letter.is_alphanumeric() || "/\\._-:".contains(letter);
    if path.chars().all(plain) {
        path.to_owned()
    } else {
        format!("\"{path}\"")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_path_with_a_blank_is_typed_in_quotes() {
        assert_eq!(as_one_word("studies/möwen_1"), "studies/möwen_1");
        assert_eq!(as_one_word("my study"), "\"my study\"");
    }
}
