//! Links: the open one with its cap, the way back, and what is said where a link lets nobody in.

use std::collections::BTreeSet;

use fairhearing::app;
use fairhearing::app::Invitation;
use fairhearing::app::Now;
use fairhearing::app::WhichLink;
use fairhearing::store::Enrolment;
use fairhearing::store::StoreError;
use fairhearing::study::RoundName;

use crate::support::Remote;
use crate::support::Server;
use crate::support::Study;
use crate::support::listen;

/// Milliseconds of a day.
const DAY_MS: i64 = 86_400_000;

fn name() -> RoundName {
    RoundName::new("spring").unwrap()
}

fn enrolments(study: &Study) -> Vec<Enrolment> {
    let rows = study
        .store()
        .read(|reading| reading.enrolments(reading.rounds()?[0].id));
    rows.unwrap_or_else(|error: StoreError| panic!("{error}"))
}

/// What stands in a page between two pieces of its markup.
#[track_caller]
fn between<'p>(page: &'p str, before: &str, after: &str) -> &'p str {
    let (_, rest) = page
        .split_once(before)
        .unwrap_or_else(|| panic!("no {before}: {page}"));
    rest.split_once(after).unwrap().0
}

/// The sentence of a page that lets nobody in.
fn lead(page: &str) -> String {
    between(page, "class=\"lead\">", "</p>").to_owned()
}

#[tokio::test]
async fn looking_at_an_open_link_takes_no_place_however_often() {
    let study = Study::with().open(1).sealed();
    let server = Server::start(&study.folder());
    let link = &study.open_link().path;
    let (before, events) = (enrolments(&study).len(), study.events().len());
    for _ in 0..5 {
        let mut crawler = Remote::new(&server.address);
        assert_eq!(crawler.get(link).await.status, 200);
        let head = crawler.ask("HEAD", link, &[], String::new()).await;
        assert_eq!(head.status, 200);
        assert_eq!(crawler.get("/listen").await.status, 401);
    }
    assert_eq!(enrolments(&study).len(), before);
    assert_eq!(study.events().len(), events);
}

#[tokio::test]
async fn whoever_begins_behind_an_open_link_has_a_place_a_code_a_side_and_a_way_back() {
    let study = Study::with().words(1).judgements(6).open(4).sealed();
    let server = Server::start(&study.folder());
    let link = &study.open_link().path;
    let mut ways = BTreeSet::new();
    for _ in 0..4 {
        let mut remote = Remote::new(&server.address);
        let begun = remote.post(link, "").await;
        assert_eq!(begun.header("location"), Some("/listen/way-back"));
        let page = remote.get("/listen/way-back").await.text();
        let address = between(&page, "id=\"link\" dir=\"ltr\">", "</p>");
        let own = address.strip_prefix(&server.address).unwrap().to_owned();
        // 160 bits in letters of five.
        assert_eq!(own.trim_start_matches("/l/").len(), 32, "{own}");
        assert_ne!(own, *link);
        // She goes on, and it is shown no more.
        assert_eq!(remote.post("/listen/way-back", "").await.status, 303);
        let again = remote.get("/listen/way-back").await;
        assert_eq!(
            (again.status, again.header("location")),
            (303, Some("/listen"))
        );
        remote.begin(&own).await;
        let first = remote.ahead().await[0].clone();
        // Another device, by her own link: the same place.
        let mut other = Remote::new(&server.address);
        assert_eq!(other.get(&own).await.status, 303);
        other.check_sound().await;
        assert_eq!(other.ahead().await[0], first);
        // The same browser and the open link: no second place.
        assert_eq!(remote.get(link).await.header("location"), Some("/listen"));
        assert_eq!(
            remote.post(link, "").await.header("location"),
            Some("/listen")
        );
        ways.insert(own);
    }
    assert_eq!(ways.len(), 4);
    let rows = enrolments(&study);
    let came: Vec<_> = rows.iter().filter(|row| row.open_link.is_some()).collect();
    assert_eq!(came.len(), 4);
    let codes: BTreeSet<_> = rows.iter().map(|row| row.code.to_string()).collect();
    assert_eq!(codes.len(), rows.len());
    let left = rows.iter().filter(|row| row.side.as_str() == "left");
    assert_eq!(
        left.count(),
        3,
        "the sides are dealt evenly over six listeners"
    );
    let verified = app::verify(&study.workspace, &[]).unwrap();
    assert_eq!(verified.findings, Vec::<String>::new());
}

#[tokio::test]
async fn an_open_link_lets_in_as_many_as_it_may_and_not_one_more() {
    let study = Study::with().open(3).sealed();
    let server = Server::start(&study.folder());
    let link = study.open_link().path.clone();
    let mut comers = tokio::task::JoinSet::new();
    for _ in 0..12 {
        let (address, link) = (server.address.clone(), link.clone());
        comers.spawn(async move { Remote::new(&address).post(&link, "").await.status });
    }
    let statuses = comers.join_all().await;
    assert_eq!(statuses.iter().filter(|status| **status == 303).count(), 3);
    assert_eq!(statuses.iter().filter(|status| **status == 410).count(), 9);
    assert_eq!(enrolments(&study).len(), 2 + 3);
}

