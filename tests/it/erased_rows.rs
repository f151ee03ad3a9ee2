//! What an erasure takes beside recordings: who was drawn, who was barred late, what a listener said
//! at the end; and what nobody hears any more.

use fairhearing::app;
use fairhearing::app::Again;
use fairhearing::app::Invitation;
use fairhearing::app::Now;
use fairhearing::app::listening;
use fairhearing::app::listening::ClosingAnswers;
use fairhearing::store::StoreError;
use fairhearing::study::ChildCode;
use fairhearing::study::Judgement::Correct;
use fairhearing::study::ListenerKind;

use crate::support::Labels;
use crate::support::Study;
use crate::support::found;

const LATER: Now = Now::at_ms(1_749_000_000_000);

fn code(text: &str) -> ChildCode {
    ChildCode::new(text).unwrap()
}

#[track_caller]
fn check_whole(study: &Study) {
    let findings = app::verify(&study.workspace, &[]).unwrap().findings;
    assert_eq!(findings, Vec::<String>::new());
}

/// A child who was drawn before anything was recorded of her.
const NEVER_RECORDED: &str = "ZQXDRAWNXQZ";

/// Draws for three children of the study, and one who was never recorded.
fn draw(study: &Study) {
    let plan = study.audio().join("draw.toml");
    let text = format!(
        "children = [{{ code = \"C01\" }}, {{ code = \"C02\" }}, {{ code = \"C03\" }}, \
         {{ code = \"{NEVER_RECORDED}\" }}]\n\
         [draw]\ndesign = \"cohorts\"\ncohorts = [\"cued\", \"free\"]\n\
         [contrast]\nfrom = \"baseline\"\nto = \"treatment\"\n"
    );
    std::fs::write(&plan, text).unwrap();
    app::assign(&study.workspace, &plan, Again::No, LATER).unwrap();
}

#[test]
fn a_child_who_was_drawn_and_barred_late_is_erased_and_the_draw_stays() {
    let study = Study::with().children(3).labels(Labels::plain()).sealed();
    draw(&study);
    let wanted = Invitation {
        listeners: 1,
        bars: vec![code("C01")],
        ..Invitation::default()
    };
    let round = study.round.as_ref().unwrap().round.clone();
    app::invite(&study.workspace, &round, &wanted, LATER).unwrap();
    let searched = [("code".to_owned(), NEVER_RECORDED.as_bytes().to_vec())];
    assert!(!found(&study.folder(), &searched).is_empty());
    for child in ["C01", NEVER_RECORDED] {
        app::erase_child(&study.workspace, &code(child), LATER).unwrap();
        check_whole(&study);
    }
    assert_eq!(found(&study.folder(), &searched), [].into());
    let again = app::erase_child(&study.workspace, &code("C01"), LATER).unwrap_err();
    assert!(again.to_string().contains("no child C01"), "{again}");
    // What is left of the draw is still held against its seal.
    let file = rusqlite::Connection::open(study.database()).unwrap();
    file.execute_batch("DELETE FROM assigned_child WHERE code = 'C02'")
        .unwrap();
    let findings = app::verify(&study.workspace, &[]).unwrap().findings;
    assert!(
        findings.iter().any(|said| said.ends_with("and is gone")),
        "{findings:?}"
    );
}

/// What a listener writes at the end.
const REMARK: &str = "ZQXREMARKOFALISTENERXQZ";

#[test]
fn what_a_listener_said_at_the_end_goes_with_her() {
    let study = Study::with().judgements(1).sealed();
    let mut listener = study.listener(0);
    listener.begin();
    listener.judge_all(|_| Correct);
    let answers = ClosingAnswers {
        remark: Some(REMARK.to_owned()),
        ..ClosingAnswers::default()
    };
    let now = listener.now();
    let receipt = listening::finish(&study.workspace, &listener.cookie, &answers, now).unwrap();
    check_whole(&study);
    let searched = [("remark".to_owned(), REMARK.as_bytes().to_vec())];
    assert!(!found(&study.folder(), &searched).is_empty());
    let told = study
        .events()
        .iter()
        .any(|event| event.body.as_str().contains(REMARK));
    assert!(!told, "no event holds what she said");
    let file = rusqlite::Connection::open(study.database()).unwrap();
    file.execute_batch("UPDATE enrolment SET closing = replace(closing, 'ZQX', 'QQX')")
        .unwrap();
    let findings = app::verify(&study.workspace, &[]).unwrap().findings;
    assert!(
        findings.iter().any(|said| said.contains("said at the end")),
        "{findings:?}"
    );
    file.execute_batch("UPDATE enrolment SET closing = replace(closing, 'QQX', 'ZQX')")
        .unwrap();
    drop(file);
    // She withdrew first; that is told by the log too.
    app::withdraw_listener(&study.workspace, &receipt, LATER).unwrap();
    let own = &study.links()[0].listener;
    app::erase_listener(&study.workspace, own, LATER).unwrap();
    check_whole(&study);
    assert_eq!(found(&study.folder(), &searched), [].into());
}

#[test]
fn a_word_that_goes_out_of_use_is_not_played_again_though_it_was_the_last_one() {
    let study = Study::with()
        .children(1)
        .checks(0)
        .practice(0)
        .warm_ups(0)
        .sealed();
    let mut listener = study.listener(0);
    listener.begin();
    let last = listener.current().unwrap().id;
    listener.judge(last, Correct);
    let now = listener.now();
    listening::audio(&study.workspace, &listener.cookie, last, now).unwrap();
    app::stop_using_child(&study.workspace, &code(&study.with.child(0)), now).unwrap();
    listening::audio(&study.workspace, &listener.cookie, last, now).unwrap_err();
}

#[test]
fn nobody_is_invited_to_hear_what_no_consent_allows() {
    let study = Study::with().labels(Labels::plain()).made();
    study.import().unwrap();
    let rows = "child,version,date,scope,assent,keep_until\n\
                C01,2,2025-01-05,research example,given,\n\
                C02,2,2025-01-05,research example,given,\n";
    let table = study.audio().join("consents.csv");
    std::fs::write(&table, rows).unwrap();
    app::record_consents(&study.workspace, &table, Now::at_ms(1_748_851_200_001)).unwrap();
    let plan = study
        .with
        .plan()
        .replace("[listeners]\n", "[listeners]\nkind = \"expert\"\n");
    std::fs::write(study.plan(), plan).unwrap();
    let sealed = app::seal_round(&study.workspace, &study.plan(), LATER).unwrap();
    let lay = Invitation {
        open: Some(3),
        kind: Some(ListenerKind::Naive),
        ..Invitation::default()
    };
    let refused = app::invite(&study.workspace, &sealed.round, &lay, LATER).unwrap_err();
    assert!(refused.is_the_askers(), "{refused}");
    assert!(refused.to_string().contains("`remote`"), "{refused}");
    let links = study.store().read(|reading| {
        let round = reading.round_named(&sealed.round)?.unwrap();
        Ok::<_, StoreError>(reading.open_links(round.id)?.len())
    });
    assert_eq!(links.unwrap(), 0);
    let expert = Invitation { kind: None, ..lay };
    app::invite(&study.workspace, &sealed.round, &expert, LATER).unwrap();
}
