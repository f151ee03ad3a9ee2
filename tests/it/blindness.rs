//! Every byte that a listener's browser gets over a whole sitting, searched for what it must never
//! know.

use std::collections::BTreeMap;
use std::collections::BTreeSet;

use data_encoding::BASE64;
use data_encoding::HEXLOWER;
use fairhearing::store::PresentationRow;
use fairhearing::store::RoundTokenRow;

use crate::spellings::finds;
use crate::spellings::spellings;
use crate::support::Labels;
use crate::support::Received;
use crate::support::Remote;
use crate::support::Server;
use crate::support::Study;
use crate::support::sent;

fn marked_study() -> Study {
    Study::with()
        .labels(Labels::markers())
        .children(2)
        .peers(1)
        .words(3)
        .checks(2)
        .practice(2)
        .warm_ups(2)
        .examples(2)
        .repeats(0.4)
        .listeners(3)
        .open(2)
        .course(COURSE.to_owned())
        .texts("assent = \"You may stop.\"\n".to_owned())
        .sealed()
}

/// The pages beside a sitting: an open link, the way back, withdrawal, and a laptop that is handed round.
async fn the_other_pages(study: &Study, server: &Server, laptop: &Server) -> Vec<Received> {
    let link = &study.open_link().path;
    let mut comer = Remote::new(&server.address);
    comer.get(link).await;
    comer.post(link, "").await;
    comer.get("/listen/way-back").await;
    comer.post("/listen/way-back", "").await;
    comer.get("/withdraw").await;
    comer.post("/withdraw", "receipt=hello&sure=yes").await;
    let mut hands = Remote::new(&laptop.address);
    hands.get("/start").await;
    hands.post("/start", "code=222222").await;
    let codes = fairhearing::app::listening::codes(&study.workspace).unwrap();
    hands
        .post("/start", &format!("code={}", codes[1].code))
        .await;
    take_the_steps(&mut hands).await;
    hands.get("/listen").await;
    hands.get("/hand-over").await;
    hands.post("/hand-over", "").await;
    let mut all = comer.received;
    all.extend(hands.received);
    all
}

/// Everything that can come between the words of a sitting.
const COURSE: &str = "
[practice]
pass = 1.0
tries = 2
[rests]
every = 5
[sound_check]
headphones = \"record\"
[questions]
ask = [\"first-language\", \"age\", \"hearing\", \"experience\", \"acquaintance\"]
";

#[tokio::test]
async fn nothing_that_a_browser_gets_tells_what_is_blinded() {
    let study = marked_study();
    let server = Server::start(&study.folder());
    let mut remote = Remote::new(&server.address);
    sit_through(&study, &mut remote).await;
    let (laptop, _) = Server::start_for_one_laptop(&study.folder());
    let others = the_other_pages(&study, &server, &laptop).await;
    let all: Vec<_> = remote.received.iter().chain(&others).collect();
    assert_tells_nothing(&study, all);
    let statuses: BTreeSet<_> = remote
        .received
        .iter()
        .map(|received| received.status)
        .collect();
    for status in [200, 206, 303, 401, 403, 404, 409, 416, 422] {
        assert!(
            statuses.contains(&status),
            "no answer with {status} was looked at"
        );
    }
}

/// No byte of what a browser got tells what is blinded.
#[track_caller]
pub(crate) fn assert_tells_nothing<'r>(
    study: &Study,
    received: impl IntoIterator<Item = &'r Received>,
) {
    let needles = needles(study);
    let manifest = BASE64.encode(&std::fs::read(study.manifest()).unwrap());
    assert!(
        finds(&needles, manifest.as_bytes()).is_some(),
        "the search finds what is there"
    );
    for received in received {
        let mut bytes = received.asked.clone().into_bytes();
        for (name, value) in &received.headers {
            bytes.extend_from_slice(name.as_str().as_bytes());
            bytes.push(b' ');
            bytes.extend_from_slice(value.as_bytes());
        }
        bytes.extend_from_slice(&received.body);
        if let Some(found) = finds(&needles, &bytes) {
            panic!("{} {}: gave {found} away", received.asked, received.status);
        }
    }
}

