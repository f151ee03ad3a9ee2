//! Several rounds of one study: later ones carry earlier words as links, and the report puts all on one scale or says
//! what is wanting.

use std::collections::BTreeMap;

use fairhearing::app;
use fairhearing::app::Findings;
use fairhearing::app::Now;
use fairhearing::app::planning;
use fairhearing::report::clinic;
use fairhearing::study::Judgement::Correct;
use fairhearing::study::Judgement::Distorted;
use statrs::distribution::ContinuousCDF;
use statrs::distribution::StudentsT;

use crate::program::run;
use crate::support::Study;
use crate::support::listen;

/// The children's first two sessions are of the first phase, the others of the second.
fn study() -> Study {
    Study::with()
        .children(4)
        .sessions(4)
        .words(6)
        .listeners(4)
        .judgements(4)
        .imported()
}

pub(crate) fn plan(study: &Study, round: &str, tokens: &str, contrast: &str) {
    let with = study.with.clone().round(round);
    let text = with
        .plan()
        .replacen(
            "[listeners]",
            &format!("[tokens]\n{tokens}\n[listeners]"),
            1,
        )
        .replacen("[contrast]\n", &format!("[contrast]\n{contrast}\n"), 1);
    std::fs::write(study.plan(), text).unwrap();
}

pub(crate) fn sealed(study: &Study, minute: i64) -> Result<app::Sealed, app::AppError> {
    app::seal_round(&study.workspace, &study.plan(), at(minute))
}

const fn at(minute: i64) -> Now {
    Now::at_ms(1_748_860_000_000 + minute * 60_000)
}

/// Everybody judges, each in a rhythm of her own; then the round is closed and unlocked.
pub(crate) fn heard(study: &Study, sealed: &app::Sealed, minute: i64) -> Findings {
    for (number, link) in sealed.links.iter().enumerate() {
        let mut turn = number;
        listen(&study.workspace, link, |_| {
            turn += 1;
            if turn % (3 + number) == 0 {
                Distorted
            } else {
                Correct
            }
        });
    }
    let later = |more: i64| Now::at_ms(1_750_000_000_000 + (minute + more) * 60_000);
    app::close(&study.workspace, &sealed.round, later(0)).unwrap();
    app::unlock(&study.workspace, &sealed.round, later(1)).unwrap();
    let unlocked = app::unlocked(&study.workspace, &sealed.round).unwrap();
    app::findings(&study.workspace, &unlocked).unwrap()
}

/// Rows of a table of the export, each by the names of its columns.
fn rows(found: &Findings, table: &str) -> Vec<BTreeMap<String, String>> {
    let file = found.tables.iter().find(|file| file.name == table).unwrap();
    let mut reader = csv::Reader::from_reader(file.content.as_slice());
    reader.deserialize().map(Result::unwrap).collect()
}

/// The share of 'correct' of each scored token, by its audio.
fn shares(found: &Findings) -> BTreeMap<String, f64> {
    let audio: BTreeMap<String, String> = rows(found, "tokens.csv")
        .into_iter()
        .filter(|row| row["use"] == "scored")
        .map(|row| (row["token"].clone(), row["audio_sha256"].clone()))
        .collect();
    let mut counts: BTreeMap<String, (f64, f64)> = BTreeMap::new();
    for row in rows(found, "ratings.csv")
        .into_iter()
        .filter(|row| row["presentation"] == "main")
    {
        if let Some(audio) = audio.get(&row["token"]) {
            let (correct, all) = counts.entry(audio.clone()).or_default();
            *correct += f64::from(u8::from(row["judgement"] == "correct"));
            *all += 1.0;
        }
    }
    counts
        .into_iter()
        .map(|(audio, (correct, all))| (audio, correct / all))
        .collect()
}

