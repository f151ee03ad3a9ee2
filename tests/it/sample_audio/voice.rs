//! A voice that says a word: a pulse train through formants for what is voiced, shaped noise for what
//! is not (source and filter, Fant 1960). Every speaker has a pitch, a vocal tract and an /s/ of its own.
//!
//! How good an /s/ is, is one number from 0 to 1. At 1 it is a narrow hiss around 7.5 kHz, as children's
//! clear /s/ are; at 0 a long, rough, broad noise around 3 kHz, as air over the sides of the tongue makes
//! it; between them listeners are divided (spectral mean and peak of /s/: Jongman et al. 2000; lateral
//! quality: common practice, no source).

use libm::cos;
use libm::exp;
use libm::pow;
use libm::sin;
use std::f64::consts::PI;
use std::f64::consts::TAU;

use super::chance::Chance;
use super::words::Sound;
use super::words::Word;

/// Samples a second.
pub(super) const RATE_HZ: u32 = 44_100;
const RATE: f64 = 44_100.0;

/// Who speaks.
#[derive(Clone, Copy)]
pub(super) struct Speaker {
    pub(super) pitch_hz: f64,
    /// Formants relative to the average child's.
    pub(super) tract: f64,
    /// The /s/ peak relative to the average child's.
    pub(super) hiss: f64,
    /// Speed relative to the average.
    pub(super) pace: f64,
}

/// A recording of one word: 16-bit samples, with the room around it.
pub(super) fn say(word: &Word, speaker: Speaker, quality: f64, chance: &mut Chance) -> Vec<i16> {
    let mut voice = Voice {
        out: Vec::new(),
        speaker,
        pitch: 1.0 + 0.04 * chance.normal(),
        phase: 0.0,
    };
    voice.out.resize(frames(150.0 + 30.0 * chance.even()), 0.0);
    let n = word.sounds.len();
    for (index, sound) in word.sounds.iter().enumerate() {
        let next = word.sounds.get(index + 1).copied();
        let fall = 1.06 - 0.16 * index as f64 / n as f64;
        voice.make(*sound, next, fall, quality, chance);
    }
    let end = voice.out.len();
    voice
        .out
        .resize(end + frames(200.0 + 30.0 * chance.even()), 0.0);
    let loudest = voice.out.iter().fold(0.0, |a: f64, b| a.max(b.abs()));
    let gain = 0.16 * (1.0 + 0.2 * chance.even()) / loudest;
    let mut room = Room::new();
    voice
        .out
        .iter()
        .map(|s| to_i16(s * gain + room.noise(chance)))
        .collect()
}

struct Voice {
    out: Vec<f64>,
    speaker: Speaker,
    pitch: f64,
    phase: f64,
}

impl Voice {
    fn make(
        &mut self,
        sound: Sound,
        next: Option<Sound>,
        fall: f64,
        quality: f64,
        chance: &mut Chance,
    ) {
        let spread = 1.0 + 0.08 * chance.even();
        let pace = self.speaker.pace;
        let len = move |ms: f64| frames(ms * spread / pace);
        match sound {
            Sound::Voiced(at, ms, loudness) => {
                let to = next
                    .and_then(formants)
                    .map_or(at, |next| between(at, next, 0.3));
                self.voiced(at, to, len(ms), loudness, fall, chance);
            }
            Sound::Glide(from, to, ms) => self.voiced(from, to, len(ms), 1.0, fall, chance),
            Sound::Nasal(at, ms) => self.voiced(at, at, len(ms), 0.35, fall, chance),
            Sound::Stop(hz, breath_ms) => {
                let closure = len(70.0);
                self.out.resize(self.out.len() + closure, 0.0);
                self.noise(hz, 2_500.0, frames(10.0), 0.22, (1.0, 6.0), chance);
                self.noise(hz * 0.8, 3_500.0, len(breath_ms), 0.05, (2.0, 15.0), chance);
            }
            Sound::Breath(ms) => {
                let hz = next.and_then(formants).map_or(1_500.0, |f| f[1]) * self.speaker.tract;
                self.noise(hz, 1_800.0, len(ms), 0.06, (25.0, 15.0), chance);
            }
            Sound::Target(ms) => self.target(len(ms + 60.0 * (1.0 - quality)), quality, chance),
        }
    }

    /// Pulses through three moving formants and a fixed fourth.
    fn voiced(
        &mut self,
        from: [f64; 3],
        to: [f64; 3],
        n: usize,
        loudness: f64,
        fall: f64,
        chance: &mut Chance,
    ) {
        let mut filters = [Resonator::default(); 4];
        let mut tilt = 0.0;
        let overlap = frames(15.0).min(self.out.len());
        let start = self.out.len() - overlap;
        self.out.resize(start + overlap + n, 0.0);
        for i in 0..n + overlap {
            let share = i as f64 / (n + overlap) as f64;
            if i % 64 == 0 {
                let at = between(from, to, smooth(share));
                for (index, filter) in filters.iter_mut().enumerate() {
                    let hz = at.get(index).copied().unwrap_or(4_900.0) * self.speaker.tract;
                    filter.tune(hz, 60.0 + 0.035 * hz);
                }
            }
            let hz = self.speaker.pitch_hz * self.pitch * fall * (1.0 - 0.06 * share);
            self.phase += hz * (1.0 + 0.02 * chance.even()) / RATE;
            self.phase -= f64::from(u8::from(self.phase >= 1.0));
            tilt += 0.6 * (glottis(self.phase) + 0.08 * chance.even() - tilt);
            let shaped = filters.iter_mut().fold(tilt, |x, filter| filter.pass(x));
            let slope = rise(i, frames(20.0)) * rise(n + overlap - 1 - i, frames(25.0));
            self.out[start + i] += 0.2 * shaped * loudness * slope;
        }
    }

