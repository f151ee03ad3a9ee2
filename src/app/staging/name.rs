//! What a staged file is called: a path inside its upload that leads nowhere else.

use crate::app::AppError;
use crate::study::Invalid;

/// The longest name, in bytes.
const LONGEST: usize = 400;

/// The name of a staged file, its folders before it, such as `box 3/C01_sail.wav`.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct StagedName(String);

/// What a file is for, as its ending tells.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Kind {
    Archive,
    Manifest,
    Recording,
    /// What a system leaves in its folders.
    Litter,
}

impl StagedName {
    /// # Errors
    /// [`Invalid`] for a name that is empty or too long, climbs out of its folder, begins at a root or a drive, or holds
    /// control characters.
    pub(super) fn new(raw: &str) -> Result<Self, Invalid> {
        let name = raw.trim().replace('\\', "/");
        let mend = "give the file a plain name and send it again";
        if name.is_empty() || name.len() > LONGEST {
            let what = format!("a file's name has {} bytes", name.len());
            return Err(Invalid::new(what, format!("give it 1 to {LONGEST}")));
        }
        if name.chars().any(char::is_control) {
            return Err(Invalid::new(
                "a file's name holds a control character",
                mend,
            ));
        }
        let name = name.strip_prefix("./").unwrap_or(&name);
        let climbs = name.split('/').any(|step| matches!(step, "" | "." | ".."));
        let on_a_drive = name.as_bytes().get(1) == Some(&b':');
        if climbs || on_a_drive {
            return Err(Invalid::new(
                format!("`{name}` leads out of its folder"),
                mend,
            ));
        }
        Ok(Self(name.to_owned()))
    }

    /// The same, as the acts refuse.
    pub(super) fn given(raw: &str) -> Result<Self, AppError> {
        Self::new(raw).map_err(AppError::Refused)
    }

    pub(super) fn as_str(&self) -> &str {
        &self.0
    }

    pub(super) fn kind(&self) -> Kind {
        let own = self.0.rsplit('/').next().unwrap_or_default();
        let litter = [".ds_store", "thumbs.db", "desktop.ini"];
        let lower = own.to_lowercase();
        if own.starts_with("._")
            || self.0.starts_with("__MACOSX/")
            || litter.contains(&lower.as_str())
        {
            return Kind::Litter;
        }
        match lower.rsplit_once('.').map(|(_, ending)| ending) {
            Some("zip") => Kind::Archive,
            Some("csv") => Kind::Manifest,
            _ => Kind::Recording,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_name_that_leads_elsewhere_is_refused() {
        for raw in [
            "../sail.wav",
            "a/../../sail.wav",
            "/etc/passwd",
            "..\\sail.wav",
            "C:\\sail.wav",
            "a//b.wav",
            "",
            " ",
            "a\0b.wav",
            "a\nb.wav",
            "..",
            "a/.",
            "\\\\host\\share.wav",
        ] {
            assert!(StagedName::new(raw).is_err(), "{raw:?} was taken");
        }
        assert!(StagedName::new(&"x".repeat(401)).is_err());
    }

    #[test]
    fn folders_stay_in_a_name_and_the_ending_tells_the_kind() {
        for (raw, name, kind) in [
            ("box 3\\C01 säil.WAV", "box 3/C01 säil.WAV", Kind::Recording),
            ("./words.CSV", "words.CSV", Kind::Manifest),
            ("a/all.zip", "a/all.zip", Kind::Archive),
            ("__MACOSX/a/._x.wav", "__MACOSX/a/._x.wav", Kind::Litter),
            ("a/.DS_Store", "a/.DS_Store", Kind::Litter),
            ("..wav", "..wav", Kind::Recording),
        ] {
            let staged = StagedName::new(raw).unwrap();
            assert_eq!((staged.as_str(), staged.kind()), (name, kind));
        }
    }
}
