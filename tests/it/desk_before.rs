//! Before the first recording: the guide, probe sheets, a test recording, and the study's settings.

use crate::sound::float_wav;
use crate::support::Staff;
use crate::support::Study;
use crate::support::elements;
use crate::support::spoken;
use crate::support::wav_16_bit;

const SETTINGS: &[(&str, &str)] = &[
    ("name", "Harbour study"),
    ("target", "the s sound"),
    ("phases", "baseline\ntreatment\nmaintenance"),
    ("cohorts", "cued\nfree"),
    ("words", "[s]ail\r\nmu[ss]el\n\nbu[s]\nice\nne[s]t\n[s]alt"),
    ("level_lufs", "-27"),
    ("language", "en"),
];

/// The settings' form with one field changed.
fn with<'a>(field: &str, value: &'a str) -> Vec<(&'a str, &'a str)> {
    let fields = SETTINGS.iter();
    fields
        .map(|(name, before)| (*name, if *name == field { value } else { *before }))
        .collect()
}

fn changes(study: &Study) -> usize {
    let events = study.events();
    events
        .iter()
        .filter(|event| event.kind == "settings changed")
        .count()
}

#[test]
fn settings_are_changed_in_the_page_and_the_old_file_stays_beside_the_new_one() {
    let study = Study::with().made();
    let before = std::fs::read(study.folder().join("study.toml")).unwrap();
    let desk = Staff::of(&study);
    let sent = desk.post("/desk/settings", SETTINGS);
    assert_eq!(
        (sent.status, sent.location.as_str()),
        (303, "/desk/settings")
    );
    let settings = study.workspace.settings().unwrap();
    let words: Vec<String> = settings.words.iter().map(ToString::to_string).collect();
    assert_eq!(
        words,
        ["[s]ail", "mu[ss]el", "bu[s]", "ice", "ne[s]t", "[s]alt"]
    );
    assert_eq!(settings.phases.len(), 3);
    let kept = std::fs::read_dir(study.folder())
        .unwrap()
        .map(|file| file.unwrap().path());
    let kept: Vec<_> = kept
        .filter(|path| path.to_str().unwrap().contains("study.toml.before-"))
        .collect();
    assert_eq!(kept.len(), 1);
    assert_eq!(std::fs::read(&kept[0]).unwrap(), before);
    assert_eq!(changes(&study), 1);
    assert!(desk.get("/desk").text().contains("maintenance"));
}

#[test]
fn settings_that_cannot_be_are_refused_with_what_was_entered_and_nothing_changes() {
    let study = Study::with().imported();
    let before = std::fs::read(study.folder().join("study.toml")).unwrap();
    let desk = Staff::of(&study);
    for (field, value, said) in [
        ("phases", "", "`phases` is empty"),
        ("cohorts", "cued\nspring 2024", "`spring 2024` holds a date"),
        ("phases", "baseline\nbaseline", "listed twice"),
        (
            "phases",
            "baseline",
            "sessions were recorded in the phase `treatment`",
        ),
        (
            "cohorts",
            "free",
            "children were recorded in the cohort `cued`",
        ),
        ("words", "[s]ail\nsail", "the word `sail` is listed twice"),
        ("words", "[sail", "never closes"),
        ("level_lufs", "loud", "the level `loud` is no number"),
        ("level_lufs", "-23", "words were prepared at -27 LUFS"),
        ("name", " ", "the name is empty"),
    ] {
        let answer = desk.post("/desk/settings", &with(field, value));
        let text = answer.text().replace("&#39;", "'");
        assert_eq!(answer.status, 422, "{field} = {value}");
        assert!(text.contains(said), "`{said}` is not in {text}");
        assert!(text.contains("Harbour study") || field == "name");
    }
    assert_eq!(
        std::fs::read(study.folder().join("study.toml")).unwrap(),
        before
    );
    assert_eq!(changes(&study), 0);
}

#[test]
fn once_a_round_is_sealed_the_settings_stay() {
    let study = Study::with().sealed();
    let desk = Staff::of(&study);
    assert!(
        desk.get("/desk/settings")
            .text()
            .contains("cannot be changed any more")
    );
    let answer = desk.post("/desk/settings", &with("name", "Another"));
    assert_eq!(answer.status, 422);
    assert!(
        answer
            .text()
            .contains("a round or a draw is sealed with these settings")
    );
    let elsewhere = [("sec-fetch-site", "cross-site")];
    assert_eq!(
        desk.post_with("/desk/settings", SETTINGS, &elsewhere)
            .status,
        403
    );
}

