//! The main job from end to end: the demonstration's truth is found again, an export gives the
//! report's numbers to the commands, and the words of real people go the whole way.

use std::collections::BTreeMap;
use std::collections::BTreeSet;
use std::path::Path;
use std::path::PathBuf;

use fairhearing::app;
use fairhearing::app::Now;
use fairhearing::app::Workspace;
use fairhearing::study::Judgement;
use serde_json::Value;

use crate::program::run;
use crate::support::listen;

fn json_in(path: &Path) -> Value {
    serde_json::from_slice(&std::fs::read(path).unwrap()).unwrap()
}

fn arg(path: &Path) -> &str {
    path.to_str().unwrap()
}

/// What an attentive listener of the demonstration says 'correct' to, on average over how strict
/// and how sensitive such listeners are: computed here from the stated model, not by the program.
/// The model is ours and stands in `src/app/demo/panel.rs`.
fn expected(p: f64) -> f64 {
    const STEPS: i32 = 40;
    let logit = (p / (1.0 - p)).ln();
    let at = |step: i32| (f64::from(step) + 0.5) / f64::from(STEPS) * 2.0 - 1.0;
    let mut sum = 0.0;
    for sensitivity in 0..STEPS {
        for leniency in 0..STEPS {
            let x = logit * (1.0 + 0.3 * at(sensitivity)) + 0.8 * at(leniency);
            sum += 1.0 / (1.0 + (-x).exp());
        }
    }
    0.97 * sum / f64::from(STEPS * STEPS) + 0.03 * 0.5
}

/// The expected share of 'correct' in each session of the samples.
fn expected_sessions() -> BTreeMap<(String, u64), f64> {
    let samples = Path::new(env!("CARGO_MANIFEST_DIR")).join("sample_audio");
    let read = |name: &str| std::fs::read_to_string(samples.join(name)).unwrap();
    let truth = read("true_state.csv");
    let truth: BTreeMap<_, f64> = truth
        .lines()
        .skip(1)
        .map(|line| {
            let cells: Vec<_> = line.split(',').collect();
            let p: f64 = cells[3].parse().unwrap();
            (cells[0], expected(p.clamp(0.005, 0.995)))
        })
        .collect();
    let mut sessions: BTreeMap<_, Vec<f64>> = BTreeMap::new();
    for line in read("manifest.csv").lines().skip(1) {
        let cells: Vec<_> = line.split(',').collect();
        let use_ = cells[14];
        if !cells[0].is_empty() && (use_ == "scored" || use_ == "peer") {
            let session = (cells[1].to_owned(), cells[2].parse().unwrap());
            sessions.entry(session).or_default().push(truth[cells[0]]);
        }
    }
    sessions
        .into_iter()
        .map(|(session, of)| (session, of.iter().sum::<f64>() / of.len() as f64))
        .collect()
}

#[test]
fn the_demonstration_finds_what_its_panel_heard_and_its_export_says_the_same() {
    let place = tempfile::tempdir().unwrap();
    let folder = place.path().join("demo");
    let ran = run(&["demo", "--no-serve", "--workspace", arg(&folder)], "");
    assert_eq!(ran.status, 0, "{}{}", ran.out, ran.err);
    assert!(ran.out.contains("simulated"), "{}", ran.out);
    let found = json_in(&folder.join("report/findings.json"));

    let expected = expected_sessions();
    // Three panels, the second more lenient and the third stricter: on the scale of the first the truth is found again.
    let over = &found["over_rounds"];
    assert_eq!(over["reference"], "winter");
    let whole: Vec<_> = over["sessions"].as_array().unwrap().iter().collect();
    assert_eq!(whole.len(), expected.len(), "{over}");
    assert_eq!(over["changes"].as_array().unwrap().len(), 4);
    // Four children, two of them in each cohort: 6 ways, and no p below a third.
    assert_eq!(over["cohort_test"]["arrangements"], 6.0, "{over}");
    assert_eq!(found["round"]["assignments"][0]["recordings"], 0);
    assert_eq!(found["round"]["look"]["taken"], 3);
    let holds = |session: &&&Value| {
        let key = (
            session["child"].as_str().unwrap().to_owned(),
            session["session"].as_u64().unwrap(),
        );
        let limit = |place: usize| session["ci"][place].as_f64().unwrap();
        (limit(0)..=limit(1)).contains(&expected[&key])
    };
    let held = whole.iter().filter(holds).count();
    assert!(
        held * 10 >= whole.len() * 9,
        "{held} of {} sessions hold the truth",
        whole.len()
    );

    the_export_says_the_same(&folder, place.path(), &found);
    let checked = run(&["verify", "--workspace", arg(&folder)], "");
    assert_eq!(checked.status, 0, "{}{}", checked.out, checked.err);
}

