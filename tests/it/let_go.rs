//! The sealed rules while listeners judge: who can no longer pass is let go kindly, nobody else is.

use std::collections::BTreeMap;

use fairhearing::analysis;
use fairhearing::analysis::HeardSoFar;
use fairhearing::analysis::Remaining;
use fairhearing::app;
use fairhearing::app::Now;
use fairhearing::app::Workspace;
use fairhearing::app::listening::Stage;
use fairhearing::store::PresentationRow;
use fairhearing::store::StoreError;
use fairhearing::study::Judgement;
use fairhearing::study::KnownAnswer;
use fairhearing::study::PresentationId;
use fairhearing::study::PresentationKind;
use fairhearing::study::RoundName;
use proptest::prelude::*;
use rusqlite::Connection;

use crate::support::Listener;
use crate::support::Remote;
use crate::support::Server;
use crate::support::Study;
use crate::support::With;

const RULES: &str = "rules = [{ rule = \"min-checks-right\", right = 8 }]\nlive_after_checks = 3";

fn with() -> With {
    Study::with()
        .words(5)
        .checks(10)
        .practice(0)
        .warm_ups(0)
        .repeats(0.1)
        .screening(RULES.to_owned())
}

/// What each presentation of the study is: a check's known answer, or none.
fn known(study: &Study) -> BTreeMap<PresentationId, (PresentationKind, Option<KnownAnswer>)> {
    study
        .store()
        .read(|reading| {
            let tokens = reading.round_tokens(reading.rounds()?[0].id)?;
            let answer =
                |row: &PresentationRow| tokens.iter().find(|token| token.id == row.token)?.answer;
            let rows = reading.presentations()?;
            Ok::<_, StoreError>(
                rows.iter()
                    .map(|row| (row.id, (row.kind, answer(row))))
                    .collect(),
            )
        })
        .unwrap()
}

/// Right or wrong on checks as wanted, 'correct' on all else.
fn says(known: (PresentationKind, Option<KnownAnswer>), right: bool) -> Judgement {
    match known {
        (PresentationKind::Check, Some(answer)) => {
            if (answer == KnownAnswer::Correct) == right {
                Judgement::Correct
            } else {
                Judgement::Distorted
            }
        }
        _ => Judgement::Correct,
    }
}

/// Judges until nothing comes; says how many.
fn judge(study: &Study, listener: &mut Listener, right: bool) -> usize {
    let known = known(study);
    let mut judged = 0;
    listener.judge_all(|word| {
        judged += 1;
        says(known[&word.id], right)
    });
    judged
}

#[test]
fn who_guesses_is_let_go_and_her_places_go_to_others() {
    let study = with().listeners(3).judgements(2).sealed();
    let mut guesser = study.listener(0);
    guesser.begin();
    // 20 words, 2 of them again, 10 checks.
    let judged = judge(&study, &mut guesser, false);
    assert!(judged < 32, "she heard all of {judged}");
    assert_eq!(guesser.stage(), Stage::Closing);
    guesser.finish();
    assert!(matches!(guesser.stage(), Stage::Done { .. }));
    for careful in [1, 2] {
        let mut listener = study.listener(careful);
        listener.begin();
        assert_eq!(judge(&study, &mut listener, true), 32);
        listener.finish();
    }
    let name = RoundName::new("spring").unwrap();
    let progress = app::progress(&study.workspace).unwrap().remove(0);
    // Every word has the two judgements that the plan wants, those of the guesser left aside.
    assert!(
        progress.strata.values().all(|counts| *counts == (2, 2)),
        "{:?}",
        progress.strata
    );
    app::close(&study.workspace, &name, Now::read()).unwrap();
    app::unlock(&study.workspace, &name, Now::read()).unwrap();
    let unlocked = app::unlocked(&study.workspace, &name).unwrap();
    let record = app::record(&study.workspace, &unlocked).unwrap();
    let code = record.listeners[0].code.to_string();
    let kept_rows = record
        .presentations
        .iter()
        .filter(|row| row.listener.to_string() == code);
    assert_eq!(
        kept_rows.count(),
        judged,
        "all that she said stays in the data"
    );
    let found = app::findings(&study.workspace, &unlocked).unwrap();
    let left_out: Vec<_> = found
        .round
        .listeners
        .listeners
        .iter()
        .filter(|row| !row.kept)
        .collect();
    assert_eq!(left_out.len(), 1);
    assert_eq!(left_out[0].rater, code);
    assert!(record.listeners[0].let_go.is_some());
    assert_eq!(found.round.flow["let_go"], 1);
    let events = study.events();
    let told: Vec<_> = events
        .iter()
        .filter(|event| event.kind == "let go")
        .collect();
    assert_eq!(told.len(), 1);
    assert!(
        told[0].body.as_str().contains("check words right"),
        "{:?}",
        told[0].body
    );
    let verified = app::verify(&study.workspace, &[]).unwrap();
    assert_eq!(verified.findings, Vec::<String>::new());
}

