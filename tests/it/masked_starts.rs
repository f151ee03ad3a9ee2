//! What the marks of a masked analysis come to: counted by hand, and kept honest where treatment does nothing.

use std::collections::BTreeMap;

use fairhearing::analysis::RoundFindings;
use fairhearing::report;
use fairhearing::stats::change::MarkedStart;
use fairhearing::stats::change::Order;
use fairhearing::stats::change::masked_test;
use fairhearing::study::Assignment;
use fairhearing::study::Drawn;
use fairhearing::study::MaskedGraphRecord;
use fairhearing::study::MaskedMark;
use fairhearing::study::MaskedRecord;
use fairhearing::study::StartDrawn;
use fairhearing::study::Sureness;
use rand::RngExt;
use rand::SeedableRng;
use rand_chacha::ChaCha12Rng;

use crate::support::elements;
use crate::support::findings;
use crate::support::record;

fn rng() -> ChaCha12Rng {
    ChaCha12Rng::seed_from_u64(5)
}

fn case(points: usize, mark: Option<usize>, allowed: &[usize], start: usize) -> MarkedStart {
    MarkedStart {
        sessions: (1..=points).collect(),
        mark,
        allowed: allowed.to_vec(),
        start,
    }
}

/// Nine draws by hand. Misses of the first graph: 1, 0, 1 for the starts 3, 4, 5; of the second 2, 1, 0 for 4, 5, 6. The
/// drawn starts 4 and 5 are missed by 0 + 1; so are, or by less, (3, 6), (4, 6) and (5, 6): 4 of 9.
#[test]
fn the_masked_p_is_the_share_of_draws_that_the_marks_miss_by_no_more() {
    let cases = [
        case(9, Some(4), &[3, 4, 5], 4),
        case(9, Some(6), &[4, 5, 6], 5),
    ];
    let test = masked_test(&cases, Order::Starts, &mut rng()).unwrap();
    assert_eq!((test.assignments, test.exact), (9.0, true));
    assert!((test.p - 4.0 / 9.0).abs() < 1e-12, "{test:?}");
    assert!((test.observed + 1.0).abs() < 1e-12, "{test:?}");
    // Marks on the starts themselves reach the smallest p that there is.
    let met = [
        case(9, Some(4), &[3, 4, 5], 4),
        case(9, Some(5), &[4, 5, 6], 5),
    ];
    let test = masked_test(&met, Order::Starts, &mut rng()).unwrap();
    assert!((test.p - 1.0 / 9.0).abs() < 1e-12 && test.p == test.smallest_p);
}

/// Which of three cases got which start, six ways by hand: marks 3, 6, 5 against the starts 3, 5, 7 as drawn miss by 0 + 1 + 2;
/// (3, 7, 5) misses by 1, and all others by 5 or more: 2 of 6.
#[test]
fn starts_dealt_over_cases_are_permuted() {
    let cases = [
        case(9, Some(3), &[3], 3),
        case(9, Some(6), &[5], 5),
        case(9, Some(5), &[7], 7),
    ];
    let test = masked_test(&cases, Order::Cases, &mut rng()).unwrap();
    assert!((test.p - 2.0 / 6.0).abs() < 1e-12, "{test:?}");
}

#[test]
fn graphs_without_a_change_seen_tell_no_draw_from_another() {
    let cases = [case(8, None, &[3, 4, 5], 4), case(9, None, &[4, 5, 6], 5)];
    let test = masked_test(&cases, Order::Starts, &mut rng()).unwrap();
    assert!((test.p - 1.0).abs() < 1e-12);
    let with = [
        case(8, Some(4), &[3, 4, 5], 4),
        case(9, None, &[4, 5, 6], 5),
    ];
    let test = masked_test(&with, Order::Starts, &mut rng()).unwrap();
    assert!((test.p - 1.0 / 3.0).abs() < 1e-12);
}

#[test]
fn a_start_that_was_not_possible_is_no_test() {
    let wrong = [case(8, Some(4), &[3, 4, 5], 7)];
    assert!(masked_test(&wrong, Order::Starts, &mut rng()).is_err());
    assert!(masked_test(&[], Order::Starts, &mut rng()).is_err());
}

