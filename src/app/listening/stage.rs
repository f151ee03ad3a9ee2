//! Which step of a listener's visit comes now.

use std::collections::BTreeSet;

use super::ListeningError;
use super::course::Assent;
use super::day;
use super::entry::Listening;
use super::hear;
use super::parts::Parts;
use super::parts::Told;
use super::questions;
use super::sound::Sound;
use super::way::Halt;
use super::way::Way;
use crate::app::Now;
use crate::store::PresentationRow;
use crate::store::PresentationState;
use crate::store::Reading;
use crate::store::RoundTokenRow;
use crate::store::SittingRow;
use crate::study::KnownAnswer;
use crate::study::Place;
use crate::study::PresentationId;
use crate::study::PresentationKind;
use crate::study::RoundState;
use crate::study::StudySettings;
use crate::study::Use;
use crate::study::Word;

/// The step that comes now.
#[derive(Debug, Clone, PartialEq)]
pub enum Stage {
    /// She has not agreed yet.
    Consent,
    /// She agreed; the plan asks something of herself.
    Questions,
    /// The sound is to be checked on this sample.
    SoundCheck {
        /// What the check plays.
        sample: PresentationId,
    },
    /// By its check the sound of this device does not do for this round: she hears no word over it, and
    /// may check once more.
    LeftOut {
        /// What the check plays.
        sample: PresentationId,
    },
    /// The sound was checked; she reads and hears what to judge in the next part.
    WhatToJudge {
        /// What she is told.
        told: Told,
        /// Examples with their answers.
        examples: Vec<Example>,
    },
    /// She judges: practice, then the sitting itself.
    Sitting,
    /// The practice comes once more.
    Practice {
        /// Why.
        why: Why,
        /// What she is told.
        told: Told,
        /// Examples with their answers.
        examples: Vec<Example>,
    },
    /// A rest.
    Rest {
        /// Where the sitting has come to.
        place: Place,
        /// Examples with their answers, to be heard again.
        examples: Vec<Example>,
    },
    /// It is enough for this day; the sitting waits.
    Today {
        /// Where the sitting has come to.
        place: Place,
    },
    /// Every word was judged, in all sittings; the closing questions come.
    Closing,
    /// All is done.
    Done {
        /// Her receipt.
        receipt: String,
    },
    /// Every word has all the judgements it needs, or is with others who may still give it back.
    NothingLeft,
    /// The round is paused; she goes on later.
    Paused,
    /// The round takes no more judgements.
    RoundClosed,
}

/// Why the practice comes once more.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Why {
    /// It was not passed.
    NotYet,
    /// It was long ago.
    Away,
}

/// An example of what to judge.
#[derive(Debug, Clone, PartialEq)]
pub struct Example {
    /// What plays it.
    pub id: PresentationId,
    /// The word, where the plan shows words.
    pub word: Option<Word>,
    /// What it is an example of.
    pub answer: KnownAnswer,
}

/// Which step comes now.
pub(super) fn stage(
    reading: &Reading<'_>,
    listening: &Listening,
    settings: &StudySettings,
    tokens: &[RoundTokenRow],
    now: Now,
) -> Result<Stage, ListeningError> {
    let enrolment = &listening.enrolment;
    if let Some(receipt) = &enrolment.receipt {
        return Ok(Stage::Done {
            receipt: receipt.clone(),
        });
    }
    if listening.round.state != RoundState::Open {
        // What she judged counts, so she gets her receipt, by which she may withdraw.
        let judged = !reading.answer_times(enrolment.id)?.is_empty();
        return Ok(if judged {
            Stage::Closing
        } else {
            Stage::RoundClosed
        });
    }
    let step = open_stage(reading, listening, settings, tokens, now)?;
    Ok(match step {
        Stage::Closing => Stage::Closing,
        _ if listening.round.paused => Stage::Paused,
        step => step,
    })
}

