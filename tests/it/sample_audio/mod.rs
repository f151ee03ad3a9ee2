//! The sample audio: made by this code, kept as FLAC in `sample_audio/`, and the same to the byte.
//!
//! `FAIRHEARING_MAKE_SAMPLES=1 cargo test --test it sample_audio` writes the folder anew; without it the
//! tests hold the folder to what the code makes.

mod chance;
mod story;
mod voice;
mod words;

use std::collections::BTreeMap;
use std::collections::BTreeSet;
use std::fmt::Write;
use std::path::PathBuf;

use fairhearing::audio::decode;
use fairhearing::audio::flac;
use fairhearing::audio::prepare;

use crate::sound;
use story::Row;

#[test]
fn the_sample_audio_is_what_its_code_makes() {
    let files = files(&story::rows());
    let total: usize = files.values().map(Vec::len).sum();
    assert!(total < 8_000_000, "{total} bytes");
    if std::env::var_os("FAIRHEARING_MAKE_SAMPLES").is_some() {
        for (name, content) in &files {
            std::fs::write(folder().join(name), content).unwrap();
        }
    }
    for (name, content) in &files {
        let there = std::fs::read(folder().join(name)).unwrap_or_default();
        assert!(
            there == *content,
            "sample_audio/{name} is not what its code makes; see the first lines of this file"
        );
    }
    for entry in std::fs::read_dir(folder()).unwrap() {
        let path = entry.unwrap().path();
        let name = path.file_name().unwrap().to_str().unwrap();
        let is_sound = path.extension().is_some_and(|end| end == "flac");
        assert!(
            !is_sound || files.contains_key(name),
            "sample_audio/{name} belongs to no row"
        );
    }
}

#[test]
fn every_sample_decodes_and_prepares_without_a_complaint() {
    let mut seen = BTreeMap::new();
    for row in story::rows().iter().filter(|row| !row.file.is_empty()) {
        let bytes = std::fs::read(folder().join(&row.file)).unwrap();
        let recording = decode(&bytes).unwrap();
        assert_eq!(recording.rate_hz(), voice::RATE_HZ);
        assert_eq!(recording.mono().len(), row.sound.len(), "{}", row.file);
        let other = seen.insert(recording.fingerprint(), row.file.clone());
        assert_eq!(other, None, "{}: no two takes are the same sound", row.file);
        let prepared = prepare(&recording, -27.0).unwrap();
        assert_eq!(prepared.marks, [], "{}", row.file);
        assert!(prepared.bandwidth_hz > 8_000.0, "{}", row.file);
    }
}

#[test]
fn clear_and_distorted_s_differ_in_spectrum() {
    // The word begins with the target: its mean frequency above 1 kHz, counted by zero crossings.
    let mean_hz = |row: &&Row| {
        let samples: Vec<f64> = row.sound.iter().map(|s| f64::from(*s)).collect();
        let hiss = sound::band(&samples[..14_000], 1_500.0, 15_000.0, voice::RATE_HZ);
        let part = &hiss[9_000..11_500];
        let crossings = part.windows(2).filter(|two| two[0] * two[1] < 0.0).count();
        crossings as f64 / 2.0 / (part.len() as f64 / f64::from(voice::RATE_HZ))
    };
    let rows = story::rows();
    let begins = |row: &&Row| row.word.position == "initial" && !row.sound.is_empty();
    let clear: Vec<f64> = rows
        .iter()
        .filter(begins)
        .filter(|row| row.quality > 0.8)
        .map(|row| mean_hz(&row))
        .collect();
    let distorted: Vec<f64> = rows
        .iter()
        .filter(begins)
        .filter(|row| row.quality < 0.2)
        .map(|row| mean_hz(&row))
        .collect();
    assert!(clear.len() >= 5 && distorted.len() >= 5);
    let lowest_clear = clear.iter().copied().fold(f64::INFINITY, f64::min);
    let highest_distorted = distorted.iter().copied().fold(0.0, f64::max);
    assert!(
        lowest_clear > 5_500.0 && highest_distorted < 4_800.0,
        "clear {clear:?}, distorted {distorted:?}"
    );
}

fn folder() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("sample_audio")
}

/// Every file of the folder with its content.
fn files(rows: &[Row]) -> BTreeMap<String, Vec<u8>> {
    let mut files: BTreeMap<String, Vec<u8>> = rows
        .iter()
        .filter(|row| !row.file.is_empty())
        .map(|row| {
            (
                row.file.clone(),
                flac::write(&row.sound, voice::RATE_HZ).unwrap(),
            )
        })
        .collect();
    files.insert("manifest.csv".to_owned(), manifest(rows).into_bytes());
    files.insert("true_state.csv".to_owned(), true_state(rows).into_bytes());
    files.insert("consents.csv".to_owned(), consents(rows).into_bytes());
    files
}

/// What the invented families agreed to: every child of the story may be heard by everybody.
fn consents(rows: &[Row]) -> String {
    let children: BTreeSet<_> = rows.iter().map(|row| row.place[0].clone()).collect();
    let mut text = "child,version,date,scope,assent,keep_until\n".to_owned();
    for child in children.iter().filter(|child| !child.is_empty()) {
        writeln!(
            text,
            "{child},2,2031-01-06,staff research remote,given,2041-12-31"
        )
        .unwrap();
    }
    text
}

fn manifest(rows: &[Row]) -> String {
    let mut text =
        "file,child,session,phase,word,cohort,condition,date,target,position,treated,attempt,\
                    elicitation,age_months,use,answer,clinician_score,reason\n"
            .to_owned();
    for row in rows {
        let [child, session, phase] = &row.place;
        let [cohort, date] = row.about;
        let scored = row.use_ == "scored" || row.use_ == "peer";
        let treated = if row.use_ == "scored" {
            row.word.treated.to_string()
        } else {
            String::new()
        };
        let age = row
            .age_months
            .map(|months| months.to_string())
            .unwrap_or_default();
        writeln!(
            text,
            "{},{child},{session},{phase},{},{cohort},,{date},s,{},{treated},{},{},{age},{},{},{},{}",
            row.file,
            row.word.marked,
            row.word.position,
            if scored { "1" } else { "" },
            if scored { "named" } else { "" },
            row.use_,
            row.answer,
            row.clinician_score,
            row.reason,
        )
        .unwrap();
    }
    text
}

fn true_state(rows: &[Row]) -> String {
    let mut text = "file,quality,state,p_correct_expected\n".to_owned();
    for row in rows.iter().filter(|row| !row.file.is_empty()) {
        writeln!(
            text,
            "{},{:.3},{},{:.4}",
            row.file,
            row.quality,
            story::state(row.quality),
            story::p_correct(row.quality)
        )
        .unwrap();
    }
    text
}