/// Whatever the marks, the draws whose p is at most α are at most a share of α of all: the promise of every exact test, here
/// by going through all draws (125 of them) instead of by chance.
#[test]
fn over_all_draws_a_small_p_is_as_rare_as_it_says() {
    let allowed = [3, 4, 5, 6, 7];
    for marks in [
        [Some(3), Some(3), Some(3)],
        [Some(5), Some(7), Some(4)],
        [None, Some(6), Some(2)],
        [Some(9), Some(9), None],
    ] {
        let mut ps = Vec::new();
        for one in allowed {
            for two in allowed {
                for three in allowed {
                    let starts = [one, two, three].into_iter().zip(marks);
                    let cases: Vec<_> = starts
                        .map(|(start, mark)| case(10, mark, &allowed, start))
                        .collect();
                    ps.push(masked_test(&cases, Order::Starts, &mut rng()).unwrap().p);
                }
            }
        }
        for alpha in [0.01, 0.05, 0.1, 0.5] {
            let small = ps.iter().filter(|p| **p <= alpha).count();
            assert!(
                small as f64 <= alpha * 125.0 + 1e-9,
                "{marks:?} {alpha} {small}"
            );
        }
    }
}

/// The point before which the means of both sides differ most, as an eye would look for a step; nothing where they hardly do.
fn looked_at(scores: &[f64]) -> Option<usize> {
    let mean = |part: &[f64]| part.iter().sum::<f64>() / part.len() as f64;
    let step = |point: usize| mean(&scores[point..]) - mean(&scores[..point]);
    let best = (2..scores.len() - 1).max_by(|a, b| step(*a).total_cmp(&step(*b)))?;
    (step(best) > 0.12).then_some(best + 1)
}

/// How often p is at most .05 over 1,500 studies of three children with 12 sessions, starts drawn from the fifth to the ninth
/// session, scores with noise and a slow rise, and a gain from the start on.
fn share_of_small_p(gain: f64) -> f64 {
    let mut rng = ChaCha12Rng::seed_from_u64(11);
    let allowed = [5, 6, 7, 8, 9];
    let studies = 1_500;
    let small = (0..studies).filter(|_| {
        let cases: Vec<_> = (0..3)
            .map(|_| {
                let start = allowed[rng.random_range(0..allowed.len())];
                let scores: Vec<f64> = (1..=12_usize)
                    .map(|session| {
                        let noise: f64 = rng.random_range(-0.15..0.15);
                        let treated = f64::from(u8::from(session >= start));
                        0.3 + 0.01 * session as f64 + noise + gain * treated
                    })
                    .collect();
                case(12, looked_at(&scores), &allowed, start)
            })
            .collect();
        masked_test(&cases, Order::Starts, &mut ChaCha12Rng::seed_from_u64(1))
            .unwrap()
            .p
            <= 0.05
    });
    small.count() as f64 / f64::from(studies)
}

#[test]
fn where_treatment_does_nothing_p_falls_to_05_in_at_most_5_percent_of_studies() {
    // Three standard errors of a share of .05 over 1,500 studies are .017.
    let by_chance = share_of_small_p(0.0);
    assert!(by_chance <= 0.05 + 0.017, "{by_chance}");
    let seen = share_of_small_p(0.4);
    assert!(seen > 0.9, "{seen}");
}

const fn mark(before: Option<u32>, sure: Sureness) -> MaskedMark {
    MaskedMark { before, sure }
}

/// The round made by hand with a masked analysis: treatment of C01 began at point 4, of C02 at 5, of C03 at 6, of C04 at 3.
fn marked(finished: &str) -> RoundFindings {
    let mut record = record();
    let graph = |number, child: &str, mark| MaskedGraphRecord {
        number,
        child: child.to_owned(),
        mark: Some(mark),
    };
    record.masked = Some(MaskedRecord {
        analyst: "A-abcdefgh".to_owned(),
        begun: "2026-05-19T08:00:00Z".to_owned(),
        finished: finished.to_owned(),
        seed: "5eed".repeat(16),
        graphs: vec![
            graph(1, "C03", mark(None, Sureness::Probable)),
            graph(2, "C01", mark(Some(4), Sureness::Certain)),
            graph(3, "C04", mark(Some(3), Sureness::Guess)),
            graph(4, "C02", mark(Some(6), Sureness::Probable)),
        ],
    });
    let drawn = |start, allowed: [usize; 3]| StartDrawn {
        start,
        allowed: allowed.to_vec(),
        child: None,
        words: None,
    };
    // Session 6 of C02 is missing, so its session 7 is the sixth point.
    record.assignment = Some(Assignment::StartPoints {
        drawn: Drawn::Starts,
        cases: BTreeMap::from([
            ("C01".to_owned(), drawn(4, [3, 4, 5])),
            ("C02".to_owned(), drawn(5, [4, 5, 7])),
            ("C03".to_owned(), drawn(6, [5, 6, 7])),
        ]),
    });
    findings(&record)
}

