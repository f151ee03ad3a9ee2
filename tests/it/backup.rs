//! Backup and restore: a copy made while listeners judge is a whole study, and a damaged one is refused.

use std::collections::BTreeMap;
use std::path::Path;
use std::sync::atomic::AtomicUsize;
use std::sync::atomic::Ordering;
use std::time::Duration;

use fairhearing::app;
use fairhearing::app::Now;
use fairhearing::app::Workspace;
use fairhearing::study::Judgement::Correct;
use fairhearing::study::Judgement::Distorted;

use crate::program::run;
use crate::support::Listener;
use crate::support::Study;
use crate::support::listen;

const LATER: Now = Now::at_ms(1_749_000_000_000);

fn arg(path: &Path) -> &str {
    path.to_str().unwrap()
}

/// The report of a study's round, file by file.
fn report(folder: &Path, out: &Path) -> BTreeMap<String, Vec<u8>> {
    let report = [
        "report",
        "--workspace",
        arg(folder),
        "--round",
        "spring",
        "--out",
        arg(out),
    ];
    let ran = run(&report, "");
    assert_eq!(ran.status, 0, "{}", ran.err);
    std::fs::read_dir(out)
        .unwrap()
        .map(|entry| {
            let path = entry.unwrap().path();
            let name = path.file_name().unwrap().to_string_lossy().into_owned();
            (name, std::fs::read(path).unwrap())
        })
        .collect()
}

#[test]
fn a_restored_study_gives_the_same_report_byte_for_byte() {
    let study = Study::with().sealed();
    listen(&study.workspace, &study.links()[0], |_| Correct);
    listen(&study.workspace, &study.links()[1], |_| Distorted);
    let round = study.round.as_ref().unwrap().round.clone();
    app::close(&study.workspace, &round, LATER).unwrap();
    app::unlock(&study.workspace, &round, LATER).unwrap();
    let place = tempfile::tempdir().unwrap();
    let (to, again) = (place.path().join("backup"), place.path().join("again"));
    let folder = study.folder();
    let ran = run(&["backup", arg(&to), "--workspace", arg(&folder)], "");
    assert_eq!(ran.status, 0, "{}", ran.err);
    assert!(ran.out.contains("Backed up 38 files"), "{}", ran.out);
    let ran = run(&["restore", arg(&to), arg(&again)], "");
    assert_eq!(ran.status, 0, "{}", ran.err);
    assert!(ran.out.contains("withdraw them again"), "{}", ran.out);
    let first = report(&folder, &place.path().join("first"));
    let second = report(&again, &place.path().join("second"));
    assert_eq!(
        first.keys().collect::<Vec<_>>(),
        second.keys().collect::<Vec<_>>()
    );
    for (name, bytes) in &first {
        assert!(second[name] == *bytes, "{name} differs");
    }
}

#[test]
fn a_backup_under_load_is_a_whole_study() {
    let study = Study::with()
        .children(3)
        .sessions(3)
        .words(6)
        .listeners(4)
        .judgements(4)
        .sealed();
    let place = tempfile::tempdir().unwrap();
    // Each backup lets every listener judge ten words more, so that all run beside judgements.
    let (may, judged) = (AtomicUsize::new(0), AtomicUsize::new(0));
    let mut counts = Vec::new();
    std::thread::scope(|threads| {
        for link in study.links() {
            let (workspace, may, judged) = (&study.workspace, &may, &judged);
            threads.spawn(move || {
                let mut listener = Listener::open(workspace, link);
                listener.begin();
                for number in 0..40 {
                    while may.load(Ordering::Relaxed) <= number {
                        std::thread::sleep(Duration::from_millis(1));
                    }
                    let word = listener.current().unwrap();
                    listener.judge(word.id, Correct);
                    judged.fetch_add(1, Ordering::Relaxed);
                }
            });
        }
        for number in 0..4 {
            let to = place.path().join(format!("backup{number}"));
            while judged.load(Ordering::Relaxed) < number * 40 {
                std::thread::sleep(Duration::from_millis(1));
            }
            may.fetch_add(10, Ordering::Relaxed);
            app::back_up(&study.workspace, &to, LATER).unwrap();
            let again = place.path().join(format!("study{number}"));
            // Restoring verifies chain, rows and every sound.
            app::restore(&to, &again).unwrap();
            let workspace = Workspace::open(&again).unwrap();
            counts.push(app::verify(&workspace, &[]).unwrap().judgements);
        }
    });
    for (number, count) in counts.iter().enumerate() {
        let between = number * 40..=(number + 1) * 40;
        assert!(between.contains(count), "{counts:?}");
    }
    let findings = app::verify(&study.workspace, &[]).unwrap().findings;
    assert_eq!(findings, Vec::<String>::new());
}

#[test]
fn a_damaged_backup_is_refused_by_name_and_leaves_nothing() {
    let study = Study::with().imported();
    let place = tempfile::tempdir().unwrap();
    let (to, again) = (place.path().join("backup"), place.path().join("again"));
    app::back_up(&study.workspace, &to, LATER).unwrap();
    let sound = std::fs::read_dir(to.join("prepared"))
        .unwrap()
        .next()
        .unwrap()
        .unwrap()
        .path();
    for path in [to.join("fairhearing.db"), sound, to.join("study.toml")] {
        let whole = std::fs::read(&path).unwrap();
        let mut bytes = whole.clone();
        let last = bytes.len() / 2;
        bytes[last] ^= 1;
        for damaged in [Some(bytes), None] {
            match damaged {
                Some(bytes) => std::fs::write(&path, bytes).unwrap(),
                None => std::fs::remove_file(&path).unwrap(),
            }
            let refused = app::restore(&to, &again).unwrap_err();
            assert!(refused.is_the_askers(), "{refused}");
            assert!(refused.to_string().contains(arg(&path)), "{refused}");
            assert_eq!(std::fs::read_dir(place.path()).unwrap().count(), 1);
        }
        std::fs::write(&path, whole).unwrap();
    }
    let list = to.join("SHA256SUMS");
    let text = std::fs::read_to_string(&list).unwrap();
    std::fs::write(&list, text.replace("study.toml", "../study.toml")).unwrap();
    let refused = app::restore(&to, &again).unwrap_err().to_string();
    assert!(refused.contains("leads out of the backup"), "{refused}");
    std::fs::write(&list, text).unwrap();
    app::restore(&to, &again).unwrap();
}

#[test]
fn a_backup_never_goes_where_something_is() {
    let study = Study::with().imported();
    let place = tempfile::tempdir().unwrap();
    let inside = app::back_up(&study.workspace, &study.folder().join("b"), LATER).unwrap_err();
    assert!(inside.to_string().contains("another disk"), "{inside}");
    let there = app::back_up(&study.workspace, place.path(), LATER).unwrap_err();
    assert!(there.to_string().contains("is there already"), "{there}");
    let none = app::restore(place.path(), &place.path().join("x")).unwrap_err();
    assert!(none.to_string().contains("is no backup"), "{none}");
    let to = place.path().join("backup");
    app::back_up(&study.workspace, &to, LATER).unwrap();
    let there = app::restore(&to, &study.folder()).unwrap_err();
    assert!(there.to_string().contains("is there already"), "{there}");
}