/// The words of a printed sheet, in its order.
fn words_of(page: &str) -> Vec<String> {
    let all = elements(page);
    let cells = all
        .iter()
        .filter(|e| e.name == "th" && e.class() == "word-small");
    cells
        .map(|cell| {
            let inside = all.iter().filter(|e| e.within.contains(&cell.place));
            // "mu" and "el" stand around "ss": the elements are the whole word's and the mark's.
            inside.map(|e| e.text.clone()).collect::<Vec<_>>().join("|")
        })
        .collect()
}

#[test]
fn a_probe_sheet_has_every_word_once_in_an_order_that_its_number_gives_again() {
    let study = Study::with().made();
    let desk = Staff::of(&study);
    let none = desk.post("/desk/before/sheet", &[]);
    assert_eq!(none.status, 422);
    assert!(none.text().contains("lists no words yet"));
    let many: Vec<String> = (0..40)
        .map(|n| format!("[s]a{}", "o".repeat(n + 1)))
        .collect();
    desk.post("/desk/settings", &with("words", &many.join("\n")));
    let draw = || {
        let drawn = desk.post("/desk/before/sheet", &[]);
        assert_eq!(drawn.status, 303);
        drawn.location
    };
    let (first, second) = (draw(), draw());
    assert_ne!(first, second);
    let (one, again) = (desk.get(&first).text(), desk.get(&first).text());
    assert_eq!(one, again);
    let words = words_of(&one);
    assert_ne!(words, words_of(&desk.get(&second).text()));
    let mut sorted = words.clone();
    sorted.sort();
    sorted.dedup();
    assert_eq!(sorted.len(), 40);
    desk.post("/desk/settings", SETTINGS);
    assert!(
        desk.get(&first)
            .text()
            .contains("list of words was changed")
    );
    for number in [
        "",
        "x",
        "../../etc-abc",
        "aaaaaaaa-",
        "aaaaaaaa_aaaaaa",
        "AAAAAAAA-abcdef",
    ] {
        let status = desk.get(&format!("/desk/before/sheet/{number}")).status;
        let wanted = if number.is_empty() || number == "aaaaaaaa-" {
            [404, 200]
        } else {
            [404, 404]
        };
        assert!(wanted.contains(&status), "{number}: {status}");
    }
}

#[test]
fn a_test_recording_is_measured_in_words_and_nothing_is_kept() {
    let study = Study::with().made();
    let desk = Staff::of(&study);
    let files = || walk(&study.folder());
    let (before, events) = (files(), study.events().len());
    let send =
        |bytes: &[u8]| desk.send_files_as("/desk/before/test", "recording", &[("test.wav", bytes)]);
    let good = send(&wav_16_bit(&spoken(1)));
    assert_eq!(good.status, 200);
    assert!(good.text().contains("48.0 kHz"), "{}", good.text());
    // Every sixth sample of a word at 48 kHz is one at 8 kHz: telephone speech.
    let narrow: Vec<f64> = spoken(1).into_iter().step_by(6).collect();
    let page = send(&float_wav(&[&narrow], 8_000)).text();
    assert!(page.contains("narrow: nothing above"), "{page}");
    assert!(page.contains("an /s/ needs 44.1 or 48 kHz"), "{page}");
    let bad = send(b"dear diary");
    assert_eq!(bad.status, 422);
    assert!(bad.text().contains("not a sound file"), "{}", bad.text());
    assert_eq!((files(), study.events().len()), (before, events));
}

#[test]
fn the_guide_and_the_pages_around_it_are_there() {
    let study = Study::with().made();
    let desk = Staff::of(&study);
    for path in [
        "/desk/before",
        "/desk/before/sheet",
        "/desk/before/test",
        "/desk/recordings",
    ] {
        let page = desk.get(path);
        assert_eq!(page.status, 200, "{path}");
        assert!(page.text().contains("Take care"), "{path}");
    }
}

fn walk(folder: &std::path::Path) -> usize {
    let entries = std::fs::read_dir(folder)
        .unwrap()
        .map(|entry| entry.unwrap().path());
    entries
        .map(|path| if path.is_dir() { walk(&path) } else { 1 })
        .sum()
}
