//! The demonstration: sample audio that is compiled in, and listeners who are simulated.

mod panel;
mod samples;

use std::path::Path;

use super::AppError;
use super::Now;
use super::Workspace;
use super::accounts;
use super::accounts::Rights;
use super::files;
use crate::study::AccountName;

pub use panel::SimulatedListener;
pub use panel::SimulatedPanel;
pub use samples::Samples;

/// Makes a fresh study in a folder, with the sample recordings laid out beside it.
///
/// # Errors
/// [`AppError::Refused`] if the folder holds a study; [`AppError::File`] if it cannot be written.
pub fn make_study(folder: &Path, now: Now) -> Result<(Workspace, Samples), AppError> {
    let workspace = Workspace::make(folder, now)?;
    let samples = Samples::lay_out(&folder.join("recordings"))?;
    let settings = files::read(&samples.settings())?;
    files::write(&folder.join("study.toml"), &settings)?;
    Ok((workspace, samples))
}

/// Makes the account of a demonstration: a researcher without a password, whom only an address of this machine signs
/// in.
///
/// # Errors
/// [`AppError::Refused`] if it is there already.
pub fn researcher(workspace: &Workspace, now: Now) -> Result<AccountName, AppError> {
    let name = AccountName::new("Demonstration").map_err(AppError::Refused)?;
    accounts::add_account(workspace, &name, Rights::Researcher, None, now)?;
    Ok(name)
}