#[tokio::test]
async fn a_link_that_lets_nobody_in_says_why_and_what_to_do() {
    let study = Study::with().open(1).sealed();
    let server = Server::start(&study.folder());
    let more = |days| Invitation {
        listeners: 1,
        open: Some(1),
        days,
        ..Invitation::default()
    };
    let invite = |now_ms, days| {
        app::invite(&study.workspace, &name(), &more(days), Now::at_ms(now_ms)).unwrap()
    };
    let now = Now::read().ms();
    let old = invite(now - 2 * DAY_MS, Some(1));
    let fresh = invite(now, Some(1));
    let taken_back = invite(now, None);
    for which in [
        WhichLink::Personal(taken_back.links[0].number),
        WhichLink::Open(taken_back.open_link.as_ref().unwrap().number),
    ] {
        app::revoke(&study.workspace, &name(), which, Now::read()).unwrap();
    }
    let used_up = study.open_link().path.clone();
    assert_eq!(
        Remote::new(&server.address).post(&used_up, "").await.status,
        303
    );
    let (old_open, back_open) = (old.open_link.unwrap(), taken_back.open_link.unwrap());
    let mut said = BTreeSet::new();
    for (path, status) in [
        ("/l/nobody-has-this", 404),
        (&used_up, 410),
        (&old_open.path, 410),
        (&back_open.path, 410),
    ] {
        let got = Remote::new(&server.address).get(path).await;
        assert_eq!(got.status, status, "{path}");
        let begun = Remote::new(&server.address).post(path, "").await;
        assert_eq!(begun.status, status, "{path}");
        assert_eq!(lead(&got.text()), lead(&begun.text()));
        // A way back that leads nowhere is not offered.
        assert!(!got.text().contains("href=\"/listen\""), "{}", got.text());
        said.insert(lead(&got.text()));
    }
    for (path, open) in [
        (&old.links[0].path, &old_open.path),
        (&taken_back.links[0].path, &back_open.path),
    ] {
        let own = Remote::new(&server.address).get(path).await;
        assert_eq!(own.status, 410);
        let open = Remote::new(&server.address).get(open).await;
        assert_eq!(lead(&own.text()), lead(&open.text()));
    }
    assert_eq!(
        Remote::new(&server.address)
            .get(&fresh.links[0].path)
            .await
            .status,
        303
    );
    let still_open = fresh.open_link.unwrap().path;
    app::pause(&study.workspace, &name(), Now::read()).unwrap();
    let resting = Remote::new(&server.address).get(&still_open).await;
    assert_eq!(resting.status, 423);
    said.insert(lead(&resting.text()));
    app::resume(&study.workspace, &name(), Now::read()).unwrap();
    assert_eq!(
        Remote::new(&server.address).get(&still_open).await.status,
        200
    );
    app::close(&study.workspace, &name(), Now::read()).unwrap();
    let over = Remote::new(&server.address).get(&still_open).await;
    assert_eq!(over.status, 410);
    said.insert(lead(&over.text()));
    assert_eq!(said.len(), 6, "each has a sentence of its own: {said:#?}");
}

#[tokio::test]
async fn a_paused_round_hands_out_no_word_and_takes_the_answers_that_are_under_way() {
    let study = Study::with().practice(0).sealed();
    let server = Server::start(&study.folder());
    let mut remote = Remote::new(&server.address);
    remote.begin(&study.links()[0].path).await;
    let ahead = remote.ahead().await;
    app::pause(&study.workspace, &name(), Now::read()).unwrap();
    assert_eq!(remote.get("/listen/ahead").await.status, 423);
    let page = remote.get("/listen").await;
    assert_eq!(page.status, 200);
    assert!(page.text().contains("href=\"/listen\""), "{}", page.text());
    for id in &ahead {
        assert_eq!(remote.judge(id, "correct").await.status, 200);
    }
    assert_eq!(study.judgements().len(), 3);
    let mut second = Remote::new(&server.address);
    assert_eq!(second.get(&study.links()[1].path).await.status, 303);
    assert_eq!(
        second
            .post("/listen/consent", "version=1&agreed=yes")
            .await
            .status,
        423
    );
    app::resume(&study.workspace, &name(), Now::read()).unwrap();
    assert_eq!(remote.ahead().await.len(), 3);
    let twice = app::resume(&study.workspace, &name(), Now::read()).unwrap_err();
    assert!(twice.is_the_askers(), "{twice}");
}

