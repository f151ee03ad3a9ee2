//! Listeners who begin, stop, vanish and come back in any order: the laws that hold all the same,
//! looked up in the store after the real acts.

use std::collections::BTreeMap;
use std::collections::BTreeSet;

use fairhearing::app::listening::ListeningError;
use fairhearing::app::listening::Stage;
use fairhearing::study::Judgement::Correct;
use fairhearing::study::Judgement::Distorted;
use fairhearing::study::SetAside;
use rusqlite::Connection;

use crate::support::Listener;
use crate::support::Study;
use crate::support::answered;

/// Numbers that look random, the same for the same seed (xorshift64).
struct Dice(u64);

impl Dice {
    fn below(&mut self, n: u64) -> u64 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        self.0 % n
    }
}

/// Judgements kept and places reserved of each scored token, by stratum and token.
fn committed(file: &Connection) -> BTreeMap<i64, BTreeMap<i64, i64>> {
    let mut statement = file
        .prepare(
            "SELECT stratum, round_token.id, count(presentation.id) FROM round_token
             LEFT JOIN presentation ON presentation.round_token_id = round_token.id
                  AND kind = 'main' AND state IN ('reserved', 'judged')
             WHERE stratum IS NOT NULL GROUP BY round_token.id",
        )
        .unwrap();
    let mut strata: BTreeMap<i64, BTreeMap<i64, i64>> = BTreeMap::new();
    let rows = statement
        .query_map([], |row| Ok((row.get(0)?, row.get(1)?, row.get(2)?)))
        .unwrap();
    for (stratum, token, count) in rows.map(Result::unwrap) {
        strata.entry(stratum).or_default().insert(token, count);
    }
    strata
}

/// The scored tokens that were ever dealt to the listener with that number.
fn dealt(file: &Connection, number: usize) -> BTreeSet<i64> {
    let mut statement = file
        .prepare(
            "SELECT round_token_id FROM presentation
             JOIN sitting ON sitting.id = sitting_id JOIN enrolment ON enrolment.id = enrolment_id
             WHERE kind = 'main' AND enrolment.number = ?1",
        )
        .unwrap();
    let rows = statement
        .query_map([number.to_string()], |row| row.get(0))
        .unwrap();
    rows.map(Result::unwrap).collect()
}

fn count(file: &Connection, sql: &str) -> i64 {
    file.query_row(sql, [], |row| row.get(0)).unwrap()
}

/// Begins, and holds what was dealt against the rule: no token while another of its stratum that
/// she may hear has fewer.
fn begin_by_the_rule(file: &Connection, listener: &mut Listener, number: usize) {
    let before = committed(file);
    listener.begin();
    let got = dealt(file, number);
    for tokens in before.values() {
        let (chosen, left): (Vec<_>, Vec<_>) =
            tokens.iter().partition(|(token, _)| got.contains(token));
        let most = chosen.iter().map(|(_, count)| **count).max();
        let least = left.iter().map(|(_, count)| **count).min();
        if let (Some(most), Some(least)) = (most, least) {
            assert!(
                most <= least,
                "a token with {most} was dealt before one with {least}"
            );
        }
    }
}

#[test]
fn while_nothing_goes_back_the_tokens_of_a_stratum_differ_by_one_at_most() {
    for seed in 1..=3 {
        let study = Study::with()
            .children(3)
            .words(4)
            .listeners(9)
            .judgements(3)
            .tokens_per_sitting(10)
            .sealed();
        let file = Connection::open(study.database()).unwrap();
        let mut dice = Dice(seed * 7_919);
        let mut sitting: Vec<(usize, Listener)> = Vec::new();
        let mut next = 0;
        for _ in 0..150 {
            if next < 9 && dice.below(6) == 0 {
                let mut listener = study.listener(next);
                next += 1;
                begin_by_the_rule(&file, &mut listener, next);
                sitting.push((next, listener));
            } else if !sitting.is_empty() {
                let place = usize::try_from(dice.below(sitting.len() as u64)).unwrap();
                if let Some(presented) = sitting[place].1.current() {
                    sitting[place].1.judge(
                        presented.id,
                        if dice.below(2) == 0 {
                            Correct
                        } else {
                            Distorted
                        },
                    );
                }
            }
            for tokens in committed(&file).values() {
                let (least, most) = (
                    tokens.values().min().unwrap(),
                    tokens.values().max().unwrap(),
                );
                assert!(most - least <= 1, "{tokens:?}");
            }
        }
        check_laws(&study, &file);
    }
}

#[test]
fn whoever_vanishes_every_token_is_judged_as_often_as_planned() {
    for seed in 1..=3 {
        let study = Study::with()
            .children(3)
            .words(3)
            .listeners(14)
            .judgements(2)
            .give_back_minutes(30)
            .sealed();
        let file = Connection::open(study.database()).unwrap();
        let mut dice = Dice(seed * 104_729);
        let mut gone: Vec<Listener> = Vec::new();
        for number in 1..=14 {
            let mut listener = study.listener(number - 1);
            // Each comes an hour after the one before: what lay idle has gone back.
            listener.wait_minutes(60 * i64::try_from(number).unwrap());
            if count(
                &file,
                "SELECT count(*) FROM presentation WHERE kind = 'main' AND state = 'returned'",
            ) == 0
            {
                begin_by_the_rule(&file, &mut listener, number);
            } else {
                listener.begin();
            }
            let stays = number > 9 || dice.below(3) == 0;
            for _ in 0..if stays { u64::MAX } else { dice.below(12) } {
                let Some(presented) = listener.current() else {
                    break;
                };
                match dice.below(20) {
                    0 => drop(
                        listener
                            .try_set_aside(presented.id, SetAside::NoSound)
                            .unwrap(),
                    ),
                    1 => drop(
                        listener
                            .try_set_aside(presented.id, SetAside::KnownSpeaker)
                            .unwrap(),
                    ),
                    _ => drop(listener.judge(presented.id, Correct)),
                }
            }
            if !stays {
                gone.push(listener);
            }
        }
        for listener in &mut gone {
            listener.wait_minutes(60 * 20);
            listener.judge_all(|_| Distorted);
            assert!(matches!(
                listener.stage(),
                Stage::Closing | Stage::NothingLeft
            ));
        }
        check_laws(&study, &file);
        let least = committed(&file)
            .values()
            .flat_map(BTreeMap::values)
            .min()
            .copied();
        assert!(least >= Some(2), "a token was judged {least:?} times");
    }
}

