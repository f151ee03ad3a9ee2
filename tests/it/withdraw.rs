//! A child leaves the study: out of use, or erased to the last byte; a listener is erased.

use std::collections::BTreeSet;

use fairhearing::app;
use fairhearing::app::Invitation;
use fairhearing::app::Now;
use fairhearing::app::WhichLink;
use fairhearing::app::Workspace;
use fairhearing::app::listening::ListeningError;
use fairhearing::store::StoreError;
use fairhearing::study::ChildCode;
use fairhearing::study::Exclusion;
use fairhearing::study::JudgeCode;
use fairhearing::study::Judgement::Correct;
use fairhearing::study::Judgement::Distorted;
use fairhearing::study::KnownAnswer;

use crate::program::run;
use crate::support::LABEL;
use crate::support::Labels;
use crate::support::Study;
use crate::support::answered;
use crate::support::deviations_of;
use crate::support::files_under;
use crate::support::found;
use crate::support::listen;
use crate::support::traces;

const LATER: Now = Now::at_ms(1_749_000_000_000);

fn code(text: &str) -> ChildCode {
    ChildCode::new(text).unwrap()
}

#[track_caller]
fn check_whole(workspace: &Workspace) {
    let findings = app::verify(workspace, &[]).unwrap().findings;
    assert_eq!(findings, Vec::<String>::new());
}

fn unlock(study: &Study) {
    let round = study.round.as_ref().unwrap().round.clone();
    app::close(&study.workspace, &round, LATER).unwrap();
    app::unlock(&study.workspace, &round, LATER).unwrap();
}

/// A study with everything noted of its first child that can be noted, sealed and heard.
fn lived_in() -> Study {
    let mut labels = Labels::markers();
    // Checks, practice and warm-ups are spoken by the first child too.
    labels.speaker = Some(format!("{}1", labels.child));
    let study = Study::with()
        .labels(labels)
        .bar(2, 0)
        .children(3)
        .judgements(1);
    let mut study = study.imported();
    let first = code(&study.with.child(0));
    let label = LABEL.parse().unwrap();
    app::label_child(&study.workspace, &first, Some(&label)).unwrap();
    let file = |number: u32| format!("{}{number}.wav", study.with.labels.file);
    app::exclude(&study.workspace, &[file(2)], Exclusion::Overlap, LATER).unwrap();
    let judge = JudgeCode::new("second").unwrap();
    app::answer(
        &study.workspace,
        &file(19),
        &judge,
        KnownAnswer::Correct,
        LATER,
    )
    .unwrap();
    app::accept_single_judge(&study.workspace, &[file(20)], "nobody else", LATER).unwrap();
    study.round = Some(study.seal(&study.with).unwrap());
    study
}

/// The same, heard to the end and unlocked, with exports and copies in its folder.
fn unlocked() -> Study {
    let study = lived_in();
    listen(&study.workspace, &study.links()[0], |_| Correct);
    listen(&study.workspace, &study.links()[1], |_| Distorted);
    unlock(&study);
    let folder = study.folder();
    for more in [&["report"][..], &["export"], &["export", "--share"]] {
        let out = folder.join("old").join(more.concat());
        let mut arguments = more.to_vec();
        arguments.extend(["--workspace", folder.to_str().unwrap(), "--round", "spring"]);
        arguments.extend(["--out", out.to_str().unwrap()]);
        let ran = run(&arguments, "");
        assert_eq!(ran.status, 0, "{}", ran.err);
    }
    std::fs::copy(study.manifest(), folder.join("words.csv")).unwrap();
    let recording = study
        .audio()
        .join(format!("{}3.wav", study.with.labels.file));
    std::fs::copy(recording, folder.join("copy of a sound.wav")).unwrap();
    std::fs::write(folder.join("other.txt"), "nothing of hers").unwrap();
    study
}

