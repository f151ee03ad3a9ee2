//! Words to hear, the caseload and the study's page: chosen by rule, for the right eyes, told by the log.

use fairhearing::analysis;
use fairhearing::app;
use fairhearing::report::clinic;

use crate::clinic_child::closed;
use crate::clinic_child::unlocked;
use crate::support::Desk;
use crate::support::Study;
use crate::support::account;
use crate::support::heard_round;

fn plays(study: &Study) -> usize {
    let events = study.events().into_iter();
    events
        .filter(|event| event.kind == "word played by staff")
        .count()
}

#[test]
fn the_words_to_hear_are_those_nearest_to_the_middle_of_their_session() {
    let found = heard_round();
    let [first, last] = analysis::ends_of_contrast(&found, "C01").unwrap();
    // Three sessions of baseline, six of treatment, two of maintenance.
    assert_eq!((first.session, first.phase.as_str()), (1, "baseline"));
    assert_eq!((last.session, last.phase.as_str()), (9, "treatment"));
    assert_eq!(analysis::ends_of_contrast(&found, "P01"), None);
    for session in [first.session, last.session] {
        let words = analysis::words_to_hear(&found, "C01", session);
        assert_eq!(words.len(), 3);
        // By hand: the shares of the session's ten words, their middle, and nobody nearer than the three.
        let child = found.tokens.children.find("C01").unwrap();
        let rows = found.tokens.rows.iter().zip(found.tokens.tokens.names());
        let mut shares: Vec<f64> = rows
            .filter(|(row, _)| row.child == child && row.session == session)
            .map(|(_, name)| {
                let items = &found.consensus.items;
                items
                    .iter()
                    .find(|item| item.item == *name)
                    .unwrap()
                    .proportion
            })
            .collect();
        shares.sort_by(f64::total_cmp);
        assert_eq!(shares.len(), 10);
        let middle = f64::midpoint(shares[4], shares[5]);
        let mut away: Vec<f64> = shares.iter().map(|share| (share - middle).abs()).collect();
        away.sort_by(f64::total_cmp);
        for (word, away) in words.iter().zip(away) {
            assert!(((word.proportion - middle).abs() - away).abs() < 1e-9);
            assert!(
                (word.proportion - f64::from(word.correct) / f64::from(word.judgements)).abs()
                    < 1e-12
            );
        }
    }
}

#[test]
fn words_are_heard_by_who_may_read_of_the_child_and_the_log_tells_each_play() {
    let study = unlocked();
    let code = account(&study, "Clara", "clinician", &["C02"]);
    let desk = Desk::of(&study);
    let cookie = desk.sign_in("Clara");
    let signed_in = [("cookie", cookie.as_str())];
    let page = desk.get("/desk/children/C02/hear", &signed_in);
    assert_eq!(page.status, 200);
    assert_eq!(page.text.matches("<audio ").count(), 6);
    assert!(
        page.text
            .contains("should not judge this child in a later round")
    );
    let heard = desk.get("/desk/children/C02/hear/1/2", &signed_in);
    assert_eq!((heard.status, plays(&study)), (200, 1));
    assert_eq!(heard.bytes.get(..4), Some(&b"fLaC"[..]));
    let event = study.events().pop().unwrap();
    assert!(event.body.as_str().contains(&code) && !event.body.as_str().contains("C02"));
    for path in [
        "/desk/children/C01/hear/0/0",
        "/desk/children/C01/hear",
        "/desk/children/C02/hear/2/0",
        "/desk/children/C02/hear/0/3",
        "/desk/children/C02/hear/x/0",
    ] {
        assert_eq!(desk.get(path, &signed_in).status, 404, "{path}");
    }
    assert_eq!(plays(&study), 1);
    let findings = app::verify(&study.workspace, &[]).unwrap().findings;
    assert_eq!(findings, Vec::<String>::new());
}

#[test]
fn a_caseload_holds_a_clinicians_own_children_by_code() {
    let study = unlocked();
    account(&study, "Ada", "researcher", &[]);
    account(&study, "Clara", "clinician", &["C02"]);
    let desk = Desk::of(&study);
    let read = |name: &str| {
        let cookie = desk.sign_in(name);
        desk.get("/desk/caseload", &[("cookie", &cookie)]).text
    };
    let (all, own) = (read("Ada"), read("Clara"));
    assert!(own.contains("/desk/children/C02/outcome") && !own.contains("C01"));
    assert!(all.contains("/desk/children/C01/outcome"));
    // The peer is nobody's case.
    assert!(!all.contains("C03"));
    let found = app::findings(
        &study.workspace,
        &app::unlocked(&study.workspace, &"spring".parse().unwrap()).unwrap(),
    )
    .unwrap();
    let brief = clinic::brief(&found.round, "C02").unwrap();
    assert!(own.contains(&brief.sentence.replace('\'', "&#39;")));
}

#[test]
fn before_unlocking_a_caseload_and_the_studys_page_tell_no_outcome() {
    let study = closed();
    account(&study, "Ada", "researcher", &[]);
    let desk = Desk::of(&study);
    let cookie = desk.sign_in("Ada");
    for (path, said) in [
        ("/desk/caseload", "Not heard yet"),
        ("/desk/outcome", "No round is unlocked yet"),
    ] {
        let page = desk.get(path, &[("cookie", &cookie)]).text;
        assert!(page.contains(said), "{path}");
        assert!(!page.contains("heard as correct"), "{path}");
    }
}

#[test]
fn the_studys_page_shows_each_child_of_each_way_and_what_each_way_was() {
    let study = unlocked();
    let path = study.folder().join("study.toml");
    let mut text = std::fs::read_to_string(&path).unwrap();
    let cohort = study.workspace.settings().unwrap().cohorts[0].clone();
    text.push_str(&format!(
        "[cues]\n{:?} = \"A mirror, then none.\"\n",
        cohort.as_str()
    ));
    std::fs::write(&path, text).unwrap();
    account(&study, "Ada", "researcher", &[]);
    let desk = Desk::of(&study);
    let cookie = desk.sign_in("Ada");
    let page = desk.get("/desk/outcome", &[("cookie", &cookie)]).text;
    for said in [
        "A mirror, then none.",
        "what happened to these children, not to all",
        "described and not tested",
        "/desk/children/C01/outcome",
        "/desk/children/C02/outcome",
    ] {
        assert!(page.contains(said), "{said}");
    }
    let sheet = clinic::study_sheet(&heard_round());
    let children: Vec<_> = sheet
        .cohorts
        .iter()
        .map(|cohort| {
            let codes: Vec<_> = cohort
                .children
                .iter()
                .map(|child| child.code.as_str())
                .collect();
            (cohort.cohort.as_deref().unwrap(), codes)
        })
        .collect();
    assert_eq!(
        children,
        [
            ("cued", vec!["C01", "C02"]),
            ("own-way", vec!["C03", "C04"])
        ]
    );
    assert_eq!(sheet.chart.matches("class=\"child\"").count(), 4);
}

#[test]
fn a_cue_of_no_cohort_is_refused_with_its_name() {
    let study = Study::with().made();
    let path = study.folder().join("study.toml");
    let mut text = std::fs::read_to_string(&path).unwrap();
    text.push_str("[cues]\n\"nobody's way\" = \"x\"\n");
    std::fs::write(&path, text).unwrap();
    let refused = study.workspace.settings().unwrap_err().to_string();
    assert!(refused.contains("nobody's way"), "{refused}");
}
