//! A study in which everything happened that the log speaks of.

use fairhearing::app;
use fairhearing::app::Again;
use fairhearing::app::Invitation;
use fairhearing::app::Now;
use fairhearing::app::WhichLink;
use fairhearing::app::accounts;
use fairhearing::app::accounts::Rights;
use fairhearing::app::listening;
use fairhearing::study::AccountName;
use fairhearing::study::ChildCode;
use fairhearing::study::Exclusion;
use fairhearing::study::JudgeCode;
use fairhearing::study::Judgement::Correct;
use fairhearing::study::Judgement::Distorted;
use fairhearing::study::KnownAnswer;
use fairhearing::study::SetAside;

use crate::support::Labels;
use crate::support::PASSWORD;
use crate::support::Study;
use crate::support::account;
use crate::support::answered;
use crate::support::listen;

/// Questions, and rests after every eighth word.
const COURSE: &str = "[practice]\npass = 0.0\n[rests]\nevery = 8\nminutes_a_day = 0\n\
                      [questions]\nask = [\"age\", \"hearing\"]\n";

/// A study that was lived in: judged, revised, set aside, given back, taken up, closed, unlocked.
pub(crate) fn lived_in() -> Study {
    let study = Study::with()
        .children(3)
        .peers(1)
        .words(2)
        .labels(Labels::plain())
        .listeners(5)
        .open(3)
        .link_days(Some(4_000))
        .judgements(2)
        .bar(4, 1)
        .screening("rules = [{ rule = \"max-share-of-one-answer\", share = 0.8 }]".to_owned())
        .course(COURSE.to_owned())
        .texts("assent = \"You may stop.\"\n".to_owned())
        .imported();
    let study = noted(study);
    let mut turn = 0;
    let receipt = listen(&study.workspace, &study.links()[0], |_| {
        turn += 1;
        [Correct, Distorted][turn % 2]
    });
    app::withdraw_listener(&study.workspace, &receipt, Now::read()).unwrap();
    links(&study);
    let mut second = study.listener(1);
    second.begin();
    let first = second.current().unwrap().id;
    second.judge(first, Distorted);
    let next = second.current().unwrap().id;
    second.judge(next, Distorted);
    second.try_judge(next, answered(Correct, 2)).unwrap();
    let noisy = second.current().unwrap().id;
    second.try_set_aside(noisy, SetAside::Noise).unwrap();
    let cut_short = second.current().unwrap().id;
    second.try_void(cut_short).unwrap();
    let mut third = study.listener(2);
    third.wait_minutes(90);
    third.begin();
    for _ in 0..6 {
        let id = third.current().unwrap().id;
        third.judge(id, Correct);
    }
    let known = third.current().unwrap().id;
    third.try_set_aside(known, SetAside::KnownSpeaker).unwrap();
    second.wait_minutes(120);
    second.judge_all(|_| Distorted);
    second.finish();
    let mut fourth = study.listener(3);
    fourth.begin();
    let name = study.round.as_ref().unwrap().round.clone();
    draw(&study);
    let later = |minutes: i64| Now::at_ms(1_749_000_000_000 + minutes * 60_000);
    app::close(&study.workspace, &name, later(0)).unwrap();
    app::unlock(&study.workspace, &name, later(1)).unwrap();
    people_came_and_went(&study);
    pages_were_shared(&study, later(4));
    let place = tempfile::tempdir().unwrap();
    app::back_up(&study.workspace, &place.path().join("backup"), later(5)).unwrap();
    app::stop_using_child(&study.workspace, &"C02".parse().unwrap(), later(6)).unwrap();
    app::erase_child(&study.workspace, &"C04".parse().unwrap(), later(7)).unwrap();
    study
}

/// One page of a child is behind a link, and one was taken back.
fn pages_were_shared(study: &Study, now: Now) {
    let child = "C01".parse().unwrap();
    for days in [14, 90] {
        app::share_page(&study.workspace, &child, days, None, now).unwrap();
    }
    app::take_back_page(&study.workspace, 2, Some(&child), None, now).unwrap();
}

