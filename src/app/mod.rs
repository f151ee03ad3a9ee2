//! The acts: what a person can do, one function an act.

mod agreement;
mod clock;
mod consensus;
mod error;
mod files;
mod findings;
mod import;
mod inputs;
mod listeners;
// What a listener does.
pub mod listening;
mod log;
mod prepare;
mod results;
mod round;
mod sealing;
mod secret;
mod workspace;

pub use agreement::AgreementFiles;
pub use agreement::AgreementOptions;
pub use agreement::ScaleKind;
pub use agreement::agreement;
pub use clock::Now;
pub use consensus::ConsensusOptions;
pub use consensus::consensus;
pub use error::AppError;
pub use findings::Findings;
pub use findings::findings;
pub use findings::write_folder;
pub use import::Imported;
pub use import::import;
pub use listeners::ListenerFiles;
pub use listeners::listeners;
pub use prepare::prepare_files;
pub use results::record;
pub use results::unlocked;
pub use round::ListenerProgress;
pub use round::Moved;
pub use round::Progress;
pub use round::close;
pub use round::progress;
pub use round::unlock;
pub use sealing::Link;
pub use sealing::Sealed;
pub use sealing::seal_round;
pub use workspace::Workspace;

pub use crate::audio::prepare::DEFAULT_LUFS as DEFAULT_LEVEL_LUFS;
pub use crate::exchange::PreparedFile;