#[tokio::test]
async fn a_link_that_is_taken_back_ends_its_browsers_too() {
    let study = Study::with().practice(0).sealed();
    let server = Server::start(&study.folder());
    let mut remote = Remote::new(&server.address);
    remote.begin(&study.links()[0].path).await;
    let id = remote.ahead().await[0].clone();
    assert_eq!(remote.judge(&id, "correct").await.status, 200);
    app::revoke(
        &study.workspace,
        &name(),
        WhichLink::Personal(1),
        Now::read(),
    )
    .unwrap();
    assert_eq!(remote.get("/listen").await.status, 410);
    assert_eq!(remote.get("/listen/ahead").await.status, 410);
    assert_eq!(study.judgements().len(), 1, "what was judged stays");
}

#[test]
fn a_link_runs_out_before_it_is_used_and_not_after() {
    let study = Study::with().link_days(Some(2)).sealed();
    let mut early = study.listener(0);
    early.begin();
    early.wait_minutes(3 * 24 * 60);
    assert!(early.current().is_some(), "whoever agreed in time goes on");
    let late = fairhearing::app::listening::open_link(
        &study.workspace,
        study.links()[1].path.trim_start_matches("/l/"),
        early.now(),
    );
    assert!(
        matches!(
            late,
            Err(fairhearing::app::listening::ListeningError::Expired)
        ),
        "two days are over"
    );
}

#[test]
fn who_is_invited_after_the_seal_may_be_barred_and_the_report_says_so() {
    let study = Study::with().words(2).sealed();
    let wanted = Invitation {
        listeners: 2,
        open: None,
        kind: Some("expert".parse().unwrap()),
        bars: vec!["C01".parse().unwrap()],
        days: None,
    };
    let invited = app::invite(&study.workspace, &name(), &wanted, Now::read()).unwrap();
    assert_eq!(
        invited
            .links
            .iter()
            .map(|link| link.number)
            .collect::<Vec<_>>(),
        [3, 4]
    );
    let mut asked = 0;
    listen(&study.workspace, &invited.links[0], |_| {
        asked += 1;
        fairhearing::study::Judgement::Correct
    });
    // Four words of the other child, one of them again, two checks, one to practise, one to warm up.
    assert_eq!(asked, 4 + 1 + 2 + 1 + 1);
    let log: String = study
        .events()
        .iter()
        .map(|event| event.body.as_str().to_owned())
        .collect();
    assert!(!log.contains("C01"), "{log}");
    let open = Invitation {
        open: Some(2),
        ..Invitation::default()
    };
    app::invite(&study.workspace, &name(), &open, Now::read()).unwrap();
    app::revoke(&study.workspace, &name(), WhichLink::Open(1), Now::read()).unwrap();
    for link in study.links() {
        listen(&study.workspace, link, |_| {
            fairhearing::study::Judgement::Correct
        });
    }
    app::close(&study.workspace, &name(), Now::read()).unwrap();
    app::unlock(&study.workspace, &name(), Now::read()).unwrap();
    let unlocked = app::unlocked(&study.workspace, &name()).unwrap();
    let found = app::findings(&study.workspace, &unlocked).unwrap();
    let page = fairhearing::report::page(&found.round).unwrap();
    for told in [
        "2 more listeners were invited after the seal, 2 of them barred from a child",
        "an open link for 2 more listeners was made after the seal",
        "open link 1 was taken back",
    ] {
        assert!(
            found
                .round
                .round
                .deviations
                .iter()
                .any(|said| said.said.ends_with(told)),
            "{told}"
        );
        assert!(page.contains(told), "{told}");
    }
    let verified = app::verify(&study.workspace, &[]).unwrap();
    assert_eq!(verified.findings, Vec::<String>::new());
}

#[test]
fn an_invitation_that_cannot_be_meant_is_refused_and_invites_nobody() {
    let study = Study::with().sealed();
    let events = study.events().len();
    let bar = || vec!["C01".parse().unwrap()];
    for wanted in [
        Invitation::default(),
        Invitation {
            open: Some(0),
            ..Invitation::default()
        },
        Invitation {
            open: Some(2),
            bars: bar(),
            ..Invitation::default()
        },
        Invitation {
            listeners: 1,
            days: Some(0),
            ..Invitation::default()
        },
        Invitation {
            listeners: 1,
            bars: vec!["C99".parse().unwrap()],
            ..Invitation::default()
        },
    ] {
        let refused = app::invite(&study.workspace, &name(), &wanted, Now::read()).unwrap_err();
        assert!(refused.is_the_askers(), "{refused}");
    }
    app::close(&study.workspace, &name(), Now::read()).unwrap();
    let late = Invitation {
        listeners: 1,
        ..Invitation::default()
    };
    let refused = app::invite(&study.workspace, &name(), &late, Now::read()).unwrap_err();
    assert!(refused.to_string().contains("closed"), "{refused}");
    assert_eq!(study.events().len(), events + 1);
    assert_eq!(enrolments(&study).len(), 2);
}
