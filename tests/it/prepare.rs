//! A prepared token holds the whole word, at the study's level, and nothing but the sound.

use fairhearing::audio::PrepareError;
use fairhearing::audio::QualityMark;
use fairhearing::audio::prepare;
use fairhearing::audio::prepare::LEAD_IN_MS;

use crate::sound;

const RATE_HZ: u32 = 48_000;
const TARGET_LUFS: f64 = -27.0;

/// A word made here: where its parts lie is known, in samples.
struct Made {
    samples: Vec<f64>,
    onset: usize,
    end: usize,
}

/// What a made word is like.
#[derive(Clone, Copy)]
struct Recipe {
    seed: u64,
    /// Fricative under the vowel, in dB.
    fricative_db: f64,
    /// Room under the fricative, in the fricative's own band, in dB.
    room_db: f64,
    before_ms: usize,
    after_ms: usize,
}

const QUIET: Recipe = Recipe {
    seed: 1,
    fricative_db: -30.0,
    room_db: -15.0,
    before_ms: 600,
    after_ms: 700,
};

fn ms(n: usize) -> usize {
    n * 48
}

/// A weak fricative, a vowel, a weak fricative, in a room: band noise between 4 and 12 kHz with
/// slopes of 40 ms; harmonics of 280 Hz that fall by 12 dB an octave; pink noise.
fn word(recipe: Recipe) -> Made {
    let (fricative, vowel) = (ms(160), ms(240));
    let n = ms(recipe.before_ms) + 2 * fricative + vowel + ms(recipe.after_ms);
    let mut samples = vec![0.0; n];
    let onset = ms(recipe.before_ms);
    let vowel_rms = 0.08;
    let fricative_rms = vowel_rms * sound::ratio(recipe.fricative_db);
    for (index, at) in [onset, onset + fricative + vowel].into_iter().enumerate() {
        let hiss = hiss(recipe.seed * 10 + index as u64, fricative + 4_800);
        let hiss = sound::at_rms(&hiss[4_800..], fricative_rms);
        add(&mut samples, at, &sloped(&hiss, ms(40)));
    }
    let tone: Vec<f64> = (1..=30)
        .map(|k| sound::sine(280.0 * f64::from(k), 1.0 / f64::from(k * k), vowel, RATE_HZ))
        .reduce(|sum, one| sum.iter().zip(one).map(|(a, b)| a + b).collect())
        .unwrap();
    add(
        &mut samples,
        onset + fricative,
        &sloped(&sound::at_rms(&tone, vowel_rms), ms(20)),
    );
    let room = room(recipe.seed, n, fricative_rms * sound::ratio(recipe.room_db));
    add(&mut samples, 0, &room);
    Made {
        samples,
        onset,
        end: onset + 2 * fricative + vowel,
    }
}

fn hiss(seed: u64, n: usize) -> Vec<f64> {
    sound::band(&sound::noise(seed, n), 4_000.0, 12_000.0, RATE_HZ)
}

/// Pink noise whose part between 4 and 12 kHz has this root mean square.
fn room(seed: u64, n: usize, rms_in_band: f64) -> Vec<f64> {
    let pink = sound::pink(seed + 1_000, n + 4_800);
    let in_band = sound::rms_of(&sound::band(&pink, 4_000.0, 12_000.0, RATE_HZ)[4_800..]);
    pink[4_800..]
        .iter()
        .map(|s| s * rms_in_band / in_band)
        .collect()
}

fn sloped(samples: &[f64], slope: usize) -> Vec<f64> {
    let n = samples.len();
    let rise =
        |i: usize| 0.5 - 0.5 * (std::f64::consts::PI * i.min(slope) as f64 / slope as f64).cos();
    samples
        .iter()
        .enumerate()
        .map(|(i, s)| s * rise(i) * rise(n - 1 - i))
        .collect()
}

fn add(into: &mut [f64], at: usize, what: &[f64]) {
    for (slot, sample) in into[at..].iter_mut().zip(what) {
        *slot += sample;
    }
}