#[test]
fn nothing_of_an_erased_child_is_found_in_any_byte_of_the_study() {
    let study = unlocked();
    let traces = traces(&study);
    assert!(
        found(&study.folder(), &traces).len() > 20,
        "the search finds what is there"
    );
    let first = code(&study.with.child(0));
    let preview = app::preview_withdrawal(&study.workspace, &first).unwrap();
    assert_eq!(
        (preview.recordings, preview.helpers, preview.consents),
        (10, 4, 1)
    );
    assert_eq!(preview.rounds[0].words, 9);
    assert_eq!(preview.changed_files, ["words.csv"]);
    assert!(
        preview
            .removed_files
            .contains(&"copy of a sound.wav".to_owned())
    );
    let erased = app::erase_child(&study.workspace, &first, LATER).unwrap();
    assert_eq!(erased.recordings, 10);
    assert!(erased.judgements > 5, "{erased:?}");
    assert_eq!(found(&study.folder(), &traces), BTreeSet::new());
    let words = std::fs::read_to_string(study.folder().join("words.csv")).unwrap();
    assert_eq!(words.lines().count(), 1 + 14, "the rows of others stay");
    assert!(study.folder().join("other.txt").exists());
    assert!(files_under(&study.folder().join("old")).is_empty());
    check_whole(&study.workspace);
    let receipt = [erased.receipt];
    assert!(
        app::verify(&study.workspace, &receipt)
            .unwrap()
            .findings
            .is_empty()
    );
}

#[test]
fn results_are_computed_again_and_no_gap_tells_of_the_child() {
    let study = unlocked();
    let first = study.with.child(0);
    app::erase_child(&study.workspace, &code(&first), LATER).unwrap();
    let unlocked = app::unlocked(&study.workspace, &"spring".parse().unwrap()).unwrap();
    let findings = app::findings(&study.workspace, &unlocked).unwrap();
    let children: BTreeSet<_> = findings
        .round
        .outcome
        .sessions
        .iter()
        .map(|session| session.child.clone())
        .collect();
    assert_eq!(
        children,
        BTreeSet::from([study.with.child(1), study.with.child(2)])
    );
    let tokens = findings
        .tables
        .iter()
        .find(|file| file.name == "tokens.csv")
        .unwrap();
    let tokens = String::from_utf8(tokens.content.clone()).unwrap();
    let names: Vec<_> = tokens
        .lines()
        .skip(1)
        .map(|line| line[..3].to_owned())
        .collect();
    let wanted: Vec<_> = (1..=14).map(|n| format!("T{n:02}")).collect();
    assert_eq!(names, wanted);
    let told = deviations_of(&findings.round);
    assert!(told.contains("a child was withdrawn"), "{told}");
    assert!(!told.contains(&first), "{told}");
}