#[test]
fn a_later_round_carries_links_over_the_whole_range_and_they_count_for_no_session_of_it() {
    let study = study();
    plan(&study, "autumn", "phases = [\"baseline\"]", "");
    let first = sealed(&study, 0).unwrap();
    plan(&study, "winter", "only_new = true\nlinks = 0.25", "");
    let refused = sealed(&study, 1).unwrap_err().to_string();
    assert!(
        refused.contains("no earlier round is unlocked"),
        "{refused}"
    );
    let autumn = heard(&study, &first, 0);
    assert!(autumn.round.over_rounds.is_none());

    let winter = heard(&study, &sealed(&study, 5).unwrap(), 10);
    // 4 children, 2 sessions of 6 words are new; a quarter of 48 are links.
    let tokens = rows(&winter, "tokens.csv");
    let links: Vec<_> = tokens.iter().filter(|row| row["link"] == "true").collect();
    assert_eq!(links.len(), 12);
    assert!(links.iter().all(|row| row["phase"] == "baseline"));
    let new = tokens
        .iter()
        .filter(|row| row["use"] == "scored" && row["link"] == "false");
    assert_eq!(new.count(), 48);
    let sessions = &winter.round.outcome.sessions;
    assert!(
        sessions.iter().all(|session| session.phase == "treatment"),
        "a link makes no session"
    );
    // Each third of the earlier words, sorted by how they were heard, gives a third of the links.
    let heard_before = shares(&autumn);
    let mut sorted: Vec<f64> = heard_before.values().copied().collect();
    sorted.sort_by(f64::total_cmp);
    let (low, high) = (sorted[sorted.len() / 3], sorted[2 * sorted.len() / 3]);
    let of_links: Vec<f64> = links
        .iter()
        .map(|row| heard_before[&row["audio_sha256"]])
        .collect();
    assert!(
        of_links.iter().filter(|share| **share <= low).count() >= 4,
        "{of_links:?}"
    );
    assert!(
        of_links.iter().filter(|share| **share >= high).count() >= 4,
        "{of_links:?}"
    );
    let findings = app::verify(&study.workspace, &[]).unwrap().findings;
    assert_eq!(findings, Vec::<String>::new());
    let document = study
        .events()
        .iter()
        .map(|event| event.body.as_str().to_owned())
        .collect::<String>();
    assert!(
        !document.contains("0.7"),
        "nothing logged tells how a word was heard"
    );
}

#[test]
fn where_links_are_too_few_no_graph_is_joined_and_the_report_says_how_many_would_do() {
    let study = study();
    plan(&study, "autumn", "phases = [\"baseline\"]", "");
    heard(&study, &sealed(&study, 0).unwrap(), 0);
    plan(&study, "winter", "only_new = true", "");
    // It was said before the seal.
    let (_, before) = planning::forecast_file(&study.workspace, &study.plan()).unwrap();
    let links = before.forecast.linking.unwrap();
    assert!(links.links == 8 && !links.enough());
    let winter = heard(&study, &sealed(&study, 5).unwrap(), 10);
    let over = winter.round.over_rounds.as_ref().unwrap();
    // 15% of 48, rounded up.
    assert_eq!((over.rounds[0].links, over.rounds[0].enough), (8, false));
    assert!(over.sessions.is_empty() && over.changes.is_empty());
    let page = fairhearing::report::page(&winter.round).unwrap();
    let wanted = format!(
        "too few to put it on one scale; about {} would do",
        over.rounds[0].links_needed
    );
    assert!(
        page.contains("No joined graph") && page.contains(&wanted),
        "{wanted}"
    );
}

