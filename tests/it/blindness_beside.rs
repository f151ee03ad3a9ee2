//! Every byte of the pages that few listeners come to: a round that rests or is over, a full day, a second sound, a
//! check that failed, links that lead nowhere; and words that are set aside.

use std::collections::BTreeSet;

use fairhearing::app;
use fairhearing::app::Now;
use fairhearing::app::WhichLink;
use fairhearing::study::RoundName;
use serde_json::json;

use crate::blindness::assert_tells_nothing;
use crate::blindness::places;
use crate::support::Labels;
use crate::support::Remote;
use crate::support::Server;
use crate::support::Study;
use crate::support::With;
use crate::support::sent;

fn marked() -> With {
    Study::with()
        .labels(Labels::markers())
        .words(3)
        .practice(0)
        .warm_ups(1)
        .checks(2)
        .repeats(0.4)
}

fn course(more: &str) -> String {
    let mut sections = "[practice]\npass = 0.0\n[rests]\nevery = 0\nminutes_a_day = 0\n".to_owned();
    sections += more;
    if !more.contains("[sound_check]") {
        sections += "[sound_check]\nfirst_sound = \"off\"\n";
    }
    sections
}

fn name() -> RoundName {
    RoundName::new("spring").unwrap()
}

/// A sentence of the page, as the file of its language has it.
fn text(section: &str, sentence: &str) -> String {
    let texts = include_str!("../../src/web/listener/texts/en.toml");
    let texts: toml::Table = texts.parse().unwrap();
    texts[section][sentence].as_str().unwrap().to_owned()
}

async fn assert_shows(remote: &mut Remote, path: &str, section: &str, sentence: &str) {
    let page = remote.get(path).await.text();
    let wanted = text(section, sentence);
    assert!(
        page.contains(&wanted),
        "{path} should say: {wanted}\n{page}"
    );
}

/// Judges up to `most` words, all of them correct.
async fn judge(remote: &mut Remote, most: usize) {
    for _ in 0..most {
        let Some(id) = remote.ahead().await.first().cloned() else {
            return;
        };
        remote.get(&format!("/listen/sound/{id}")).await;
        remote.judge(&id, "correct").await;
    }
}

#[tokio::test]
async fn a_round_that_rests_or_is_over_tells_nothing() {
    let study = marked().sealed();
    let server = Server::start(&study.folder());
    let mut remote = Remote::new(&server.address);
    remote.begin(&study.links()[0].path).await;
    judge(&mut remote, 2).await;
    let next = remote.ahead().await[0].clone();
    app::pause(&study.workspace, &name(), Now::read()).unwrap();
    assert_shows(&mut remote, "/listen", "paused", "title").await;
    assert_eq!(remote.get("/listen/ahead").await.status, 423);
    let mut newcomer = Remote::new(&server.address);
    newcomer.get(&study.links()[1].path).await;
    app::resume(&study.workspace, &name(), Now::read()).unwrap();
    app::close(&study.workspace, &name(), Now::read()).unwrap();
    // A page of before still leads to her receipt.
    let over = remote.post("/listen/go-on", "").await;
    assert_eq!(over.status, 410);
    assert!(over.text().contains("href=\"/listen\""), "{}", over.text());
    assert_shows(&mut remote, "/listen", "closing", "title").await;
    assert_eq!(remote.get("/listen/ahead").await.status, 410);
    assert_eq!(
        remote.get(&format!("/listen/sound/{next}")).await.status,
        410
    );
    let late = remote
        .put(&format!("/listen/judgement/{next}"), &sent("correct"))
        .await;
    assert_eq!(late.status, 410);
    newcomer.get(&study.links()[1].path).await;
    assert_shows(&mut newcomer, "/listen", "round_closed", "title").await;
    assert_tells_nothing(&study, remote.received.iter().chain(&newcomer.received));
}

#[tokio::test]
async fn a_full_day_and_a_second_sound_tell_nothing() {
    let full = course("").replace("minutes_a_day = 0", "minutes_a_day = 0\nwords_a_day = 2");
    let study = marked().course(full).sealed();
    let server = Server::start(&study.folder());
    let mut remote = Remote::new(&server.address);
    remote.begin(&study.links()[0].path).await;
    judge(&mut remote, 9).await;
    assert_shows(&mut remote, "/listen", "today", "title").await;
    remote.get("/listen/later").await;
    assert_tells_nothing(&study, &remote.received);

    let targets = ["s", "r"].map(|target| {
        format!("[[targets]]\ntarget = \"{target}\"\nname = \"the {target} sound\"\ninstruction = \"Judge it.\"\n")
    });
    let labels = Labels {
        target: None,
        ..Labels::markers()
    };
    let study = marked()
        .labels(labels)
        .words(6)
        .checks(4)
        .warm_ups(0)
        .targets(2)
        .course(course("") + &targets.concat())
        .sealed();
    let server = Server::start(&study.folder());
    let mut remote = Remote::new(&server.address);
    remote.begin(&study.links()[0].path).await;
    judge(&mut remote, 99).await;
    let page = remote.get("/listen").await.text();
    assert!(
        page.contains("/listen/go-on") || page.contains("/listen/begin"),
        "{page}"
    );
    remote.post("/listen/go-on", "").await;
    assert!(!remote.ahead().await.is_empty(), "the second sound");
    judge(&mut remote, 99).await;
    assert_shows(&mut remote, "/listen", "closing", "title").await;
    assert_tells_nothing(&study, &remote.received);
}

