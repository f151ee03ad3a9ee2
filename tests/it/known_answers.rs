//! Known answers: two people say the same, or the round and its report say that one person did.

use fairhearing::app;
use fairhearing::app::AppError;
use fairhearing::app::Now;
use fairhearing::app::Standing;
use fairhearing::study::JudgeCode;
use fairhearing::study::KnownAnswer;
use fairhearing::study::KnownAnswer::Correct;
use fairhearing::study::KnownAnswer::Distorted;
use fairhearing::study::Use;
use fairhearing::study::record::KnownAnswers;

use crate::support::Study;

const LATER: Now = Now::at_ms(1_749_000_000_000);

/// The check words of the small study are word13 (correct) and word14 (distorted); word15 is for
/// practice (correct).
fn say(study: &Study, word: &str, judge: &str, answer: KnownAnswer) -> Result<(), AppError> {
    let judge = JudgeCode::new(judge).unwrap();
    app::answer(&study.workspace, word, &judge, answer, LATER)
}

fn standing(study: &Study, word: &str) -> Standing {
    let words = app::known_words(&study.workspace).unwrap();
    let word = words.into_iter().find(|known| known.file == word);
    word.unwrap().standing
}

fn single(study: &Study, word: &str, reason: &str) -> Result<(), AppError> {
    app::accept_single_judge(&study.workspace, &[word.to_owned()], reason, LATER)
}

#[track_caller]
fn check_whole(study: &Study) {
    let findings = app::verify(&study.workspace, &[]).unwrap().findings;
    assert_eq!(findings, Vec::<String>::new());
}

#[test]
fn two_who_agree_make_an_answer_known_and_two_who_differ_stop_the_seal() {
    let study = Study::with().imported();
    assert_eq!(standing(&study, "word13.wav"), Standing::ByOne);
    say(&study, "word13.wav", "second", Correct).unwrap();
    assert_eq!(standing(&study, "word13.wav"), Standing::Agreed);
    say(&study, "word14.wav", "second", Correct).unwrap();
    assert_eq!(standing(&study, "word14.wav"), Standing::Disputed);
    let refused = study.seal(&study.with).unwrap_err().to_string();
    assert!(
        refused.contains("people differ on what word14.wav is"),
        "{refused}"
    );
    say(&study, "word14.wav", "second", Distorted).unwrap();
    single(&study, "word15.wav", "nobody else speaks the dialect").unwrap();
    let sealed = study.seal(&study.with).unwrap();
    let counts = KnownAnswers {
        by_two: 2,
        by_one: 1,
        with_a_reason: 1,
    };
    assert_eq!(sealed.known_answers, counts);
    check_whole(&study);
}

#[test]
fn a_study_as_it_was_imported_is_sealed_and_says_by_how_few() {
    let study = Study::with().imported();
    let sealed = study.seal(&study.with).unwrap();
    assert_eq!(
        (sealed.known_answers.by_two, sealed.known_answers.by_one),
        (0, 3)
    );
    let said = fairhearing::report::text::known_answers(sealed.known_answers);
    assert_eq!(said, "3 words by one person");
}

#[test]
fn an_imported_answer_is_corrected_until_it_is_sealed() {
    let study = Study::with().imported();
    say(&study, "word13.wav", "second", Distorted).unwrap();
    say(&study, "word13.wav", app::MANIFEST, Distorted).unwrap();
    assert_eq!(standing(&study, "word13.wav"), Standing::Agreed);
    study.seal(&study.with).unwrap();
    let refused = say(&study, "word13.wav", app::MANIFEST, Correct).unwrap_err();
    assert!(
        refused.to_string().contains("was sealed with a round"),
        "{refused}"
    );
    say(&study, "word13.wav", "third", Correct).unwrap();
    let again = Study::with().round("autumn");
    let refused = study.seal(&again).unwrap_err().to_string();
    assert!(
        refused.contains("people differ on what word13.wav is"),
        "{refused}"
    );
    check_whole(&study);
}

#[test]
fn who_is_still_to_answer_sees_nothing_of_what_others_said() {
    let study = Study::with().imported();
    say(&study, "word13.wav", "second", Correct).unwrap();
    let judge = JudgeCode::new("third").unwrap();
    let words = app::unanswered(&study.workspace, &judge).unwrap();
    assert_eq!(words.len(), 3);
    let shown = serde_json::to_string(&words).unwrap();
    for told in [
        "correct",
        "distorted",
        "second",
        "check",
        "practice",
        "word13",
    ] {
        assert!(!shown.contains(told), "{told} is in {shown}");
    }
    app::answer(&study.workspace, &words[0].sha256, &judge, Correct, LATER).unwrap();
    assert_eq!(app::unanswered(&study.workspace, &judge).unwrap().len(), 2);
}

#[test]
fn what_a_plan_still_needs_is_counted() {
    let study = Study::with().imported();
    say(&study, "word13.wav", "second", Correct).unwrap();
    say(&study, "word14.wav", "second", Correct).unwrap();
    std::fs::write(study.plan(), Study::with().checks(3).sittings(2).plan()).unwrap();
    let counts = app::needed_words(&study.workspace, &study.plan()).unwrap();
    let check = counts.iter().find(|row| row.use_ == Use::Check).unwrap();
    let found = (
        check.wanted,
        check.by_two,
        check.by_one,
        check.disputed,
        check.still_needed,
    );
    assert_eq!(found, (6, 1, 0, 1, 5));
    let practice = counts.iter().find(|row| row.use_ == Use::Practice).unwrap();
    assert_eq!(
        (practice.wanted, practice.by_one, practice.still_needed),
        (2, 1, 1)
    );
}

#[test]
fn what_cannot_be_answered_is_refused() {
    let study = Study::with().imported();
    let cases = [
        (
            say(&study, "word1.wav", "second", Correct),
            "neither for checks nor for practice",
        ),
        (
            say(&study, "word13.wav", "second", KnownAnswer::Divided),
            "one clear answer",
        ),
        (single(&study, "word13.wav", "  "), "the reason is empty"),
        (
            single(&study, "word1.wav", "why"),
            "is no word that one person answered",
        ),
    ];
    for (refused, said) in cases {
        let refused = refused.unwrap_err().to_string();
        assert!(refused.contains(said), "{refused}");
    }
    let events = study.events().len();
    single(&study, "word13.wav", "nobody else could be asked").unwrap();
    assert!(single(&study, "word13.wav", "again").is_err());
    assert_eq!(study.events().len(), events + 1);
    check_whole(&study);
}
