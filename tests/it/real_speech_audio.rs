//! Real words by real people, of Debian's package `ktuberling-data`: prepared, they stand at one level
//! and nothing of them is cut. The recordings are read where the package puts them and copied nowhere.

use std::path::Path;
use std::path::PathBuf;

use fairhearing::audio::Prepared;
use fairhearing::audio::Recording;
use fairhearing::audio::decode;
use fairhearing::audio::prepare;
use fairhearing::audio::prepare::LEAD_IN_MS;

use crate::sound;

const SOUNDS: &str = "/usr/share/ktuberling/sounds";

/// Every sixth word, over all languages and both kinds of file.
fn words() -> Vec<PathBuf> {
    let mut found = Vec::new();
    let mut folders = vec![Path::new(SOUNDS).to_path_buf()];
    while let Some(folder) = folders.pop() {
        let entries = std::fs::read_dir(&folder).unwrap_or_else(|error| {
            panic!(
                "{} cannot be read ({error}): this test hears real words; install them with \
                 `apt-get install ktuberling-data`",
                folder.display()
            )
        });
        for path in entries.flatten().map(|entry| entry.path()) {
            let is_sound = path
                .extension()
                .is_some_and(|end| end == "ogg" || end == "wav");
            if path.is_dir() {
                folders.push(path);
            } else if is_sound {
                found.push(path);
            }
        }
    }
    found.sort();
    found.into_iter().step_by(6).collect()
}

#[test]
fn two_hundred_real_words_stand_at_one_level_and_lose_nothing() {
    let words = words();
    assert!(words.len() >= 200, "{} words under {SOUNDS}", words.len());
    let mut n_trimmed = 0;
    for path in &words {
        let recording = decode(&std::fs::read(path).unwrap()).unwrap();
        let prepared = prepare(&recording, -27.0).unwrap();
        // No two of them are further than 0.5 LU apart, since each is this near to the target.
        assert!(
            (prepared.level_lufs - -27.0).abs() <= 0.2,
            "{}: {}",
            path.display(),
            prepared.level_lufs
        );
        let left_out = left_out(&recording, &prepared);
        n_trimmed += usize::from(left_out.seconds > 0.0);
        assert!(
            left_out.whole_db <= -20.0 && left_out.high_db <= -6.0,
            "{}: {left_out:?} was left out",
            path.display()
        );
    }
    assert!(
        n_trimmed >= 10,
        "only {n_trimmed} of {} were trimmed at all",
        words.len()
    );
}

/// What was left out of a recording, told from the samples alone: the loudest 20 ms of it against the
/// loudest 20 ms of the word, in the whole and above 3 kHz. A consonant that was cut off would stand
/// out above 3 kHz, where vowels are weak.
#[derive(Debug)]
struct LeftOut {
    seconds: f64,
    whole_db: f64,
    high_db: f64,
}

fn left_out(recording: &Recording, prepared: &Prepared) -> LeftOut {
    let rate_hz = recording.rate_hz();
    let mono = recording.mono();
    let whole = sound::band(&mono, 120.0, 0.45 * f64::from(rate_hz), rate_hz);
    let high = sound::band(&mono, 3_000.0, 0.45 * f64::from(rate_hz), rate_hz);
    let token = &sound::pcm_of(&prepared.wav)[LEAD_IN_MS * 48..];
    let start_ms = place_ms(&mono, rate_hz, token);
    let kept = start_ms..start_ms + token.len() / 48;
    let loudest_db = |samples: &[f64]| {
        let power: Vec<f64> = milliseconds(samples, rate_hz)
            .iter()
            .map(|p| p * p)
            .collect();
        let over = |range: std::ops::Range<usize>| {
            let part = power.get(range).unwrap_or_default();
            part.windows(20)
                .map(|w| w.iter().sum::<f64>())
                .fold(1e-12, f64::max)
        };
        let end = kept.end.min(power.len());
        let outside = over(0..kept.start).max(over(end..power.len()));
        10.0 * (outside / over(kept.start..end)).log10()
    };
    LeftOut {
        seconds: (recording.seconds() - token.len() as f64 / 48_000.0).max(0.0),
        whole_db: loudest_db(&whole),
        high_db: loudest_db(&high),
    }
}

/// Where in the recording the token was taken from, in ms: the best fit of their envelopes.
fn place_ms(mono: &[f64], rate_hz: u32, token: &[f64]) -> usize {
    let (whole, part) = (milliseconds(mono, rate_hz), milliseconds(token, 48_000));
    let n = part.len().min(whole.len());
    let fit = |at: usize| {
        let there = &whole[at..at + n];
        let xy: f64 = there.iter().zip(&part).map(|(x, y)| x * y).sum();
        xy / there.iter().map(|x| x * x).sum::<f64>().sqrt().max(1e-12)
    };
    (0..=whole.len() - n)
        .map(|at| (at, fit(at)))
        .max_by(|a, b| a.1.total_cmp(&b.1))
        .unwrap()
        .0
}

/// Root mean square of each millisecond.
fn milliseconds(samples: &[f64], rate_hz: u32) -> Vec<f64> {
    let per_ms = f64::from(rate_hz) / 1_000.0;
    let n = (samples.len() as f64 / per_ms) as usize;
    (0..n)
        .map(|ms| {
            let range = (ms as f64 * per_ms) as usize..((ms + 1) as f64 * per_ms) as usize;
            sound::rms_of(&samples[range])
        })
        .collect()
}
