//! Where the recordings of a manifest lie: in a folder, or wherever a list of names says.

use std::collections::HashMap;
use std::io::ErrorKind;
use std::path::Component;
use std::path::Path;
use std::path::PathBuf;

/// Where recordings lie.
pub(in crate::app) trait Recordings: Sync {
    /// The bytes of a recording, as the manifest calls it.
    fn bytes(&self, file: &str) -> Result<Vec<u8>, Refusal>;
}

/// Why one recording cannot be taken.
pub(in crate::app) struct Refusal {
    pub(in crate::app) what: String,
    pub(in crate::app) mend: String,
}

/// Recordings in a folder, by their paths in it.
pub(in crate::app) struct InFolder(pub(in crate::app) PathBuf);

impl Recordings for InFolder {
    fn bytes(&self, file: &str) -> Result<Vec<u8>, Refusal> {
        let path = inside(&self.0, file).ok_or_else(|| Refusal {
            what: format!("`{file}` leads out of the folder of recordings"),
            mend: "name the file as it lies inside the folder".to_owned(),
        })?;
        std::fs::read(&path).map_err(|error| Refusal {
            what: unreadable(&self.0, &path, &error),
            mend: "check the name, and that --audio names the folder that holds it".to_owned(),
        })
    }
}

/// That a recording cannot be read, and why; only as much of its path as a line can hold.
fn unreadable(folder: &Path, path: &Path, error: &std::io::Error) -> String {
    let path = clipped(&path.display().to_string());
    if error.kind() == ErrorKind::NotFound {
        format!("{path} is not in {}", folder.display())
    } else {
        format!("{path} cannot be read ({error})")
    }
}

/// A name that is longer than file systems allow is written by its beginning.
fn clipped(name: &str) -> String {
    if name.chars().count() <= LONGEST_NAME {
        return name.to_owned();
    }
    let beginning: String = name.chars().take(LONGEST_NAME).collect();
    format!("{beginning}…")
}

/// The most letters of a path in a message.
const LONGEST_NAME: usize = 300;

/// The path of a file inside a folder, unless its name climbs out of it.
fn inside(folder: &Path, file: &str) -> Option<PathBuf> {
    let named = Path::new(file);
    let stays = named
        .components()
        .all(|step| matches!(step, Component::Normal(_) | Component::CurDir));
    stays.then(|| folder.join(named))
}

/// Recordings by their names, each with the path at which it really lies.
pub(in crate::app) struct Named {
    files: Vec<(String, PathBuf)>,
    /// The places of the files whose names end so, their folders left off.
    by_own_name: HashMap<String, Vec<usize>>,
}

impl Named {
    /// Files called by their paths, as they were given.
    pub(in crate::app) fn of(files: &[PathBuf]) -> Self {
        let named = files.iter().map(|path| {
            let name = path.display().to_string().replace('\\', "/");
            (name, path.clone())
        });
        Self::lying(named.collect())
    }

    /// Files that lie under other names than they are called by.
    pub(in crate::app) fn lying(files: Vec<(String, PathBuf)>) -> Self {
        let mut by_own_name: HashMap<String, Vec<usize>> = HashMap::new();
        for (place, (name, _)) in files.iter().enumerate() {
            let places = by_own_name.entry(own_name(name).to_owned()).or_default();
            places.push(place);
        }
        Self { files, by_own_name }
    }

    /// What they are called.
    pub(in crate::app) fn names(&self) -> Vec<String> {
        self.files.iter().map(|(name, _)| name.clone()).collect()
    }

    /// The files that a manifest can mean by a name: the one that is called so, or those in folders whose path ends so.
    pub(in crate::app) fn meant(&self, file: &str) -> Vec<&(String, PathBuf)> {
        let file = file.trim_start_matches("./");
        let places = self.by_own_name.get(own_name(file));
        let alike = places.into_iter().flatten();
        let alike: Vec<_> = alike.filter_map(|place| self.files.get(*place)).collect();
        if let Some(called) = alike.iter().find(|(name, _)| name == file) {
            return vec![*called];
        }
        let in_a_folder = |name: &str| {
            name.strip_suffix(file)
                .is_some_and(|folder| folder.ends_with('/'))
        };
        let found = alike.into_iter().filter(|(name, _)| in_a_folder(name));
        if file.is_empty() {
            Vec::new()
        } else {
            found.collect()
        }
    }
}

/// A file's name without its folders.
fn own_name(name: &str) -> &str {
    name.rsplit('/').next().unwrap_or(name)
}

impl Recordings for Named {
    fn bytes(&self, file: &str) -> Result<Vec<u8>, Refusal> {
        let path = match self.meant(file).as_slice() {
            [(_, path)] => path,
            [] => return Err(not_there(file)),
            several => return Err(several_there(file, several.len())),
        };
        std::fs::read(path).map_err(|error| Refusal {
            what: format!("`{file}` cannot be read ({error})"),
            mend: "give the file once more".to_owned(),
        })
    }
}

/// What is said of a recording that nobody gave.
pub(in crate::app) fn not_there(file: &str) -> Refusal {
    Refusal {
        what: format!("`{file}` is not among the files"),
        mend: "add it, correct the name, or say in `reason` why there is no recording".to_owned(),
    }
}

fn several_there(file: &str, n: usize) -> Refusal {
    Refusal {
        what: format!("`{file}` is the end of the names of {n} files"),
        mend: "write its folder too".to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn named(names: &[&str]) -> Named {
        Named::of(&names.iter().map(PathBuf::from).collect::<Vec<_>>())
    }

    #[test]
    fn a_name_means_the_file_called_so_or_the_only_one_that_ends_so() {
        let files = named(&["a/one.wav", "b/one.wav", "one.wav", "b/two.wav"]);
        let meant = |file| -> Vec<&str> {
            let found = files.meant(file);
            found.into_iter().map(|(name, _)| name.as_str()).collect()
        };
        assert_eq!(meant("one.wav"), ["one.wav"]);
        assert_eq!(meant("two.wav"), ["b/two.wav"]);
        assert_eq!(meant("./b/two.wav"), ["b/two.wav"]);
        assert!(meant("wo.wav").is_empty() && meant("").is_empty());
        let apart = named(&["a/one.wav", "b/one.wav"]);
        assert_eq!(apart.meant("one.wav").len(), 2);
    }
}
