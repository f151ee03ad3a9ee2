//! A recording to a token that can be heard beside others: one rate, one level, fixed margins,
//! nothing but the sound.
//!
//! mono → 48 kHz → mean removed → trimmed → faded → one constant gain → 300 ms of silence in front
//! → 16 bits. Not dithered: at the study's level the rounding lies 70 dB under the word, and the same
//! recording must give the same bytes. No compression, denoising or equalising.

use sha2::Digest;
use sha2::Sha256;

use super::level;
use super::quality;
use super::quality::QualityMark;
use super::recording::Recording;
use super::resample;
use super::spectrum::Spectrum;
use super::trim;
use super::trim::Word;
use super::wav;

/// The sample rate of every prepared token, in hertz.
pub const RATE_HZ: u32 = 48_000;
/// The level of a study that states none, in LUFS (ours).
pub const DEFAULT_LUFS: f64 = -27.0;
/// The highest true peak of a token that may be played, in dBTP (EBU R 128).
pub const HIGHEST_DBTP: f64 = -1.0;
/// Silence before the kept recording, in milliseconds (ours): a sleeping output needs it to wake.
pub const LEAD_IN_MS: usize = 300;
/// Kept before the onset, in milliseconds (ours).
pub const BEFORE_MS: usize = 100;
/// Kept after the end, in milliseconds (ours).
pub const AFTER_MS: usize = 150;
/// The level under which a recording is silence, in LUFS: the absolute gate of ITU-R BS.1770-4. Brought to the level of
/// words, what lies below would be the recorder's own noise.
pub const SILENT_LUFS: f64 = -70.0;
/// The fade at the start and at the end, in milliseconds; never longer than what is kept around the
/// word, except that 1 ms hides a cut through the sound itself.
pub const FADES_MS: (usize, usize) = (10, 20);

const SAMPLES_A_MS: usize = 48;

/// Why a recording could not be prepared.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum PrepareError {
    /// Nothing louder than [`SILENT_LUFS`] was found once the mean was removed.
    #[error("the recording holds nothing that can be heard")]
    Inaudible,
    /// The sample rate could not be brought to 48 kHz.
    #[error("the sample rate of {rate_hz} Hz cannot be brought to 48000 Hz ({detail})")]
    Rate {
        /// The recording's rate in hertz.
        rate_hz: u32,
        /// What the resampler said.
        detail: String,
    },
    /// The level asked for is no level for listening.
    #[error("{0} LUFS is no level for a token; between -60 and -10 is")]
    Target(f64),
    /// The prepared sound could not be written out.
    #[error("the prepared sound cannot be written: {0}")]
    Write(String),
}

impl PrepareError {
    /// What to do about it, as the second half of a sentence.
    pub fn mend(&self) -> &'static str {
        match self {
            Self::Inaudible => "listen to it, and record the word again or leave it out",
            Self::Rate { .. } => "export it at 44100 or 48000 Hz",
            Self::Target(_) => "-27 is the usual choice",
            Self::Write(_) => "cut it into one file for each word",
        }
    }
}

/// A token as listeners will hear it, and what was measured on the way.
#[derive(Debug, Clone, PartialEq)]
pub struct Prepared {
    /// A WAV file: 44 bytes of header, then 16-bit samples of one channel at 48 kHz.
    pub wav: Vec<u8>,
    /// SHA-256 of `wav`, in lower-case hexadecimal.
    pub sha256: String,
    /// Length of `wav` in seconds, lead-in included.
    pub seconds: f64,
    /// Where the word begins in `wav`, in milliseconds from its first sample.
    pub onset_ms: f64,
    /// Where the word ends in `wav`, in milliseconds from its first sample.
    pub end_ms: f64,
    /// The token's K-weighted level over its active part, in LUFS, measured on `wav`.
    pub level_lufs: f64,
    /// The token's true peak, in dBTP.
    pub true_peak_dbtp: f64,
    /// The one constant gain that was applied, in decibels.
    pub gain_db: f64,
    /// Speech over noise in the recording, in decibels; `None` where the noise cannot be told.
    pub snr_db: Option<f64>,
    /// Up to where the recording holds sound, in hertz.
    pub bandwidth_hz: f64,
    /// Samples at the end of the recorder's range.
    pub clipped_samples: usize,
    /// What is the matter with it.
    pub marks: Vec<QualityMark>,
}

