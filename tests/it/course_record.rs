//! What is kept of a listener's course: which consent, on what the sound was set, what she said at the
//! end, and a rule of repeats that acts while she listens.

use fairhearing::app;
use fairhearing::app::listening::Stage;
use fairhearing::store::PresentationRow;
use fairhearing::store::Reading;
use fairhearing::store::RoundTokenRow;
use fairhearing::store::StoreError;
use fairhearing::study::Judgement::Correct;
use fairhearing::study::Judgement::Distorted;
use fairhearing::study::PresentationKind;

use crate::support::Remote;
use crate::support::Server;
use crate::support::Study;

#[track_caller]
fn assert_verified(study: &Study) {
    let verified = app::verify(&study.workspace, &[]).unwrap();
    assert_eq!(verified.findings, Vec::<String>::new());
}

#[tokio::test]
async fn another_version_of_the_consent_is_refused_and_the_version_is_in_the_log() {
    let study = Study::with().sealed();
    let server = Server::start(&study.folder());
    let mut remote = Remote::new(&server.address);
    remote.get(&study.links()[0].path).await;
    let other = remote.post("/listen/consent", "version=2&agreed=yes").await;
    assert_eq!(other.status, 409, "{}", other.text());
    let agreed = |study: &Study| {
        let events = study.events().into_iter();
        events
            .filter(|event| event.kind == "consent")
            .map(|event| event.body.as_str().to_owned())
            .collect::<Vec<_>>()
    };
    assert_eq!(agreed(&study), Vec::<String>::new());
    let right = remote.post("/listen/consent", "version=1&agreed=yes").await;
    assert_eq!(right.status, 303);
    let told = agreed(&study);
    assert_eq!(told.len(), 1);
    assert!(told[0].contains("\"version\":\"1\""), "{told:?}");
}

/// The highest sample of a prepared file, read from its bytes: 44 of header, then 16-bit samples.
fn peak(study: &Study, sha256: &str) -> u16 {
    let path = study
        .folder()
        .join("prepared")
        .join(format!("{sha256}.wav"));
    let bytes = std::fs::read(path).unwrap();
    let samples = bytes[44..].chunks_exact(2);
    samples
        .map(|pair| i16::from_le_bytes([pair[0], pair[1]]).unsigned_abs())
        .max()
        .unwrap()
}

#[test]
fn comfort_is_set_on_the_loudest_of_what_may_be_played() {
    let study = Study::with().examples(6).sealed();
    let mut listener = study.listener(0);
    let now = listener.now();
    app::listening::agree(&study.workspace, &listener.cookie, "1", None, now).unwrap();
    let Stage::SoundCheck { sample } = listener.stage() else {
        panic!("{:?}", listener.stage());
    };
    let (places, tokens): (Vec<PresentationRow>, Vec<RoundTokenRow>) = study
        .store()
        .read(|reading| {
            let round = reading.rounds()?[0].id;
            Ok::<_, StoreError>((reading.presentations()?, reading.round_tokens(round)?))
        })
        .unwrap();
    assert_eq!(places.len(), 6);
    let peaks: Vec<_> = places
        .iter()
        .map(|place| {
            let token = tokens.iter().find(|token| token.id == place.token).unwrap();
            (peak(&study, &token.audio_sha256), place.id == sample)
        })
        .collect();
    let highest = peaks.iter().map(|(peak, _)| *peak).max().unwrap();
    let lowest = peaks.iter().map(|(peak, _)| *peak).min().unwrap();
    let chosen = peaks.iter().find(|(_, is_sample)| *is_sample).unwrap().0;
    assert!(lowest < highest, "{peaks:?}");
    // A peak between two samples may lie a little above the highest sample.
    assert!(f64::from(chosen) >= 0.99 * f64::from(highest), "{peaks:?}");
}

#[tokio::test]
async fn what_she_said_at_the_end_is_kept_and_her_choices_are_exported() {
    let study = Study::with()
        .practice(0)
        .warm_ups(0)
        .checks(0)
        .repeats(0.0)
        .sealed();
    let server = Server::start(&study.folder());
    let mut remote = Remote::new(&server.address);
    remote.begin(&study.links()[0].path).await;
    while let Some(id) = remote.ahead().await.first() {
        remote.judge(id, "correct").await;
    }
    let said = "told_early_from_late=no&knew_a_voice=yes&thought_compared=Two+ways+to+teach";
    assert_eq!(remote.post("/listen/closing", said).await.status, 303);
    drop(server);
    let kept = study
        .store()
        .read(|reading| reading.said(reading.rounds()?[0].id))
        .unwrap();
    let closing = kept[0].closing.clone().unwrap();
    assert!(
        closing.contains("\"thought_compared\":\"Two ways to teach\""),
        "{closing}"
    );
    let round = study.round.as_ref().unwrap().round.clone();
    let now = app::Now::read();
    app::close(&study.workspace, &round, now).unwrap();
    app::unlock(&study.workspace, &round, now).unwrap();
    let unlocked = app::unlocked(&study.workspace, &round).unwrap();
    let findings = app::findings(&study.workspace, &unlocked).unwrap();
    let table = findings
        .tables
        .iter()
        .find(|file| file.name == "listener_answers.csv")
        .unwrap();
    let table = String::from_utf8(table.content.clone()).unwrap();
    let her = study.links()[0].listener.to_string();
    assert!(
        table.contains(&format!("{her},told-early-from-late,no\r\n")),
        "{table}"
    );
    assert!(
        table.contains(&format!("{her},knew-a-voice,yes\r\n")),
        "{table}"
    );
    assert_verified(&study);
}

fn all_places(reading: &Reading<'_>) -> Result<Vec<PresentationRow>, StoreError> {
    reading.presentations()
}

#[test]
fn whoever_hears_the_same_word_otherwise_each_time_is_let_go_while_she_listens() {
    let rule = "rules = [{ rule = \"min-repeat-agreement\", share = 0.9 }]";
    let study = Study::with()
        .words(5)
        .practice(0)
        .warm_ups(0)
        .checks(0)
        .repeats(0.5)
        .screening(rule.to_owned())
        .sealed();
    let mut listener = study.listener(0);
    listener.begin();
    let kinds = study.store().read(all_places).unwrap();
    let is_repeat = |id| {
        let place = kinds.iter().find(|place| place.id == id).unwrap();
        place.kind == PresentationKind::Repeat
    };
    let mut judged = 0;
    listener.judge_all(|word| {
        judged += 1;
        if is_repeat(word.id) {
            Distorted
        } else {
            Correct
        }
    });
    // Twenty words and ten of them again: two repeats told otherwise are more than one in ten.
    assert!(judged < 30, "{judged}");
    assert_eq!(listener.stage(), Stage::Closing);
    let why = study.store().read(|reading| {
        let rows = reading.enrolments(reading.rounds()?[0].id)?;
        Ok::<_, StoreError>(rows[0].let_go_why.clone())
    });
    assert!(why.unwrap().is_some());
    listener.finish();
    assert_verified(&study);
}