/// Which step comes now in a round that is open.
fn open_stage(
    reading: &Reading<'_>,
    listening: &Listening,
    settings: &StudySettings,
    tokens: &[RoundTokenRow],
    now: Now,
) -> Result<Stage, ListeningError> {
    let enrolment = &listening.enrolment;
    let sittings = reading.sittings_of(enrolment.id)?;
    let Some(sitting) = sittings.last().filter(|_| enrolment.consented_ms.is_some()) else {
        return Ok(Stage::Consent);
    };
    if questions_wait(listening) {
        return Ok(Stage::Questions);
    }
    let places = reading.presentations_of(sitting.id)?;
    let in_part = InPart {
        parts: Parts::of(listening, sitting.number),
        listening,
        settings,
        tokens,
        places: &places,
    };
    let comes = in_part.comes(reading, &sittings, sitting, now)?;
    if matches!(comes, Stage::Today { .. } | Stage::Closing) {
        return Ok(comes);
    }
    let sound = Sound::of(reading, listening)?;
    if sound == Sound::Does {
        return Ok(comes);
    }
    Ok(match loudest(&places, tokens) {
        // Every word that could check it is of a speaker whom she knows.
        None => Stage::NothingLeft,
        Some(sample) if sound == Sound::LeavesOut => Stage::LeftOut { sample },
        Some(sample) => Stage::SoundCheck { sample },
    })
}

pub(super) fn questions_wait(listening: &Listening) -> bool {
    let assent = Assent::of(&listening.enrolment);
    let put = questions::put_to(&listening.plan.questions, assent);
    !put.is_empty() && listening.enrolment.answered_ms.is_none()
}

/// What is played before the first question, the loudest of it: all words have one level, so the
/// highest peak decides. Comfort is set on this one.
fn loudest(places: &[PresentationRow], tokens: &[RoundTokenRow]) -> Option<PresentationId> {
    let loudness = |place: &PresentationRow| {
        let token = tokens.iter().find(|token| token.id == place.token);
        token.map_or((f64::MIN, f64::MIN), |token| {
            // Levels are matched to a hundredth of a decibel at best.
            ((token.level_lufs * 10.0).round(), token.true_peak_dbtp)
        })
    };
    places
        .iter()
        .filter(|place| is_example(place))
        .max_by(|one, other| {
            let ((level, peak), (other_level, other_peak)) = (loudness(one), loudness(other));
            (level.total_cmp(&other_level)).then(peak.total_cmp(&other_peak))
        })
        .map(|place| place.id)
}

/// A sitting, and what is told and played before its parts.
struct InPart<'a> {
    parts: Parts<'a>,
    listening: &'a Listening,
    settings: &'a StudySettings,
    tokens: &'a [RoundTokenRow],
    places: &'a [PresentationRow],
}

