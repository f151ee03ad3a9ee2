//! A disk that is full and a study that may not be written: a sentence, and nothing half-done.

use std::os::unix::fs::MetadataExt;
use std::os::unix::fs::PermissionsExt;
use std::path::Path;
use std::process::Command;

use fairhearing::app;

use crate::program::Ran;
use crate::support::Study;
use crate::support::spoken;
use crate::support::wav_16_bit;

/// Runs the program where no file may grow past so many blocks of 512 bytes: every write beyond fails,
/// as on a full disk. The signal that would kill it is ignored, as a server would have it.
fn run_with_little_room(blocks: u32, arguments: &[&str]) -> Ran {
    let script = format!("trap '' XFSZ; ulimit -f {blocks}; exec \"$0\" \"$@\"");
    let mut command = Command::new("sh");
    command.args(["-c", &script, env!("CARGO_BIN_EXE_fairhearing")]);
    ran(command.args(arguments))
}

fn ran(command: &mut Command) -> Ran {
    let output = command.output().unwrap();
    Ran {
        status: output.status.code().unwrap_or(-1),
        out: String::from_utf8_lossy(&output.stdout).into_owned(),
        err: String::from_utf8_lossy(&output.stderr).into_owned(),
    }
}

/// Everything in a study's folder but the files of the engine's own log.
fn content(folder: &Path) -> Vec<String> {
    let mut names = Vec::new();
    for entry in std::fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        let name = path.display().to_string();
        if path.is_dir() {
            names.extend(content(&path));
        }
        if !name.ends_with("-wal") && !name.ends_with("-shm") {
            names.push(name);
        }
    }
    names.sort();
    names
}

#[track_caller]
fn check_untouched(study: &Study, before: &[String], events: usize) {
    assert_eq!(content(&study.folder()), before);
    assert_eq!(study.events().len(), events);
    let findings = app::verify(&study.workspace, &[]).unwrap().findings;
    assert_eq!(findings, Vec::<String>::new());
}

#[test]
fn an_import_for_which_there_is_no_room_leaves_nothing() {
    let study = Study::with().children(1).words(1).made();
    // A long recording, whose prepared sound is larger than the 512 KiB that a file may have.
    let long: Vec<f64> = spoken(1).into_iter().cycle().take(48_000 * 9).collect();
    std::fs::write(study.audio().join("word2.wav"), wav_16_bit(&long)).unwrap();
    let (before, events) = (content(&study.folder()), study.events().len());
    let (folder, manifest, audio) = (study.folder(), study.manifest(), study.audio());
    let arguments = [
        "import",
        "--workspace",
        folder.to_str().unwrap(),
        "--manifest",
        manifest.to_str().unwrap(),
        "--audio",
        audio.to_str().unwrap(),
    ];
    let refused = run_with_little_room(1_024, &arguments);
    assert_eq!(refused.status, 1, "{}{}", refused.out, refused.err);
    assert!(refused.err.contains("cannot write"), "{}", refused.err);
    assert!(refused.err.contains("free some space"), "{}", refused.err);
    check_untouched(&study, &before, events);
    assert!(study.import().unwrap().added > 0, "with room it goes on");
}

#[test]
fn a_store_for_which_there_is_no_room_says_so_and_stays() {
    let study = Study::with().imported();
    std::fs::write(study.plan(), study.with.plan()).unwrap();
    let (before, events) = (content(&study.folder()), study.events().len());
    let (folder, plan) = (study.folder(), study.plan());
    let seal = [
        "seal",
        "--workspace",
        folder.to_str().unwrap(),
        "--plan",
        plan.to_str().unwrap(),
    ];
    let refused = run_with_little_room(16, &seal);
    assert_eq!(refused.status, 1, "{}{}", refused.out, refused.err);
    assert!(
        refused.err.contains("the store cannot be written now"),
        "{}",
        refused.err
    );
    check_untouched(&study, &before, events);
}

#[test]
fn a_backup_for_which_there_is_no_room_leaves_nothing() {
    let study = Study::with().imported();
    let place = tempfile::tempdir().unwrap();
    let to = place.path().join("backup");
    let folder = study.folder();
    let backup = [
        "backup",
        "--workspace",
        folder.to_str().unwrap(),
        to.to_str().unwrap(),
    ];
    // Room for the engine's own files, and for no copy of the whole store.
    let refused = run_with_little_room(160, &backup);
    assert_eq!(refused.status, 1, "{}{}", refused.out, refused.err);
    assert_eq!(
        std::fs::read_dir(place.path()).unwrap().count(),
        0,
        "{}",
        refused.err
    );
    let findings = app::verify(&study.workspace, &[]).unwrap().findings;
    assert_eq!(findings, Vec::<String>::new());
}

/// Lets everybody read a folder and nobody write it.
fn make_read_only(folder: &Path) {
    for entry in std::fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            make_read_only(&path);
        } else {
            std::fs::set_permissions(&path, PermissionsExt::from_mode(0o444)).unwrap();
        }
    }
    std::fs::set_permissions(folder, PermissionsExt::from_mode(0o555)).unwrap();
}

#[test]
fn a_study_that_may_not_be_written_says_so_and_stays() {
    let place = tempfile::tempdir().unwrap();
    std::fs::set_permissions(place.path(), PermissionsExt::from_mode(0o755)).unwrap();
    let folder = place.path().join("study");
    let study = Study::with().imported();
    // A backup is a study at rest: nothing of the engine's log lies beside it.
    let now = app::Now::at_ms(1_749_000_000_000);
    app::back_up(&study.workspace, &folder, now).unwrap();
    make_read_only(&folder);
    let bytes = std::fs::read(folder.join("fairhearing.db")).unwrap();
    let names = content(&folder);
    let program = place.path().join("fairhearing");
    std::fs::copy(env!("CARGO_BIN_EXE_fairhearing"), &program).unwrap();
    let verify = ["verify", "--workspace", folder.to_str().unwrap()];
    // Who is root may write everything: such a one steps down first.
    let is_root = std::fs::metadata("/proc/self").unwrap().uid() == 0;
    let mut command = Command::new(if is_root {
        Path::new("setpriv")
    } else {
        &program
    });
    if is_root {
        command.args(["--reuid=65534", "--regid=65534", "--clear-groups"]);
        command.arg(&program);
    }
    let refused = ran(command.args(verify));
    assert_eq!(refused.status, 1, "{}{}", refused.out, refused.err);
    assert!(
        refused.err.contains("may not be written here"),
        "{}",
        refused.err
    );
    assert!(std::fs::read(folder.join("fairhearing.db")).unwrap() == bytes);
    assert_eq!(content(&folder), names);
    std::fs::set_permissions(&folder, PermissionsExt::from_mode(0o755)).unwrap();
}