    /// The /s/, from a narrow high hiss to a long, broad, rough noise lower down.
    fn target(&mut self, n: usize, quality: f64, chance: &mut Chance) {
        let peak_hz =
            self.speaker.hiss * (3_000.0 + 4_500.0 * quality) * (1.0 + 0.03 * chance.even());
        let width_hz = 3_200.0 - 1_500.0 * quality;
        let start = self.out.len();
        let level = 0.11 * (1.0 + 0.15 * chance.even());
        self.noise(peak_hz, width_hz, n, level, (35.0, 40.0), chance);
        // A little of everything up to the end of hearing, as breath over teeth makes.
        self.add_noise(
            start,
            11_000.0,
            6_000.0,
            n,
            level * 0.25,
            (35.0, 40.0),
            chance,
        );
        self.add_noise(
            start,
            1_900.0,
            900.0,
            n,
            level * 0.5 * (1.0 - quality),
            (35.0, 40.0),
            chance,
        );
        let mut rough = 0.0;
        for sample in &mut self.out[start..] {
            rough += 0.006 * (chance.normal() - rough);
            *sample *= (1.0 + 14.0 * (1.0 - quality) * rough).clamp(0.15, 2.5);
        }
    }

    fn noise(
        &mut self,
        hz: f64,
        width_hz: f64,
        n: usize,
        level: f64,
        slopes_ms: (f64, f64),
        chance: &mut Chance,
    ) {
        let start = self.out.len();
        self.out.resize(start + n, 0.0);
        self.add_noise(start, hz, width_hz, n, level, slopes_ms, chance);
    }

    #[expect(
        clippy::too_many_arguments,
        reason = "a noise is told by where, what and how long"
    )]
    fn add_noise(
        &mut self,
        start: usize,
        hz: f64,
        width_hz: f64,
        n: usize,
        level: f64,
        slopes_ms: (f64, f64),
        chance: &mut Chance,
    ) {
        let mut filters = [Resonator::default(); 2];
        for filter in &mut filters {
            filter.tune(hz.min(18_000.0), width_hz);
        }
        let mut before = (0.0, 0.0);
        let raw: Vec<f64> = (0..n)
            .map(|_| {
                let x = filters
                    .iter_mut()
                    .fold(chance.even(), |x, filter| filter.pass(x));
                // Zeros at 0 Hz and half the rate keep the noise in its band.
                let y = x - before.1;
                before = (x, before.0);
                y
            })
            .collect();
        let rms = pow(
            raw.iter().map(|x| x * x).sum::<f64>() / n.max(1) as f64,
            0.5,
        )
        .max(1e-12);
        for (i, x) in raw.iter().enumerate() {
            let slope = rise(i, frames(slopes_ms.0)) * rise(n - 1 - i, frames(slopes_ms.1));
            self.out[start + i] += x / rms * level * slope * 4.0;
        }
    }
}

/// The slope of the flow through the glottis over one period: opening slowly, closing fast, then shut
/// (Rosenberg 1971). Its sudden end is what excites the tract.
fn glottis(phase: f64) -> f64 {
    const OPENING: f64 = 0.40;
    const CLOSING: f64 = 0.16;
    if phase < OPENING {
        sin(PI * phase / OPENING) * 0.5 * PI / OPENING
    } else if phase < OPENING + CLOSING {
        -sin(0.5 * PI * (phase - OPENING) / CLOSING) * 0.5 * PI / CLOSING
    } else {
        0.0
    }
}

/// A formant: two poles (Klatt 1980).
#[derive(Clone, Copy, Default)]
struct Resonator {
    a: f64,
    b: f64,
    c: f64,
    y1: f64,
    y2: f64,
}

impl Resonator {
    fn tune(&mut self, hz: f64, width_hz: f64) {
        let radius = exp(-PI * width_hz / RATE);
        self.c = -radius * radius;
        self.b = 2.0 * radius * cos(TAU * hz / RATE);
        self.a = 1.0 - self.b - self.c;
    }

    fn pass(&mut self, x: f64) -> f64 {
        let y = self.a * x + self.b * self.y1 + self.c * self.y2;
        (self.y2, self.y1) = (self.y1, y);
        y
    }
}

/// The quiet room that every recording was made in: noise that falls with frequency.
struct Room {
    poles: [f64; 3],
}

impl Room {
    fn new() -> Self {
        Self { poles: [0.0; 3] }
    }

    fn noise(&mut self, chance: &mut Chance) -> f64 {
        let white = chance.even();
        let [slow, middle, fast] = &mut self.poles;
        *slow = 0.995 * *slow + white * 0.1;
        *middle = 0.95 * *middle + white * 0.3;
        *fast = 0.5 * *fast + white;
        8e-5 * (*slow + *middle + *fast)
    }
}

fn formants(sound: Sound) -> Option<[f64; 3]> {
    match sound {
        Sound::Voiced(at, ..) | Sound::Glide(at, ..) | Sound::Nasal(at, _) => Some(at),
        Sound::Stop(..) | Sound::Breath(_) | Sound::Target(_) => None,
    }
}

fn between(from: [f64; 3], to: [f64; 3], share: f64) -> [f64; 3] {
    std::array::from_fn(|i| from[i] + (to[i] - from[i]) * share)
}

fn smooth(share: f64) -> f64 {
    0.5 - 0.5 * cos(PI * share)
}

fn rise(i: usize, slope: usize) -> f64 {
    smooth(i.min(slope) as f64 / slope.max(1) as f64)
}

fn frames(ms: f64) -> usize {
    (ms * RATE / 1000.0) as usize
}

fn to_i16(sample: f64) -> i16 {
    (sample * 32_768.0).round().clamp(-32_768.0, 32_767.0) as i16
}
