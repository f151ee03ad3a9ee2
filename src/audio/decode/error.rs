//! Why a file could not be taken as a recording, in a sentence, and how to mend it.

use crate::audio::bounds;

/// Why a file could not be taken as a recording. `Display` says what is wrong, without the file's
/// name; [`DecodeError::mend`] says what to do about it.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum DecodeError {
    /// The file has no bytes.
    #[error("the file is empty")]
    Empty,
    /// The content is no kind of sound file that is known here.
    #[error("this is not a sound file")]
    NotAudio,
    /// A kind of sound file that is known and not decoded.
    #[error("{0} cannot be read")]
    Refused(&'static str),
    /// The container is read, but not what it holds.
    #[error("this {container} file holds sound in a coding that cannot be read ({detail})")]
    Coding {
        /// The container's name.
        container: &'static str,
        /// What the decoder said.
        detail: String,
    },
    /// The content contradicts itself.
    #[error("the {container} file is damaged ({detail})")]
    Damaged {
        /// The container's name.
        container: &'static str,
        /// What the decoder said.
        detail: String,
    },
    /// The file ends before the sound that it declares.
    #[error(
        "the {container} file is cut short: it holds {found_s:.2} of the {declared_s:.2} seconds \
         that it declares"
    )]
    Truncated {
        /// The container's name.
        container: &'static str,
        /// Seconds of sound that are there.
        found_s: f64,
        /// Seconds of sound that the file says it has.
        declared_s: f64,
    },
    /// No sample at all.
    #[error("the file holds no sound (0 seconds)")]
    NoSound,
    /// Longer than [`bounds::LONGEST_SECONDS`].
    #[error(
        "the recording is longer than {longest} seconds, too long for one word",
        longest = bounds::LONGEST_SECONDS
    )]
    TooLong,
    /// More channels than [`bounds::MOST_CHANNELS`].
    #[error("the recording has {0} channels; mono or stereo is wanted")]
    TooManyChannels(usize),
    /// The sample rate lies outside the bounds.
    #[error(
        "the sample rate is {0} Hz; {lowest} to {highest} Hz is wanted",
        lowest = bounds::LOWEST_RATE_HZ,
        highest = bounds::HIGHEST_RATE_HZ
    )]
    Rate(u32),
    /// A sample is infinite or no number.
    #[error("sample {index} is not a finite number")]
    NotFinite {
        /// The frame in which it was found, from 0.
        index: usize,
    },
    /// Every sample is the same: nothing was recorded.
    #[error("the recording is digital silence: every sample is the same")]
    Silence,
}

impl DecodeError {
    /// What to do about it, as the second half of a sentence.
    pub fn mend(&self) -> &'static str {
        match self {
            Self::Empty | Self::Truncated { .. } | Self::Damaged { .. } | Self::NoSound => {
                "copy it again from the recorder, or leave its row without a file and give a reason"
            }
            Self::NotAudio => "give a WAV, FLAC, MP3, M4A (AAC or ALAC), AIFF or Ogg Vorbis file",
            Self::Refused(_) | Self::Coding { .. } => {
                "export it as WAV or FLAC from your recorder or sound editor"
            }
            Self::TooLong => "cut it into one file for each word",
            Self::TooManyChannels(_) => {
                "export one channel, the microphone nearest to the child, as WAV or FLAC"
            }
            Self::Rate(_) => {
                "give the original recording, at 44100 or 48000 Hz; a sibilant needs them"
            }
            Self::NotFinite { .. } => "export it again as 16- or 24-bit WAV",
            Self::Silence => {
                "check which microphone was recorded, or give a reason instead of a file"
            }
        }
    }
}
