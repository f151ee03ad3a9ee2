//! What a listener does: opens her link, agrees, checks the sound, hears and judges.
//!
//! Nothing that these acts return names a child, a session, a phase, a cohort or a file.

mod between;
mod course;
mod day;
mod draw;
mod entry;
mod error;
mod extras;
mod hear;
mod judge;
mod parts;
mod questions;
mod sound;
mod stage;
mod take_up;
mod void;
mod way;

pub use between::go_on;
pub use course::Assent;
pub use course::ClosingAnswers;
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
pub use parts::Told;
pub use questions::answer;
pub(super) use questions::answers_digest;
pub use sound::SoundCheck;
pub use sound::Told as ToldSounds;
pub use stage::Example;
pub use stage::Stage;
pub use stage::Why;
pub use void::void;