impl InPart<'_> {
    /// The step that comes now, if the sound of this browser does.
    fn comes(
        &self,
        reading: &Reading<'_>,
        sittings: &[SittingRow],
        sitting: &SittingRow,
        now: Now,
    ) -> Result<Stage, ListeningError> {
        let enrolment = &self.listening.enrolment;
        if sitting.ended_ms.is_none() && !is_begun(self.places) {
            if sitting.number == 1 && enrolment.instructed_ms.is_some() {
                return Ok(Stage::NothingLeft);
            }
            let answered = reading.answer_times(enrolment.id)?;
            return Ok(
                if day::is_full(&self.listening.plan.rests, &answered, now) {
                    let place = hear::progress(reading, self.places)?;
                    Stage::Today { place }
                } else {
                    let open = self.parts.open(reading, self.listening, self.tokens)?;
                    let first = open.first().copied().unwrap_or(1);
                    self.what_to_judge(first, &open, true)
                },
            );
        }
        if sitting.ended_ms.is_none() && is_to_be_heard(self.places) {
            let way = Way::of(reading, self.listening, sitting, self.tokens)?;
            return self.next(reading, &way, now);
        }
        Ok(if is_drawn(self.places) || sittings.len() > 1 {
            Stage::Closing
        } else {
            Stage::NothingLeft
        })
    }

    /// The step that comes now in a drawn sitting with words to hear.
    fn next(&self, reading: &Reading<'_>, way: &Way, now: Now) -> Result<Stage, ListeningError> {
        let block = way.next().map_or(1, |next| next.block);
        let drawn = drawn_parts(self.places);
        let place = hear::progress(reading, self.places)?;
        let practice = |why| Stage::Practice {
            why,
            told: self.told(block, &drawn, false),
            examples: self.examples(block),
        };
        Ok(match way.halt(&self.listening.plan, now) {
            None => Stage::Sitting,
            Some(Halt::Block) => self.what_to_judge(block, &drawn, false),
            Some(Halt::Again) => practice(Why::NotYet),
            Some(Halt::Away) => practice(Why::Away),
            Some(Halt::Rest) => Stage::Rest {
                place,
                examples: self.examples(block),
            },
            Some(Halt::Today) => Stage::Today { place },
        })
    }

    fn what_to_judge(&self, block: u32, among: &[u32], begins: bool) -> Stage {
        Stage::WhatToJudge {
            told: self.told(block, among, begins),
            examples: self.examples(block),
        }
    }

    /// What she is told before a part, counted among those with words.
    fn told(&self, block: u32, among: &[u32], begins: bool) -> Told {
        let before = among.iter().filter(|other| **other < block).count();
        Told {
            part: u32::try_from(before + 1).unwrap_or(u32::MAX),
            of: u32::try_from(among.len()).unwrap_or(u32::MAX),
            begins,
            ..self.parts.told(block, self.listening, self.settings)
        }
    }

    /// The examples of a part: clear ones first, the divided ones last.
    fn examples(&self, block: u32) -> Vec<Example> {
        let part = self.parts.part(block);
        let show_word = self.listening.plan.sitting.show_word;
        let mut examples: Vec<_> = self
            .places
            .iter()
            .filter(|place| is_example(place))
            .filter_map(|place| {
                let token = self.tokens.iter().find(|token| token.id == place.token)?;
                if token.use_ != Use::Example || !part?.takes(token) {
                    return None;
                }
                Some(Example {
                    id: place.id,
                    word: show_word.then(|| token.word.clone()),
                    answer: token.answer?,
                })
            })
            .collect();
        examples.sort_by_key(|example| example.answer);
        examples
    }
}

/// Whether a place plays before the first question, and its word is still in use.
pub(super) fn is_example(place: &PresentationRow) -> bool {
    place.kind == PresentationKind::Example && place.state != PresentationState::Dropped
}

/// Whether a sitting has more than what is played before its first question.
pub(super) fn is_drawn(places: &[PresentationRow]) -> bool {
    places
        .iter()
        .any(|place| place.kind != PresentationKind::Example)
}

/// Whether a sitting has words that wait, or some that were judged beside those to practise and warm
/// up on: else it can still be drawn.
pub(super) fn is_begun(places: &[PresentationRow]) -> bool {
    let judged = places.iter().any(|place| {
        !matches!(
            place.kind,
            PresentationKind::Example | PresentationKind::Practice | PresentationKind::WarmUp
        ) && matches!(
            place.state,
            PresentationState::Judged | PresentationState::Aside
        )
    });
    judged || is_to_be_heard(places)
}

/// The parts of a drawn sitting that have words.
fn drawn_parts(places: &[PresentationRow]) -> Vec<u32> {
    let asking = places
        .iter()
        .filter(|place| place.kind != PresentationKind::Example);
    let blocks: BTreeSet<u32> = asking.map(|place| place.block).collect();
    blocks.into_iter().collect()
}

/// Whether anything but examples is still to be heard in a sitting.
pub(super) fn is_to_be_heard(places: &[PresentationRow]) -> bool {
    places.iter().any(|place| {
        place.kind != PresentationKind::Example
            && matches!(
                place.state,
                PresentationState::Reserved | PresentationState::Returned
            )
    })
}
