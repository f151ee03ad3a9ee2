//! Import in the page: files come in, are mended, and become tokens, all or none.

use std::io::Write;

use crate::support::Staff;
use crate::support::Study;
use crate::support::With;
use crate::support::spoken;
use crate::support::wav_16_bit;

pub(crate) fn small() -> With {
    Study::with().children(1).words(2)
}

/// What the study's folder of recordings holds: each file's name and bytes.
fn recordings(study: &Study) -> Vec<(String, Vec<u8>)> {
    let mut files: Vec<_> = std::fs::read_dir(study.audio())
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .map(|path| {
            let name = path.file_name().unwrap().to_str().unwrap().to_owned();
            (name, std::fs::read(&path).unwrap())
        })
        .collect();
    files.sort();
    files
}

fn manifest(study: &Study) -> Vec<u8> {
    std::fs::read(study.manifest()).unwrap()
}

fn borrowed(files: &[(String, Vec<u8>)]) -> Vec<(&str, &[u8])> {
    let pairs = files.iter();
    pairs
        .map(|(name, bytes)| (name.as_str(), bytes.as_slice()))
        .collect()
}

/// Imports in the log, and what lies in the study's folders.
pub(crate) fn stored(study: &Study) -> (usize, usize, usize) {
    let events = study.events();
    let imports = events.iter().filter(|event| event.kind == "import").count();
    let count = |folder: &str| {
        let path = study.folder().join(folder);
        std::fs::read_dir(path).map_or(0, Iterator::count)
    };
    (
        imports,
        count("originals") + count("prepared"),
        count("staging"),
    )
}

#[test]
fn files_and_a_manifest_from_forms_become_tokens_and_the_staging_goes() {
    let study = small().made();
    let desk = Staff::of(&study);
    let import = desk.begin_import();
    let mut files = recordings(&study);
    files.push(("manifest.csv".to_owned(), manifest(&study)));
    let sent = desk.send_files(&format!("{import}/files"), &borrowed(&files));
    assert_eq!(
        (sent.status, sent.location.as_str()),
        (303, import.as_str())
    );
    let page = desk.get(&import).text();
    assert!(page.contains("Nothing that shows before"), "{page}");
    assert_eq!(stored(&study), (0, 0, 1), "nothing is imported yet");
    let end = desk.run_import(&import);
    assert!(end.contains("10 recordings new."), "{end}");
    // Ten recordings, each with its original and its prepared sound.
    assert_eq!(stored(&study), (1, 20, 0));
    assert_eq!(desk.get(&import).status, 404);
    assert_eq!(desk.get("/desk/import").status, 200);
}

#[test]
fn a_zip_gives_what_its_files_would() {
    let study = small().made();
    let desk = Staff::of(&study);
    let import = desk.begin_import();
    let mut files = recordings(&study);
    files.push(("list/manifest.csv".to_owned(), manifest(&study)));
    files.push(("__MACOSX/._word1.wav".to_owned(), b"litter".to_vec()));
    let archive = zipped(&borrowed(&files));
    let sent = desk.send_files(&format!("{import}/files"), &[("all.zip", &archive)]);
    assert_eq!(sent.status, 303, "{}", sent.text());
    assert!(desk.run_import(&import).contains("10 recordings new."));
}