#[test]
fn two_slips_let_nobody_go_and_the_third_only_when_it_can_no_longer_be_changed() {
    let study = with().sealed();
    let mut listener = study.listener(0);
    listener.begin();
    let known = known(&study);
    let mut checks = 0;
    let mut open = None;
    while let Some(word) = listener.current() {
        let of = known[&word.id];
        checks += u32::from(of.0 == PresentationKind::Check);
        listener.judge(word.id, says(of, checks > 3));
        if checks == 3 && of.0 == PresentationKind::Check {
            open = Some((word.id, of));
            break;
        }
    }
    // Eight of ten are asked for and three are wrong, but she can still change the last.
    let (id, of) = open.unwrap();
    let mut changed = crate::support::answered(says(of, true), 2);
    changed.rt_ms = Some(640);
    listener.try_judge(id, changed).unwrap();
    listener.judge_all(|word| says(known[&word.id], true));
    let heard = study.judgements().len();
    assert_eq!(heard, 32 + 1, "with the answer that she changed");
}

#[test]
fn where_the_plan_says_so_the_rules_wait_for_the_end() {
    let study = with()
        .screening(format!("{RULES}\nlive = false").replace("live_after_checks = 3", ""))
        .sealed();
    let mut guesser = study.listener(0);
    guesser.begin();
    assert_eq!(judge(&study, &mut guesser, false), 32);
}

#[test]
fn whoever_answers_too_fast_or_always_alike_is_let_go() {
    for rule in [
        "{ rule = \"max-share-too-fast\", faster_than_ms = 700.0, share = 0.3 }",
        "{ rule = \"min-median-response-time\", ms = 700.0 }",
        "{ rule = \"max-share-of-one-answer\", share = 0.6 }",
    ] {
        let study = with().screening(format!("rules = [{rule}]")).sealed();
        let mut listener = study.listener(0);
        listener.begin();
        // The listener of the tests takes 640 ms and says 'correct' to every word.
        let judged = judge(&study, &mut listener, true);
        assert!(judged < 32, "{rule}");
        let rows = study.store().read(|reading| {
            let rows = reading.enrolments(reading.rounds()?[0].id)?;
            Ok::<_, StoreError>(rows)
        });
        assert!(rows.unwrap()[0].let_go_why.is_some());
    }
}

#[tokio::test]
async fn she_is_told_kindly_and_nothing_says_that_she_was_judged() {
    let study = with().sealed();
    let server = Server::start(&study.folder());
    let mut remote = Remote::new(&server.address);
    remote.begin(&study.links()[0].path).await;
    let known = known(&study);
    while let Some(id) = remote.ahead().await.first().cloned() {
        let of = known[&id.parse().unwrap()];
        let said = remote.judge(&id, says(of, false).as_str()).await;
        assert_eq!(said.status, 200);
        assert_eq!(said.json()["feedback"], serde_json::Value::Null);
    }
    let page = remote.get("/listen").await.text();
    assert!(page.contains("action=\"/listen/closing"), "{page}");
    for word in [
        "fail", "wrong", "check", "rule", "exclu", "screen", "reject",
    ] {
        assert!(!page.to_lowercase().contains(word), "{word}: {page}");
    }
    assert_eq!(remote.post("/listen/closing", "").await.status, 303);
    assert!(
        remote
            .get("/listen")
            .await
            .text()
            .contains("class=\"receipt\"")
    );
}

