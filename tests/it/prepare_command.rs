//! `prepare` as a person runs it: a folder of prepared words and one table, or nothing at all.

use std::fs;
use std::path::Path;

use crate::program::run;
use crate::support::spoken;
use crate::support::wav_16_bit;

fn arg(path: &Path) -> &str {
    path.to_str().unwrap()
}

#[test]
fn two_recordings_of_one_name_become_two_words_and_one_table() {
    let place = tempfile::tempdir().unwrap();
    let mut recordings = Vec::new();
    for (number, folder) in [(1, "monday"), (2, "friday")] {
        let folder = place.path().join(folder);
        fs::create_dir(&folder).unwrap();
        let path = folder.join("sail.wav");
        fs::write(&path, wav_16_bit(&spoken(number))).unwrap();
        recordings.push(path);
    }
    let out = place.path().join("out");
    let words = [
        "prepare",
        arg(&recordings[0]),
        arg(&recordings[1]),
        "--out",
        arg(&out),
    ];
    let said = run(&[&words[..], &["--json"]].concat(), "").json();
    assert!(said.is_object(), "{said}");
    let table = fs::read_to_string(out.join("prepared.csv")).unwrap();
    let mut lines = table.lines();
    // The columns of the command line's contract, in its order.
    assert_eq!(
        lines.next().unwrap(),
        "file,prepared,sha256,seconds,onset_ms,level_lufs,true_peak_dbtp,gain_db,snr_db,\
         bandwidth_hz,clipped_samples,notes"
    );
    let prepared: Vec<_> = lines
        .map(|line| line.split(',').nth(1).unwrap().to_owned())
        .collect();
    assert_eq!(prepared.len(), 2);
    assert_ne!(prepared[0], prepared[1]);
    for name in &prepared {
        assert!(
            fs::read(out.join(name)).unwrap().starts_with(b"RIFF"),
            "{name}"
        );
    }
    let first = fs::read(out.join(&prepared[0])).unwrap();
    assert_eq!(run(&words, "").status, 0, "the same again changes nothing");
    assert_eq!(fs::read(out.join(&prepared[0])).unwrap(), first);
}

#[test]
fn every_file_that_is_no_recording_is_named_and_nothing_is_written() {
    let place = tempfile::tempdir().unwrap();
    let path = |name: &str| place.path().join(name);
    fs::write(path("good.wav"), wav_16_bit(&spoken(1))).unwrap();
    fs::write(path("letter.wav"), "Dear clinic, this is no sound at all.").unwrap();
    fs::write(path("empty.wav"), "").unwrap();
    let (good, letter, empty) = (path("good.wav"), path("letter.wav"), path("empty.wav"));
    let out = path("out");
    let words = [
        "prepare",
        arg(&good),
        arg(&letter),
        arg(&empty),
        "--out",
        arg(&out),
    ];
    let ran = run(&words, "");
    let refusal = ran.refusal();
    assert!(
        refusal.contains("letter.wav") && refusal.contains("empty.wav"),
        "{refusal}"
    );
    assert!(!refusal.contains("good.wav"), "{refusal}");
    assert!(!out.join("prepared.csv").exists() && !out.join("good.wav").exists());
}