const FINISHED: &str = "2026-05-19T09:00:00Z";

/// Counted by hand: the marks miss the drawn starts of C01 by 0, of C02 by 1, and of C03 by its 9 points, as nothing was
/// seen there. Of the nine draws for C01 and C02 four are missed by no more, as in the first test; C03 triples all: 12 of 27.
#[test]
fn the_finding_sets_marks_beside_real_starts_and_counts_draws() {
    let found = marked(FINISHED).masked.unwrap();
    assert_eq!((found.marked, found.exact, found.within_one), (4, 2, 3));
    let rows: Vec<_> = found
        .graphs
        .iter()
        .map(|row| {
            (
                row.child.as_str(),
                row.points,
                row.start,
                row.late_by,
                row.within_one,
            )
        })
        .collect();
    assert_eq!(
        rows,
        [
            ("C03", 9, Some(6), None, Some(false)),
            ("C01", 9, Some(4), Some(0), Some(true)),
            ("C04", 4, Some(3), Some(0), Some(true)),
            ("C02", 9, Some(5), Some(1), Some(true)),
        ]
    );
    assert_eq!((found.missed_by, found.draws), (Some(10), Some(27.0)));
    assert!((found.p.unwrap() - 12.0 / 27.0).abs() < 1e-12);
    assert!((found.smallest_p.unwrap() - 1.0 / 27.0).abs() < 1e-12);
}

#[test]
fn without_a_finish_or_a_drawn_start_there_is_no_p_and_the_reason_is_said() {
    let unfinished = marked("").masked.unwrap();
    assert_eq!(unfinished.p, None);
    let why = unfinished.reasons.of("p").unwrap();
    assert!(
        why.contains("not finished before the round was unlocked"),
        "{why}"
    );
    let mut record = record();
    record.masked = marked(FINISHED).record.masked;
    let undrawn = findings(&record).masked.unwrap();
    assert_eq!((undrawn.p, undrawn.exact), (None, 2));
    let why = undrawn.reasons.of("p").unwrap();
    assert!(why.contains("no start of treatment was drawn"), "{why}");
}

#[test]
fn page_table_and_json_say_the_same_of_the_marks() {
    let found = marked(FINISHED);
    let json = serde_json::to_value(&found).unwrap();
    assert_eq!(json["masked"]["exact"], 2);
    assert_eq!(json["masked"]["graphs"][1]["mark"]["before"], 4);
    let tables = report::tables::all(&found);
    let table = |name: &str| tables.iter().find(|table| table.name == name).unwrap();
    let graphs: Vec<Vec<&str>> = table("masked_analysis").records().collect();
    assert_eq!(
        graphs,
        [
            ["C01", "2", "9", "4", "certain", "4", "0", "true"],
            ["C02", "4", "9", "6", "probable", "5", "1", "true"],
            ["C03", "1", "9", "", "probable", "6", "", "false"],
            ["C04", "3", "4", "3", "guess", "3", "0", "true"],
        ]
    );
    let test: Vec<Vec<&str>> = table("masked_test").records().collect();
    assert_eq!(test[0][..5], ["4", "4", "2", "3", "10"]);
    assert!((test[0][5].parse::<f64>().unwrap() - 12.0 / 27.0).abs() < 1e-12);
    let page = report::page(&found).unwrap();
    let said = elements(&page)
        .into_iter()
        .find(|element| element.name == "p" && element.text.contains("that is the masked p"))
        .unwrap()
        .text;
    assert!(
        said.contains("Of 4 marks, 2 met the real start and 3 came within one session of it.")
            && said.contains("miss it by 10 points")
            && said.contains("Of the 27 draws that were possible (all listed), a share of 0.444"),
        "{said}"
    );
}

#[test]
fn a_round_without_a_masked_analysis_says_nothing_of_one() {
    let found = findings(&record());
    let json = serde_json::to_value(&found).unwrap();
    assert!(json.get("masked").is_none());
    let tables = report::tables::all(&found);
    assert!(tables.iter().all(|table| !table.name.starts_with("masked")));
    assert!(
        !report::page(&found)
            .unwrap()
            .contains("Masked visual analysis")
    );
}