#[tokio::test]
async fn no_kind_of_presentation_can_be_told_from_another() {
    let study = marked_study();
    let server = Server::start(&study.folder());
    let mut remote = Remote::new(&server.address);
    sit_through(&study, &mut remote).await;
    let places = places(&study);
    let kind_of = |asked: &str| {
        let id = asked.rsplit('/').next().unwrap();
        let place = places.iter().find(|place| place.id.to_string() == id);
        place.map(|place| place.kind.as_str())
    };
    for (what, open) in [
        ("GET /listen/sound/", true),
        ("PUT /listen/played/", true),
        ("PUT /listen/judgement/", false),
        ("PUT /listen/void/", false),
    ] {
        let mut seen: BTreeMap<&str, BTreeSet<Vec<String>>> = BTreeMap::new();
        for received in &remote.received {
            if received.status != 200 || !received.asked.starts_with(what) {
                continue;
            }
            let kind = kind_of(&received.asked).unwrap();
            // Practice says that it is practice, and only its answers are answered.
            if open || kind != "practice" {
                seen.entry(kind).or_default().insert(looks_of(received));
            }
        }
        let looks: BTreeSet<_> = seen.values().flatten().collect();
        assert_eq!(looks.len(), 1, "{what}: {seen:#?}");
        for kind in ["warm-up", "check", "main", "repeat"] {
            assert!(seen.contains_key(kind), "{what}: no {kind} was looked at");
        }
    }
}

/// What the script is told of a word, and the page that it stands on, are of one shape for every
/// kind of presentation after the practice.
#[tokio::test]
async fn the_page_and_what_its_script_is_told_look_alike_for_every_kind() {
    let study = marked_study();
    let server = Server::start(&study.folder());
    let mut remote = Remote::new(&server.address);
    come_in(&study, &mut remote).await;
    let mut told: BTreeMap<String, BTreeSet<String>> = BTreeMap::new();
    let mut pages: BTreeMap<String, BTreeSet<String>> = BTreeMap::new();
    loop {
        let ahead = remote.get("/listen/ahead").await;
        let Some(first) = ahead.json().get(0).cloned() else {
            let gone = remote.post("/listen/go-on", "").await;
            assert_eq!(gone.status, 303);
            if remote.ahead().await.is_empty() {
                break;
            }
            continue;
        };
        let id = first["id"].as_str().unwrap();
        let place = places(&study)
            .into_iter()
            .find(|place| place.id.to_string() == id);
        let kind = place.unwrap().kind.as_str().to_owned();
        told.entry(kind.clone())
            .or_default()
            .insert(shape_of(&first));
        let page = remote.get("/listen").await;
        pages.entry(kind).or_default().insert(page.text());
        remote.judge(id, "correct").await;
    }
    told.remove("practice");
    pages.remove("practice");
    let kinds: Vec<_> = told.keys().map(String::as_str).collect();
    assert_eq!(kinds, ["check", "main", "repeat", "warm-up"]);
    assert_eq!(
        told.values().flatten().collect::<BTreeSet<_>>().len(),
        1,
        "{told:#?}"
    );
    assert_eq!(pages.values().flatten().collect::<BTreeSet<_>>().len(), 1);
}

/// The keys of a value and the kinds of what they hold; `practice` with its value.
fn shape_of(word: &serde_json::Value) -> String {
    let fields = word.as_object().unwrap().iter();
    let shapes = fields.map(|(name, value)| match value {
        serde_json::Value::Bool(said) => format!("{name}={said}"),
        serde_json::Value::String(text) => format!("{name}: text of {}", text.len()),
        serde_json::Value::Object(inner) => format!("{name}: {:?}", inner.keys()),
        serde_json::Value::Array(_) => format!("{name}: list"),
        other => format!("{name}: {other}"),
    });
    shapes.collect::<Vec<_>>().join(", ")
}

#[tokio::test]
async fn two_presentations_of_a_token_share_no_address_and_no_tag() {
    let study = marked_study();
    let server = Server::start(&study.folder());
    let mut remote = Remote::new(&server.address);
    sit_through(&study, &mut remote).await;
    let places = places(&study);
    let repeated = places.iter().filter(|place| {
        places
            .iter()
            .filter(|other| other.token == place.token)
            .count()
            > 1
    });
    assert!(repeated.count() > 1, "the round repeats a token");
    let ids: BTreeSet<_> = places.iter().map(|place| place.id).collect();
    assert_eq!(ids.len(), places.len());
    for received in &remote.received {
        for name in [
            "etag",
            "last-modified",
            "age",
            "expires",
            "content-disposition",
        ] {
            assert_eq!(received.header(name), None, "{}", received.asked);
        }
        if !received.asked.contains("/assets/") {
            assert_eq!(
                received.header("cache-control"),
                Some("no-store"),
                "{}",
                received.asked
            );
        }
    }
}