/// Prepares and finds, by correlation, which samples of the recording were kept.
#[track_caller]
fn kept(samples: &[f64]) -> (std::ops::Range<usize>, fairhearing::audio::Prepared) {
    let prepared = prepare(&sound::recording(samples, RATE_HZ), TARGET_LUFS).unwrap();
    let token = &sound::pcm_of(&prepared.wav)[ms(LEAD_IN_MS)..];
    let probe_at = token.len() / 2;
    let probe = &token[probe_at..(probe_at + 500).min(token.len())];
    let fit = |at: usize| -> f64 {
        let part = &samples[at..at + probe.len()];
        let xy: f64 = part.iter().zip(probe).map(|(x, y)| x * y).sum();
        let xx: f64 = part.iter().map(|x| x * x).sum();
        xy / xx.sqrt()
    };
    let at = (0..=samples.len() - probe.len())
        .map(|at| (at, fit(at)))
        .max_by(|a, b| a.1.total_cmp(&b.1))
        .unwrap()
        .0;
    let start = at - probe_at;
    (start..start + token.len(), prepared)
}

#[test]
fn a_fricative_30_db_under_its_vowel_is_kept_whole_at_both_ends() {
    for seed in 1..=8 {
        for room_db in [-15.0, -12.0, -10.0] {
            let made = word(Recipe {
                seed,
                room_db,
                ..QUIET
            });
            let (kept, prepared) = kept(&made.samples);
            let said = format!(
                "seed {seed}, room {room_db} dB: word {}..{}, kept {kept:?}, SNR {:?}, {:?}",
                made.onset, made.end, prepared.snr_db, prepared.marks
            );
            // Nothing of the word is lost, and none of it lies in a fade (10 ms, 20 ms).
            assert!(kept.start + ms(10) <= made.onset, "{said}");
            assert!(kept.end >= made.end + ms(20), "{said}");
            // And it is trimmed: the margins are not the whole of the room.
            assert!(kept.start + ms(200) >= made.onset, "{said}");
            assert!(kept.end <= made.end + ms(250), "{said}");
        }
    }
}

#[test]
fn the_margins_are_the_stated_ones() {
    // A loud steady sound with steep ends in a very quiet room, so that its ends can be told sharply.
    let mut samples = room(5, ms(1_500), 1e-5);
    add(
        &mut samples,
        ms(600),
        &sound::sine(700.0, 0.2, ms(300), RATE_HZ),
    );
    let (kept, prepared) = kept(&samples);
    let near = |found: usize, expected: usize| found.abs_diff(expected) <= ms(30);
    assert!(near(kept.start, ms(600 - 100)), "{kept:?}");
    assert!(near(kept.end, ms(900 + 150)), "{kept:?}");
    assert!(
        (prepared.onset_ms - 400.0).abs() <= 0.1,
        "{}",
        prepared.onset_ms
    );
}

#[test]
fn a_recording_without_silence_is_kept_whole() {
    let made = word(QUIET);
    let tight = &made.samples[made.onset..made.end];
    let (kept, _) = kept(tight);
    assert_eq!(kept, 0..tight.len());
    // From the middle of one fricative to the middle of the other.
    let tighter = &made.samples[made.onset + ms(80)..made.end - ms(80)];
    assert_eq!(self::kept(tighter).0, 0..tighter.len());
    // Nothing but a hiss, and nothing but a tone: no floor can be told from them.
    let hiss = sound::at_rms(&hiss(3, ms(600)), 0.01);
    let prepared = prepare(&sound::recording(&hiss, RATE_HZ), TARGET_LUFS).unwrap();
    assert!(
        prepared.marks.contains(&QualityMark::NoSilence),
        "{:?}",
        prepared.marks
    );
    assert_eq!(prepared.wav.len(), 44 + 2 * (ms(LEAD_IN_MS) + hiss.len()));
}