/// Notes all that staff can note before a round, and seals it.
fn noted(mut study: Study) -> Study {
    let words = |number: u32| [format!("word{number}.wav")];
    let early = Now::at_ms(1_748_851_200_001);
    app::exclude(&study.workspace, &words(6), Exclusion::Noise, early).unwrap();
    app::exclude(&study.workspace, &words(2), Exclusion::Noise, early).unwrap();
    app::include(&study.workspace, &words(2), early).unwrap();
    let judge = JudgeCode::new("second").unwrap();
    for answer in [KnownAnswer::Distorted, KnownAnswer::Correct] {
        app::answer(&study.workspace, "word17.wav", &judge, answer, early).unwrap();
    }
    app::accept_single_judge(&study.workspace, &words(18), "nobody else", early).unwrap();
    let child = "C01".parse().unwrap();
    let label = "the tall one".parse().unwrap();
    app::label_child(&study.workspace, &child, Some(&label)).unwrap();
    study.round = Some(study.seal(&study.with).unwrap());
    study
}

/// Draws once, and once more.
fn draw(study: &Study) {
    let plan = study.folder().join("draw.toml");
    let text = "children = [\n\
                { code = \"C01\", age_months = 61, severity = \"mild\" },\n\
                { code = \"C02\", age_months = 74, severity = \"mild\" },\n\
                { code = \"C03\", age_months = 69, severity = \"severe\" },\n\
                { code = \"C05\", age_months = 66, severity = \"severe\" }]\n\
                [draw]\ndesign = \"cohorts\"\ncohorts = [\"cued\", \"free\"]\n\
                how = \"minimised\"\nby = [\"age\", \"severity\"]\nkeep = 4\n\
                [contrast]\nfrom = \"baseline\"\nto = \"treatment\"\n";
    std::fs::write(&plan, text).unwrap();
    let again = Again::Because("a family moved away".to_owned());
    for (again, minute) in [(Again::No, 0), (again, 1)] {
        let now = Now::at_ms(1_748_990_000_000 + minute * 60_000);
        app::assign(&study.workspace, &plan, again, now).unwrap();
    }
}

/// More of them after the seal, one that is used, some taken back, a round that rested and rests.
fn links(study: &Study) {
    let (workspace, name) = (
        &study.workspace,
        study.round.as_ref().unwrap().round.clone(),
    );
    let wanted = Invitation {
        listeners: 2,
        bars: vec!["C01".parse().unwrap()],
        days: Some(30),
        ..Invitation::default()
    };
    app::invite(workspace, &name, &wanted, Now::read()).unwrap();
    let open = Invitation {
        open: Some(2),
        ..Invitation::default()
    };
    app::invite(workspace, &name, &open, Now::read()).unwrap();
    let secret = study.open_link().path.trim_start_matches("/l/");
    listening::enrol(workspace, secret, None, Now::read()).unwrap();
    for which in [WhichLink::Personal(7), WhichLink::Open(2)] {
        app::revoke(workspace, &name, which, Now::read()).unwrap();
    }
    app::pause(workspace, &name, Now::read()).unwrap();
    app::resume(workspace, &name, Now::read()).unwrap();
    // Whoever always says the same is let go.
    let mut same = study.listener(4);
    same.begin();
    same.judge_all(|_| Correct);
    assert_eq!(
        study
            .events()
            .iter()
            .filter(|event| event.kind == "let go")
            .count(),
        1
    );
}

/// Accounts that were made, changed and removed, and signing in that went well and did not.
fn people_came_and_went(study: &Study) {
    account(study, "Ada", "researcher", &[]);
    account(study, "Clara", "clinician", &["C01", "C02"]);
    account(study, "Pia", "preparer", &[]);
    account(study, "Gone", "clinician", &["C03"]);
    let named = |name| AccountName::new(name).unwrap();
    let own = [ChildCode::new("C02").unwrap()].into();
    let (workspace, now) = (&study.workspace, Now::at_ms(1_749_000_200_000));
    accounts::change_rights(
        workspace,
        &named("Clara"),
        Rights::Clinician(own),
        None,
        now,
    )
    .unwrap();
    accounts::remove_account(workspace, &named("Gone"), None, now).unwrap();
    let from = std::net::IpAddr::from([127, 0, 0, 1]);
    for (name, password) in [("Ada", PASSWORD), ("Ada", "guess"), ("Nobody", "guess")] {
        accounts::sign_in(workspace, name, password, from, now).unwrap();
    }
}