#[test]
fn how_many_links_will_do_and_which_share_that_is_stands_before_the_seal() {
    let study = study();
    plan(&study, "autumn", "phases = [\"baseline\"]", "");
    let forecast = || {
        planning::forecast_file(&study.workspace, &study.plan())
            .unwrap()
            .1
    };
    assert_eq!(
        forecast().forecast.linking,
        None,
        "nothing is linked in a first round"
    );
    heard(&study, &sealed(&study, 0).unwrap(), 0);
    plan(&study, "winter", "only_new = true", "smallest_change = 0.3");
    let told = forecast();
    let links = told.forecast.linking.unwrap();
    // A word's share differs between two panels of four by √(2v/4), v being what judgements of one word vary by; t from
    // statrs 0.19.1.
    let of_words = ["child", "session", "word", "word x child", "token"];
    let parts = told.basis.parts();
    let v: f64 = parts
        .iter()
        .filter(|(name, _)| !of_words.contains(name))
        .map(|(_, v)| v)
        .sum();
    let half = |n: u32| {
        let t = StudentsT::new(0.0, 1.0, f64::from(n - 1))
            .unwrap()
            .inverse_cdf(0.975);
        t * (v / 2.0 / f64::from(n)).sqrt()
    };
    let needed = (8..1_000).find(|n| half(*n) <= 0.15).unwrap();
    assert!(v > 0.05 && needed > 8, "{v} {needed}");
    assert_eq!((links.links, links.links_needed), (8, needed));
    let share = f64::from(needed) / 48.0;
    assert!((links.share_needed.unwrap() - share).abs() < 1e-12);
    let percent = (share * 100.0).ceil();
    let sentence = links.sentence();
    assert!(
        sentence.contains(&format!("Ask for {percent}% links.")),
        "{sentence}"
    );

    let asked = format!("only_new = true\nlinks = {}", percent / 100.0);
    plan(&study, "winter", &asked, "smallest_change = 0.3");
    let links = forecast().forecast.linking.unwrap();
    assert!(links.enough() && links.links >= needed && links.share_needed.is_none());
    // The command says the same, and seals nothing.
    let (folder, file) = (
        study.folder().display().to_string(),
        study.plan().display().to_string(),
    );
    let told = run(
        &["seal", "--workspace", &folder, "--plan", &file, "--preview"],
        "",
    )
    .out;
    assert!(told.contains(&links.sentence()), "{told}");
    assert!(
        told.contains("Nothing stands in the way of the seal."),
        "{told}"
    );
    assert!(sealed(&study, 5).is_ok());
}

#[test]
fn with_links_enough_every_session_stands_on_the_scale_of_the_first_panel() {
    let study = study();
    // So large a change that few links are enough: half of it bounds the error.
    let contrast = "smallest_change = 0.8";
    plan(&study, "autumn", "phases = [\"baseline\"]", contrast);
    let autumn = heard(&study, &sealed(&study, 0).unwrap(), 0);
    plan(&study, "winter", "only_new = true\nlinks = 0.5", contrast);
    let winter = heard(&study, &sealed(&study, 5).unwrap(), 10);
    let found = serde_json::to_value(&winter.round).unwrap();
    let over = &found["over_rounds"];
    assert_eq!(over["reference"], "autumn");
    assert_eq!(over["sessions"].as_array().unwrap().len(), 16);
    assert_eq!(over["changes"].as_array().unwrap().len(), 4);
    for session in over["sessions"].as_array().unwrap() {
        let number = |field: &str| session[field].as_f64().unwrap();
        if session["round"] == "autumn" {
            assert!((number("proportion_correct") - number("as_heard")).abs() < 1e-12);
            let own = autumn
                .round
                .outcome
                .sessions
                .iter()
                .find(|own| own.child == session["child"] && own.session == session["session"]);
            assert!((own.unwrap().proportion_correct.unwrap() - number("as_heard")).abs() < 1e-12);
        }
        let limit = |place: usize| session["ci"][place].as_f64().unwrap();
        assert!(
            limit(0) <= number("proportion_correct") && number("proportion_correct") <= limit(1)
        );
    }
    let page = fairhearing::report::page(&winter.round).unwrap();
    assert!(page.contains("Over the rounds") && page.contains("All rounds on one scale"));
    panels_are_those_of_each_round(&winter, &[&autumn, &winter]);
    let unlocked = app::unlocked(&study.workspace, &winter.round.plan.round).unwrap();
    let again = app::findings(&study.workspace, &unlocked).unwrap();
    assert_eq!(fairhearing::report::page(&again.round).unwrap(), page);
}

