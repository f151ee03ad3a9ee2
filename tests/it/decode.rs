//! Every kind of recording decodes to the sound that was put into it, and what cannot be taken is
//! refused in a sentence. The files were written by ffmpeg and sox: see `fixtures/audio/make.sh`.

use fairhearing::audio::DecodeError;
use fairhearing::audio::decode;
use proptest::prelude::*;

use crate::sound;

const LOSSLESS: &[&str] = &[
    "original.wav",
    "int24.wav",
    "int32.wav",
    "float32.wav",
    "float64.wav",
    "long.wav",
    "streamed.wav",
    "extensible.wav",
    "original.flac",
    "flac.ogg",
    "alac.m4a",
    "original.aiff",
    "int24.aiff",
];

/// The 16-bit samples of `original.wav`, read here byte by byte.
fn original() -> Vec<f64> {
    let file = sound::fixture("original.wav");
    let at = file.windows(4).position(|id| id == b"data").unwrap();
    file[at + 8..]
        .chunks_exact(2)
        .map(|two| f64::from(i16::from_le_bytes([two[0], two[1]])) / 32_768.0)
        .collect()
}

#[test]
fn every_lossless_kind_decodes_to_the_very_samples() {
    let expected = original();
    let fingerprint = decode(&sound::fixture("original.wav"))
        .unwrap()
        .fingerprint();
    for name in LOSSLESS {
        let recording = decode(&sound::fixture(name)).unwrap_or_else(|e| panic!("{name}: {e}"));
        assert_eq!(recording.rate_hz(), 44_100, "{name}");
        assert_eq!(
            recording.channels(),
            std::slice::from_ref(&expected),
            "{name}"
        );
        assert!(recording.source().lossless, "{name}");
        assert_eq!(
            recording.fingerprint(),
            fingerprint,
            "{name}: the same sound"
        );
    }
}

#[test]
fn a_stereo_file_with_two_equal_channels_is_the_same_sound() {
    let stereo = decode(&sound::fixture("stereo.wav")).unwrap();
    assert_eq!(stereo.channels().len(), 2);
    assert_eq!(stereo.mono(), original());
    let mono = decode(&sound::fixture("original.wav")).unwrap();
    assert_eq!(stereo.fingerprint(), mono.fingerprint());
}

#[test]
fn eight_bits_come_within_one_step() {
    let recording = decode(&sound::fixture("int8.wav")).unwrap();
    for (found, expected) in recording.mono().iter().zip(original()) {
        assert!(
            (found - expected).abs() <= 1.0 / 128.0,
            "{found} for {expected}"
        );
    }
    assert_eq!(recording.source().bits, Some(8));
}

#[test]
fn every_lossy_kind_is_aligned_with_the_original() {
    // Encoder delays run from 529 to 2112 frames; aligned means that no shift fits better than none.
    for (name, coding) in [
        ("coded.mp3", "MP3"),
        ("coded.ogg", "Vorbis"),
        ("coded.m4a", "AAC"),
        ("mulaw.wav", "mu-law"),
        ("alaw.wav", "A-law"),
        ("adpcm.wav", "ADPCM"),
    ] {
        let recording = decode(&sound::fixture(name)).unwrap_or_else(|e| panic!("{name}: {e}"));
        assert_eq!(recording.source().coding, coding);
        assert!(!recording.source().lossless, "{name}");
        let (shift, fit) = best_shift(&recording.mono(), &original());
        assert_eq!(shift, 0, "{name} lies {shift} frames late");
        assert!(fit > 0.99, "{name}: correlation {fit}");
    }
}

#[test]
fn bare_aac_frames_keep_their_delay_which_is_silence_that_trimming_takes_off() {
    let recording = decode(&sound::fixture("coded.aac")).unwrap();
    let (shift, fit) = best_shift(&recording.mono(), &original());
    assert_eq!((shift, recording.source().coding), (1024, "AAC"));
    assert!(fit > 0.99, "correlation {fit}");
}

#[test]
fn the_content_counts_and_not_the_name() {
    // No name is ever given to the decoder; a misnamed file is told by its first bytes.
    let recording = decode(&sound::fixture("coded.mp3")).unwrap();
    assert_eq!(recording.source().container, "MP3");
}

#[test]
fn other_kinds_are_refused_by_name_with_the_mend() {
    for (name, said) in [
        ("refused.opus", "an Opus file cannot be read"),
        ("refused.webm", "a WebM or Matroska file cannot be read"),
        ("refused.caf", "a CAF file cannot be read"),
        ("refused.wma", "a WMA or other ASF file cannot be read"),
    ] {
        let error = decode(&sound::fixture(name)).unwrap_err();
        assert_eq!(error.to_string(), said);
        assert_eq!(
            error.mend(),
            "export it as WAV or FLAC from your recorder or sound editor"
        );
    }
    let amr = decode(b"#!AMR\n\x3c\x08\x00").unwrap_err();
    assert_eq!(amr.to_string(), "an AMR file cannot be read");
}

