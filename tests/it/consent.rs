//! Children and consent: nobody is heard whose family did not agree to it, and what the desk calls a
//! child stays at the desk.

use std::path::Path;

use fairhearing::app;
use fairhearing::app::AppError;
use fairhearing::app::Now;
use fairhearing::app::listening;
use fairhearing::study::Assent;
use fairhearing::study::ChildCode;
use fairhearing::study::Consent;
use fairhearing::study::ConsentVersion;
use fairhearing::study::Judgement::Correct;
use fairhearing::study::Judgement::Distorted;

use crate::program::run;
use crate::support::Labels;
use crate::support::Study;
use crate::support::With;
use crate::support::listen;

const LATER: Now = Now::at_ms(1_749_000_000_000);

fn code(text: &str) -> ChildCode {
    ChildCode::new(text).unwrap()
}

fn consent(scopes: &str) -> Consent {
    Consent {
        version: ConsentVersion::new("2").unwrap(),
        given_on: "2025-01-05".parse().unwrap(),
        scopes: scopes.parse().unwrap(),
        assent: Assent::Given,
        keep_until: None,
    }
}

fn note(study: &Study, child: &str, consent: &Consent) -> Result<(), AppError> {
    app::record_consent(&study.workspace, &code(child), consent, LATER)
}

/// A study whose families were not asked yet.
fn unasked(with: With) -> Study {
    let study = with.made();
    study.import().unwrap();
    study
}

/// Seals the study's plan for that kind of listener.
fn seal_for(study: &Study, kind: &str) -> Result<app::Sealed, AppError> {
    let plan = study.with.plan();
    let plan = plan.replace("[listeners]\n", &format!("[listeners]\nkind = {kind:?}\n"));
    std::fs::write(study.plan(), plan).unwrap();
    app::seal_round(&study.workspace, &study.plan(), LATER)
}

#[track_caller]
fn check_refused(study: &Study, kind: &str, wanted: &[&str]) {
    let before = study.events().len();
    let refused = seal_for(study, kind).unwrap_err();
    let said = refused.to_string();
    assert!(refused.is_the_askers(), "{said}");
    for part in wanted {
        assert!(said.contains(part), "`{part}` is not in:\n{said}");
    }
    assert_eq!(study.events().len(), before, "something was sealed");
}

#[test]
fn a_round_is_sealed_only_with_a_consent_that_allows_it() {
    let study = unasked(Study::with());
    check_refused(
        &study,
        "naive",
        &[
            "no consent is noted for C01",
            "no consent is noted for C02",
            "`remote`",
        ],
    );
    note(&study, "C01", &consent("remote")).unwrap();
    note(&study, "C02", &consent("staff research example")).unwrap();
    check_refused(
        &study,
        "naive",
        &["the consent of C02 (version 2) does not hold the scope `remote`"],
    );
    check_refused(
        &study,
        "expert",
        &["the consent of C01 (version 2) does not hold the scope `research` or `staff`"],
    );
    note(&study, "C01", &consent("staff")).unwrap();
    seal_for(&study, "expert").unwrap();
}

#[test]
fn the_last_consent_holds_and_a_child_who_refuses_is_not_heard() {
    let study = unasked(Study::with());
    for child in ["C01", "C02"] {
        note(&study, child, &consent("remote")).unwrap();
    }
    let refused = Consent {
        assent: Assent::Refused,
        ..consent("remote")
    };
    note(&study, "C02", &refused).unwrap();
    check_refused(&study, "naive", &["C02 does not want to be heard"]);
    note(&study, "C02", &consent("remote")).unwrap();
    seal_for(&study, "naive").unwrap();
    let findings = app::verify(&study.workspace, &[]).unwrap().findings;
    assert_eq!(findings, Vec::<String>::new());
}

#[test]
fn who_speaks_examples_must_have_agreed_to_that() {
    let mut labels = Labels::plain();
    labels.speaker = Some("S09".to_owned());
    let study = unasked(Study::with().labels(labels));
    for child in ["C01", "C02", "S09"] {
        note(&study, child, &consent("remote")).unwrap();
    }
    check_refused(
        &study,
        "naive",
        &["the consent of S09 (version 2) does not hold the scope `example`"],
    );
    note(&study, "S09", &consent("example")).unwrap();
    seal_for(&study, "naive").unwrap();
}

#[test]
fn a_consent_is_not_narrowed_under_an_open_round() {
    let study = Study::with().sealed();
    let refused = note(&study, "C01", &consent("research")).unwrap_err();
    let said = refused.to_string();
    assert!(
        said.contains("round spring is open and plays C01"),
        "{said}"
    );
    assert!(said.contains("withdraw"), "{said}");
    app::stop_using_child(&study.workspace, &code("C01"), LATER).unwrap();
    note(&study, "C01", &consent("research")).unwrap();
}

#[test]
fn a_table_of_consents_is_noted_whole_or_not_at_all() {
    let study = unasked(Study::with());
    let table = study.audio().join("consents.csv");
    let record = |rows: &str| {
        let text = format!("child,version,date,scope,assent,keep_until\n{rows}");
        std::fs::write(&table, text).unwrap();
        app::record_consents(&study.workspace, &table, LATER)
    };
    let said = record(
        "C01,2,2025-01-05,remote,given,\n\
         C02,2,5.1.2025,remote,given,\n\
         C02,2,2025-01-05,everybody,maybe,2024-12-31\n\
         C01,2,2025-01-05,remote,given,\n",
    )
    .unwrap_err()
    .to_string();
    for part in [
        "csv:3:date: `5.1.2025` is no date",
        "csv:4:scope: this is no scope of a consent; write one of staff, research, remote, example",
        "csv:4:assent",
        "csv:5:child: this child was already in line 2",
    ] {
        assert!(said.contains(part), "`{part}` is not in:\n{said}");
    }
    let unknown = record("C01,2,2025-01-05,remote,given,\nC77,2,2025-01-05,remote,given,\n");
    let said = unknown.unwrap_err().to_string();
    assert!(
        said.contains("csv:3:child: the study has no child of that code"),
        "{said}"
    );
    assert!(
        app::children(&study.workspace)
            .unwrap()
            .iter()
            .all(|child| child.consent.is_none())
    );
    let rows =
        "C01,2,2025-01-05,remote,given,\nC02,2,2025-01-05,remote staff,not-asked,2031-01-01\n";
    assert_eq!(record(rows).unwrap(), 2);
    assert_eq!(
        record(rows).unwrap(),
        0,
        "noting the same again adds nothing"
    );
}