/// The commands on the export give the report's numbers, digit for digit, and a second report has
/// the same bytes.
fn the_export_says_the_same(folder: &Path, place: &Path, found: &Value) {
    let out = place.join("export");
    let export = [
        "export",
        "--workspace",
        arg(folder),
        "--round",
        "spring",
        "--out",
        arg(&out),
    ];
    assert_eq!(run(&export, "").status, 0);
    let file = |name: &str| out.join(name);
    let (ratings, tokens, panel) = (file("ratings.csv"), file("tokens.csv"), file("panel.csv"));
    let (key, rules) = (file("key.csv"), file("rules.toml"));
    let drawn = file("assignment.json");
    let outcome = [
        "outcome",
        arg(&ratings),
        "--tokens",
        arg(&tokens),
        "--panel",
        arg(&panel),
        "--assignment",
        arg(&drawn),
        "--look",
        "3",
        "--looks",
        "3",
        "--json",
    ];
    assert_eq!(run(&outcome, "").json(), found["outcome"]);
    let agreement = [
        "agreement",
        arg(&ratings),
        "--tokens",
        arg(&tokens),
        "--panel",
        arg(&panel),
        "--categories",
        "correct,distorted",
        "--json",
    ];
    assert_eq!(run(&agreement, "").json(), found["agreement"]);
    let listeners = [
        "listeners",
        arg(&ratings),
        "--key",
        arg(&key),
        "--rules",
        arg(&rules),
        "--json",
    ];
    assert_eq!(run(&listeners, "").json(), found["listeners"]);

    let again = place.join("again");
    let report = [
        "report",
        "--workspace",
        arg(folder),
        "--round",
        "spring",
        "--out",
        arg(&again),
    ];
    assert_eq!(run(&report, "").status, 0);
    let first = folder.join("report");
    let names = |folder: &Path| -> BTreeSet<_> {
        std::fs::read_dir(folder)
            .unwrap()
            .map(|entry| entry.unwrap().file_name())
            .collect()
    };
    assert_eq!(names(&first), names(&again));
    for name in names(&first) {
        let bytes = |folder: &Path| std::fs::read(folder.join(&name)).unwrap();
        assert!(bytes(&first) == bytes(&again), "{} differs", name.display());
    }
}

/// Words of Debian's package `ktuberling-data`, spoken by real people: a voice stands for a child.
/// They are read where the package puts them and copied nowhere but into the test's own study.
const SOUNDS: &str = "/usr/share/ktuberling/sounds";

/// Voices with their words: languages that have at least 20 recordings, 20 words each.
fn voices() -> Vec<(String, Vec<PathBuf>)> {
    let folders = std::fs::read_dir(SOUNDS).unwrap_or_else(|error| {
        panic!(
            "{SOUNDS} cannot be read ({error}): this test hears real words; install them with \
             `apt-get install ktuberling-data`"
        )
    });
    let mut folders: Vec<_> = folders
        .flatten()
        .map(|e| e.path())
        .filter(|p| p.is_dir())
        .collect();
    folders.sort();
    let mut voices = Vec::new();
    for folder in folders {
        let mut words: Vec<_> = std::fs::read_dir(&folder)
            .unwrap()
            .flatten()
            .map(|entry| entry.path())
            .filter(|path| {
                path.extension()
                    .is_some_and(|end| end == "ogg" || end == "wav")
            })
            .collect();
        words.sort();
        words.truncate(20);
        if words.len() == 20 {
            voices.push((
                folder.file_name().unwrap().to_string_lossy().into_owned(),
                words,
            ));
        }
    }
    voices
}

const PLAN: &str = r#"
round = "real words"

[listeners]
invited = 3
judgements_per_token = 2

[sitting]
tokens = 200
repeats = 0.05
checks = 2
practice = 1

[contrast]
from = "baseline"
to = "treatment"

[screening]
rules = []

[analysis]

[texts]
consent_version = "1"
consent = "I listen of my own will."
instruction = "Judge the sound."
"#;