#[tokio::test]
async fn whoever_is_left_out_or_finds_nothing_left_or_is_let_go_learns_nothing() {
    let study = marked()
        .course(course("[sound_check]\nfirst_sound = \"require\"\n"))
        .sealed();
    let server = Server::start(&study.folder());
    let mut remote = Remote::new(&server.address);
    remote.get(&study.links()[0].path).await;
    remote.post("/listen/consent", "version=1&agreed=yes").await;
    let failed = "device=built-in&heard=yes&level_db=-12&first_right=0&first_of=3&first_tries=1";
    remote.post("/listen/sound-check", failed).await;
    assert_shows(&mut remote, "/listen", "left_out", "title").await;
    assert_tells_nothing(&study, &remote.received);

    let study = marked().judgements(1).sealed();
    let server = Server::start(&study.folder());
    let mut first = Remote::new(&server.address);
    first.begin(&study.links()[0].path).await;
    judge(&mut first, 99).await;
    let mut second = Remote::new(&server.address);
    second.begin(&study.links()[1].path).await;
    assert_shows(&mut second, "/listen", "nothing_left", "title").await;
    assert_tells_nothing(&study, first.received.iter().chain(&second.received));

    let study = marked()
        .checks(4)
        .screening(
            "rules = [{ rule = \"min-checks-right\", right = 4 }]\nlive_after_checks = 2"
                .to_owned(),
        )
        .sealed();
    let server = Server::start(&study.folder());
    let mut remote = Remote::new(&server.address);
    remote.begin(&study.links()[0].path).await;
    judge(&mut remote, 99).await;
    assert_shows(&mut remote, "/listen", "closing", "early").await;
    assert_tells_nothing(&study, &remote.received);
}

#[tokio::test]
async fn links_that_lead_nowhere_and_a_withdrawal_tell_nothing() {
    let study = marked().listeners(3).open(1).sealed();
    let server = Server::start(&study.folder());
    app::revoke(
        &study.workspace,
        &name(),
        WhichLink::Personal(2),
        Now::read(),
    )
    .unwrap();
    let mut revoked = Remote::new(&server.address);
    assert_eq!(revoked.get(&study.links()[1].path).await.status, 410);
    let open = &study.open_link().path;
    let mut comer = Remote::new(&server.address);
    comer.get(open).await;
    comer.post(open, "").await;
    let mut too_late = Remote::new(&server.address);
    let used_up = [too_late.get(open).await, too_late.post(open, "").await];
    assert!(
        used_up.iter().any(|answer| answer.status == 410),
        "{used_up:?}"
    );
    let mut remote = Remote::new(&server.address);
    remote.begin(&study.links()[0].path).await;
    judge(&mut remote, 99).await;
    remote
        .post(
            "/listen/closing",
            "told_early_from_late=no&thought_compared=&remark=",
        )
        .await;
    let done = remote.get("/listen").await.text();
    let (_, receipt) = done.split_once("class=\"receipt\"").unwrap();
    let receipt = receipt.split(['>', '<']).nth(1).unwrap();
    let form = format!("receipt={receipt}&sure=yes");
    let withdrawn = remote.post("/withdraw", &form).await;
    assert!(withdrawn.text().contains(&text("withdraw", "done_title")));
    remote.get("/listen").await;
    let mut statuses = BTreeSet::new();
    for _ in 0..40 {
        let wrong = "receipt=37-ABCD-EFGH-IJKL-MNOP-42&sure=yes";
        statuses.insert(too_late.post("/withdraw", wrong).await.status);
    }
    assert!(statuses.contains(&429), "{statuses:?}");
    let all = [&revoked, &comer, &too_late, &remote];
    assert_tells_nothing(&study, all.iter().flat_map(|browser| &browser.received));
}

/// A word that is set aside is answered alike, whatever it was for.
#[tokio::test]
async fn words_set_aside_are_answered_alike_whatever_they_are_for() {
    let study = marked().words(4).sealed();
    let server = Server::start(&study.folder());
    let mut remote = Remote::new(&server.address);
    remote.begin(&study.links()[0].path).await;
    let kind_of = |id: &str| {
        let place = places(&study)
            .into_iter()
            .find(|place| place.id.to_string() == id);
        place.unwrap().kind.as_str()
    };
    let (mut kinds, mut looks) = (BTreeSet::new(), BTreeSet::new());
    while let Some(id) = remote.ahead().await.first().cloned() {
        // The first of a kind is set aside; a word that is to come again is judged.
        let kind = kind_of(&id);
        let token = places(&study)
            .iter()
            .find(|place| place.id.to_string() == id)
            .map(|place| place.token);
        let comes_again = places(&study)
            .iter()
            .filter(|place| Some(place.token) == token)
            .count()
            > 1;
        if kinds.contains(kind) || (kind == "main" && comes_again) {
            remote.judge(&id, "correct").await;
            continue;
        }
        kinds.insert(kind);
        for _ in 0..2 {
            let said = remote
                .put(&format!("/listen/aside/{id}"), &json!({"reason": "noise"}))
                .await;
            assert_eq!(said.status, 200, "{}", said.text());
            let mut headers: Vec<_> = said
                .headers
                .iter()
                .filter(|(name, _)| *name != "date")
                .map(|(name, value)| format!("{name}: {value:?}"))
                .collect();
            headers.sort();
            looks.insert((headers, said.body));
        }
    }
    assert_eq!(
        kinds,
        BTreeSet::from(["check", "main", "repeat", "warm-up"])
    );
    assert_eq!(looks.len(), 1, "{looks:?}");
    assert_tells_nothing(&study, &remote.received);
}