#[test]
fn a_retention_date_that_passed_is_said() {
    let study = Study::with().imported();
    let short = Consent {
        keep_until: Some("2025-05-31".parse().unwrap()),
        ..consent("remote")
    };
    note(&study, "C01", &short).unwrap();
    let on = |day: &str| {
        let moment: jiff::Timestamp = format!("{day}T12:00:00Z").parse().unwrap();
        app::notices(&study.workspace, Now::at_ms(moment.as_millisecond())).unwrap()
    };
    assert_eq!(on("2025-05-31"), Vec::<String>::new());
    let said = on("2025-06-01");
    assert_eq!(said.len(), 1, "{said:?}");
    assert!(
        said[0].contains("C01 were to be kept until 2025-05-31"),
        "{said:?}"
    );
    let sealed = seal_for(&study, "naive").unwrap();
    assert_eq!(sealed.notices[..1], said);
}

#[test]
fn consents_that_changed_their_order_are_found() {
    let study = unasked(Study::with());
    note(&study, "C01", &consent("remote")).unwrap();
    note(&study, "C01", &consent("")).unwrap();
    let file = rusqlite::Connection::open(study.database()).unwrap();
    file.execute_batch("UPDATE consent SET id = 9 WHERE id = 1")
        .unwrap();
    let findings = app::verify(&study.workspace, &[]).unwrap().findings;
    assert_eq!(findings.len(), 1, "{findings:?}");
    assert!(findings[0].contains("consent"), "{findings:?}");
}

#[test]
fn a_child_who_was_added_first_gets_her_cohort_with_her_recordings() {
    let study = Study::with().made();
    app::add_child(&study.workspace, &code("C01"), None).unwrap();
    let again = app::add_child(&study.workspace, &code("C01"), None).unwrap_err();
    assert!(
        again.to_string().contains("has a child C01 already"),
        "{again}"
    );
    note(&study, "C01", &consent("remote")).unwrap();
    study.import().unwrap();
    study.import().unwrap();
    let recorded = app::recorded(&study.workspace).unwrap();
    assert_eq!(recorded.children[0].cohort.as_deref(), Some("cued"));
}

/// Every file under a folder, by name, as text.
fn files_under(folder: &Path) -> Vec<(String, String)> {
    let mut files = Vec::new();
    for entry in std::fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            files.extend(files_under(&path));
        } else {
            let bytes = std::fs::read(&path).unwrap();
            files.push((
                path.display().to_string(),
                String::from_utf8_lossy(&bytes).into_owned(),
            ));
        }
    }
    files
}

#[test]
fn a_label_never_leaves_the_desk() {
    const LABEL: &str = "ZQXLABELOFACHILDXQZ";
    let study = Study::with().sealed();
    let label = LABEL.parse().unwrap();
    app::label_child(&study.workspace, &code("C01"), Some(&label)).unwrap();
    listen(&study.workspace, &study.links()[0], |_| Correct);
    listen(&study.workspace, &study.links()[1], |_| Distorted);
    let mut third = study.listener(0);
    let now = third.now();
    let visit = listening::visit(&study.workspace, &third.cookie, now).unwrap();
    let progress = app::progress(&study.workspace).unwrap();
    let round = study.round.as_ref().unwrap().round.clone();
    app::close(&study.workspace, &round, LATER).unwrap();
    app::unlock(&study.workspace, &round, LATER).unwrap();
    let mut said = vec![
        ("a visit".to_owned(), format!("{visit:?}")),
        (
            "progress".to_owned(),
            serde_json::to_string(&progress).unwrap(),
        ),
        ("the log".to_owned(), format!("{:?}", study.events())),
        (
            "what was recorded".to_owned(),
            format!("{:?}", app::recorded(&study.workspace)),
        ),
        ("the seal".to_owned(), format!("{:?}", study.round)),
    ];
    let folder = study.folder();
    let folder = folder.to_str().unwrap();
    let outside = tempfile::tempdir().unwrap();
    for (command, more) in [
        ("export", None),
        ("report", None),
        ("report", Some("--share")),
    ] {
        let out = outside
            .path()
            .join(format!("{command}{}", more.unwrap_or_default()));
        let mut arguments = vec![command, "--workspace", folder, "--round", "spring", "--out"];
        arguments.push(out.to_str().unwrap());
        arguments.extend(more);
        let ran = run(&arguments, "");
        assert_eq!(ran.status, 0, "{}", ran.err);
        said.push((command.to_owned(), ran.out + &ran.err));
    }
    let verified = run(&["verify", "--json", "--workspace", folder], "");
    said.push(("verify".to_owned(), verified.out + &verified.err));
    said.extend(files_under(outside.path()));
    assert!(said.len() > 40, "{} things were looked at", said.len());
    for (what, text) in said {
        assert!(!text.contains(LABEL), "the label is in {what}");
    }
    let desk = run(&["child", "list", "--workspace", folder], "");
    assert!(desk.out.contains(LABEL), "{}{}", desk.out, desk.err);
}
