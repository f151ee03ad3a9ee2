//! Simulated listeners: they know a word by the sound that the server plays to them, and by nothing
//! else.

use std::collections::HashMap;

use rand::RngExt;
use rand::SeedableRng;
use rand_chacha::ChaCha12Rng;

use super::Samples;
use crate::app::AppError;
use crate::app::files;
use crate::app::workspace::Workspace;
use crate::audio;
use crate::exchange;
use crate::study::Judgement;
use crate::study::course::NOT_SAID;
use crate::study::course::Question;

/// The seed of every simulated listener's chance.
const SEED: u64 = 20_261_125;

/// No sound is so clear or so distorted that every listener says the same of it.
const CLEAREST: f64 = 0.995;

/// A panel that is simulated: each listener with her own sensitivity, leniency and attention.
pub struct SimulatedPanel {
    /// How likely an ordinary listener calls each recording correct, by the fingerprint of what is
    /// played.
    likely: HashMap<[u8; 32], f64>,
}

/// One simulated listener.
struct Ears {
    sensitivity: f64,
    leniency: f64,
    attention: f64,
    chance: ChaCha12Rng,
}

impl SimulatedPanel {
    /// The panel that knows how each recording of the samples truly is.
    ///
    /// # Errors
    /// [`AppError::Store`] or [`AppError::File`] if the study or the samples cannot be read.
    pub fn of(workspace: &Workspace, samples: &Samples) -> Result<Self, AppError> {
        let path = samples.truth();
        let truth =
            exchange::read_truth(&path.display().to_string(), files::read(&path)?.as_slice())?;
        let tokens = workspace
            .store()
            .read(|reading| Ok::<_, AppError>(reading.tokens()?))?;
        let mut likely = HashMap::new();
        for token in tokens {
            let known = token.key.file.as_ref().and_then(|file| truth.get(file));
            let wav = files::read(&workspace.prepared(&token.prepared.sha256))?;
            if let (Some(known), Some(sound)) = (known, fingerprint(&wav)) {
                likely.insert(sound, *known);
            }
        }
        Ok(Self { likely })
    }

    /// How the listener with that number hears in a round, counted from 0: the same every time. Each round has listeners of
    /// its own, and a panel that is more or less lenient.
    pub fn listener(&self, round: usize, number: u32) -> SimulatedListener<'_> {
        let mut chance = ChaCha12Rng::seed_from_u64(SEED);
        chance.set_stream(u64::from(number) | (round as u64) << 16);
        let of_round = LENIENCY.get(round).copied().unwrap_or(0.0);
        let spread = |chance: &mut ChaCha12Rng| chance.random_range(-1.0..1.0);
        let careless = CARELESS.contains(&number);
        SimulatedListener {
            panel: self,
            number,
            ears: Ears {
                sensitivity: 1.0 + 0.3 * spread(&mut chance),
                leniency: of_round + 0.8 * spread(&mut chance),
                attention: if careless { 0.15 } else { 0.97 },
                chance,
            },
        }
    }
}

/// The streams of chance from which listeners answer questions of themselves.
const OF_HERSELF: u64 = 1 << 32;

/// How lenient the panel of each round is beside an ordinary one, in log odds.
const LENIENCY: [f64; 3] = [0.0, 0.7, -0.5];

/// The numbers of the listeners who hardly listen.
const CARELESS: [u32; 2] = [5, 11];

/// A simulated listener at work.
pub struct SimulatedListener<'p> {
    panel: &'p SimulatedPanel,
    number: u32,
    ears: Ears,
}

impl SimulatedListener<'_> {
    /// What she answers to the questions of the demonstration's plan, by chance.
    pub fn of_herself(&self) -> Vec<(&'static str, &'static str)> {
        let mut chance = ChaCha12Rng::seed_from_u64(SEED);
        chance.set_stream(u64::from(self.number) | OF_HERSELF);
        Question::ALL
            .into_iter()
            .map(|question| {
                // The first answer is the likely one.
                let choices = question.choices();
                let place = chance.random_range(0..2 * choices.len());
                let choice = choices.get(place).or(choices.first());
                (question.name(), choice.copied().unwrap_or(NOT_SAID))
            })
            .collect()
    }

    /// What she says of a sound, and how long she takes, in milliseconds.
    pub fn judge(&mut self, sound: &[u8]) -> (Judgement, u32) {
        let likely = fingerprint(sound).and_then(|print| self.panel.likely.get(&print));
        let ears = &mut self.ears;
        let attends = ears.chance.random_bool(ears.attention);
        let correct = match likely {
            Some(likely) if attends => ears.hears_correct(*likely),
            _ => ears.chance.random_bool(0.5),
        };
        let rt_ms = if attends {
            450 + ears.chance.random_range(0..900)
        } else {
            ears.chance.random_range(60..260)
        };
        (
            if correct {
                Judgement::Correct
            } else {
                Judgement::Distorted
            },
            rt_ms,
        )
    }
}

impl Ears {
    /// The log odds of an ordinary listener, stretched by her sensitivity, shifted by her leniency.
    fn hears_correct(&mut self, likely: f64) -> bool {
        let likely = likely.clamp(1.0 - CLEAREST, CLEAREST);
        let logit = self.sensitivity * (likely / (1.0 - likely)).ln() + self.leniency;
        self.chance.random_bool(1.0 / (1.0 + (-logit).exp()))
    }
}

/// What tells one sound from another, whatever file carries it.
fn fingerprint(file: &[u8]) -> Option<[u8; 32]> {
    audio::decode(file)
        .ok()
        .map(|recording| recording.fingerprint())
}
