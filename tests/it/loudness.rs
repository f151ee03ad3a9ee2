//! Our meter against ITU-R BS.1770, EBU Tech 3341 and another implementation: the values, sources
//! and tolerances of `reference/expected/16_loudness.json`.

use fairhearing::audio::decode;
use fairhearing::audio::level::k_weighted_lufs;
use fairhearing::audio::level::true_peak_dbtp;
use fairhearing::audio::prepare;
use serde_json::Value;

use crate::sound;

const TOPIC: &str = include_str!("../reference/expected/16_loudness.json");

/// Two equal channels carry twice the power of their mean: 10 lg 2.
const TWO_CHANNELS_LU: f64 = 3.010_299_956_6;

#[test]
fn the_meter_reads_what_the_standard_and_another_meter_read() {
    let mut compared = 0;
    for check in checks().iter().filter(|check| check["recipe"].is_object()) {
        let Some(expected) = check["expected"]["ungated"].as_f64() else {
            continue; // Silence; below.
        };
        let id = check["id"].as_str().unwrap();
        let (channels, rate_hz) = play(&check["recipe"]);
        let parts: Vec<&[f64]> = channels.iter().map(Vec::as_slice).collect();
        // The longest of them last minutes: they are fed to the meter without the decoder's bound.
        let (mono, expected) = match parts.as_slice() {
            [only] => (only.to_vec(), expected),
            [left, right] if left == right => (left.to_vec(), expected - TWO_CHANNELS_LU),
            both => (
                decode(&sound::float_wav(both, rate_hz)).unwrap().mono(),
                expected,
            ),
        };
        let read = k_weighted_lufs(&mono, rate_hz);
        let tolerance = check["tolerance"].as_f64().unwrap();
        assert!(
            (read - expected).abs() <= tolerance,
            "{id}: {read} LUFS for {expected}"
        );
        compared += 1;
    }
    assert_eq!(compared, 9);
}

#[test]
fn one_channel_of_a_full_scale_997_hz_sine_reads_minus_3_01() {
    // ITU-R BS.1770, annex 1.
    let read = k_weighted_lufs(&sound::sine(997.0, 1.0, 48_000, 48_000), 48_000);
    assert!((read - -3.01).abs() <= 0.02, "{read}");
}

#[test]
fn silence_has_no_level() {
    let level = checks()
        .into_iter()
        .find(|check| check["id"] == "level_silence")
        .unwrap();
    assert_eq!(level["expected"]["integrated"], "-inf");
    for silence in [vec![0.0; 96_000], vec![]] {
        let read = k_weighted_lufs(&silence, 48_000);
        assert!(read.is_infinite() && read.is_sign_negative(), "{read}");
    }
}

#[test]
fn the_level_of_a_short_sound_does_not_depend_on_its_length_or_on_silence_around_it() {
    // A steady tone has one level however short it is: the standard's own figure for it, on which
    // the gates and the 400 ms blocks have no bearing.
    for length_ms in [100, 200, 350, 1_000, 3_000] {
        for around_ms in [0, 300, 1_000] {
            let mut samples = sound::at_rms(&sound::pink(1, around_ms * 48), 1e-5);
            samples.extend(sound::sine(997.0, 0.1, length_ms * 48, 48_000));
            samples.extend(sound::at_rms(&sound::pink(2, around_ms * 48), 1e-5));
            let prepared = prepare(&sound::recording(&samples, 48_000), -27.0).unwrap();
            // −23.01 LUFS at a peak of 0.1, so the gain to −27 is −3.99 dB.
            assert!(
                (prepared.gain_db - -3.99).abs() <= 0.15,
                "{length_ms} ms, {around_ms} ms around: gain {}",
                prepared.gain_db
            );
        }
    }
}

#[test]
fn the_true_peak_lies_between_the_samples() {
    // A quarter-rate sine sampled at 45 degrees: its samples reach 0.5·√½, its peak 0.5 (ITU-R
    // BS.1770, annex 2, gives the meter up to 0.6 dB at four-fold oversampling).
    let samples: Vec<f64> = (0..48_000)
        .map(|i| {
            0.5 * (std::f64::consts::FRAC_PI_2 * f64::from(i) + std::f64::consts::FRAC_PI_4).sin()
        })
        .collect();
    let peak = true_peak_dbtp(&samples, 48_000);
    assert!((peak - 20.0 * 0.5_f64.log10()).abs() <= 0.6, "{peak}");
}

fn checks() -> Vec<Value> {
    serde_json::from_str(TOPIC).unwrap()
}

/// The channels of a recipe: sines by segment, the phase running on over the segments.
fn play(recipe: &Value) -> (Vec<Vec<f64>>, u32) {
    let rate_hz = u32::try_from(recipe["sample_rate"].as_u64().unwrap()).unwrap();
    let n_channels = usize::try_from(recipe["channels"].as_u64().unwrap()).unwrap();
    let mut channels = vec![Vec::new(); n_channels];
    for segment in recipe["segments"].as_array().unwrap() {
        let n = frames(segment["seconds"].as_f64().unwrap(), rate_hz);
        let hz = segment["hz"].as_f64().unwrap();
        for (index, channel) in channels.iter_mut().enumerate() {
            let peak = match &segment["peak_dbfs"] {
                Value::Array(each) => each[index].as_f64(),
                all => all.as_f64(),
            }
            .map_or(0.0, sound::ratio);
            let start = channel.len();
            channel.extend((start..start + n).map(|i| {
                peak * (std::f64::consts::TAU * hz * i as f64 / f64::from(rate_hz)).sin()
            }));
        }
    }
    (channels, rate_hz)
}

#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "recipes last seconds, not years"
)]
fn frames(seconds: f64, rate_hz: u32) -> usize {
    (seconds * f64::from(rate_hz)).round() as usize
}