#[test]
fn what_is_no_recording_of_a_word_is_refused_in_a_sentence() {
    let wav = |samples: &[f64], rate_hz| sound::float_wav(&[samples], rate_hz);
    let tone = sound::sine(440.0, 0.5, 4_800, 48_000);
    let mut broken = tone.clone();
    broken[77] = f64::NAN;
    let mut endless = tone.clone();
    endless[78] = f64::INFINITY;
    let minutes = sound::sine(440.0, 0.5, 8_000 * 61, 8_000);
    let cases: [(&str, Vec<u8>, &str); 10] = [
        ("nothing", vec![], "the file is empty"),
        (
            "a text",
            b"child,session,phase".to_vec(),
            "this is not a sound file",
        ),
        (
            "a picture",
            b"\x89PNG\r\n\x1a\n".to_vec(),
            "this is not a sound file",
        ),
        (
            "0 seconds",
            wav(&[], 48_000),
            "the file holds no sound (0 seconds)",
        ),
        (
            "61 seconds",
            wav(&minutes, 8_000),
            "the recording is longer than 60 seconds, too long for one word",
        ),
        (
            "six channels",
            sound::fixture("six.wav"),
            "the recording has 6 channels; mono or stereo is wanted",
        ),
        (
            "6 kHz",
            sound::fixture("slow.wav"),
            "the sample rate is 6000 Hz; 8000 to 384000 Hz is wanted",
        ),
        (
            "NaN",
            wav(&broken, 48_000),
            "sample 77 is not a finite number",
        ),
        (
            "infinity",
            wav(&endless, 48_000),
            "sample 78 is not a finite number",
        ),
        (
            "silence",
            wav(&vec![0.0; 4_800], 48_000),
            "the recording is digital silence: every sample is the same",
        ),
    ];
    for (what, bytes, said) in cases {
        let error = decode(&bytes).expect_err(what);
        assert_eq!(error.to_string(), said, "{what}");
        assert!(!error.mend().is_empty());
    }
}

#[test]
fn a_file_that_is_cut_short_is_refused() {
    for name in LOSSLESS
        .iter()
        .chain(&["int8.wav", "coded.mp3", "coded.m4a"])
    {
        if *name == "streamed.wav" {
            continue; // It does not say how long it is.
        }
        let whole = sound::fixture(name);
        for percent in [30, 60, 90] {
            let cut = &whole[..whole.len() * percent / 100];
            let result = decode(cut);
            assert!(
                matches!(
                    result,
                    Err(DecodeError::Truncated { .. }
                        | DecodeError::Damaged { .. }
                        | DecodeError::Coding { .. }
                        | DecodeError::NoSound)
                ),
                "{name} cut to {percent}%: {:?}",
                result.map(|r| r.seconds())
            );
        }
    }
}

#[test]
fn a_silent_channel_never_lowers_the_other() {
    let tone = sound::sine(440.0, 0.5, 4_800, 48_000);
    let silence = vec![0.0; 4_800];
    let hiss = sound::at_rms(&sound::noise(1, 4_800), 0.002);
    let inverted: Vec<f64> = tone.iter().map(|s| -s).collect();
    for other in [&silence, &hiss, &inverted, &tone] {
        let bytes = sound::float_wav(&[&tone, other], 48_000);
        assert_eq!(decode(&bytes).unwrap().mono(), tone);
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 400, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn damaged_files_never_panic_and_never_give_what_is_no_number(
        name in proptest::sample::select(vec![
            "original.wav", "float32.wav", "adpcm.wav", "original.flac", "alac.m4a", "coded.m4a",
            "coded.mp3", "coded.ogg", "coded.aac", "int24.aiff", "flac.ogg", "long.wav",
        ]),
        changes in proptest::collection::vec((any::<proptest::sample::Index>(), any::<u8>()), 0..12),
        head in proptest::collection::vec((0_usize..120, any::<u8>()), 0..4),
        keep_percent in 0_usize..120,
    ) {
        let mut bytes = sound::fixture(name);
        for (at, byte) in changes {
            let at = at.index(bytes.len());
            bytes[at] = byte;
        }
        for (at, byte) in head {
            bytes[at] = byte;
        }
        bytes.truncate(bytes.len() * keep_percent / 100);
        if let Ok(recording) = decode(&bytes) {
            prop_assert!(recording.n_frames() > 0);
            prop_assert!(recording.channels().iter().flatten().all(|s| s.is_finite()));
        }
    }
}

/// The shift of `found` against `expected`, in frames, that correlates best, and how well.
fn best_shift(found: &[f64], expected: &[f64]) -> (isize, f64) {
    (-2_500..2_500)
        .map(|shift| (shift, correlation(found, expected, shift)))
        .max_by(|a, b| a.1.total_cmp(&b.1))
        .unwrap()
}

fn correlation(found: &[f64], expected: &[f64], shift: isize) -> f64 {
    let pairs = expected.iter().enumerate().filter_map(|(i, e)| {
        let at = usize::try_from(isize::try_from(i).unwrap() + shift).ok()?;
        Some((*found.get(at)?, *e))
    });
    let (mut xy, mut xx, mut yy) = (0.0, 0.0, 0.0);
    for (x, y) in pairs {
        xy += x * y;
        xx += x * x;
        yy += y * y;
    }
    xy / (xx * yy).sqrt()
}
