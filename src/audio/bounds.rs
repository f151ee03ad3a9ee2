//! What is accepted and what is kept: each bound has its one home here, shared by its check, its
//! sentence and its tests. Figures marked "ours" are this project's choice where the trade gives none.

/// The longest recording of one word that is taken, in seconds (ours): longer files are sessions
/// that were not cut into words yet.
pub const LONGEST_SECONDS: f64 = 60.0;

/// The largest file that is read, in bytes (ours): the longest stereo recording in 64-bit floats
/// at 192 kHz, with room for pictures in its tags.
pub const MOST_BYTES: u64 = 200_000_000;

/// The lowest sample rate that is taken, in hertz: telephone speech.
pub const LOWEST_RATE_HZ: u32 = 8_000;

/// The highest sample rate that is taken, in hertz: no recorder for speech goes beyond it.
pub const HIGHEST_RATE_HZ: u32 = 384_000;

/// The most channels that are taken: mono or stereo.
pub const MOST_CHANNELS: usize = 2;
