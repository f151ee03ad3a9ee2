//! The files that a command reads, `-` being standard input.

use std::fs::File;
use std::io::ErrorKind;
use std::io::Read;
use std::path::Path;

use super::AppError;
use crate::exchange::read_panel;
use crate::exchange::read_ratings;
use crate::exchange::read_tokens;
use crate::study::Problem;
use crate::study::Problems;
use crate::study::Ratings;
use crate::study::TokenTable;

/// Reads judgements; with a panel, only those of the listeners that it keeps.
pub(super) fn ratings(path: &Path, panel: Option<&Path>) -> Result<Ratings, AppError> {
    let mut ratings = read(path, read_ratings)?;
    if let Some(panel) = panel {
        keep_panel(&mut ratings, panel)?;
    }
    Ok(ratings)
}

/// Reads what is known of tokens.
pub(super) fn tokens(path: &Path) -> Result<TokenTable, AppError> {
    read(path, read_tokens)
}

/// Reads one file with its reader.
pub(super) fn read<T>(
    path: &Path,
    reader: impl FnOnce(&str, Box<dyn Read>) -> Result<T, Problems>,
) -> Result<T, AppError> {
    let name = path.display().to_string();
    let source: Box<dyn Read> = if name == "-" {
        Box::new(std::io::stdin().lock())
    } else {
        Box::new(open(path, &name)?)
    };
    Ok(reader(&name, source)?)
}

/// Refuses arguments that would read standard input twice.
pub(super) fn one_standard_input(paths: &[Option<&Path>]) -> Result<(), AppError> {
    let dashes = paths
        .iter()
        .flatten()
        .filter(|path| path.as_os_str() == "-")
        .count();
    if dashes > 1 {
        return Err(Problem::new(
            "-",
            "standard input is given twice",
            "name a file for all but one of them",
        )
        .into());
    }
    Ok(())
}

fn open(path: &Path, name: &str) -> Result<File, AppError> {
    let missing = |what: &str, mend: &str| AppError::from(Problem::new(name, what, mend));
    match File::open(path) {
        Ok(_) if path.is_dir() => Err(missing(
            "is a folder",
            "name a file, or - for standard input",
        )),
        Ok(file) => Ok(file),
        Err(error) if error.kind() == ErrorKind::NotFound => {
            Err(missing("is not there", "check the path"))
        }
        Err(source) => Err(AppError::File {
            what: "cannot read",
            path: name.to_owned(),
            source,
        }),
    }
}

fn keep_panel(ratings: &mut Ratings, path: &Path) -> Result<(), AppError> {
    let panel = read(path, read_panel)?;
    let mut kept = vec![None; ratings.raters.len()];
    for row in &panel.rows {
        let number = ratings.raters.find(&row.listener);
        if let Some(place) = number.and_then(|number| kept.get_mut(number as usize)) {
            *place = Some(row.kept);
        }
    }
    if let Some(unknown) = kept.iter().position(Option::is_none) {
        let name = ratings
            .raters
            .names()
            .get(unknown)
            .map_or("", String::as_str);
        return Err(Problem::new(
            path.display().to_string(),
            format!("says nothing of the listener `{name}`, who judged"),
            "give every listener a row with kept true or false",
        )
        .into());
    }
    ratings
        .rows
        .retain(|row| kept.get(row.rater as usize).copied().flatten() == Some(true));
    Ok(())
}