#[test]
fn a_long_fricative_at_the_start_of_a_tight_recording_is_no_room() {
    // 400 ms of /s/ from the very first sample, then a vowel to the very last.
    let mut samples = vec![0.0; ms(800)];
    add(&mut samples, 0, &sound::at_rms(&hiss(4, ms(420)), 0.0025));
    add(
        &mut samples,
        ms(400),
        &sound::at_rms(&sound::sine(280.0, 0.1, ms(400), RATE_HZ), 0.08),
    );
    add(&mut samples, 0, &room(4, ms(800), 0.0003));
    assert_eq!(kept(&samples).0, 0..samples.len());
}

#[test]
fn hum_digital_padding_and_a_drifting_room_cut_nothing() {
    for seed in 1..=4 {
        let made = word(Recipe {
            seed,
            room_db: -12.0,
            ..QUIET
        });
        let n = made.samples.len();
        let mut hum = made.samples.clone();
        add(&mut hum, 0, &sound::sine(50.0, 0.02, n, RATE_HZ));
        add(&mut hum, 0, &sound::sine(150.0, 0.004, n, RATE_HZ));
        let drifting: Vec<f64> = room(seed + 50, n, 0.0006)
            .iter()
            .enumerate()
            .map(|(i, s)| s * (0.3 + 1.4 * i as f64 / n as f64))
            .collect();
        let mut drift = made.samples.clone();
        add(&mut drift, 0, &drifting);
        for (what, samples) in [("hum", hum), ("drift", drift)] {
            let (kept, _) = kept(&samples);
            assert!(kept.start + ms(10) <= made.onset, "{what} {seed}: {kept:?}");
            assert!(kept.end >= made.end + ms(20), "{what} {seed}: {kept:?}");
        }
        let pad = ms(400);
        let mut padded = vec![0.0; pad];
        padded.extend(&made.samples);
        padded.extend(vec![0.0; pad]);
        let (kept, _) = kept(&padded);
        assert!(
            kept.start + ms(10) <= made.onset + pad,
            "padding {seed}: {kept:?}"
        );
        assert!(
            kept.end >= made.end + pad + ms(20),
            "padding {seed}: {kept:?}"
        );
        assert!(
            kept.start + ms(200) >= made.onset + pad,
            "padding {seed}: {kept:?}"
        );
    }
}

#[test]
fn a_far_click_is_left_out_and_a_final_burst_is_kept() {
    let made = word(Recipe {
        before_ms: 900,
        after_ms: 900,
        ..QUIET
    });
    let click = sound::at_rms(&sound::noise(9, ms(4)), 0.05);
    let mut far = made.samples.clone();
    add(&mut far, ms(200), &click);
    assert!(kept(&far).0.start > ms(300), "700 ms before the word");
    let mut burst = made.samples.clone();
    add(&mut burst, made.end + ms(180), &click);
    assert!(
        kept(&burst).0.end >= made.end + ms(184 + 20),
        "after a closure of 180 ms"
    );
}

#[test]
fn a_breath_after_the_word_is_kept_rather_than_a_consonant_risked() {
    let made = word(Recipe {
        room_db: -20.0,
        ..QUIET
    });
    let breath = sound::band(&sound::noise(11, ms(300)), 600.0, 6_000.0, RATE_HZ);
    let mut samples = made.samples.clone();
    add(
        &mut samples,
        made.end + ms(150),
        &sloped(&sound::at_rms(&breath, 0.0015), ms(80)),
    );
    let (kept, _) = kept(&samples);
    assert!(kept.end >= made.end + ms(20), "{kept:?}");
}