impl Prepared {
    /// Whether its peaks pass [`HIGHEST_DBTP`]: such a token cannot be sealed into a round, since no
    /// token is lowered alone.
    pub fn exceeds_true_peak(&self) -> bool {
        self.true_peak_dbtp > HIGHEST_DBTP
    }
}

/// Prepares a recording at `target_lufs` ([`DEFAULT_LUFS`] unless the study says otherwise).
///
/// The same recording gives the same bytes, whatever else runs beside it.
///
/// # Errors
/// [`PrepareError`] where the recording is inaudible, or the level asked for is no level.
pub fn prepare(recording: &Recording, target_lufs: f64) -> Result<Prepared, PrepareError> {
    if !(-60.0..=-10.0).contains(&target_lufs) {
        return Err(PrepareError::Target(target_lufs));
    }
    let mono = recording.mono();
    let recorded = trim::recorded(&mono);
    let mono = without_mean(mono.get(recorded).unwrap_or_default());
    let samples = resample::to_48_khz(mono, recording.rate_hz())?;
    let step = quantisation_step(recording);
    let spectrum = Spectrum::of(&samples);
    let word = trim::find(&spectrum, samples.len(), step);

    let spoken = samples.get(word.span.clone()).unwrap_or_default();
    let active_span = level::active_span(spoken);
    let active = spoken.get(active_span.clone()).unwrap_or_default();
    let recorded_lufs = level::k_weighted_lufs(active, RATE_HZ);
    if !recorded_lufs.is_finite() || recorded_lufs < SILENT_LUFS {
        return Err(PrepareError::Inaudible);
    }
    let gain_db = target_lufs - recorded_lufs;
    let kept = kept_around(&word, samples.len());
    let mut token = samples.get(kept.clone()).unwrap_or_default().to_vec();
    let (before, after) = (word.span.start - kept.start, kept.end - word.span.end);
    fade(&mut token, before, after);
    scale(&mut token, level::ratio(gain_db));
    let true_peak_dbtp = level::true_peak_dbtp(&token, RATE_HZ);

    let lead_in = LEAD_IN_MS * SAMPLES_A_MS;
    let mut whole = vec![0.0; lead_in];
    whole.append(&mut token);
    let pcm = wav::to_16_bits(&whole);
    let onset = lead_in + before;
    let end = onset + word.span.len();
    let heard = pcm.get(onset + active_span.start..onset + active_span.end);
    let heard = wav::to_floats(heard.unwrap_or_default());
    let wav = wav::write(&pcm).map_err(PrepareError::Write)?;
    let mut prepared = Prepared {
        sha256: hex(&Sha256::digest(&wav)),
        wav,
        seconds: pcm.len() as f64 / f64::from(RATE_HZ),
        onset_ms: onset as f64 / SAMPLES_A_MS as f64,
        end_ms: end as f64 / SAMPLES_A_MS as f64,
        level_lufs: level::k_weighted_lufs(&heard, RATE_HZ),
        true_peak_dbtp,
        gain_db,
        snr_db: word.noise.map(|noise| snr_db(active, noise)),
        bandwidth_hz: quality::bandwidth_hz(&spectrum, step, recording.rate_hz()),
        clipped_samples: quality::clipped_samples(recording),
        marks: Vec::new(),
    };
    prepared.marks = marks(&prepared, recording, &word, recorded_lufs);
    Ok(prepared)
}

