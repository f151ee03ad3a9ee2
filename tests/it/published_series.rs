//! Printed single-case series, heard as words and shown through the report: its page gives the printed figures.

use fairhearing::report;
use fairhearing::study::Judgement;
use fairhearing::study::PresentationKind;
use fairhearing::study::record::RoundRecord;

use crate::support::findings;
use crate::support::record;

/// Words in a session: a value of the series is so many of them heard as correct.
const WORDS: u32 = 50;

/// A round of one child whose sessions score as a series, as heard by three listeners of one mind.
fn heard_as(before: &[u32], after: &[u32]) -> RoundRecord {
    let mut round = record();
    round.plan.screening.rules.clear();
    round.missing.clear();
    round.excluded.clear();
    let like = round.tokens[0].clone();
    let judged = round.presentations[0].clone();
    let listeners: Vec<_> = round.listeners[..3]
        .iter()
        .map(|row| row.code.clone())
        .collect();
    round.tokens.clear();
    round.presentations.clear();
    let phases = before.iter().map(|n| (n, "baseline"));
    let phases = phases.chain(after.iter().map(|n| (n, "treatment")));
    for ((correct, phase), session) in phases.zip(1_u32..) {
        for word in 0..WORDS {
            let mut token = like.clone();
            token.name = format!("T{session:02}{word:02}");
            token.key.session = Some(session);
            token.key.phase = Some(phase.parse().unwrap());
            token.key.word = format!("s{word}").parse().unwrap();
            for listener in &listeners {
                let mut row = judged.clone();
                row.token.clone_from(&token.name);
                row.listener = listener.clone();
                row.kind = PresentationKind::Main;
                row.order = session * WORDS + word;
                row.answer = Some(if word < *correct {
                    Judgement::Correct
                } else {
                    Judgement::Distorted
                });
                round.presentations.push(row);
            }
            round.tokens.push(token);
        }
    }
    round
}

// Parker, Vannest & Davis (2011), Behav. Modif. 35, 303-322: 20 20 26 25 22 23 and 28 25 24 27 30 30 29, NAP 38.5/42 = .9167. Its
// interval .597 to .986 by Newcombe's (2006) method 5 as an open R package for single-case effect sizes prints it.
#[test]
fn a_printed_series_keeps_its_printed_figures_from_judgements_to_the_page() {
    let found = findings(&heard_as(
        &[20, 20, 26, 25, 22, 23],
        &[28, 25, 24, 27, 30, 30, 29],
    ));
    let text = report::manuscript(&found);
    // Means by hand: 136/6 and 193/7 of 50 words, 45.3% and 55.1%.
    assert!(
        text.contains("C01 (cued): 45.3% judged correct over 6 sessions of baseline, 55.1% over 7 sessions of treatment; a difference of +9.8 points"),
        "{text}"
    );
    assert!(
        text.contains("NAP 0.917 (95% interval 0.597 to 0.986)"),
        "{text}"
    );
    let page = report::page(&found).unwrap();
    for figure in ["0.917", "0.597 to 0.986", "0.833"] {
        assert!(page.contains(figure), "{figure}");
    }
    let change = &found.outcome.changes[0];
    assert!((change.effects.nap.estimate.unwrap() - 38.5 / 42.0).abs() < 1e-9);
    // What Works Clearinghouse 4.0: six and seven points are enough.
    assert!(page.contains("held against published rules: meets it. It is no mark"));
}