#[test]
fn parts_go_on_where_they_broke_off_and_the_import_ends_where_a_whole_one_does() {
    let study = small().made();
    let desk = Staff::of(&study);
    let import = desk.begin_import();
    let wav = wav_16_bit(&spoken(90));
    let (first, second) = wav.split_at(1000);
    let at = |offset: usize| {
        format!(
            "{import}/part?name=box/a%20b.wav&offset={offset}&total={}",
            wav.len()
        )
    };
    let put = |offset, bytes: &[u8]| desk.put(&at(offset), bytes, &[]).text();
    assert_eq!(put(0, first), r#"{"held":1000,"whole":false}"#);
    // A part from elsewhere in the file is not taken: the answer says where to go on.
    assert_eq!(put(7, second), r#"{"held":1000,"whole":false}"#);
    let held = desk.get(&format!("{import}/held")).text();
    assert_eq!(
        held,
        r#"[{"name":"box/a b.wav","held":1000,"whole":false}]"#
    );
    let whole = format!(r#"{{"held":{},"whole":true}}"#, wav.len());
    assert_eq!(put(1000, second), whole);
    assert_eq!(
        put(1000, second),
        r#"{"held":0,"whole":false}"#,
        "a part that comes again"
    );
    let row = "file,child,session,phase,word\na b.wav,C01,1,baseline,[s]ail\n";
    desk.send_files(&format!("{import}/files"), &[("m.csv", row.as_bytes())]);
    assert!(desk.run_import(&import).contains("1 recording new."));
    let original = study.folder().join("originals");
    let kept = std::fs::read_dir(original)
        .unwrap()
        .next()
        .unwrap()
        .unwrap();
    assert_eq!(
        std::fs::read(kept.path()).unwrap(),
        wav,
        "kept byte for byte"
    );
}

#[test]
fn problems_are_those_of_the_command_and_each_can_be_mended_in_the_page() {
    let study = small().made();
    std::fs::write(study.audio().join("word3.wav"), b"dear diary").unwrap();
    let wrong = String::from_utf8(manifest(&study)).unwrap().replacen(
        ",baseline,[s]and",
        ",basline,[s]and",
        1,
    );
    std::fs::write(study.manifest(), &wrong).unwrap();
    let said = study.import().unwrap_err().to_string();
    let said = said.split_once("manifest.csv").unwrap().1.to_owned();
    let desk = Staff::of(&study);
    let import = desk.begin_import();
    let mut files = recordings(&study);
    files.retain(|(name, _)| name != "word4.wav");
    files.push(("manifest.csv".to_owned(), wrong.into_bytes()));
    desk.send_files(&format!("{import}/files"), &borrowed(&files));
    let page = desk.get(&import).text();
    let (place, sentence) = said.split_once(": ").unwrap();
    assert!(page.contains(&format!("manifest.csv{place}<")), "{page}");
    assert!(text_of(&page).contains(sentence), "{sentence}");
    assert!(
        text_of(&page).contains("`word4.wav` is not among the files"),
        "{page}"
    );

    let row = desk.get(&format!("{import}/rows/3")).text();
    assert!(row.contains("aria-invalid"), "{row}");
    let mended = desk.post(&format!("{import}/rows/3"), &[("phase", "baseline")]);
    assert_eq!(mended.status, 303, "{}", mended.text());
    let why = [("reason", "no response"), ("other", "")];
    desk.post(&format!("{import}/rows/5/without"), &why);
    let page = desk.get(&import).text();
    assert!(page.contains("Nothing that shows before"), "{page}");
    assert!(page.contains("missing: no response"), "{page}");

    let end = desk.run_import(&import);
    assert!(end.contains("Nothing was imported"), "{end}");
    assert_eq!(stored(&study), (0, 0, 1), "nothing is half imported");
    let page = text_of(&desk.get(&import).text());
    assert!(
        page.contains("word3.wav: this is not a sound file"),
        "{page}"
    );
    let good = wav_16_bit(&spoken(55));
    desk.send_files(
        &format!("{import}/rows/4/recording"),
        &[("again.wav", &good)],
    );
    assert!(!desk.get(&import).text().contains("not a sound file"));
    let end = desk.run_import(&import);
    assert!(
        end.contains("9 recordings new, 1 word without a recording."),
        "{end}"
    );
}

#[test]
fn a_csv_that_is_no_manifest_does_not_take_the_place_of_one() {
    let study = small().made();
    let desk = Staff::of(&study);
    let import = desk.begin_import();
    let files = format!("{import}/files");
    desk.send_files(&files, &[("notes.csv", b"day,weather\n1,rain\n")]);
    assert!(text_of(&desk.get(&import).text()).contains("has no column `file`"));
    desk.send_files(&files, &[("manifest.csv", &manifest(&study))]);
    desk.send_files(&files, &[("notes.csv", b"day,weather\n1,rain\n")]);
    let page = desk.get(&import).text();
    assert!(page.contains("<strong>manifest.csv</strong>"), "{page}");
    assert!(page.contains("1 file in no row"), "{page}");
}

#[test]
fn names_become_rows_that_are_seen_before_they_are_kept() {
    let study = small().made();
    let desk = Staff::of(&study);
    let import = desk.begin_import();
    let names = [
        "C01_1_baseline_sail.wav",
        "C01_1_Baseline_sand_2.wav",
        "odd.wav",
    ];
    let sounds: Vec<Vec<u8>> = (1..=3).map(|n| wav_16_bit(&spoken(n))).collect();
    let files: Vec<(&str, &[u8])> = names
        .iter()
        .zip(&sounds)
        .map(|(name, sound)| (*name, sound.as_slice()))
        .collect();
    desk.send_files(&format!("{import}/files"), &files);
    let bad = desk.get(&format!("{import}?pattern=%7Bchild%7D_%7Bwurd%7D"));
    assert!(
        bad.text().contains("{wurd}, which is nothing"),
        "{}",
        bad.text()
    );
    let page = desk.get(&import).text();
    assert!(page.contains("2 files fit"), "{page}");
    let pattern = "{child}_{session}_{phase}_{word}_{attempt}";
    let kept = desk.post(
        &format!("{import}/manifest"),
        &[("pattern", pattern), ("cohorts", "C01: cued")],
    );
    assert_eq!(kept.status, 303, "{}", kept.text());
    let page = desk.get(&import).text();
    assert!(page.contains("1 file in no row"), "{page}");
    let missing = [
        ("child", "C01"),
        ("session", "1"),
        ("phase", "baseline"),
        ("word", "salt"),
        ("cohort", "cued"),
        ("reason", "wrong word"),
        ("nonsense", "x"),
    ];
    desk.post(&format!("{import}/rows"), &missing);
    let end = desk.run_import(&import);
    assert!(
        end.contains("2 recordings new, 1 word without a recording."),
        "{end}"
    );
}

#[test]
fn an_import_that_is_thrown_away_leaves_nothing() {
    let study = small().made();
    let desk = Staff::of(&study);
    let import = desk.begin_import();
    desk.send_files(&format!("{import}/files"), &borrowed(&recordings(&study)));
    assert_eq!(desk.post(&format!("{import}/discard"), &[]).status, 303);
    assert_eq!(stored(&study), (0, 0, 0));
    assert_eq!(desk.get(&import).status, 404);
    assert_eq!(desk.post(&format!("{import}/run"), &[]).status, 404);
}

#[test]
fn by_the_command_names_become_rows_too() {
    let study = small().made();
    let folder = study.audio().join("named");
    std::fs::create_dir(&folder).unwrap();
    let mut files = Vec::new();
    for (n, name) in [
        (1, "C01_1_baseline_sail.wav"),
        (2, "C01_1_baseline_sand.wav"),
    ] {
        let path = folder.join(name);
        std::fs::write(&path, wav_16_bit(&spoken(n))).unwrap();
        files.push(path);
    }
    let program = || {
        let mut command = std::process::Command::new(env!("CARGO_BIN_EXE_fairhearing"));
        command.args(["import", "--workspace"]).arg(study.folder());
        command.args([
            "--name-pattern",
            "{child}_{session}_{phase}_{word}_{attempt}",
        ]);
        command
    };
    let strange = program()
        .arg(&files[0])
        .arg(study.audio().join("word1.wav"))
        .output()
        .unwrap();
    assert_eq!(strange.status.code(), Some(2));
    let said = String::from_utf8(strange.stderr).unwrap();
    assert!(
        said.contains("word1.wav` does not fit the name pattern"),
        "{said}"
    );
    let done = program().args(&files).output().unwrap();
    let said = String::from_utf8(done.stdout).unwrap();
    assert!(said.starts_with("2 new tokens"), "{said}");
}

/// The text of a page, its references read.
pub(crate) fn text_of(page: &str) -> String {
    let mut text = String::new();
    let mut rest = page;
    while let Some((before, after)) = rest.split_once('<') {
        text.push_str(before);
        rest = after.split_once('>').map_or("", |(_, after)| after);
    }
    text.push_str(rest);
    text.replace("&#39;", "'")
        .replace("&#34;", "\"")
        .replace("&#38;", "&")
}

/// A ZIP archive of these files.
pub(crate) fn zipped(files: &[(&str, &[u8])]) -> Vec<u8> {
    let mut zip = zip::ZipWriter::new(std::io::Cursor::new(Vec::new()));
    let how = zip::write::SimpleFileOptions::default()
        .compression_method(zip::CompressionMethod::Deflated);
    for (name, bytes) in files {
        zip.start_file(*name, how).unwrap();
        zip.write_all(bytes).unwrap();
    }
    zip.finish().unwrap().into_inner()
}