/// A study of real voices: even words are baseline, odd ones treatment; the last voice's words
/// are for checks and practice.
fn study_of_real_words(folder: &Path) -> (usize, BTreeSet<String>) {
    let mut voices = voices();
    let (_, others) = voices.pop().unwrap();
    let mut manifest = String::from("file,child,session,phase,word,use,answer\n");
    let inside = |path: &Path| path.strip_prefix(SOUNDS).unwrap().display().to_string();
    let mut children = BTreeSet::new();
    let mut n_words = 0;
    for (voice, words) in &voices {
        children.insert(format!("V-{voice}"));
        for (place, path) in words.iter().enumerate() {
            let session = place % 2 + 1;
            let phase = ["baseline", "treatment"][place % 2];
            let word = path
                .file_stem()
                .unwrap()
                .to_string_lossy()
                .replace(['[', ']'], "");
            manifest.push_str(&format!(
                "{},V-{voice},{session},{phase},{word},,\n",
                inside(path)
            ));
            n_words += 1;
        }
    }
    for (place, path) in others.iter().take(4).enumerate() {
        let use_ = if place < 2 { "check" } else { "practice" };
        manifest.push_str(&format!("{},,,,w{place},{use_},correct\n", inside(path)));
    }
    std::fs::write(folder.join("manifest.csv"), manifest).unwrap();
    std::fs::write(folder.join("plan.toml"), PLAN).unwrap();
    (n_words, children)
}

#[test]
fn real_words_are_imported_sealed_rated_and_reported() {
    let place = tempfile::tempdir().unwrap();
    let (n_words, children) = study_of_real_words(place.path());
    assert!(n_words >= 200, "{n_words} real words");
    let folder = place.path().join("study");
    let (manifest, plan) = (
        place.path().join("manifest.csv"),
        place.path().join("plan.toml"),
    );
    assert_eq!(run(&["new", arg(&folder)], "").status, 0);
    let import = [
        "import",
        "--workspace",
        arg(&folder),
        "--manifest",
        arg(&manifest),
        "--audio",
        SOUNDS,
        "--json",
    ];
    let imported = run(&import, "").json();
    assert_eq!(imported["added"], n_words + 4);
    assert_eq!(
        run(&import, "").json()["added"],
        0,
        "importing again adds nothing"
    );

    let consents = place.path().join("consents.csv");
    let mut table = String::from("child,version,date,scope,assent\n");
    for child in &children {
        table.push_str(&format!("{child},2,2025-01-05,remote,given\n"));
    }
    std::fs::write(&consents, table).unwrap();
    let noted = [
        "consent",
        "import",
        arg(&consents),
        "--workspace",
        arg(&folder),
        "--json",
    ];
    assert_eq!(run(&noted, "").json()["noted"], children.len());

    let workspace = Workspace::open(&folder).unwrap();
    let sealed = app::seal_round(&workspace, &plan, Now::read()).unwrap();
    let mut n_heard = 0_u32;
    for link in &sealed.links {
        listen(&workspace, link, |_| {
            n_heard += 1;
            if n_heard.is_multiple_of(3) {
                Judgement::Distorted
            } else {
                Judgement::Correct
            }
        });
    }
    app::close(&workspace, &sealed.round, Now::read()).unwrap();
    app::unlock(&workspace, &sealed.round, Now::read()).unwrap();
    drop(workspace);

    let out = place.path().join("report");
    let report = [
        "report",
        "--workspace",
        arg(&folder),
        "--round",
        "real words",
        "--out",
        arg(&out),
    ];
    let ran = run(&report, "");
    assert_eq!(ran.status, 0, "{}", ran.err);
    let found = json_in(&out.join("findings.json"));
    let sessions = found["outcome"]["sessions"].as_array().unwrap();
    let named: BTreeSet<_> = sessions
        .iter()
        .map(|s| s["child"].as_str().unwrap().to_owned())
        .collect();
    assert_eq!(named, children);
    let judged: u64 = sessions
        .iter()
        .filter(|s| s["words"] == "all")
        .map(|s| s["judgements"].as_u64().unwrap())
        .sum();
    assert!(
        judged >= 2 * n_words as u64,
        "{judged} judgements of {n_words} words"
    );
    let page = std::fs::read_to_string(out.join("report.html")).unwrap();
    assert!(children.iter().all(|child| page.contains(child.as_str())));
}
