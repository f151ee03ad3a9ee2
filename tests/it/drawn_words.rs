//! Sessions and words that the act of sealing draws: as many as the plan says, shared by a child's sessions, sealed.

use std::collections::BTreeMap;
use std::collections::BTreeSet;

use fairhearing::app;
use fairhearing::app::Now;
use fairhearing::store::Reading;
use fairhearing::store::RoundTokenRow;
use fairhearing::store::StoreError;

use crate::support::Study;

/// Three children with six sessions of eight words, half of them treated.
fn study() -> Study {
    Study::with().children(3).sessions(6).words(8).imported()
}

/// Seals a plan of that name with these lines in `[tokens]`, and gives its scored words.
#[track_caller]
fn sealed(study: &Study, name: &str, tokens: &str) -> Vec<RoundTokenRow> {
    let plan = study.with.clone().round(name).repeats(0.0).plan();
    let plan = plan.replacen(
        "[listeners]",
        &format!("[tokens]\n{tokens}\n[listeners]"),
        1,
    );
    std::fs::write(study.plan(), plan).unwrap();
    let sealed = app::seal_round(&study.workspace, &study.plan(), Now::read()).unwrap();
    let rows = study.store().read(|reading: &Reading<'_>| {
        let round = reading.round_named(&sealed.round)?.unwrap();
        reading.round_tokens(round.id)
    });
    let rows: Result<Vec<RoundTokenRow>, StoreError> = rows;
    let scored = rows.unwrap().into_iter();
    scored.filter(|row| row.stratum.is_some()).collect()
}

/// The words of each session of each child.
fn by_session(rows: &[RoundTokenRow]) -> BTreeMap<(usize, u32), BTreeSet<String>> {
    let mut found: BTreeMap<_, BTreeSet<String>> = BTreeMap::new();
    let mut children = Vec::new();
    for row in rows {
        let child = row.child.unwrap();
        if !children.contains(&child) {
            children.push(child);
        }
        let number = children.iter().position(|one| *one == child).unwrap();
        let words = found.entry((number, row.stratum.unwrap()));
        words.or_default().insert(row.word.text());
    }
    found
}

#[test]
fn of_each_child_and_phase_so_many_sessions_are_drawn_and_of_each_session_so_many_words() {
    let study = study();
    let rows = sealed(&study, "spring", "sample_sessions = 2\nsample_words = 4");
    let sessions = by_session(&rows);
    // Three children, two phases, two sessions of each, four words of each.
    assert_eq!((sessions.len(), rows.len()), (12, 48));
    assert!(sessions.values().all(|words| words.len() == 4));
    let mut phases: BTreeMap<_, BTreeSet<u32>> = BTreeMap::new();
    for row in &rows {
        let phase = (row.child.unwrap(), row.phase.clone());
        phases
            .entry(phase)
            .or_default()
            .insert(row.stratum.unwrap());
    }
    assert!(
        phases.values().all(|sessions| sessions.len() == 2),
        "{phases:?}"
    );
    // Every session of a child holds the same words, and treated and untreated ones came in turn: of the test's words
    // every second one is treated.
    for child in 0..3 {
        let of_child = sessions.iter().filter(|((number, _), _)| *number == child);
        let different: BTreeSet<_> = of_child.map(|(_, words)| words.clone()).collect();
        assert_eq!(different.len(), 1, "{different:?}");
        let treated = ["sail", "bus", "seal", "ice"];
        let words = different.first().unwrap();
        let count = words
            .iter()
            .filter(|word| treated.contains(&word.as_str()))
            .count();
        assert_eq!(count, 2, "{words:?}");
    }
    let verified = app::verify(&study.workspace, &[]).unwrap();
    assert_eq!(verified.findings, Vec::<String>::new());
}

#[test]
fn each_seal_draws_anew_and_asking_for_more_than_there_is_takes_all() {
    let study = study();
    let drawn: BTreeSet<_> = (0..5)
        .map(|turn| {
            let rows = sealed(&study, &format!("round {turn}"), "sample_words = 3");
            by_session(&rows).into_values().collect::<Vec<_>>()
        })
        .collect();
    // Each child's three words are one of many sets: five draws that are all alike have no chance.
    assert!(drawn.len() > 1);
    let all = sealed(&study, "all", "sample_sessions = 40\nsample_words = 40");
    assert_eq!(all.len(), 3 * 6 * 8);
}

#[test]
fn a_draw_of_nothing_is_refused() {
    let study = study();
    let plan =
        study
            .with
            .plan()
            .replacen("[listeners]", "[tokens]\nsample_words = 0\n[listeners]", 1);
    std::fs::write(study.plan(), plan).unwrap();
    let refused = app::seal_round(&study.workspace, &study.plan(), Now::read()).unwrap_err();
    assert!(
        refused.to_string().contains("`tokens.sample_words` is 0"),
        "{refused}"
    );
}
