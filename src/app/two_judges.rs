//! Known answers at the desk: each account judges for itself, and sees what others said of a word once it has answered it.
//! Where two differ, one of them says otherwise after they listened together, or a third settles it for a reason.

use serde_json::json;

use super::AppError;
use super::KnownWord;
use super::MANIFEST;
use super::NeededWords;
use super::Now;
use super::Person;
use super::Standing;
use super::Workspace;
use super::answers;
use super::log;
use super::review::Shuffle;
use crate::store::TokenRow;
use crate::store::Writing;
use crate::study::JudgeCode;
use crate::study::KnownAnswer;
use crate::study::Settling;
use crate::study::Use;
use crate::study::Word;

/// A word that this account is still to judge: nothing in it tells whose it is, or what others said.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ToJudge {
    /// The name under which its sound is served.
    pub name: String,
    /// SHA-256 of its prepared sound.
    pub sha256: String,
    /// The word.
    pub word: Word,
    /// Whether it may be heard either way: a word for practice may.
    pub may_divide: bool,
}

/// The next word for this account, and how many are left with it. The order tells nothing.
///
/// # Errors
/// [`AppError::Store`] if the study cannot be read.
pub fn to_judge(
    workspace: &Workspace,
    shuffle: &Shuffle,
    by: &Person,
) -> Result<(Option<ToJudge>, usize), AppError> {
    let judge = judge_of(by)?;
    let left = answers::unanswered(workspace, &judge)?;
    let Some(first) = left.first() else {
        return Ok((None, 0));
    };
    let tokens = workspace
        .store()
        .read(|reading| Ok::<_, AppError>(reading.tokens()?))?;
    let token = tokens
        .iter()
        .find(|token| token.prepared.sha256 == first.sha256);
    let next = token.map(|token| ToJudge {
        name: shuffle.name_of(token),
        sha256: first.sha256.clone(),
        word: token.key.word.clone(),
        may_divide: token.key.use_ == Use::Practice,
    });
    Ok((next, left.len()))
}

/// The words that this account has judged, with all that is said of them; those on which people differ come first.
///
/// # Errors
/// [`AppError::Store`] if the study cannot be read.
pub fn judged(
    workspace: &Workspace,
    shuffle: &Shuffle,
    by: &Person,
) -> Result<Vec<(String, Word, KnownWord)>, AppError> {
    let judge = judge_of(by)?;
    let (tokens, words) = workspace.store().read(|reading| {
        Ok::<_, AppError>((reading.tokens()?, answers::known_words_of(reading)?))
    })?;
    let own = |word: &KnownWord| {
        let mut judges = word.answers.iter();
        judges.any(|(of, _)| of == judge.as_str())
    };
    let mut judged: Vec<_> = words
        .into_iter()
        .filter(own)
        .filter_map(|known| {
            let token = tokens
                .iter()
                .find(|token| token.prepared.sha256 == known.sha256)?;
            Some((shuffle.name_of(token), token.key.word.clone(), known))
        })
        .collect();
    judged.sort_by(|(name, _, one), (other_name, _, other)| {
        let settled = |word: &KnownWord| word.standing != Standing::Disputed;
        (settled(one), name).cmp(&(settled(other), other_name))
    });
    Ok(judged)
}

/// Notes what this account hears in a word, once.
///
/// # Errors
/// [`AppError::Refused`] for a word that it has answered, and as for [`super::answer`].
pub fn judge(
    workspace: &Workspace,
    sha256: &str,
    answer: KnownAnswer,
    by: &Person,
    now: Now,
) -> Result<(), AppError> {
    note_own(workspace, sha256, answer, by, now, |writing, token, own| {
        let known = writing.known_answers()?;
        let mut rows = known.iter();
        if rows.any(|row| row.token == token.id && row.judge == *own) {
            return Err(AppError::refused(
                "you have answered this word already",
                "if others heard it otherwise, listen with them and settle it together",
            ));
        }
        Ok(())
    })
}

/// What an account says of a word now that it has heard what others say, and has listened again. Nobody else's answer is
/// touched: the word is settled when all of them say the same.
///
/// # Errors
/// [`AppError::Refused`] where nobody differs, where this account has not answered, and where it says so already.
pub fn change(
    workspace: &Workspace,
    sha256: &str,
    answer: KnownAnswer,
    by: &Person,
    now: Now,
) -> Result<(), AppError> {
    note_own(
        workspace,
        sha256,
        answer,
        by,
        now,
        move |writing, token, own| {
            if said_of(writing, token, own)?.own == answer {
                return Err(AppError::refused(
                    format!("you say already that it is {answer}"),
                    "the other must say so too, or somebody third who has answered the word settles it",
                ));
            }
            Ok(())
        },
    )
}