#[test]
fn the_log_says_that_it_happened_and_not_who() {
    let study = unlocked();
    let before = study.events().len();
    app::erase_child(&study.workspace, &code(&study.with.child(1)), LATER).unwrap();
    let events = study.events();
    let told: Vec<_> = events[before..]
        .iter()
        .map(|event| event.kind.as_str())
        .collect();
    assert_eq!(told, ["child erased"]);
    let body = events[before].body.as_str();
    assert_eq!(body.len(), r#"{"gone":"","plans":{}}"#.len() + 64, "{body}");
}

#[test]
fn after_an_erasure_tampering_is_found_as_before() {
    let study = unlocked();
    app::erase_child(&study.workspace, &code(&study.with.child(0)), LATER).unwrap();
    let file = rusqlite::Connection::open(study.database()).unwrap();
    for (harm, mend) in [
        ("UPDATE gone SET item = 'x' || item", "UPDATE gone SET item = substr(item, 2)"),
        ("INSERT INTO gone VALUES ('token 1 of spring.')", "DELETE FROM gone WHERE item LIKE '%.'"),
        ("UPDATE judgement SET rt_ms = rt_ms + 1", "UPDATE judgement SET rt_ms = rt_ms - 1"),
        (
            "CREATE TABLE kept AS SELECT * FROM judgement WHERE id = (SELECT max(id) FROM judgement);
             DELETE FROM judgement WHERE id = (SELECT id FROM kept)",
            "INSERT INTO judgement SELECT * FROM kept; DROP TABLE kept",
        ),
        (
            "UPDATE round SET plan = replace(plan, '\"listeners\":{\"bars\":[]', '\"listeners\":{\"bars\":[{\"child\":\"X\",\"listener\":1}]')",
            "UPDATE round SET plan = replace(plan, '{\"child\":\"X\",\"listener\":1}', '')",
        ),
    ] {
        file.execute_batch(harm).unwrap();
        let findings = app::verify(&study.workspace, &[]).unwrap().findings;
        assert!(!findings.is_empty(), "{harm}");
        file.execute_batch(mend).unwrap();
        check_whole(&study.workspace);
    }
}

#[test]
fn a_child_is_erased_before_any_round_and_twice_over() {
    let study = Study::with().children(3).imported();
    for child in ["C01", "C03"] {
        app::erase_child(&study.workspace, &code(child), LATER).unwrap();
        check_whole(&study.workspace);
    }
    let again = app::erase_child(&study.workspace, &code("C01"), LATER).unwrap_err();
    assert!(
        again.to_string().contains("the study has no child C01"),
        "{again}"
    );
    assert!(again.is_the_askers());
    let left = app::recorded(&study.workspace).unwrap().children;
    assert_eq!(
        left.iter()
            .map(|child| child.code.as_str())
            .collect::<Vec<_>>(),
        ["C02"]
    );
    // Her recordings may come again, should the family wish it.
    assert_eq!(study.import().unwrap().added, 12);
    check_whole(&study.workspace);
}

/// A listener in the middle of a sitting while her child leaves by `leave`.
fn leave_during(leave: impl Fn(&Study)) -> Study {
    let study = Study::with().children(3).sittings(1).sealed();
    let mut first = study.listener(0);
    first.begin();
    let word = first.current().unwrap().id;
    first.judge(word, Correct);
    let waiting: Vec<_> = first.ahead().iter().map(|one| one.id).collect();
    leave(&study);
    let refused = waiting
        .iter()
        .map(|id| first.try_judge(*id, answered(Correct, 1)))
        .find_map(Result::err);
    // Whether one of the three ahead was hers is chance; what is refused is refused quietly.
    assert!(
        refused.is_none()
            || matches!(
                refused,
                Some(ListeningError::NotHere | ListeningError::OutOfOrder)
            ),
        "{refused:?}"
    );
    first.judge_all(|_| Correct);
    first.finish();
    listen(&study.workspace, &study.links()[1], |_| Distorted);
    check_whole(&study.workspace);
    study
}

fn children_in_results(study: &Study) -> Vec<String> {
    unlock(study);
    let unlocked = app::unlocked(&study.workspace, &"spring".parse().unwrap()).unwrap();
    let record = app::record(&study.workspace, &unlocked).unwrap();
    let children: BTreeSet<_> = record
        .tokens
        .iter()
        .filter_map(|token| token.key.child.as_ref())
        .map(ToString::to_string)
        .collect();
    let heard: BTreeSet<_> = record.presentations.iter().map(|row| &row.token).collect();
    let known: BTreeSet<_> = record.tokens.iter().map(|token| &token.name).collect();
    assert!(heard.is_subset(&known));
    children.into_iter().collect()
}

#[test]
fn in_an_open_round_what_waits_of_a_child_is_dropped_quietly() {
    let erased = leave_during(|study| {
        app::erase_child(&study.workspace, &code("C02"), LATER).unwrap();
    });
    assert_eq!(children_in_results(&erased), ["C01", "C03"]);
    let stopped = leave_during(|study| {
        app::stop_using_child(&study.workspace, &code("C02"), LATER).unwrap();
    });
    assert_eq!(children_in_results(&stopped), ["C01", "C03"]);
    let progress = app::progress(&stopped.workspace).unwrap();
    assert_eq!(progress[0].tokens, 12, "her words are not waited for");
}

#[test]
fn a_listener_whose_every_word_was_erased_goes_on_to_the_end() {
    let study = Study::with()
        .children(1)
        .checks(0)
        .practice(0)
        .warm_ups(0)
        .repeats(0.0)
        .sealed();
    let mut listener = study.listener(0);
    listener.begin();
    app::stop_using_child(&study.workspace, &code("C01"), LATER).unwrap();
    assert_eq!(listener.current().map(|one| one.id), None);
    listener.finish();
    check_whole(&study.workspace);
}

#[test]
fn out_of_use_is_kept_and_in_nothing() {
    let study = unlocked();
    let first = code(&study.with.child(0));
    let before = study.judgements().len();
    app::stop_using_child(&study.workspace, &first, LATER).unwrap();
    assert_eq!(study.judgements().len(), before);
    check_whole(&study.workspace);
    let twice = app::stop_using_child(&study.workspace, &first, LATER).unwrap_err();
    assert!(twice.to_string().contains("out of use already"), "{twice}");
    let unlocked = app::unlocked(&study.workspace, &"spring".parse().unwrap()).unwrap();
    let findings = app::findings(&study.workspace, &unlocked).unwrap();
    // The plan is what it was: it may name her in a bar.
    for file in findings
        .tables
        .iter()
        .filter(|file| file.name != "plan.toml")
    {
        let text = String::from_utf8_lossy(&file.content);
        assert!(!text.contains(first.as_str()), "{}", file.name);
    }
    let again = Study::with()
        .round("autumn")
        .checks(0)
        .practice(0)
        .warm_ups(0);
    let plan = again.labels(study.with.labels.clone()).plan();
    std::fs::write(study.plan(), plan).unwrap();
    app::seal_round(&study.workspace, &study.plan(), LATER).unwrap();
    let speakers = study.store().read(|reading| {
        let rows = reading.round_tokens(reading.rounds()?.pop().unwrap().id)?;
        Ok::<BTreeSet<_>, StoreError>(rows.iter().filter_map(|row| row.child).collect())
    });
    assert_eq!(speakers.unwrap().len(), 2, "the two others speak");
    app::erase_child(&study.workspace, &first, LATER).unwrap();
    check_whole(&study.workspace);
}

#[test]
fn a_listener_is_erased_with_all_that_she_said() {
    let study = Study::with().bar(1, 0).judgements(1).sealed();
    listen(&study.workspace, &study.links()[0], |_| Correct);
    listen(&study.workspace, &study.links()[1], |_| Distorted);
    unlock(&study);
    let gone = study.links()[0].listener.clone();
    let erased = app::erase_listener(&study.workspace, &gone, LATER).unwrap();
    assert!(erased.judgements > 5, "{erased:?}");
    check_whole(&study.workspace);
    let again = app::erase_listener(&study.workspace, &gone, LATER).unwrap_err();
    assert!(again.to_string().contains("has no listener"), "{again}");
    let unlocked = app::unlocked(&study.workspace, &"spring".parse().unwrap()).unwrap();
    let record = app::record(&study.workspace, &unlocked).unwrap();
    assert!(record.presentations.iter().all(|row| row.listener != gone));
    let file = rusqlite::Connection::open(study.database()).unwrap();
    file.execute_batch("DELETE FROM sitting").unwrap();
    assert!(
        !app::verify(&study.workspace, &[])
            .unwrap()
            .findings
            .is_empty()
    );
}

/// A kill, or a full disk, may leave something of one erasure to be done; no other erasure may forget it.
#[test]
fn what_one_erasure_left_undone_the_next_one_does_first() {
    let study = Study::with().sealed();
    let left = study.workspace.folder().join("exports/left/tokens.csv");
    let waiting = study.workspace.folder().join("staging/upload.wav");
    for file in [&left, &waiting] {
        std::fs::create_dir_all(file.parent().unwrap()).unwrap();
        std::fs::write(file, "C01").unwrap();
    }
    let rows = rusqlite::Connection::open(study.database()).unwrap();
    let undone = "INSERT INTO unfinished_erasure (path) VALUES ('remove exports/left/tokens.csv')";
    rows.execute(undone, []).unwrap();
    let listener = study.links()[0].listener.clone();
    app::erase_listener(&study.workspace, &listener, LATER).unwrap();
    assert!(!left.exists());
    assert!(
        waiting.exists(),
        "no recording is a listener's, so that what waits stays"
    );
    let noted: u32 = rows
        .query_row("SELECT count(*) FROM unfinished_erasure", [], |row| {
            row.get(0)
        })
        .unwrap();
    assert_eq!(noted, 0);
    check_whole(&study.workspace);
}

/// Else two listeners would draw their orders from one stream, and the log would tell two people by one number.
#[test]
fn what_was_dealt_to_an_erased_listener_is_dealt_to_nobody_again() {
    let study = Study::with().listeners(3).judgements(1).sealed();
    let round = study.round.as_ref().unwrap().round.clone();
    let [first, second, third] = study.links() else {
        panic!("three listeners");
    };
    listen(&study.workspace, first, |_| Correct);
    listen(&study.workspace, second, |_| Correct);
    app::erase_listener(&study.workspace, &first.listener, LATER).unwrap();
    listen(&study.workspace, third, |_| Correct);
    let file = rusqlite::Connection::open(study.database()).unwrap();
    let mut streams = file
        .prepare("SELECT stream FROM sitting ORDER BY id")
        .unwrap();
    let streams = streams.query_map([], |row| row.get(0)).unwrap();
    let streams: Vec<u32> = streams.map(Result::unwrap).collect();
    assert_eq!(streams, [2, 3]);

    let one = Invitation {
        listeners: 1,
        ..Invitation::default()
    };
    let invited = app::invite(&study.workspace, &round, &one, LATER).unwrap();
    let link = &invited.links[0];
    let which = WhichLink::Personal(link.number);
    app::revoke(&study.workspace, &round, which, LATER).unwrap();
    app::erase_listener(&study.workspace, &link.listener, LATER).unwrap();
    let next = app::invite(&study.workspace, &round, &one, LATER).unwrap();
    assert_eq!((link.number, next.links[0].number), (4, 5));
    check_whole(&study.workspace);

    // As the file of an earlier program is, whose newest listener was erased before it came here.
    let newest = &next.links[0].listener;
    app::erase_listener(&study.workspace, newest, LATER).unwrap();
    file.execute("UPDATE round SET last_number = 3", [])
        .unwrap();
    check_whole(&study.workspace);
}

#[test]
fn the_command_asks_first_and_gives_the_family_a_page_that_names_nobody() {
    let study = unlocked();
    let folder = study.folder();
    let (folder, child) = (folder.to_str().unwrap(), study.with.child(0));
    let page = study.audio().join("family.html");
    let erase = [
        "withdraw",
        "--workspace",
        folder,
        "--child",
        &child,
        "--how",
        "erase",
    ];
    let asked = run(&erase, "");
    assert_eq!(asked.status, 0, "{}", asked.err);
    for said in [
        "10 recordings, 4 of them for checks",
        "Round spring (unlocked): 9 words",
        "words.csv",
        "add --yes",
    ] {
        assert!(
            asked.out.contains(said),
            "`{said}` is not in:\n{}",
            asked.out
        );
    }
    let place = tempfile::tempdir().unwrap();
    let to = place.path().join("backup");
    app::back_up(&study.workspace, &to, LATER).unwrap();
    let done = run(
        &[&erase[..], &["--yes", "--page", page.to_str().unwrap()]].concat(),
        "",
    );
    assert_eq!(done.status, 0, "{}", done.err);
    assert!(done.out.contains("Copies out of reach"), "{}", done.out);
    assert!(done.out.contains(to.to_str().unwrap()), "{}", done.out);
    let page = std::fs::read_to_string(page).unwrap();
    assert!(page.contains("10 recordings"), "{page}");
    assert!(page.contains("a safety copy of the study"), "{page}");
    assert!(!page.contains(&child) && !page.contains(LABEL), "{page}");
    check_whole(&study.workspace);
}
