//! Which words of a child are heard first, so that an ear can check what the figures say: chosen by one rule, never by hand.

use super::RoundFindings;
use crate::study::Use;
use crate::study::Word;

/// Words of a session that are heard (ours).
pub const WORDS_TO_HEAR: usize = 3;

/// A word of a session, with what the panel said of it.
#[derive(Debug, Clone, PartialEq)]
pub struct WordToHear {
    /// The name of its token.
    pub token: String,
    /// The word, with its judged letters; nothing where none was noted.
    pub word: Option<Word>,
    /// Judgements `correct`.
    pub correct: u32,
    /// All judgements.
    pub judgements: u32,
    /// Their share.
    pub proportion: f64,
}

/// A session at one end of a child's comparison.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ComparedSession {
    /// The round in which it was heard.
    pub round: String,
    /// The recording occasion.
    pub session: u32,
    /// Its phase.
    pub phase: String,
}

/// The first session of the earlier phase and the last of the later one; nothing where a child has not both.
pub fn ends_of_contrast(found: &RoundFindings, child: &str) -> Option<[ComparedSession; 2]> {
    let contrast = &found.plan.contrast;
    let mut sessions = sessions(found, child);
    sessions.sort_by_key(|session| session.session);
    let first = sessions
        .iter()
        .find(|session| session.phase == contrast.from.as_str());
    let last = sessions
        .iter()
        .rfind(|session| session.phase == contrast.to.as_str());
    Some([first?.clone(), last?.clone()])
}

fn sessions(found: &RoundFindings, child: &str) -> Vec<ComparedSession> {
    let placed: Vec<ComparedSession> = found
        .over_rounds
        .iter()
        .flat_map(|over| &over.sessions)
        .filter(|session| session.child == child && !session.peer)
        .map(|session| ComparedSession {
            round: session.round.clone(),
            session: session.session,
            phase: session.phase.clone(),
        })
        .collect();
    if !placed.is_empty() {
        return placed;
    }
    let mut own: Vec<ComparedSession> = found
        .outcome
        .sessions
        .iter()
        .filter(|session| session.child == child && !session.peer && session.judgements > 0)
        .map(|session| ComparedSession {
            round: found.round.round.clone(),
            session: session.session,
            phase: session.phase.clone(),
        })
        .collect();
    own.dedup();
    own
}

/// The words of a session whose share is nearest to the middle one of the session; of two as near, the one whose token
/// was sealed first.
pub fn words_to_hear(found: &RoundFindings, child: &str, session: u32) -> Vec<WordToHear> {
    let mut words = judged_words(found, child, session);
    let Some(middle) = median(words.iter().map(|word| word.proportion).collect()) else {
        return Vec::new();
    };
    let away = |word: &WordToHear| (word.proportion - middle).abs();
    // Shares of few judgements tie often: a tie is told apart by the token's name.
    words.sort_by(|a, b| {
        let near = (away(a) - away(b)).abs() < 1e-9;
        let order = away(a).total_cmp(&away(b));
        if near { a.token.cmp(&b.token) } else { order }
    });
    words.truncate(WORDS_TO_HEAR);
    words
}

fn judged_words(found: &RoundFindings, child: &str, session: u32) -> Vec<WordToHear> {
    let tokens = &found.tokens;
    let Some(child) = tokens.children.find(child) else {
        return Vec::new();
    };
    let rows = tokens.rows.iter().zip(tokens.tokens.names());
    rows.filter(|(row, _)| row.child == child && row.session == session && row.use_ == Use::Scored)
        .filter_map(|(row, name)| {
            let mut items = found.consensus.items.iter();
            let item = items.find(|item| item.item == *name)?;
            Some(WordToHear {
                token: name.clone(),
                word: row
                    .word
                    .and_then(|word| tokens.words.name(word).parse().ok()),
                correct: item.positive,
                judgements: item.judgements,
                proportion: item.proportion,
            })
        })
        .collect()
}

/// The middle one, or the mean of the two in the middle.
fn median(mut shares: Vec<f64>) -> Option<f64> {
    shares.sort_by(f64::total_cmp);
    let upper = *shares.get(shares.len() / 2)?;
    if shares.len().is_multiple_of(2) {
        let lower = *shares.get(shares.len() / 2 - 1)?;
        return Some(f64::midpoint(lower, upper));
    }
    Some(upper)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_middle_of_an_even_number_lies_between_two() {
        assert_eq!(median(vec![]), None);
        assert_eq!(median(vec![0.75, 0.0, 0.5]), Some(0.5));
        assert_eq!(median(vec![1.0, 0.0, 0.5, 0.25]), Some(0.375));
    }
}