/// A sitting from the link to the receipt, with every asset, and every error that can be provoked.
async fn sit_through(study: &Study, remote: &mut Remote) {
    remote.get("/listen").await;
    remote.get("/l/nothing-that-was-ever-made").await;
    come_in(study, remote).await;
    let page = remote.get("/listen").await.text();
    for asset in assets(&page) {
        assert_eq!(remote.get(&asset).await.status, 200, "{asset}");
    }
    hear_examples(study, remote).await;
    provoke(study, remote).await;
    let (mut number, mut halts) = (0, 0);
    let mut cut = BTreeSet::from(["practice".to_owned()]);
    loop {
        let ahead = remote.ahead().await;
        let Some(id) = ahead.first() else {
            let page = remote.get("/listen").await.text();
            if !page.contains("/listen/go-on") {
                break;
            }
            halts += 1;
            remote.get("/listen/later").await;
            remote.post("/listen/go-on", "").await;
            continue;
        };
        remote.get("/listen").await;
        for id in &ahead {
            assert_eq!(remote.get(&format!("/listen/sound/{id}")).await.status, 200);
        }
        number += 1;
        if cut.insert(kind_of(study, id)) {
            cut_short(remote, id).await;
            continue;
        }
        remote.report_plays(id, number).await;
        let (answer, other) = [("correct", "distorted"), ("distorted", "correct")][number % 2];
        assert_eq!(remote.judge(id, answer).await.status, 200);
        assert_eq!(remote.judge(id, answer).await.status, 200, "the same again");
        assert_eq!(remote.judge(id, other).await.status, 409, "another answer");
    }
    assert!(halts > 3, "practice once more and rests were looked at");
    remote
        .post(
            "/listen/closing",
            "told_early_from_late=no&thought_compared=&remark=",
        )
        .await;
    let done = remote.get("/listen").await.text();
    assert!(done.contains("class=\"receipt\""), "{done}");
}

/// From the link to the sitting, with the page of each step and what is refused there.
async fn come_in(study: &Study, remote: &mut Remote) {
    remote.get(&study.links()[0].path).await;
    take_the_steps(remote).await;
}

/// From consent to the sitting.
async fn take_the_steps(remote: &mut Remote) {
    for (page, unfit, form) in [
        ("consent", "agreed=yes", "version=1&agreed=yes&age=adult"),
        (
            "questions",
            "age=18-29",
            "age=18-29&first-language=several&hearing=not-said&experience=none&acquaintance=yes",
        ),
        (
            "sound-check",
            "device=none",
            "device=built-in&heard=yes&level_db=-12&first_right=1&first_of=3&first_tries=2",
        ),
        ("begin", "", ""),
    ] {
        assert_eq!(remote.get("/listen").await.status, 200);
        let page = format!("/listen/{page}");
        if !unfit.is_empty() {
            assert_eq!(remote.post(&page, unfit).await.status, 422, "{page}");
        }
        assert_eq!(remote.post(&page, form).await.status, 303, "{page}");
    }
}

/// A word that is cut short, said twice; it is never judged under this name.
async fn cut_short(remote: &mut Remote, id: &str) {
    let void = format!("/listen/void/{id}");
    for _ in 0..2 {
        let said = remote.put(&void, &serde_json::json!({})).await;
        assert_eq!(said.status, 200, "{}", said.text());
    }
    assert_eq!(remote.judge(id, "correct").await.status, 409);
    assert!(!remote.ahead().await.iter().any(|ahead| ahead == id));
}

fn kind_of(study: &Study, id: &str) -> String {
    let places = places(study);
    let place = places.iter().find(|place| place.id.to_string() == id);
    place.unwrap().kind.as_str().to_owned()
}

