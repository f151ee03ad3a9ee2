//! The sample audio of the invented harbour-town clinic, compiled in.

use std::path::Path;
use std::path::PathBuf;

use rust_embed::RustEmbed;

use crate::app::AppError;
use crate::app::Assigned;
use crate::app::files;

#[derive(RustEmbed)]
#[folder = "sample_audio/"]
#[include = "*.flac"]
#[include = "*.csv"]
#[include = "*.toml"]
struct Compiled;

/// The columns of the manifest that tell a child and its cohort.
const CHILD: usize = 1;
const COHORT: usize = 5;

/// A round of the term.
struct Round {
    name: &'static str,
    /// Which words it takes: earlier words among them link it to the rounds before.
    words: &'static str,
    /// The words of a sitting: so many that the whole panel is needed.
    sitting: u16,
}

/// The rounds of the term: nearly as many earlier words as are new link the later ones, so that chance never leaves too
/// few of them for one scale.
const TERM: [Round; 3] = [
    Round {
        name: "winter",
        words: "phases = [\"baseline\"]",
        sitting: 54,
    },
    Round {
        name: "early spring",
        words: "phases = [\"baseline\", \"treatment\"]\nonly_new = true\nlinks = 0.8",
        sitting: 82,
    },
    Round {
        name: "spring",
        words: "only_new = true\nlinks = 1",
        sitting: 75,
    },
];

/// The sample audio, laid out in a folder.
pub struct Samples {
    folder: PathBuf,
}

impl Samples {
    /// Writes the recordings, the manifest, the consents and the plans into a folder.
    ///
    /// # Errors
    /// [`AppError::File`] if the folder cannot be written.
    pub fn lay_out(folder: &Path) -> Result<Self, AppError> {
        files::make_folder(folder)?;
        for name in Compiled::iter() {
            if let Some(file) = Compiled::get(&name) {
                files::write(&folder.join(&*name), &file.data)?;
            }
        }
        Ok(Self {
            folder: folder.to_owned(),
        })
    }

    /// The folder of the recordings.
    pub fn audio(&self) -> &Path {
        &self.folder
    }

    /// The manifest.
    pub fn manifest(&self) -> PathBuf {
        self.folder.join("manifest.csv")
    }

    /// What the invented families agreed to.
    pub fn consents(&self) -> PathBuf {
        self.folder.join("consents.csv")
    }

    /// The settings of the study.
    pub fn settings(&self) -> PathBuf {
        self.folder.join("study.toml")
    }

    /// What is drawn before treatment.
    pub fn draw(&self) -> PathBuf {
        self.folder.join("draw.toml")
    }

    /// Lets every child be treated as was drawn: the cohorts of the manifest are those of the draw.
    ///
    /// # Errors
    /// [`AppError::File`] if the manifest cannot be read or written.
    pub fn treat_as_drawn(&self, assigned: &Assigned) -> Result<(), AppError> {
        let cohort_of = |child: &str| {
            let line = assigned.sheet.lines.iter().find(|line| line.case == child);
            line.map(|line| line.drawn.clone())
        };
        // No cell of this manifest holds a comma.
        let mend = |line: &str| -> String {
            let mut cells: Vec<String> = line.split(',').map(str::to_owned).collect();
            let drawn = cells.get(CHILD).and_then(|child| cohort_of(child));
            if let (Some(cohort), Some(drawn)) = (cells.get_mut(COHORT), drawn) {
                *cohort = drawn;
            }
            cells.join(",")
        };
        let manifest = files::read_text(&self.manifest())?;
        let mended: Vec<String> = manifest.lines().map(mend).collect();
        files::write(&self.manifest(), mended.join("\n").as_bytes())
    }

    /// The plans of the three rounds of the term, in their order.
    ///
    /// # Errors
    /// [`AppError::File`] if they cannot be laid out.
    pub fn term(&self) -> Result<[PathBuf; 3], AppError> {
        let last = files::read_text(&self.folder.join("plan.toml"))?;
        let lay_out = |round: Round| -> Result<PathBuf, AppError> {
            let Round {
                name,
                words,
                sitting,
            } = round;
            let text = last
                .replacen("round = \"spring\"", &format!("round = \"{name}\""), 1)
                .replacen("tokens = 150", &format!("tokens = {sitting}"), 1)
                .replacen(
                    "[listeners]",
                    &format!("[tokens]\n{words}\n\n[listeners]"),
                    1,
                );
            let file = format!("plan_{}.toml", name.replace(' ', "_"));
            let path = self.folder.join(file);
            files::write(&path, text.as_bytes())?;
            Ok(path)
        };
        let [first, second, third] = TERM;
        Ok([lay_out(first)?, lay_out(second)?, lay_out(third)?])
    }

    /// The plan of the round that stays open, to be tried by hand.
    pub fn open_plan(&self) -> PathBuf {
        self.folder.join("plan_open.toml")
    }

    /// The true state of each recording, which only the simulated panel may know.
    pub(super) fn truth(&self) -> PathBuf {
        self.folder.join("true_state.csv")
    }
}
