//! Tokens looked through before they are judged: masked, heard, logged, compared by phase.

use std::collections::BTreeMap;

use fairhearing::app;
use fairhearing::study::Exclusion;
use fairhearing::study::Judgement;

use crate::support::Labels;
use crate::support::Staff;
use crate::support::Study;
use crate::support::spoken;
use crate::support::wav_16_bit;

const REVIEW: &str = "/desk/recordings/review";

/// The addresses of the tokens in a list, in its order.
fn listed(page: &str) -> Vec<String> {
    let links = page.split("href=\"/desk/recordings/review/").skip(1);
    links
        .map(|rest| rest.split(['?', '"']).next().unwrap().to_owned())
        .collect()
}

/// What events of a kind say in a field. They have that field and the account, and no other that could tell a child.
fn told(study: &Study, kind: &str, field: &str) -> Vec<String> {
    let events = study.events().into_iter();
    events
        .filter(|event| event.kind == kind)
        .map(|event| {
            let body: BTreeMap<String, String> = serde_json::from_str(event.body.as_str()).unwrap();
            assert!(
                body.keys().all(|key| key == "account" || key == field),
                "{body:?}"
            );
            body[field].clone()
        })
        .collect()
}

#[test]
fn nothing_in_a_review_tells_whose_a_recording_is_and_the_order_is_drawn_afresh() {
    let labels = Labels::markers();
    let study = Study::with().labels(labels.clone()).imported();
    let desk = Staff::of(&study);
    let list = desk.get(REVIEW).text();
    let names = listed(&list);
    // Two children, two sessions, three words; two check words, a practice word, a warm-up, two examples.
    assert_eq!(names.len(), 18);
    let one = desk.get(&format!("{REVIEW}/{}", names[0])).text();
    let secret = labels
        .phases
        .iter()
        .chain(&labels.cohorts)
        .chain(&labels.conditions)
        .chain(&labels.dates)
        .chain([&labels.child, &labels.file]);
    for label in secret.filter(|label| !label.is_empty()) {
        for page in [&list, &one] {
            assert!(!page.contains(label.as_str()), "{label}");
        }
    }
    let another = Staff::again(&study);
    let drawn_again = listed(&another.get(REVIEW).text());
    assert!(drawn_again.iter().all(|name| !names.contains(name)));
    assert_eq!(another.get(&format!("{REVIEW}/{}", names[0])).status, 404);
}

#[test]
fn a_recording_is_heard_before_and_after_without_its_tags_and_each_play_is_logged_once() {
    let study = Study::with().imported();
    let desk = Staff::of(&study);
    let name = listed(&desk.get(REVIEW).text()).remove(0);
    let prepared = desk.get(&format!("{REVIEW}/{name}/prepared"));
    let recorded = desk.get(&format!("{REVIEW}/{name}/recorded"));
    for sound in [&prepared, &recorded] {
        assert_eq!(sound.status, 200);
        // A canonical header: nothing stands between the format and the samples.
        assert_eq!(&sound.bytes[0..4], b"RIFF");
        assert_eq!(&sound.bytes[36..40], b"data");
    }
    assert_ne!(prepared.bytes, recorded.bytes);
    let files = std::fs::read_dir(study.folder().join("prepared")).unwrap();
    let mut kept = files.map(|file| std::fs::read(file.unwrap().path()).unwrap());
    assert!(kept.any(|bytes| bytes == prepared.bytes));
    let begins = [("range", "bytes=0-")];
    let goes_on = [("range", "bytes=1000-1999")];
    let path = format!("{REVIEW}/{name}/prepared");
    assert_eq!(desk.get_with(&path, &begins).bytes, prepared.bytes);
    let part = desk.get_with(&path, &goes_on);
    assert_eq!(
        (part.status, part.bytes.as_slice()),
        (206, &prepared.bytes[1000..2000])
    );
    assert_eq!(
        told(&study, "recording played", "sound"),
        ["prepared", "recorded", "prepared"]
    );
}

#[test]
fn unmasking_tells_whose_it_is_and_the_log_tells_that_it_was_done() {
    let labels = Labels::markers();
    let study = Study::with().labels(labels.clone()).imported();
    let desk = Staff::of(&study);
    let name = listed(&desk.get(REVIEW).text()).remove(0);
    let path = format!("{REVIEW}/{name}/unmask");
    assert_eq!(desk.get(&path).status, 404, "it is no page to be opened");
    let elsewhere = [("sec-fetch-site", "cross-site")];
    assert_eq!(desk.post_with(&path, &[], &elsewhere).status, 403);
    assert!(told(&study, "recording unmasked", "account").is_empty());
    let page = desk.post(&path, &[]).text();
    assert!(page.contains(&labels.file), "{page}");
    assert_eq!(told(&study, "recording unmasked", "account").len(), 1);
    let again = desk.get(&format!("{REVIEW}/{name}")).text();
    assert!(!again.contains(&labels.file), "masked again at once");
    let verified = app::verify(&study.workspace, &[]).unwrap();
    assert_eq!(verified.findings, Vec::<String>::new());
}