async fn hear_examples(study: &Study, remote: &mut Remote) {
    let examples: Vec<_> = places(study)
        .iter()
        .filter(|place| place.kind.as_str() == "example")
        .map(|place| format!("/listen/sound/{}", place.id))
        .collect();
    for example in &examples {
        assert_eq!(remote.get(example).await.status, 200);
        for (range, status) in [
            ("bytes=0-43", 206),
            ("bytes=-9", 206),
            ("bytes=99999999-", 416),
        ] {
            let heard = remote
                .ask("GET", example, &[("range", range)], String::new())
                .await;
            assert_eq!(heard.status, status, "{range}");
        }
        let head = remote.ask("HEAD", example, &[], String::new()).await;
        assert_eq!((head.status, head.body.len()), (200, 0));
    }
}

async fn provoke(study: &Study, remote: &mut Remote) {
    let last = places(study).last().unwrap().id;
    for path in [
        format!("/listen/sound/{last}"),
        "/listen/sound/aaaaaaaaaaaaaaaaaaaaaaaaaa".to_owned(),
        "/listen/sound/..%2f..%2fstudy.toml".to_owned(),
        "/nowhere".to_owned(),
    ] {
        assert_eq!(remote.get(&path).await.status, 404, "{path}");
    }
    let later = format!("/listen/judgement/{last}");
    assert_eq!(remote.put(&later, &sent("correct")).await.status, 409);
    assert_eq!(remote.put(&later, &sent("maybe")).await.status, 422);
    let aside = format!("/listen/aside/{last}");
    assert_eq!(
        remote
            .put(&aside, &serde_json::json!({"reason": "noise"}))
            .await
            .status,
        409
    );
    let elsewhere = [("sec-fetch-site", "cross-site")];
    assert_eq!(
        remote
            .ask("POST", "/listen/begin", &elsewhere, String::new())
            .await
            .status,
        403
    );
    assert_eq!(remote.post("/listen/closing", "").await.status, 409);
    assert_eq!(
        remote
            .post("/listen/sound-check", "device=none")
            .await
            .status,
        422
    );
}

/// The addresses of the page's own assets, and of the scripts that those ask for.
fn assets(page: &str) -> Vec<String> {
    let mut found: Vec<_> = page
        .split('"')
        .filter(|part| part.starts_with("/assets/"))
        .map(str::to_owned)
        .collect();
    let sitting = found.iter().find(|asset| asset.ends_with("sitting.js"));
    let sitting = sitting.unwrap().clone();
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/src/web/assets/listen");
    for script in std::fs::read_dir(folder).unwrap() {
        let script = script.unwrap().file_name();
        found.push(sitting.replace("sitting.js", script.to_str().unwrap()));
    }
    found
}

/// Everything but what differs from word to word by its nature: the time, the length, the sound
/// itself, and the place in the sitting.
fn looks_of(received: &Received) -> Vec<String> {
    let mut looks: Vec<_> = received
        .headers
        .iter()
        .filter(|(name, _)| !["date", "content-length"].contains(&name.as_str()))
        .map(|(name, value)| format!("{name}: {value:?}"))
        .collect();
    looks.sort();
    if received.asked.starts_with("PUT") {
        let mut body = received.json();
        body["place"] = serde_json::Value::Null;
        looks.push(body.to_string());
    } else {
        // What stands before the sizes of the frames and the samples.
        looks.push(HEXLOWER.encode(&received.body[..12]));
    }
    looks
}

/// What must not be found, each in several spellings.
fn needles(study: &Study) -> Vec<(String, Vec<u8>)> {
    let mut secrets = study.with.labels.all();
    for token in tokens(study) {
        secrets.push(token.audio_sha256);
    }
    let mut needles = Vec::new();
    for secret in secrets {
        for spelling in spellings(&secret) {
            needles.push((secret.clone(), spelling));
        }
    }
    needles
}

fn tokens(study: &Study) -> Vec<RoundTokenRow> {
    study
        .store()
        .read(|reading| reading.round_tokens(reading.rounds()?[0].id))
        .unwrap()
}

/// The places of the first listener's sitting.
pub(crate) fn places(study: &Study) -> Vec<PresentationRow> {
    study
        .store()
        .read(|reading| {
            let listener = reading.enrolments(reading.rounds()?[0].id)?[0].id;
            reading.presentations_of(reading.sittings_of(listener)?[0].id)
        })
        .unwrap()
}
