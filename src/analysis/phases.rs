//! Whether the room could tell the phases apart: noise, bandwidth, level and length of the recordings, by phase.
//!
//! A listener who hears that the early words are the noisy ones is blind no more. How far a measure tells two phases apart
//! is the share of pairs of words of one child, one word of either phase, in which the later one has more: ½ tells nothing.

use crate::study::ChildCode;
use crate::study::Phase;

/// From this share of pairs on, or its mirror image, a measure tells two phases apart (ours).
const TELLING_SHARE: f64 = 0.75;

/// What was measured of one recording.
#[derive(Debug, Clone, PartialEq)]
pub struct PhaseRecording {
    /// Who spoke.
    pub child: ChildCode,
    /// The phase of the session.
    pub phase: Phase,
    /// Speech over noise in dB, where it can be told.
    pub snr_db: Option<f64>,
    /// The bandwidth in Hz.
    pub bandwidth_hz: f64,
    /// How loud it was recorded, in LUFS.
    pub recorded_lufs: f64,
    /// The length of the prepared sound in seconds.
    pub seconds: f64,
}

/// What is compared.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum RoomMeasure {
    /// How far speech stands over the room's noise, in dB.
    Noise,
    /// Up to where sound was recorded, in kHz.
    Bandwidth,
    /// How loud it was recorded, in LUFS.
    Level,
    /// How long the prepared sound is, in seconds.
    Length,
}

impl RoomMeasure {
    /// All, in the order in which they are shown.
    pub const ALL: [Self; 4] = [Self::Noise, Self::Bandwidth, Self::Level, Self::Length];

    /// The smallest difference of medians that is worth a warning, in the measure's unit (ours): about what an attentive
    /// ear notices from word to word.
    pub const fn smallest(self) -> f64 {
        match self {
            Self::Noise | Self::Level => 3.0,
            Self::Bandwidth => 1.0,
            Self::Length => 0.1,
        }
    }

    fn of(self, recorded: &PhaseRecording) -> Option<f64> {
        match self {
            Self::Noise => recorded.snr_db,
            Self::Bandwidth => Some(recorded.bandwidth_hz / 1000.0),
            Self::Level => Some(recorded.recorded_lufs),
            Self::Length => Some(recorded.seconds),
        }
    }
}

/// One measure in all phases.
#[derive(Debug, Clone, PartialEq)]
pub struct Compared {
    /// The measure.
    pub measure: RoomMeasure,
    /// Each phase that has recordings, in the study's order.
    pub phases: Vec<PhaseSpread>,
    /// Each phase against each later one.
    pub pairs: Vec<PhasesTold>,
}

/// How a measure lies in one phase.
#[derive(Debug, Clone, PartialEq)]
pub struct PhaseSpread {
    /// The phase.
    pub phase: Phase,
    /// How many recordings tell it.
    pub n: usize,
    /// Least, quartiles and most, in the measure's unit.
    pub five: [f64; 5],
}

/// How far a measure tells two phases apart.
#[derive(Debug, Clone, PartialEq)]
pub struct PhasesTold {
    /// The earlier phase.
    pub from: Phase,
    /// The later one.
    pub to: Phase,
    /// The later median less the earlier one, in the measure's unit.
    pub difference: f64,
    /// The share of pairs of one child's words in which the later one has more, an equal pair counting one half; nothing where
    /// no child has words in both.
    pub later_has_more: Option<f64>,
    /// Whether a listener could tell the two phases by it.
    pub tells: bool,
}

/// Compares the phases, in the order `phases`.
pub fn compare_phases(recorded: &[PhaseRecording], phases: &[Phase]) -> Vec<Compared> {
    let all = RoomMeasure::ALL.into_iter();
    all.map(|measure| compare_one(measure, recorded, phases))
        .collect()
}

fn compare_one(measure: RoomMeasure, recorded: &[PhaseRecording], phases: &[Phase]) -> Compared {
    let spreads: Vec<PhaseSpread> = phases
        .iter()
        .filter_map(|phase| spread(measure, recorded, phase))
        .collect();
    let mut pairs = Vec::new();
    for (place, from) in spreads.iter().enumerate() {
        for to in spreads.iter().skip(place + 1) {
            pairs.push(told(measure, recorded, from, to));
        }
    }
    Compared {
        measure,
        phases: spreads,
        pairs,
    }
}

fn spread(measure: RoomMeasure, recorded: &[PhaseRecording], phase: &Phase) -> Option<PhaseSpread> {
    let of_phase = recorded.iter().filter(|one| one.phase == *phase);
    let mut values: Vec<f64> = of_phase.filter_map(|one| measure.of(one)).collect();
    values.sort_by(f64::total_cmp);
    let five = [0.0, 0.25, 0.5, 0.75, 1.0].map(|share| quantile(&values, share));
    (!values.is_empty()).then(|| PhaseSpread {
        phase: phase.clone(),
        n: values.len(),
        five,
    })
}