#[test]
fn every_token_has_the_studys_level_whatever_it_was_recorded_at() {
    for (seed, gain_db) in [(1, -35.0), (2, -20.0), (3, -10.0), (4, 0.0), (5, 12.0)] {
        let made = word(Recipe { seed, ..QUIET });
        let samples: Vec<f64> = made
            .samples
            .iter()
            .map(|s| s * sound::ratio(gain_db))
            .collect();
        for target in [-30.0, -27.0, -23.0] {
            let prepared = prepare(&sound::recording(&samples, RATE_HZ), target).unwrap();
            assert!(
                (prepared.level_lufs - target).abs() <= 0.1,
                "{}",
                prepared.level_lufs
            );
            // The gain is one constant: what was recorded 10 dB higher gets 10 dB less.
            let plain = prepare(&sound::recording(&made.samples, RATE_HZ), target).unwrap();
            assert!((prepared.gain_db + gain_db - plain.gain_db).abs() <= 0.05);
        }
    }
}

#[test]
fn silence_with_a_recorders_own_noise_is_refused_and_a_soft_word_is_not() {
    // Noise of 16-bit dither lies near -93 dB of full scale; the gate of ITU-R BS.1770-4 is -70 LUFS.
    let noise = sound::at_rms(&sound::pink(3, ms(1_000)), 2e-5);
    let refused = prepare(&sound::recording(&noise, RATE_HZ), TARGET_LUFS).unwrap_err();
    assert_eq!(refused, PrepareError::Inaudible);
    let soft = sound::sine(1_000.0, 1e-3, ms(1_000), RATE_HZ);
    assert!(prepare(&sound::recording(&soft, RATE_HZ), TARGET_LUFS).is_ok());
}

#[test]
fn peaks_over_minus_1_dbtp_are_reported_and_not_lowered() {
    let mut samples = sound::at_rms(&sound::pink(1, ms(1_200)), 1e-4);
    add(
        &mut samples,
        ms(400),
        &sound::sine(500.0, 0.02, ms(400), RATE_HZ),
    );
    add(&mut samples, ms(600), &[0.14, -0.14, 0.14]);
    let prepared = prepare(&sound::recording(&samples, RATE_HZ), -20.0).unwrap();
    assert!(prepared.exceeds_true_peak());
    assert!(
        (prepared.level_lufs - -20.0).abs() <= 1.0,
        "{}",
        prepared.level_lufs
    );
    assert!(
        prepared
            .marks
            .iter()
            .any(|m| m.to_string().contains("-1 dBTP is the most"))
    );
}

#[test]
fn the_file_is_a_header_of_44_bytes_and_16_bit_samples_that_begin_and_end_in_silence() {
    let prepared = prepare(
        &sound::recording(&word(QUIET).samples, RATE_HZ),
        TARGET_LUFS,
    )
    .unwrap();
    let wav = &prepared.wav;
    let n_data = u32::try_from(wav.len() - 44).unwrap();
    let mut header = Vec::new();
    header.extend(b"RIFF");
    header.extend((n_data + 36).to_le_bytes());
    header.extend(b"WAVEfmt \x10\0\0\0\x01\0\x01\0");
    header.extend(48_000_u32.to_le_bytes());
    header.extend(96_000_u32.to_le_bytes());
    header.extend(b"\x02\0\x10\0data");
    header.extend(n_data.to_le_bytes());
    assert_eq!(&wav[..44], &header);
    let samples = sound::pcm_of(wav);
    assert!(
        samples[..ms(LEAD_IN_MS)].iter().all(|s| *s == 0.0),
        "the lead-in is digital silence"
    );
    assert!(samples[ms(LEAD_IN_MS)].abs() < 1e-3 && samples.last().unwrap().abs() < 1e-3);
    assert!((prepared.seconds - samples.len() as f64 / 48_000.0).abs() < 1e-9);
}

#[test]
fn the_same_recording_gives_the_same_bytes_on_any_number_of_threads() {
    let recordings: Vec<_> = (1..=6)
        .map(|seed| sound::recording(&word(Recipe { seed, ..QUIET }).samples, 44_100))
        .collect();
    let alone: Vec<_> = recordings
        .iter()
        .map(|r| prepare(r, TARGET_LUFS).unwrap().sha256)
        .collect();
    let together: Vec<_> = std::thread::scope(|scope| {
        let threads: Vec<_> = recordings
            .iter()
            .map(|r| scope.spawn(|| prepare(r, TARGET_LUFS).unwrap().sha256))
            .collect();
        threads
            .into_iter()
            .map(|thread| thread.join().unwrap())
            .collect()
    });
    assert_eq!(alone, together);
}