/// What is said of each panel beside the others is what its own round says, and a child's page tells of both.
fn panels_are_those_of_each_round(found: &Findings, rounds: &[&Findings]) {
    let over = found.round.over_rounds.as_ref().unwrap();
    assert_eq!(over.panels.len(), rounds.len());
    for (panel, own) in over.panels.iter().zip(rounds) {
        let agreement = &own.round.agreement;
        assert_eq!(panel.round, own.round.round.round);
        assert_eq!((panel.listeners, panel.left_out), (4, 0));
        assert_eq!(
            (panel.tokens, panel.judgements),
            (agreement.items, agreement.values)
        );
        assert_eq!(
            (panel.percent_agreement, panel.krippendorff_alpha),
            (
                agreement.percent_agreement.estimate,
                agreement.krippendorff_alpha.estimate
            )
        );
    }
    let sheet = clinic::child_sheet(&found.round, "C01").unwrap();
    let said = |about: &str| {
        let mut lines = sheet.lines.iter();
        lines.find(|line| line.about == about).unwrap().said.clone()
    };
    assert_eq!(
        said("Listeners"),
        "People who were told neither the child nor the date heard this child: 4 people 12 recordings in round autumn and 4 \
         people 12 recordings in round winter."
    );
    assert!(said("Agreement").contains(" of cases; beyond chance (Krippendorff's alpha) "));
    // 48 words are new in the second round, and half as many link it.
    let text = fairhearing::report::manuscript(&found.round);
    for part in [
        "Rounds autumn (4 listeners, Krippendorff's alpha ",
        "were put on one scale, that of the panel of round autumn",
        "(24 recordings of round autumn in round winter); this takes the shift to be one and the same at every accuracy.",
    ] {
        assert!(text.contains(part), "{part}\n{text}");
    }
}

/// Either round hears one session of each child before treatment; together they are two, of which the warning speaks.
#[test]
fn a_baseline_that_two_rounds_heard_is_one_baseline_to_the_warnings() {
    let study = study();
    let contrast = "smallest_change = 0.8";
    plan(&study, "autumn", "sample_sessions = 1", contrast);
    let autumn = heard(&study, &sealed(&study, 0).unwrap(), 0);
    assert!(few_before(&autumn).contains("The baseline of C01 has 1 judged session."));
    plan(&study, "winter", "only_new = true\nlinks = 0.5", contrast);
    let winter = heard(&study, &sealed(&study, 5).unwrap(), 10);
    assert!(few_before(&winter).contains("The baseline of C01 has 2 judged sessions."));
    let page = fairhearing::report::page(&winter.round).unwrap();
    assert!(page.contains("The baseline of C01 has 2 judged sessions."));
    assert!(!page.contains("has 1 judged session"));
}

/// What the page of C01 says of few sessions before treatment.
fn few_before(found: &Findings) -> String {
    let sheet = clinic::child_sheet(&found.round, "C01").unwrap();
    let mut lines = sheet.mind.into_iter();
    let line = lines.find(|line| line.about == "Few sessions before");
    line.unwrap().said
}

#[test]
fn every_round_that_used_the_words_stands_in_the_report_abandoned_and_later_ones_too() {
    let study = study();
    let given_up = {
        plan(&study, "given up", "phases = [\"baseline\"]", "");
        let sealed = sealed(&study, 0).unwrap();
        listen(&study.workspace, &sealed.links[0], |_| Correct);
        sealed
    };
    plan(&study, "autumn", "phases = [\"baseline\"]", "");
    let autumn = heard(&study, &sealed(&study, 5).unwrap(), 0);
    let told = |found: &Findings| -> Vec<(String, bool, usize)> {
        let rounds = found.round.round.rounds.iter();
        rounds
            .map(|one| (one.round.clone(), one.later, one.shared_tokens))
            .collect()
    };
    // 4 children, 2 sessions of 6 words, and what is played for practice and for checks.
    let all = told(&autumn)[1].2;
    assert!(all >= 48);
    let before = vec![
        ("given up".to_owned(), false, all),
        ("autumn".to_owned(), false, all),
    ];
    assert_eq!(told(&autumn), before);
    let page = fairhearing::report::page(&autumn.round).unwrap();
    assert!(page.contains("given up (never closed before this one was)"));
    assert!(page.contains(&given_up.seal));

    // One that hears its links again is told too, from its seal on.
    plan(&study, "winter", "only_new = true", "");
    sealed(&study, 20).unwrap();
    let unlocked = app::unlocked(&study.workspace, &autumn.round.plan.round).unwrap();
    let again = app::findings(&study.workspace, &unlocked).unwrap();
    let [_, _, (name, later, shared)] = &told(&again)[..] else {
        panic!("{:?}", told(&again))
    };
    assert!(name == "winter" && *later && *shared >= 8, "{shared}");
    let page = fairhearing::report::page(&again.round).unwrap();
    assert!(page.contains("winter (sealed later, still open)"));
}