/// Notes an account's own answer to a word, unless `refusal` finds a reason not to.
fn note_own(
    workspace: &Workspace,
    sha256: &str,
    answer: KnownAnswer,
    by: &Person,
    now: Now,
    refusal: impl Fn(&Writing<'_>, &TokenRow, &JudgeCode) -> Result<(), AppError> + Send + 'static,
) -> Result<(), AppError> {
    let (own, code) = (judge_of(by)?, by.code.clone());
    let words = [sha256.to_owned()];
    workspace.store().write(move |writing| {
        for token in super::exclude::named(writing, &words)? {
            refusal(writing, &token, &own)?;
            answers::note(writing, &token, &own, answer, Some(&code), now)?;
        }
        Ok(())
    })
}

/// Settles a word on which two others differ: everybody's answer is this one from then on. The log tells who did it and why.
///
/// # Errors
/// [`AppError::Refused`] where nobody differs, where this account has not answered or is one of only two who did, and where
/// the answer that was imported is sealed with a round.
pub fn settle(
    workspace: &Workspace,
    sha256: &str,
    answer: KnownAnswer,
    because: Settling,
    by: &Person,
    now: Now,
) -> Result<(), AppError> {
    let (own, code) = (judge_of(by)?, by.code.clone());
    let words = [sha256.to_owned()];
    workspace.store().write(move |writing| {
        for token in super::exclude::named(writing, &words)? {
            let said = said_of(writing, &token, &own)?;
            if !differ(&said.others) {
                return Err(AppError::refused(
                    "you are one of the two who differ on this word",
                    "listen together until one of you says otherwise, or ask somebody third",
                ));
            }
            let own_too = std::iter::once((own.to_string(), said.own));
            let unlike = said.others.into_iter().chain(own_too);
            for (judge, _) in unlike.filter(|(_, said)| *said != answer) {
                answer_for(writing, &token, &judge, answer, &code, now)?;
            }
            let body = json!({"by": code, "because": because});
            log::append(writing, now, "known answer settled", &body)?;
        }
        Ok(())
    })
}

/// Whether an account is the third to a pair that differs, so that it may settle the word.
pub fn is_third(known: &KnownWord, account: &str) -> bool {
    let judges = known.answers.iter();
    let others: Vec<_> = judges
        .filter(|(judge, _)| judge != account)
        .cloned()
        .collect();
    differ(&others)
}

fn differ(answers: &[(String, KnownAnswer)]) -> bool {
    answers
        .windows(2)
        .any(|two| matches!(two, [(_, one), (_, other)] if one != other))
}

/// What is said of a word on which people differ.
struct Said {
    own: KnownAnswer,
    others: Vec<(String, KnownAnswer)>,
}

fn said_of(writing: &Writing<'_>, token: &TokenRow, own: &JudgeCode) -> Result<Said, AppError> {
    let known = answers::known_words_of(writing)?;
    let disputed = known
        .into_iter()
        .find(|word| word.sha256 == token.prepared.sha256)
        .filter(|word| word.standing == Standing::Disputed);
    let answers = disputed.map(|word| word.answers).unwrap_or_default();
    let (own, others): (Vec<_>, Vec<_>) = answers
        .into_iter()
        .partition(|(judge, _)| judge == own.as_str());
    let own = own.first().map(|(_, answer)| *answer).ok_or_else(|| {
        AppError::refused(
            "nobody differs on this word, or you have not answered it",
            "answer it for yourself first",
        )
    })?;
    Ok(Said { own, others })
}

fn answer_for(
    writing: &Writing<'_>,
    token: &TokenRow,
    judge: &str,
    answer: KnownAnswer,
    by: &str,
    now: Now,
) -> Result<(), AppError> {
    let judge = JudgeCode::new(judge).map_err(AppError::Refused)?;
    answers::note(writing, token, &judge, answer, Some(by), now)
}

/// How many check and practice words sittings of this shape need, and how many there are.
///
/// # Errors
/// [`AppError::Store`] if the study cannot be read.
pub fn needed(
    workspace: &Workspace,
    checks: u32,
    practice: u32,
    sittings: u32,
) -> Result<Vec<NeededWords>, AppError> {
    let words = answers::known_words(workspace)?;
    Ok(answers::needed_of(
        &words,
        [(Use::Check, checks), (Use::Practice, practice)],
        sittings,
    ))
}

/// Notes why one person's answer is to be enough for every word that has no more.
///
/// # Errors
/// As for [`super::accept_single_judge`]; [`AppError::Refused`] where no word has one answer alone.
pub fn accept_all_single(workspace: &Workspace, reason: &str, now: Now) -> Result<usize, AppError> {
    let words = answers::known_words(workspace)?;
    let single: Vec<_> = words
        .into_iter()
        .filter(|word| word.standing == Standing::ByOne)
        .map(|word| word.sha256)
        .collect();
    if single.is_empty() {
        return Err(AppError::refused(
            "no word has the answer of one person alone",
            "there is nothing to note",
        ));
    }
    answers::accept_single_judge(workspace, &single, reason, now)?;
    Ok(single.len())
}

/// An account's answers stand under its name. The name of the manifest is nobody's.
fn judge_of(by: &Person) -> Result<JudgeCode, AppError> {
    if by.name == MANIFEST {
        return Err(AppError::refused(
            format!("an account that is called {MANIFEST} cannot judge"),
            "answers that were imported stand under that name: use another account",
        ));
    }
    JudgeCode::new(&by.name).map_err(AppError::Refused)
}