#[test]
fn a_tone_keeps_its_pitch_and_place_at_any_sample_rate() {
    // An exact sine is the reference: what comes out differs from it by less than −80 dB.
    for rate_hz in [
        8_000, 11_025, 16_000, 22_050, 32_000, 44_100, 88_200, 96_000,
    ] {
        let n = usize::try_from(rate_hz).unwrap();
        let prepared = prepare(
            &sound::recording(&sound::sine(997.0, 0.1, n, rate_hz), rate_hz),
            TARGET_LUFS,
        )
        .unwrap();
        let token = &sound::pcm_of(&prepared.wav)[ms(LEAD_IN_MS)..];
        assert_eq!(
            token.len(),
            48_000,
            "{rate_hz} Hz: one second stays one second"
        );
        let peak = 0.1 * sound::ratio(prepared.gain_db);
        let exact = sound::sine(997.0, peak, 48_000, RATE_HZ);
        let inside = 9_600..38_400;
        let error: Vec<f64> = token[inside.clone()]
            .iter()
            .zip(&exact[inside])
            .map(|(a, b)| a - b)
            .collect();
        let error_db = 20.0 * (sound::rms_of(&error) / peak).log10();
        assert!(error_db < -60.0, "{rate_hz} Hz: {error_db} dB");
    }
}

#[test]
fn marks_say_what_is_the_matter() {
    let made = word(QUIET);
    let said = |samples: &[f64], rate_hz: u32| -> Vec<String> {
        let prepared = prepare(&sound::recording(samples, rate_hz), TARGET_LUFS).unwrap();
        prepared.marks.iter().map(ToString::to_string).collect()
    };
    let has = |marks: &[String], start: &str| marks.iter().any(|mark| mark.starts_with(start));
    let clipped: Vec<f64> = made
        .samples
        .iter()
        .map(|s| (s * 12.0).clamp(-1.0, 1.0))
        .collect();
    assert!(has(&said(&clipped, RATE_HZ), "clipped: "));
    assert!(!has(&said(&made.samples, RATE_HZ), "clipped: "));
    assert!(has(
        &said(
            &made.samples[made.onset + ms(200)..made.onset + ms(280)],
            RATE_HZ
        ),
        "too short"
    ));
    assert!(has(
        &said(&made.samples, 8_000),
        "narrow: nothing above 4.0 kHz"
    ));
    assert!(!has(&said(&made.samples, RATE_HZ), "narrow"));
    let far: Vec<f64> = made.samples.iter().map(|s| s * 0.01).collect();
    assert!(has(&said(&far, RATE_HZ), "too quiet"));
    let mut two = made.samples.clone();
    two.extend(&made.samples);
    assert!(has(&said(&two, RATE_HZ), "two words in one file?"));
    let mut noisy = made.samples.clone();
    add(&mut noisy, 0, &room(77, made.samples.len(), 0.004));
    assert!(
        has(&said(&noisy, RATE_HZ), "noisy"),
        "{:?}",
        said(&noisy, RATE_HZ)
    );
    let prepared = prepare(
        &fairhearing::audio::decode(&sound::fixture("coded.mp3")).unwrap(),
        TARGET_LUFS,
    )
    .unwrap();
    assert!(
        prepared
            .marks
            .iter()
            .any(|m| m.to_string().starts_with("lossy source: MP3"))
    );
}

#[test]
fn a_level_that_is_none_is_refused() {
    let recording = sound::recording(&word(QUIET).samples, RATE_HZ);
    for target in [f64::NAN, 0.0, -90.0, f64::INFINITY] {
        assert!(
            prepare(&recording, target)
                .unwrap_err()
                .to_string()
                .contains("is no level")
        );
    }
}
