//! What a listener said of her sound, and what follows from it.

use serde::Deserialize;
use serde::Serialize;
use serde_json::json;

use super::ListeningError;
use super::entry::Listening;
use super::stage;
use crate::app::AppError;
use crate::app::Now;
use crate::app::Workspace;
use crate::app::log;
use crate::store::Reading;
use crate::store::SoundCheckRow;
use crate::study::course::Check;
use crate::study::course::SoundChecks;

/// Of so many made-up sounds, this many must be told: all. Who guesses among two answers tells all
/// three in one case of eight, who cannot hear the beginning tells half.
const FIRST_SOUND_RIGHT: u32 = 3;

/// Of six sets of three tones, five must be told (Woods, Siegel, Traer and others 2017, Attention,
/// Perception & Psychophysics 79, 2064–2072; from memory). Who guesses among three passes in one
/// case of 56 (binomial: 13/729).
const HEADPHONES_RIGHT: u32 = 5;

/// What a listener said of her sound.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub struct SoundCheck {
    /// What she listens with, in the page's terms (`headphones`, `loudspeaker`, …).
    pub device: String,
    /// Whether she heard the sample well.
    pub heard: bool,
    /// How far below the prepared level her page plays, in dB (0 or less).
    pub level_db: Option<i8>,
    /// Made-up sounds with and without a first moment that sleeping outputs swallow.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub first_sound: Option<Told>,
    /// Tones that are told apart over headphones, and hardly over loudspeakers.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub headphones: Option<Told>,
}

/// How many sounds of a check were told, the last time that it was done.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct Told {
    /// Sounds that were told right.
    pub right: u32,
    /// Sounds of the check.
    pub of: u32,
    /// How often the check was done.
    pub tries: u32,
}

impl SoundCheck {
    /// Whether the plan asks for more than this, so that the listener hears no word.
    pub fn leaves_out(&self, plan: &SoundChecks) -> bool {
        let fails = |check: Check, told: Option<Told>, right: u32| {
            check == Check::Require && told.is_none_or(|told| told.right < right)
        };
        fails(plan.first_sound, self.first_sound, FIRST_SOUND_RIGHT)
            || fails(plan.headphones, self.headphones, HEADPHONES_RIGHT)
    }

    /// Whether a count cannot have come from the page.
    pub(super) fn is_impossible(&self) -> bool {
        let told = self.first_sound.into_iter().chain(self.headphones);
        self.level_db.is_some_and(|level_db| level_db > 0)
            || told
                .into_iter()
                .any(|told| told.right > told.of || told.of > 100 || told.tries > 1000)
    }
}

/// What is known of the sound of the browser that a listener is at.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Sound {
    /// It was not checked.
    Unchecked,
    /// It does.
    Does,
    /// The sealed plan lets no word be heard over it.
    LeavesOut,
}

impl Sound {
    /// The last check that was made at this browser decides.
    pub(super) fn of(reading: &Reading<'_>, listening: &Listening) -> Result<Self, ListeningError> {
        let checks = reading.sound_checks_of(listening.enrolment.id)?;
        let Some(last) = checks.iter().rfind(|check| is_here(check, listening)) else {
            return Ok(Self::Unchecked);
        };
        let said: SoundCheck = serde_json::from_str(&last.said)
            .map_err(|error| AppError::Unreadable(error.to_string()))?;
        Ok(if said.leaves_out(&listening.plan.sound_check) {
            Self::LeavesOut
        } else {
            Self::Does
        })
    }
}

fn is_here(check: &SoundCheckRow, listening: &Listening) -> bool {
    check.visit.is_some() && check.visit == listening.visit
}

/// Notes what she said of her sound at this browser: each device has a check of its own. Where the
/// plan requires more of it, she hears no word there, but may check once more, with other headphones:
/// the last check decides, and all are kept. The same said again changes nothing.
///
/// # Errors
/// [`ListeningError::OutOfOrder`] before she agreed and answered the plan's questions;
/// [`ListeningError::Unanswered`] for counts that no page sends.
pub fn record_sound_check(
    workspace: &Workspace,
    cookie: &str,
    check: &SoundCheck,
    now: Now,
) -> Result<(), ListeningError> {
    let cookie = cookie.to_owned();
    if check.is_impossible() {
        return Err(ListeningError::Unanswered);
    }
    let said = serde_json::to_value(check).map_err(|e| AppError::Unreadable(e.to_string()))?;
    workspace.store().write(move |writing| {
        let listening = Listening::active(writing, &cookie, now)?;
        let agreed = listening.enrolment.consented_ms.is_some();
        if !agreed || stage::questions_wait(&listening) {
            return Err(ListeningError::OutOfOrder);
        }
        let text = log::canonical(&said)?.to_string();
        let checks = writing.sound_checks_of(listening.enrolment.id)?;
        let last = checks.iter().rfind(|check| is_here(check, &listening));
        if last.is_some_and(|last| last.said == text) {
            return Ok(());
        }
        let number = checks.last().map_or(1, |check| check.number + 1);
        let row = SoundCheckRow {
            number,
            visit: listening.visit,
            checked_ms: now.ms(),
            said: text,
        };
        writing.add_sound_check(listening.enrolment.id, &row)?;
        let code = &listening.enrolment.code;
        let body = json!({"listener": code, "number": number, "said": said});
        log::append(writing, now, "sound check", &body)?;
        Ok(())
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    const fn told(right: u32, of: u32) -> Told {
        Told {
            right,
            of,
            tries: 1,
        }
    }

    fn said(first_sound: Option<Told>, headphones: Option<Told>) -> SoundCheck {
        SoundCheck {
            device: "built-in".to_owned(),
            heard: true,
            level_db: Some(-12),
            first_sound,
            headphones,
        }
    }

    #[test]
    fn only_what_the_plan_requires_leaves_anybody_out() {
        let plan = |first_sound, headphones| SoundChecks {
            first_sound,
            headphones,
        };
        let (record, require) = (Check::Record, Check::Require);
        let deaf = said(Some(told(1, 3)), Some(told(4, 6)));
        assert!(!deaf.leaves_out(&plan(record, record)));
        assert!(deaf.leaves_out(&plan(require, record)));
        assert!(deaf.leaves_out(&plan(record, require)));
        let good = said(Some(told(3, 3)), Some(told(5, 6)));
        assert!(!good.leaves_out(&plan(require, require)));
        assert!(said(None, None).leaves_out(&plan(record, require)));
    }

    #[test]
    fn counts_that_no_page_sends_are_seen() {
        assert!(!said(Some(told(3, 3)), Some(told(0, 6))).is_impossible());
        assert!(said(Some(told(4, 3)), None).is_impossible());
        let loud = SoundCheck {
            level_db: Some(1),
            ..said(None, None)
        };
        assert!(loud.is_impossible());
    }
}
