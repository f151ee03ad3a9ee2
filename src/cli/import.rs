//! `import`: recordings become tokens, by a manifest or by their names.

use std::path::PathBuf;

use super::Common;
use super::progress;
use crate::app;
use crate::app::AppError;
use crate::app::Imported;
use crate::app::Now;
use crate::study::ChildCode;

/// How many recordings with a remark are listed before the rest is only counted.
const MOST_REMARKED: usize = 20;

/// Import recordings: everything that a manifest or a name pattern names, or nothing.
#[derive(clap::Args)]
pub(super) struct Import {
    #[command(flatten)]
    common: Common,
    /// The manifest: a CSV with one row a recorded word.
    #[arg(
        long,
        value_name = "CSV",
        requires = "audio",
        required_unless_present = "name_pattern"
    )]
    manifest: Option<PathBuf>,
    /// The folder that holds the manifest's recordings.
    #[arg(long, value_name = "DIR", requires = "manifest")]
    audio: Option<PathBuf>,
    /// What the files' names tell, instead of a manifest: '{child}_{session}_{phase}_{word}_{attempt}'.
    #[arg(
        long,
        value_name = "PATTERN",
        requires = "files",
        conflicts_with = "manifest"
    )]
    name_pattern: Option<String>,
    /// The recordings that the pattern is held against.
    #[arg(value_name = "FILE", requires = "name_pattern")]
    files: Vec<PathBuf>,
}

impl Import {
    pub(super) fn run(self) -> Result<(), AppError> {
        let workspace = self.common.open()?;
        let bar = progress::preparing();
        let told = |done, of| progress::show(&bar, done, of);
        let imported = match (&self.name_pattern, &self.manifest, &self.audio) {
            (Some(pattern), ..) => {
                app::import_by_pattern(&workspace, pattern, &self.files, Now::read(), &told)
            }
            (None, Some(manifest), Some(audio)) => {
                app::import(&workspace, manifest, audio, Now::read(), &told)
            }
            _ => Err(AppError::refused(
                "nothing names the recordings",
                "give --manifest with --audio, or --name-pattern with the files",
            )),
        };
        bar.finish_and_clear();
        let imported = imported?;
        self.common.say(&imported, text)
    }
}

/// What came of it, and what to see to before a round is sealed.
fn text(imported: &Imported) -> String {
    let mut lines = vec![format!(
        "{} new tokens, {} there already, {} rows without a recording.",
        imported.added, imported.known, imported.missing
    )];
    lines.extend(who_is_new(imported));
    if !imported.remarked.is_empty() {
        let to_do = "Listen to these before a round is sealed, and leave out by `fairhearing exclude` what cannot be judged:";
        lines.push(to_do.to_owned());
    }
    let listed = imported.remarked.iter().take(MOST_REMARKED);
    lines.extend(listed.map(|one| format!("  {}: {}", one.file, one.remarks.join("; "))));
    let more = imported.remarked.len().saturating_sub(MOST_REMARKED);
    if more > 0 {
        lines.push(format!(
            "  and {more} more; the desk's page Review lists all of them."
        ));
    }
    lines.join("\n") + "\n"
}

/// The children who are new; that an erased one may be among them is said, for nothing else could tell it.
fn who_is_new(imported: &Imported) -> Vec<String> {
    if imported.new_children.is_empty() {
        return Vec::new();
    }
    let codes: Vec<_> = imported
        .new_children
        .iter()
        .map(ChildCode::as_str)
        .collect();
    let mut lines = vec![format!("New to the study: {}.", codes.join(", "))];
    if imported.erased_before > 0 {
        let caution = "A child was erased from this study before. If the recordings of that child came back with these, \
                       erase them again, unless the family wishes it otherwise.";
        lines.push(caution.to_owned());
    }
    lines
}
