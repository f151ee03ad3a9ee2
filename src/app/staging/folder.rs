//! The folder of one import on the disk: files under the digests of their names.

use std::ffi::OsStr;
use std::fmt;
use std::fs;
use std::path::Path;
use std::path::PathBuf;
use std::str::FromStr;

use super::name::StagedName;
use crate::app::AppError;
use crate::app::Now;
use crate::app::Workspace;
use crate::app::files;
use crate::app::import::Named;
use crate::app::secret;
use crate::exchange;
use crate::exchange::ManifestSheet;
use crate::seal::Digest;
use crate::study::Invalid;

/// The random name of an import that waits: 32 small letters and digits.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct StagingId(String);

impl StagingId {
    pub(super) fn drawn() -> Self {
        Self(secret::token())
    }
}

impl fmt::Display for StagingId {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

impl FromStr for StagingId {
    type Err = Invalid;

    fn from_str(raw: &str) -> Result<Self, Invalid> {
        let plain = |sign: u8| sign.is_ascii_digit() || sign.is_ascii_lowercase();
        if raw.len() == 32 && raw.bytes().all(plain) {
            Ok(Self(raw.to_owned()))
        } else {
            Err(not_there())
        }
    }
}

fn not_there() -> Invalid {
    Invalid::new(
        "this import is not there any more: it was finished or thrown away",
        "begin another",
    )
}

/// The folder of one import.
pub(super) struct Folder {
    path: PathBuf,
}

impl Folder {
    pub(super) fn make(workspace: &Workspace, id: &StagingId, now: Now) -> Result<Self, AppError> {
        let path = workspace.staging().join(&id.0);
        files::make_folder(&path.join(FILES))?;
        files::write(&path.join(BEGUN), now.ms().to_string().as_bytes())?;
        Ok(Self { path })
    }

    pub(super) fn of(workspace: &Workspace, id: &StagingId) -> Result<Self, AppError> {
        let path = workspace.staging().join(&id.0);
        if path.join(BEGUN).exists() {
            Ok(Self { path })
        } else {
            Err(AppError::Refused(not_there()))
        }
    }

    pub(super) fn path(&self) -> &Path {
        &self.path
    }

    /// Every import that waits in a workspace.
    pub(super) fn all(workspace: &Workspace) -> Result<Vec<StagingId>, AppError> {
        let path = workspace.staging();
        if !path.exists() {
            return Ok(Vec::new());
        }
        let names = files::names_in(&path)?;
        let ids = names.iter().filter_map(|name| name.to_str()?.parse().ok());
        let there = |id: &StagingId| path.join(&id.0).join(BEGUN).exists();
        Ok(ids.filter(there).collect())
    }

    pub(super) fn begun(&self) -> Now {
        let text = files::read_text(&self.path.join(BEGUN)).unwrap_or_default();
        Now::at_ms(text.trim().parse().unwrap_or(0))
    }

    /// Where a whole file lies.
    pub(super) fn whole(&self, name: &StagedName) -> PathBuf {
        self.path.join(FILES).join(under(name))
    }

    /// Where a file lies while it is coming.
    pub(super) fn part(&self, name: &StagedName) -> PathBuf {
        self.whole(name).with_extension(PART)
    }

    /// Notes what a file is called.
    pub(super) fn note_name(&self, name: &StagedName) -> Result<(), AppError> {
        let path = self.whole(name).with_extension(NAME);
        files::write(&path, name.as_str().as_bytes())
    }

    /// An empty folder inside, for an archive that is being unpacked.
    pub(super) fn apart(&self) -> Result<PathBuf, AppError> {
        let path = self.path.join(format!("unpacking-{}", secret::token()));
        files::make_folder(&path)?;
        Ok(path)
    }

    /// What the files are called, whole ones and those that are coming, in alphabetical order.
    pub(super) fn names(&self) -> Result<Vec<StagedName>, AppError> {
        let folder = self.path.join(FILES);
        let mut names = Vec::new();
        for own in files::names_in(&folder)? {
            if is_a_name(&own) {
                let text = files::read_text(&folder.join(&own))?;
                names.extend(StagedName::new(&text));
            }
        }
        names.sort();
        Ok(names)
    }

    /// How many bytes a file has, and how many of one that is coming are here.
    pub(super) fn sizes(&self, name: &StagedName) -> (Option<u64>, Option<u64>) {
        let size = |path: PathBuf| fs::metadata(path).ok().map(|about| about.len());
        (size(self.whole(name)), size(self.part(name)))
    }

    /// The whole files, by their names.
    pub(super) fn recordings(&self) -> Result<Named, AppError> {
        let names = self.names()?;
        let whole = names.iter().filter(|name| self.whole(name).exists());
        let lying = whole.map(|name| (name.as_str().to_owned(), self.whole(name)));
        Ok(Named::lying(lying.collect()))
    }

    /// Bytes and files that are here, counted one by one: where a file is asked for each time, the time grows with the square.
    pub(super) fn filled(&self) -> Result<(u64, usize), AppError> {
        let folder = self.path.join(FILES);
        let mut bytes = 0;
        let mut count = 0;
        for own in files::names_in(&folder)? {
            if is_a_name(&own) {
                count += 1;
            } else {
                bytes += fs::metadata(folder.join(&own)).map_or(0, |about| about.len());
            }
        }
        Ok((bytes, count))
    }

    /// The manifest: its name and its bytes.
    pub(super) fn manifest(&self) -> Result<Option<(String, Vec<u8>)>, AppError> {
        let path = self.path.join(MANIFEST);
        if !path.exists() {
            return Ok(None);
        }
        let name = files::read_text(&self.path.join(MANIFEST_NAME))?;
        Ok(Some((name, files::read(&path)?)))
    }

    pub(super) fn set_manifest(&self, name: &str, bytes: &[u8]) -> Result<(), AppError> {
        files::write(&self.path.join(MANIFEST_NAME), name.as_bytes())?;
        files::write(&self.path.join(MANIFEST), bytes)
    }

    /// Takes a CSV as the manifest: any where there is none yet, and one that has a manifest's columns in the place of another.
    /// Says whether it was taken.
    pub(super) fn offer_manifest(&self, name: &str, bytes: &[u8]) -> Result<bool, AppError> {
        let bytes = exchange::divided_by_commas(bytes);
        let header = ManifestSheet::of(&bytes).header;
        let looks_like_one = ["file", "word"]
            .iter()
            .all(|column| header.iter().any(|name| name == column));
        let taken = looks_like_one || self.manifest()?.is_none();
        if taken {
            self.set_manifest(name, &bytes)?;
        }
        Ok(taken)
    }

    pub(super) fn remove(self) -> Result<(), AppError> {
        // Without this file it counts as gone, even if the rest cannot be removed at once.
        files::remove(&self.path.join(BEGUN))?;
        files::remove_folder(&self.path)
    }
}

/// The name under which a file lies.
fn under(name: &StagedName) -> String {
    Digest::of(name.as_str().as_bytes()).to_string()
}

/// Whether a file in the folder holds what another is called.
fn is_a_name(own: &OsStr) -> bool {
    Path::new(own).extension() == Some(OsStr::new(NAME))
}

const FILES: &str = "files";
const BEGUN: &str = "begun";
const MANIFEST: &str = "manifest.csv";
const MANIFEST_NAME: &str = "manifest.name";
const NAME: &str = "name";
const PART: &str = "coming";