#[test]
fn phases_that_change_places_change_nothing() {
    let study = with().sealed();
    let mut listener = study.listener(0);
    listener.begin();
    let copy = tempfile::tempdir().unwrap();
    copy_folder(&study.folder(), copy.path());
    let file = Connection::open(copy.path().join("fairhearing.db")).unwrap();
    let swapped = file.execute(
        "UPDATE session SET phase = CASE phase WHEN 'baseline' THEN 'treatment' ELSE 'baseline' END",
        [],
    );
    assert_eq!(swapped, Ok(4));
    drop(file);
    let other = Workspace::open(copy.path()).unwrap();
    let mut twin = listener.elsewhere(&other);
    let known = known(&study);
    let judge = |listener: &mut Listener| {
        let mut heard = Vec::new();
        listener.judge_all(|word| {
            heard.push(word.id);
            says(known[&word.id], false)
        });
        heard
    };
    let (one, two) = (judge(&mut listener), judge(&mut twin));
    assert_eq!(one, two);
    assert!(one.len() < 32);
}

fn copy_folder(from: &std::path::Path, to: &std::path::Path) {
    for entry in std::fs::read_dir(from).unwrap() {
        let entry = entry.unwrap();
        let target = to.join(entry.file_name());
        if entry.path().is_dir() {
            std::fs::create_dir_all(&target).unwrap();
            copy_folder(&entry.path(), &target);
        } else {
            std::fs::copy(entry.path(), target).unwrap();
        }
    }
}

fn heard_so_far() -> impl Strategy<Value = Vec<HeardSoFar>> {
    let one = (
        0u8..3,
        0u32..12,
        any::<bool>(),
        any::<bool>(),
        prop::option::of(50u32..2_000),
    );
    prop::collection::vec(one, 1..60).prop_map(|rows| {
        let answer = |yes| {
            if yes {
                Judgement::Correct
            } else {
                Judgement::Distorted
            }
        };
        rows.into_iter()
            .map(|(kind, item, yes, known, rt_ms)| HeardSoFar {
                item,
                kind: [
                    PresentationKind::Main,
                    PresentationKind::Check,
                    PresentationKind::Repeat,
                ][usize::from(kind)],
                answer: answer(yes),
                known: (kind == 1).then_some(if known {
                    KnownAnswer::Correct
                } else {
                    KnownAnswer::Distorted
                }),
                rt_ms,
            })
            .collect()
    })
}

proptest! {
    /// Whoever is let go would have failed the same rules however she had gone on.
    #[test]
    fn whoever_is_let_go_fails_however_she_goes_on(
        heard in heard_so_far(),
        at in 0usize..60,
        which in 0usize..6,
        share in 0.05f64..0.95,
        right in 0u32..15,
        ms in 100.0f64..1_500.0,
    ) {
        let rule = [
            format!("{{ rule = \"min-checks-right\", right = {right} }}"),
            format!("{{ rule = \"min-check-accuracy\", share = {share} }}"),
            format!("{{ rule = \"max-share-of-one-answer\", share = {share} }}"),
            format!("{{ rule = \"min-median-response-time\", ms = {ms:?} }}"),
            format!("{{ rule = \"max-share-too-fast\", faster_than_ms = {ms:?}, share = {share} }}"),
            format!("{{ rule = \"min-repeat-agreement\", share = {share} }}"),
        ];
        let screening = toml::from_str(&format!("rules = [{}]", rule[which])).unwrap();
        let rules = analysis::rules_of(&screening).unwrap();
        let (before, after) = heard.split_at(at.min(heard.len()));
        let to_come = |kind| u32::try_from(after.iter().filter(|row| row.kind == kind).count()).unwrap();
        let remaining = Remaining {
            main: to_come(PresentationKind::Main),
            checks: to_come(PresentationKind::Check),
            repeats: to_come(PresentationKind::Repeat),
        };
        if analysis::out_of_reach(&rules, before, &remaining).is_some() {
            for n in before.len()..=heard.len() {
                let nothing_more = Remaining::default();
                prop_assert!(analysis::out_of_reach(&rules, &heard[..n], &nothing_more).is_some());
            }
        }
    }
}
