//! Audio: a recording in, a prepared token out. Samples are pure, files stay at the edge.

// What is accepted and what is kept: each bound has its one home here.
pub mod bounds;

// Bytes of a sound file to a recording, whatever the file is called.
pub mod decode;

// Tokens as FLAC.
pub mod flac;

// How loud a word is, and how high its peaks reach.
pub mod level;

// A recording to a token that can be heard beside others.
pub mod prepare;

// What is the matter with a recording, in words.
pub mod quality;

// A decoded recording: its samples, where they came from, and its fingerprint.
pub mod recording;

// A recording as it is, for staff to hear and to see.
pub mod plain;

mod resample;
mod spectrum;
mod trim;
mod wav;

pub use decode::DecodeError;
pub use decode::decode;
pub use prepare::PrepareError;
pub use prepare::Prepared;
pub use prepare::prepare;
pub use quality::QualityMark;
pub use recording::Recording;
pub use recording::Source;