/// The sample quantile by linear interpolation between order statistics (Hyndman & Fan 1996, type 7). `sorted` holds one
/// value at least; 0 otherwise.
fn quantile(sorted: &[f64], share: f64) -> f64 {
    let last = sorted.len().saturating_sub(1);
    let place = share * last as f64;
    let at = |place: f64| {
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "a place in the list, from 0 to its last"
        )]
        let place = place as usize;
        sorted.get(place.min(last)).copied().unwrap_or(0.0)
    };
    let (low, high) = (at(place.floor()), at(place.ceil()));
    low + (high - low) * place.fract()
}

fn told(
    measure: RoomMeasure,
    recorded: &[PhaseRecording],
    from: &PhaseSpread,
    to: &PhaseSpread,
) -> PhasesTold {
    let difference = to.five[2] - from.five[2];
    let later_has_more = share_with_more(measure, recorded, &from.phase, &to.phase);
    let apart = |share: f64| share >= TELLING_SHARE || share <= 1.0 - TELLING_SHARE;
    PhasesTold {
        from: from.phase.clone(),
        to: to.phase.clone(),
        difference,
        tells: later_has_more.is_some_and(apart) && difference.abs() >= measure.smallest(),
        later_has_more,
    }
}

fn share_with_more(
    measure: RoomMeasure,
    recorded: &[PhaseRecording],
    from: &Phase,
    to: &Phase,
) -> Option<f64> {
    let (mut more, mut pairs) = (0.0, 0.0);
    let mut later: Vec<(&ChildCode, f64)> = Vec::new();
    for one in recorded.iter().filter(|one| one.phase == *to) {
        later.extend(measure.of(one).map(|value| (&one.child, value)));
    }
    for one in recorded.iter().filter(|one| one.phase == *from) {
        let Some(earlier) = measure.of(one) else {
            continue;
        };
        for (_, value) in later.iter().filter(|(child, _)| **child == one.child) {
            pairs += 1.0;
            more += match value.total_cmp(&earlier) {
                std::cmp::Ordering::Greater => 1.0,
                std::cmp::Ordering::Equal => 0.5,
                std::cmp::Ordering::Less => 0.0,
            };
        }
    }
    (pairs > 0.0).then(|| more / pairs)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn recorded(child: &str, phase: &str, snr_db: f64) -> PhaseRecording {
        PhaseRecording {
            child: ChildCode::new(child).unwrap(),
            phase: Phase::new(phase).unwrap(),
            snr_db: Some(snr_db),
            bandwidth_hz: 20_000.0,
            recorded_lufs: -27.0,
            seconds: 0.8,
        }
    }

    fn phases() -> [Phase; 2] {
        ["before", "after"].map(|phase| Phase::new(phase).unwrap())
    }

    #[test]
    fn quartiles_are_those_of_type_7() {
        // R 4.2: quantile(c(15, 20, 35, 40, 50)) gives 15 20 35 40 50; quantile(1:4) gives 1.00 1.75 2.50 3.25 4.00.
        let five = |values: &[f64]| [0.0, 0.25, 0.5, 0.75, 1.0].map(|q| quantile(values, q));
        let alike = |found: [f64; 5], expected: [f64; 5]| {
            found
                .iter()
                .zip(expected)
                .all(|(one, other)| (one - other).abs() < 1e-12)
        };
        assert!(alike(
            five(&[15.0, 20.0, 35.0, 40.0, 50.0]),
            [15.0, 20.0, 35.0, 40.0, 50.0]
        ));
        assert!(alike(
            five(&[1.0, 2.0, 3.0, 4.0]),
            [1.0, 1.75, 2.5, 3.25, 4.0]
        ));
    }

    #[test]
    fn the_share_of_pairs_is_that_of_a_printed_example() {
        // Parker, Vannest & Davis (2011), Behav. Modif. 35, 303–322: 38.5 of 42 pairs.
        let before = [20.0, 20.0, 26.0, 25.0, 22.0, 23.0].map(|db| recorded("C01", "before", db));
        let after =
            [28.0, 25.0, 24.0, 27.0, 30.0, 30.0, 29.0].map(|db| recorded("C01", "after", db));
        let all: Vec<_> = before.into_iter().chain(after).collect();
        let compared = compare_phases(&all, &phases());
        let told = &compared[0].pairs[0];
        assert!((told.later_has_more.unwrap() - 38.5 / 42.0).abs() < 1e-12);
        // The medians are 22.5 and 28.
        assert_eq!((told.difference, told.tells), (5.5, true));
        assert!(compared[1..].iter().all(|one| !one.pairs[0].tells));
    }

    #[test]
    fn children_who_were_recorded_in_one_phase_only_tell_nothing() {
        let all = [
            recorded("C01", "before", 10.0),
            recorded("C02", "after", 40.0),
        ];
        let told = compare_phases(&all, &phases())[0].pairs[0].clone();
        assert_eq!((told.later_has_more, told.tells), (None, false));
    }
}