/// What holds after any walk.
#[track_caller]
fn check_laws(study: &Study, file: &Connection) {
    let twice = "SELECT count(*) FROM (
                     SELECT 1 FROM presentation JOIN sitting ON sitting.id = sitting_id
                     WHERE kind <> 'example' GROUP BY enrolment_id, round_token_id, kind
                     HAVING count(*) > 1)";
    assert_eq!(
        count(file, twice),
        0,
        "a token was dealt twice to one listener"
    );
    let known = "SELECT count(*) FROM presentation
                 JOIN sitting ON sitting.id = sitting_id
                 JOIN enrolment ON enrolment.id = enrolment_id
                 JOIN round_token ON round_token.id = round_token_id
                 JOIN token ON token.id = token_id JOIN session ON session.id = session_id
                 JOIN bar ON bar.child_id = session.child_id AND bar.listener_id = enrolment.listener_id
                 WHERE presentation.state IN ('reserved', 'returned')";
    assert_eq!(
        count(file, known),
        0,
        "a known speaker is still to be heard"
    );
    let verified = fairhearing::app::verify(&study.workspace, &[]).unwrap();
    assert_eq!(verified.findings, Vec::<String>::new());
}

#[test]
fn a_known_speaker_ends_that_child_and_no_other() {
    let study = Study::with()
        .children(2)
        .words(4)
        .practice(0)
        .warm_ups(1)
        .checks(0)
        .repeats(0.0)
        .sealed();
    let file = Connection::open(study.database()).unwrap();
    let mut listener = study.listener(0);
    listener.begin();
    let warm_up = listener.current().unwrap().id;
    listener.judge(warm_up, Correct);
    let known = listener.current().unwrap().id;
    listener
        .try_set_aside(known, SetAside::KnownSpeaker)
        .unwrap();
    let mut asked = 0;
    listener.judge_all(|_| {
        asked += 1;
        Correct
    });
    assert_eq!(asked, 8, "the eight words of the other child");
    check_laws(&study, &file);
}

#[test]
fn an_answer_changes_until_the_next_word_is_judged_and_both_are_kept() {
    let study = Study::with().practice(0).sealed();
    let mut listener = study.listener(0);
    listener.begin();
    let first = listener.current().unwrap().id;
    listener.judge(first, Correct);
    listener.try_judge(first, answered(Distorted, 2)).unwrap();
    let second = listener.current().unwrap().id;
    listener.judge(second, Correct);
    let late = listener.try_judge(first, answered(Correct, 3));
    assert!(matches!(late, Err(ListeningError::Settled)), "{late:?}");
    let kept: Vec<_> = study
        .judgements()
        .iter()
        .map(|row| (row.revision, row.answer))
        .collect();
    assert_eq!(kept, [(1, Correct), (2, Distorted), (1, Correct)]);
}

#[test]
fn a_late_judgement_is_kept_and_an_excess_is_logged() {
    let study = Study::with()
        .listeners(3)
        .judgements(1)
        .give_back_minutes(10)
        .practice(0)
        .warm_ups(0)
        .checks(0)
        .sealed();
    let mut slow = study.listener(0);
    slow.begin();
    let waiting = slow.current().unwrap().id;
    let mut other = study.listener(1);
    other.wait_minutes(30);
    other.begin();
    other.judge_all(|_| Correct);
    slow.wait_minutes(40);
    slow.judge(waiting, Distorted);
    assert!(
        study
            .judgements()
            .iter()
            .any(|row| row.presentation == waiting)
    );
    assert!(
        study
            .events()
            .iter()
            .any(|event| event.kind == "more than planned")
    );
}

#[test]
fn a_closed_round_takes_nothing_new_and_still_knows_what_it_took() {
    let study = Study::with().practice(0).sealed();
    let mut listener = study.listener(0);
    listener.begin();
    let id = listener.current().unwrap().id;
    let first = listener.judge(id, Correct);
    let name = study.round.as_ref().unwrap().round.clone();
    let now = listener.now();
    fairhearing::app::close(&study.workspace, &name, now).unwrap();
    assert_eq!(listener.try_judge(id, answered(Correct, 1)).unwrap(), first);
    let changed = listener.try_judge(id, answered(Distorted, 2));
    assert!(
        matches!(changed, Err(ListeningError::Closed)),
        "{changed:?}"
    );
    // What she judged counts, and by her receipt she may still withdraw it.
    assert_eq!(listener.stage(), Stage::Closing);
    listener.finish();
    assert_eq!(study.judgements().len(), 1);
}
