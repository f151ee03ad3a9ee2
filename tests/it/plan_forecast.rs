//! The forecast of a plan: precision as the command gives it, costs as a hand counts them, chances from tables.

use std::fs;

use fairhearing::app;
use fairhearing::app::Now;
use fairhearing::app::PrecisionFiles;
use fairhearing::app::PrecisionOptions;
use fairhearing::app::planning;
use fairhearing::app::planning::PlanForecast;
use fairhearing::app::planning::Volunteers;
use fairhearing::study::Judgement;
use fairhearing::study::Plan;
use fairhearing::study::RoundName;

use crate::support::Study;
use crate::support::listen;

/// A plan of the tests: three judgements of each word, five words a session, three sessions a phase.
fn plan_of(study: &Study, change: impl FnOnce(String) -> String) -> Plan {
    let plan: Plan = toml::from_str(&change(study.with.plan())).unwrap();
    plan.settled()
}

#[track_caller]
fn near(found: f64, wanted: f64, what: &str) {
    assert!(
        (found - wanted).abs() < 1e-9,
        "{what}: {found} is not {wanted}"
    );
}

fn forecast(study: &Study, plan: &Plan) -> PlanForecast {
    planning::forecast(&study.workspace, plan, None)
        .unwrap()
        .forecast
}

#[test]
fn the_forecast_of_precision_is_that_of_the_command_on_the_export_of_the_unlocked_round() {
    let study = Study::with()
        .sessions(6)
        .words(5)
        .listeners(5)
        .judgements(5)
        .screening(
            "rules = [{ rule = \"max-share-of-one-answer\", share = 0.9 }]\nlive = false"
                .to_owned(),
        )
        .sealed();
    // Four listeners who answer each in their own way, and one who says the same to everything and is left out.
    for (number, link) in study.links().iter().enumerate() {
        let mut turn = number;
        listen(&study.workspace, link, |_| {
            turn += 1;
            if number == 4 || !turn.is_multiple_of(number + 2) {
                Judgement::Correct
            } else {
                Judgement::Distorted
            }
        });
    }
    let name = RoundName::new("spring").unwrap();
    app::close(&study.workspace, &name, Now::read()).unwrap();
    let next = plan_of(&study, |plan| {
        plan.replace("\"spring\"", "\"autumn\"")
            .replace("judgements_per_token = 5", "judgements_per_token = 3")
    });
    let before = planning::forecast(&study.workspace, &next, None).unwrap();
    assert_eq!(
        before.basis.seen_in, None,
        "a round that is not unlocked tells nothing"
    );
    app::unlock(&study.workspace, &name, Now::read()).unwrap();

    let unlocked = app::unlocked(&study.workspace, &name).unwrap();
    let found = app::findings(&study.workspace, &unlocked).unwrap();
    for table in &found.tables {
        fs::write(study.audio().join(table.name), &table.content).unwrap();
    }
    let files = PrecisionFiles {
        ratings: study.audio().join("ratings.csv"),
        tokens: study.audio().join("tokens.csv"),
        panel: Some(study.audio().join("panel.csv")),
    };
    let told = app::precision(&files, &PrecisionOptions::default()).unwrap();
    let of = |listeners, tokens| {
        let mut rows = told.forecast.iter();
        *rows
            .find(|row| (row.listeners, row.tokens) == (listeners, tokens))
            .unwrap()
    };
    let then = planning::forecast(&study.workspace, &next, None).unwrap();
    assert_eq!(then.basis.seen_in.as_deref(), Some("spring"));
    let session = then.forecast.session.unwrap();
    assert_eq!(session.words, 5);
    // 1.959964 is the 97.5% point of the normal distribution, from any table.
    assert!((session.half_width / of(3, 5).se - 1.959_964).abs() < 1e-6);
    assert!(session.half_width > 0.0);
    // Three sessions a phase, as the command's default.
    let [least, most] = then.forecast.mdc95.unwrap();
    near(least, of(3, 5).mdc95, "least");
    near(most, of(3, 5).mdc95, "most");
}

#[test]
fn sittings_hours_and_chances_are_those_of_a_hand_and_of_a_table() {
    // Two children, six sessions of ten words: 120 words, nine judgements each.
    let study = Study::with()
        .sessions(6)
        .words(10)
        .checks(12)
        .practice(4)
        .warm_ups(4)
        .imported();
    let plan = plan_of(&study, |plan| {
        plan.replace("judgements_per_token = 2", "judgements_per_token = 9")
            .replace("invited = 2", "invited = 24")
            .replace("[sitting]\ntokens = 200", "[sitting]\ntokens = 60")
            .replace("repeat_distance = 3", "repeat_distance = 10")
            .replace("[rests]\nevery = 0", "[rests]\nevery = 30")
            .replace(
                "rules = []",
                "rules = [{ rule = \"min-checks-right\", right = 10 }, { rule = \"min-repeat-agreement\", share = 0.6 }]",
            )
    });
    let found = forecast(&study, &plan);
    // By hand: 1,080 judgements in sittings of 60 are 18; each has 9 repeats, 12 checks, 4 practice and 4 warm-up words: 89,
    // with two rests in them: 4 + 8.9 + 2 minutes.
    assert_eq!(
        (
            found.tokens,
            found.judgements,
            found.sittings,
            found.listeners
        ),
        (120, 1_080, 18, 18)
    );
    assert_eq!((found.repeats, found.heard), (9, 89));
    near(found.minutes, 14.9, "minutes");
    near(found.hours, 18.0 * 14.9 / 60.0, "hours");
    // Binomial tails in exact fractions (Python's `fractions` and `math.comb`): 79/4096 for 10 of 12 right by chance, times
    // 65/256 for 6 of 9 alike by chance; a careful listener is right in 9 of 10 and agrees with herself in 82 of 100.
    near(
        found.screening.guesser_passes.unwrap(),
        0.004_897_117_614_746_094,
        "guesser",
    );
    near(
        found.screening.careful_listener_fails.unwrap(),
        0.165_581_559_932_986_08,
        "careful",
    );

    // Backwards: 24 volunteers with 20 minutes each. 20 = 4 + heard × 0.1 + a rest for every 30 heard: 120 words heard
    // would need 20, so 120 fit: 20 minutes are 4 + 12 + 4. Of 120 heard 20 are none of main or repeats; of 100, 87 are
    // main words and 13 of them (15%, rounded) come again.
    let volunteers = Volunteers {
        listeners: 24,
        minutes: 20.0,
    };
    let planned = planning::forecast(&study.workspace, &plan, Some(&volunteers)).unwrap();
    let proof = planned.proof.unwrap();
    assert_eq!(proof.main, 87);
    // 24 × 87 judgements of 120 words are 17 each; of 5 words of each of 12 sessions all 24 hear all 60.
    let lines: Vec<_> = proof
        .lines
        .iter()
        .map(|line| (line.drawn, line.tokens, line.judgements_per_token))
        .collect();
    assert_eq!(
        lines,
        [(Some(5), 60, 24), (Some(8), 96, 21), (None, 120, 17)]
    );
    assert_eq!(proof.best, Some(2), "more words beat more listeners");
}