/// The word with its margins, as far as the recording reaches.
fn kept_around(word: &Word, n_samples: usize) -> std::ops::Range<usize> {
    let start = word.span.start.saturating_sub(BEFORE_MS * SAMPLES_A_MS);
    let end = (word.span.end + AFTER_MS * SAMPLES_A_MS).min(n_samples);
    start..end
}

/// Raised-cosine fades that stay outside the word, where there is anything outside it.
fn fade(token: &mut [f64], before: usize, after: usize) {
    let len = |ms: usize, margin: usize| (ms * SAMPLES_A_MS).min(margin.max(SAMPLES_A_MS));
    let rise = |n: usize, len: usize| {
        0.5 - 0.5 * (std::f64::consts::PI * (n as f64 + 0.5) / len as f64).cos()
    };
    let (fade_in, fade_out) = (len(FADES_MS.0, before), len(FADES_MS.1, after));
    for (n, sample) in token.iter_mut().take(fade_in).enumerate() {
        *sample *= rise(n, fade_in);
    }
    for (n, sample) in token.iter_mut().rev().take(fade_out).enumerate() {
        *sample *= rise(n, fade_out);
    }
}

fn scale(samples: &mut [f64], gain: f64) {
    for sample in samples {
        *sample *= gain;
    }
}

fn without_mean(samples: &[f64]) -> Vec<f64> {
    let mean = samples.iter().sum::<f64>() / samples.len().max(1) as f64;
    samples.iter().map(|sample| sample - mean).collect()
}

/// The step between two neighbouring samples of the source; 16 bits where it does not say.
fn quantisation_step(recording: &Recording) -> f64 {
    let bits = recording.source().bits.unwrap_or(16).min(16);
    2_f64.powi(1 - i32::try_from(bits).unwrap_or(16))
}

fn snr_db(active: &[f64], noise: f64) -> f64 {
    let frames = Spectrum::of(active).total();
    let power = frames.iter().sum::<f64>() / frames.len().max(1) as f64;
    10.0 * ((power - noise).max(noise * 1e-3) / noise).log10()
}

fn marks(
    prepared: &Prepared,
    recording: &Recording,
    word: &Word,
    recorded_lufs: f64,
) -> Vec<QualityMark> {
    let seconds = |samples: usize| samples as f64 / f64::from(RATE_HZ);
    let word_s = seconds(word.span.len());
    let pause_s = seconds(word.longest_pause);
    let bandwidth_hz = prepared.bandwidth_hz;
    let source = recording.source();
    let found = [
        (prepared.clipped_samples > 0).then_some(QualityMark::Clipped {
            samples: prepared.clipped_samples,
        }),
        (word_s < quality::SHORTEST_WORD_S).then_some(QualityMark::TooShort { seconds: word_s }),
        (word_s > quality::LONGEST_WORD_S).then_some(QualityMark::TooLong { seconds: word_s }),
        (pause_s > quality::LONGEST_PAUSE_S).then_some(QualityMark::LongPause { seconds: pause_s }),
        (bandwidth_hz < quality::SIBILANT_BANDWIDTH_HZ)
            .then_some(QualityMark::NarrowBand { bandwidth_hz }),
        (!source.lossless).then_some(QualityMark::Lossy {
            coding: source.coding,
        }),
        (recorded_lufs < quality::QUIETEST_LUFS).then_some(QualityMark::TooQuiet {
            lufs: recorded_lufs,
        }),
        prepared
            .snr_db
            .filter(|snr_db| *snr_db < quality::LEAST_SNR_DB)
            .map(|snr_db| QualityMark::Noisy { snr_db }),
        prepared.snr_db.is_none().then_some(QualityMark::NoSilence),
        prepared
            .exceeds_true_peak()
            .then_some(QualityMark::ExceedsTruePeak {
                dbtp: prepared.true_peak_dbtp,
            }),
    ];
    found.into_iter().flatten().collect()
}

fn hex(bytes: &[u8]) -> String {
    data_encoding::HEXLOWER.encode(bytes)
}
