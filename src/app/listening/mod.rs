//! What a listener does: opens her link, agrees, checks the sound, hears and judges.
//!
//! Nothing that these acts return names a child, a session, a phase, a cohort or a file.

mod course;
mod draw;
mod entry;
mod error;
mod hear;
mod judge;
mod unused;

pub use course::ClosingAnswers;
pub use course::Example;
pub use course::SoundCheck;
pub use course::Stage;
pub use course::Visit;
pub use course::agree;
pub use course::finish;
pub use course::record_sound_check;
pub use course::visit;
pub use draw::begin;
pub(super) use draw::place_digest;
pub use entry::Opened;
pub use entry::open_link;
pub use error::ListeningError;
pub use hear::ahead;
pub use hear::audio;
pub use judge::Answered;
pub use judge::Recorded;
pub use judge::judge;
pub(super) use judge::judgement_digest;
pub use judge::set_aside;
pub(super) use unused::drop_unused;
