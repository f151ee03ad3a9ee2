//! Words are left out before anybody judged them, with a reason that the report counts by phase.

use fairhearing::app;
use fairhearing::app::AppError;
use fairhearing::app::Now;
use fairhearing::study::Exclusion;
use fairhearing::study::Judgement::Correct;

use crate::program::run;
use crate::support::Study;
use crate::support::listen;

const LATER: Now = Now::at_ms(1_749_000_000_000);

fn exclude(study: &Study, word: &str, reason: Exclusion) -> Result<(), AppError> {
    app::exclude(&study.workspace, &[word.to_owned()], reason, LATER)
}

fn include(study: &Study, word: &str) -> Result<(), AppError> {
    app::include(&study.workspace, &[word.to_owned()], LATER)
}

#[track_caller]
fn check_whole(study: &Study) {
    let findings = app::verify(&study.workspace, &[]).unwrap().findings;
    assert_eq!(findings, Vec::<String>::new());
}

#[test]
fn an_excluded_word_is_not_sealed_and_the_report_counts_it_by_phase() {
    let mut study = Study::with().imported();
    exclude(&study, "word1.wav", Exclusion::Noise).unwrap();
    exclude(&study, "word12.wav", Exclusion::SaysAName).unwrap();
    exclude(&study, "word4.wav", Exclusion::Overlap).unwrap();
    include(&study, "word4.wav").unwrap();
    study.round = Some(study.seal(&study.with).unwrap());
    for link in study.links() {
        let mut heard = 0;
        listen(&study.workspace, link, |_| {
            heard += 1;
            Correct
        });
        // Ten of twelve words, with repeats of 15% of them, two checks, a practice and a warm-up.
        assert_eq!(heard, 10 + 2 + 2 + 1 + 1);
    }
    let round = study.round.as_ref().unwrap().round.clone();
    app::close(&study.workspace, &round, LATER).unwrap();
    app::unlock(&study.workspace, &round, LATER).unwrap();
    check_whole(&study);
    let out = study.audio().join("report");
    let (folder, out) = (study.folder(), out.to_str().unwrap());
    let report = [
        "report",
        "--workspace",
        folder.to_str().unwrap(),
        "--round",
        "spring",
    ];
    let ran = run(&[&report[..], &["--out", out]].concat(), "");
    assert_eq!(ran.status, 0, "{}", ran.err);
    let read = |name: &str| std::fs::read_to_string(format!("{out}/{name}")).unwrap();
    let counts = read("missing_by_phase.csv");
    assert!(counts.contains("baseline,excluded: noise,1"), "{counts}");
    assert!(
        counts.contains("treatment,excluded: says-a-name,1"),
        "{counts}"
    );
    assert!(!counts.contains("overlap"), "{counts}");
    assert!(read("report.html").contains("excluded: noise"));
    let rows = read("excluded.csv");
    assert!(rows.contains("C01,1,baseline,sail,noise"), "{rows}");
    let tokens = read("tokens.csv");
    let names: Vec<_> = tokens.lines().skip(1).map(|line| &line[..3]).collect();
    let wanted: Vec<_> = (1..=names.len()).map(|n| format!("T{n:02}")).collect();
    assert_eq!(names, wanted, "no gap in the codes");
}

#[test]
fn a_word_that_somebody_judged_stays() {
    let study = Study::with().sealed();
    let mut listener = study.listener(0);
    listener.begin();
    listener.judge_all(|_| Correct);
    let refused = exclude(&study, "word1.wav", Exclusion::Noise).unwrap_err();
    let said = refused.to_string();
    assert!(said.contains("word1.wav was judged already"), "{said}");
    assert!(app::excluded(&study.workspace).unwrap().is_empty());
    check_whole(&study);
}

#[test]
fn what_waits_of_an_excluded_word_in_an_open_round_is_dropped_and_may_come_again() {
    let study = Study::with().repeats(0.0).sealed();
    let mut first = study.listener(0);
    first.begin();
    exclude(&study, "word3.wav", Exclusion::Overlap).unwrap();
    let mut heard = 0;
    first.judge_all(|_| {
        heard += 1;
        Correct
    });
    assert_eq!(heard, 11 + 2 + 1 + 1, "eleven of twelve words are left");
    first.finish();
    include(&study, "word3.wav").unwrap();
    let mut second = study.listener(1);
    second.begin();
    let mut heard = 0;
    second.judge_all(|_| {
        heard += 1;
        Correct
    });
    assert_eq!(heard, 12 + 2 + 1 + 1);
    check_whole(&study);
}

#[test]
fn a_name_that_is_no_word_is_refused_and_nothing_is_excluded() {
    let study = Study::with().imported();
    let words = ["word1.wav".to_owned(), "word99.wav".to_owned()];
    let refused = app::exclude(&study.workspace, &words, Exclusion::Noise, LATER).unwrap_err();
    assert!(
        refused
            .to_string()
            .contains("no recording of this study is called word99.wav")
    );
    assert!(app::excluded(&study.workspace).unwrap().is_empty());
    let refused = include(&study, "word1.wav").unwrap_err();
    assert!(
        refused.to_string().contains("word1.wav is not excluded"),
        "{refused}"
    );
    let folder = study.folder();
    let folder = folder.to_str().unwrap();
    let said = run(&["exclude", "word1.wav", "--workspace", folder], "");
    assert!(said.refusal().contains("--reason"), "{}", said.err);
    let wrong = [
        "exclude",
        "word1.wav",
        "--reason",
        "ugly",
        "--workspace",
        folder,
    ];
    let said = run(&wrong, "");
    assert!(
        said.refusal().contains("noise, overlap, wrong-word"),
        "{}",
        said.err
    );
    let right = [
        "exclude",
        "word1.wav",
        "--reason",
        "cut-off",
        "--workspace",
        folder,
    ];
    let said = run(&right, "");
    assert!(
        said.out.contains("word1.wav  cut-off\n1 word left out."),
        "{}{}",
        said.out,
        said.err
    );
}
