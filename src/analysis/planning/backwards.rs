//! The plan backwards: what can so many volunteers with so many minutes prove?

use super::Panel;
use super::PlannedSession;
use super::PlannedWords;
use super::PrecisionBasis;
use crate::study::Plan;

/// Words a session that are tried (ours), beside all of them.
const WORDS: [u32; 6] = [5, 8, 10, 15, 20, 30];
/// Fewer judgements of a word than this tell nothing of agreement (ours).
const FEWEST_JUDGEMENTS: u32 = 2;

/// Who would listen, and how long.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Volunteers {
    /// How many.
    pub listeners: u32,
    /// Minutes that each of them has, all told.
    pub minutes: f64,
}

/// What they can prove.
#[derive(Debug, Clone, PartialEq)]
pub struct Proof {
    /// Main words that one of them judges.
    pub main: u32,
    /// What can be had for fewer or more words a session.
    pub lines: Vec<ProofLine>,
    /// The line that sees the smallest change, or brings the narrowest interval where no change is compared.
    pub best: Option<usize>,
}

/// What so many words a session bring.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ProofLine {
    /// Words a session that are drawn; nothing: all.
    pub drawn: Option<u32>,
    /// Words to judge in all.
    pub tokens: u32,
    /// Judgements that each word gets.
    pub judgements_per_token: u32,
    /// Main words of a sitting.
    pub main: u32,
    /// Half of the width of a middling session's interval.
    pub half_width: Option<f64>,
    /// The smallest and the largest minimal detectable change of a child.
    pub mdc95: Option<[f64; 2]>,
}

/// What volunteers can prove with the words of a plan; `words` as they are without any draw of words of a session.
pub fn proof(
    plan: &Plan,
    words: &PlannedWords,
    basis: &PrecisionBasis,
    volunteers: &Volunteers,
) -> Proof {
    let main = main_words(plan, volunteers.minutes);
    let longest = words.sessions.iter().map(|session| session.words).max();
    let tried = WORDS
        .into_iter()
        .filter(|words| Some(*words) < longest)
        .map(Some)
        .chain([None]);
    let lines: Vec<_> = tried
        .filter_map(|drawn| line(plan, words, basis, volunteers.listeners, main, drawn))
        .collect();
    let weight = |line: &ProofLine| line.mdc95.map(|[_, most]| most).or(line.half_width);
    let best = (0..lines.len()).min_by(|one, other| {
        let of = |place: &usize| lines.get(*place).and_then(weight).unwrap_or(f64::INFINITY);
        of(one).total_cmp(&of(other))
    });
    Proof { main, lines, best }
}

/// Main words for which the minutes of one sitting suffice.
fn main_words(plan: &Plan, minutes: f64) -> u32 {
    let fits = |main: &u32| {
        let repeats = super::count(plan.repeats_among(*main as usize));
        super::minutes_of(plan, main + repeats + super::beside(plan)) <= minutes
    };
    // A word takes some seconds, so that a day holds fewer than this.
    (1..10_000).take_while(fits).last().unwrap_or(0)
}

fn line(
    plan: &Plan,
    words: &PlannedWords,
    basis: &PrecisionBasis,
    listeners: u32,
    main: u32,
    drawn: Option<u32>,
) -> Option<ProofLine> {
    let sessions = words.sessions.iter();
    let words = PlannedWords {
        sessions: sessions.map(|one| shortened(*one, drawn)).collect(),
        links: words.links,
        heard_before: words.heard_before.clone(),
    };
    let tokens = words.tokens();
    let main = main.min(tokens);
    let judgements_per_token = listeners.saturating_mul(main).checked_div(tokens)?;
    if judgements_per_token < FEWEST_JUDGEMENTS {
        return None;
    }
    let panel = Panel {
        listeners: f64::from(judgements_per_token),
        confidence: plan.analysis.confidence.level(),
    };
    Some(ProofLine {
        drawn,
        tokens,
        judgements_per_token,
        main,
        half_width: panel
            .session(&words.sessions, basis)
            .map(|found| found.half_width),
        mdc95: panel.changes(&words.sessions, basis),
    })
}

/// A session of which so many words are drawn; those compared are drawn in their share, rounded up.
fn shortened(session: PlannedSession, drawn: Option<u32>) -> PlannedSession {
    let words = drawn.map_or(session.words, |drawn| drawn.min(session.words));
    let compared = (session.compared * words).div_ceil(session.words.max(1));
    PlannedSession {
        words,
        compared,
        ..session
    }
}
