//! An erasure that is killed in the middle is finished at the next start, or was never begun.

use std::collections::BTreeSet;
use std::io::BufRead;
use std::io::BufReader;
use std::process::Command;
use std::process::Stdio;
use std::time::Duration;

use fairhearing::app;
use fairhearing::app::Now;
use fairhearing::app::Workspace;
use fairhearing::study::ChildCode;
use fairhearing::study::Judgement::Correct;

use crate::support::LABEL;
use crate::support::Labels;
use crate::support::Study;
use crate::support::With;
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

/// The variable that makes the test program itself the one that is killed.
const VICTIM: &str = "FAIRHEARING_TEST_ERASER";

/// Erases the first child of the study in the variable. Does nothing where it is not set.
#[test]
fn victim_of_the_kill() {
    let Ok(folder) = std::env::var(VICTIM) else {
        return;
    };
    let workspace = Workspace::open(folder.as_ref()).unwrap();
    println!("begins");
    app::erase_child(&workspace, &code(&with_a_kill().child(0)), LATER).unwrap();
    println!("is done");
}

fn with_a_kill() -> With {
    Study::with().labels(Labels::markers())
}

#[test]
fn a_kill_in_the_middle_leaves_all_or_nothing() {
    let mut outcomes = BTreeSet::new();
    for step in 0..10_u64 {
        let study = with_a_kill().sealed();
        listen(&study.workspace, &study.links()[0], |_| Correct);
        std::fs::copy(study.manifest(), study.folder().join("words.csv")).unwrap();
        let label = LABEL.parse().unwrap();
        let first = code(&study.with.child(0));
        app::label_child(&study.workspace, &first, Some(&label)).unwrap();
        let traces = traces(&study);
        let mut victim = Command::new(std::env::current_exe().unwrap())
            .args([
                "--exact",
                "withdraw_kill::victim_of_the_kill",
                "--nocapture",
            ])
            .env(VICTIM, study.folder())
            .stdout(Stdio::piped())
            .spawn()
            .unwrap();
        let mut lines = BufReader::new(victim.stdout.take().unwrap()).lines();
        while lines
            .next()
            .is_some_and(|line| !line.unwrap().contains("begins"))
        {}
        std::thread::sleep(Duration::from_millis(step * step));
        // On Unix this is SIGKILL: nothing in the program can answer it.
        victim.kill().unwrap();
        victim.wait().unwrap();
        let workspace = Workspace::open(&study.folder()).unwrap();
        check_whole(&workspace);
        let there = app::children(&workspace)
            .unwrap()
            .iter()
            .any(|child| child.code == first);
        outcomes.insert(there);
        let found = found(&study.folder(), &traces);
        if there {
            assert!(found.len() > 20, "{found:?}");
        } else {
            assert_eq!(found, BTreeSet::new());
        }
        assert!(!study.folder().join("erasing").exists());
    }
    assert!(outcomes.contains(&false), "no erasure came through in ten");
}