#[test]
fn a_recording_is_left_out_with_a_reason_and_taken_in_again() {
    let study = Study::with().imported();
    let desk = Staff::of(&study);
    let name = listed(&desk.get(REVIEW).text()).remove(0);
    let path = format!("{REVIEW}/{name}");
    let exclude = format!("{path}/exclude");
    let without = desk.post(&exclude, &[("reason", "")]);
    assert_eq!(without.status, 422);
    assert!(without.text().contains("no reason was chosen"));
    assert!(app::excluded(&study.workspace).unwrap().is_empty());
    assert_eq!(desk.post(&exclude, &[("reason", "cut-off")]).status, 303);
    let page = desk.get(&path).text();
    assert!(page.contains("left out: the word is cut off"), "{page}");
    let prepared = desk.get(&format!("{path}/prepared")).bytes;
    let left_out = app::excluded(&study.workspace).unwrap();
    assert_eq!(left_out.len(), 1);
    assert_eq!(left_out[0].reason, Exclusion::CutOff);
    let kept = study.folder().join("prepared");
    let kept = kept.join(format!("{}.wav", left_out[0].sha256));
    assert_eq!(
        std::fs::read(kept).unwrap(),
        prepared,
        "the one that was heard"
    );
    let listed_out = listed(&desk.get(&format!("{REVIEW}?mark=excluded")).text());
    assert_eq!(listed_out, [name]);
    let include = format!("{path}/include");
    let taken_in = desk.post(&format!("{include}?mark=excluded"), &[]);
    assert_eq!(taken_in.status, 303);
    assert!(app::excluded(&study.workspace).unwrap().is_empty());
    assert_eq!(desk.post(&include, &[]).status, 422);
    let verified = app::verify(&study.workspace, &[]).unwrap();
    assert_eq!(verified.findings, Vec::<String>::new());
}

#[test]
fn a_recording_that_somebody_judged_stays_and_the_refusal_does_not_unmask_it() {
    let labels = Labels::markers();
    let study = Study::with().labels(labels.clone()).sealed();
    let mut listener = study.listener(0);
    listener.begin();
    listener.judge_all(|_| Judgement::Correct);
    let desk = Staff::of(&study);
    let names = listed(&desk.get(REVIEW).text());
    let refused = names.iter().filter_map(|name| {
        let page = desk.get(&format!("{REVIEW}/{name}")).text();
        let judged = page.contains("It was judged already, so it stays");
        let answer = desk.post(&format!("{REVIEW}/{name}/exclude"), &[("reason", "noise")]);
        assert_eq!(
            answer.status == 422,
            judged,
            "the page offers what is possible"
        );
        judged.then(|| answer.text())
    });
    let refused: Vec<String> = refused.collect();
    // Twelve words, two check words, a practice word and a warm-up; nobody judges examples.
    assert_eq!(refused.len(), 16);
    for page in refused {
        assert!(page.contains("this recording was judged already"), "{page}");
        assert!(!page.contains(labels.file.as_str()), "{page}");
    }
}

/// Puts recordings with a loud room in the place of these.
fn in_a_loud_room(study: &Study, numbers: impl IntoIterator<Item = u32>) {
    for number in numbers {
        let room = spoken(number + 1000);
        let mut word = spoken(number);
        // The hiss of another word, all through this one.
        let hiss = &room[48 * 150..48 * 240];
        for (sample, noise) in word.iter_mut().zip(hiss.iter().cycle()) {
            *sample += 0.5 * noise;
        }
        std::fs::write(
            study.audio().join(format!("word{number}.wav")),
            wav_16_bit(&word),
        )
        .unwrap();
    }
}

#[test]
fn recordings_are_found_by_their_remarks() {
    let study = Study::with().made();
    in_a_loud_room(&study, [2]);
    study.import().unwrap();
    let desk = Staff::of(&study);
    let all = listed(&desk.get(REVIEW).text());
    let noisy = listed(&desk.get(&format!("{REVIEW}?mark=noisy")).text());
    assert_eq!(noisy.len(), 1);
    assert!(all.contains(&noisy[0]));
    let one = desk
        .get(&format!("{REVIEW}/{}?mark=noisy", noisy[0]))
        .text();
    assert!(one.contains("noisy: speech stands only"), "{one}");
    assert!(one.contains("Recording 1 of 1"), "{one}");
    assert_eq!(
        listed(&desk.get(&format!("{REVIEW}?mark=clipped")).text()).len(),
        0
    );
}

#[test]
fn a_room_that_changes_with_the_phase_is_said_in_words_and_one_that_does_not_is_not() {
    let quiet = Study::with().imported();
    let page = Staff::of(&quiet).get("/desk/recordings/phases").text();
    assert!(
        page.contains("No measure tells two phases apart."),
        "{page}"
    );
    let loud = Study::with().made();
    // The second session of either child is in treatment: words 4 to 6 and 10 to 12.
    in_a_loud_room(&loud, (4..=6).chain(10..=12));
    loud.import().unwrap();
    let page = Staff::of(&loud).get("/desk/recordings/phases").text();
    assert!(
        page.contains("This tells baseline from treatment."),
        "{page}"
    );
    assert!(
        page.contains("the one of treatment is noisier than that of baseline in 100"),
        "{page}"
    );
}
