//! Charts: what every one of them keeps to, read from its markup.

use std::collections::BTreeMap;

use fairhearing::report::chart;
use fairhearing::report::chart::Band;
use fairhearing::report::chart::Format;
use fairhearing::report::chart::Graph;
use fairhearing::report::chart::Mark;
use fairhearing::report::chart::Series;
use fairhearing::report::chart::Session;
use fairhearing::report::chart::Symbol;
use proptest::prelude::*;

use crate::support::Element;
use crate::support::elements;

#[test]
fn equal_input_gives_equal_bytes() {
    let graph = graph(&[4, 6, 3], &[5], true);
    assert_eq!(
        chart::child("c", &graph, Some(&band()), Format::WIDE),
        chart::child("c", &graph.clone(), Some(&band()), Format::WIDE)
    );
}

#[test]
fn a_missing_session_breaks_the_path() {
    let whole = chart::child("c", &graph(&[6], &[], false), None, Format::WIDE);
    let broken = chart::child("c", &graph(&[6], &[3], false), None, Format::WIDE);
    assert_eq!(paths(&elements(&whole)).len(), 1);
    let parts = paths(&elements(&broken));
    assert_eq!(parts.len(), 2);
    // Sessions 1 and 2, then 4, 5 and 6.
    assert_eq!(parts.iter().map(Vec::len).collect::<Vec<_>>(), [2, 3]);
}

#[test]
fn sessions_that_belong_to_another_series_do_not_break_a_path_and_missing_ones_do() {
    // Two ways of treating in turn: 1, 3, 5 and 2, 4, 6; session 7 is missing, 8 is of the first way again.
    let alternating = |left_out: &[u32]| {
        let mut graph = graph(&[8], left_out, true);
        let numbers: Vec<u32> = graph
            .sessions
            .iter()
            .map(|session| session.number)
            .collect();
        for (series, first) in graph.series.iter_mut().zip([true, false]) {
            series.of_others = numbers
                .iter()
                .map(|number| [1, 3, 5, 8].contains(number) != first)
                .collect();
            for (mark, others) in series.marks.iter_mut().zip(&series.of_others) {
                if *others {
                    *mark = None;
                }
            }
        }
        let svg = chart::child("c", &graph, None, Format::WIDE);
        paths(&elements(&svg))
            .iter()
            .map(Vec::len)
            .collect::<Vec<_>>()
    };
    assert_eq!(alternating(&[]), [4, 4]);
    assert_eq!(alternating(&[7]), [3, 3]);
    assert_eq!(alternating(&[4]), [2, 2, 2]);
}

#[test]
fn the_ordinate_goes_from_nothing_to_all() {
    let graph = Graph {
        series: vec![Series {
            label: "all words".to_owned(),
            symbol: Symbol::Disc,
            marks: vec![
                Some(mark(0.0, "none")),
                Some(mark(0.5, "half")),
                Some(mark(1.0, "all")),
            ],
            of_others: Vec::new(),
        }],
        ..graph(&[3], &[], false)
    };
    let svg = chart::child("c", &graph, None, Format::WIDE);
    let elements = elements(&svg);
    let ticks: BTreeMap<String, f64> = elements
        .iter()
        .filter(|e| e.name == "text" && e.class() == "tick")
        .map(|e| (e.text.clone(), e.number("y")))
        .collect();
    let heights: Vec<f64> = elements
        .iter()
        .filter(|e| e.name == "circle")
        .map(|e| e.number("cy"))
        .collect();
    // Labels stand a little under their lines, all alike.
    let under = ticks["0"] - heights[0];
    assert!(
        (ticks["50"] - heights[1] - under).abs() < 0.02,
        "half lies at 50"
    );
    assert!(
        (ticks["100"] - heights[2] - under).abs() < 0.02,
        "all lies at 100"
    );
    assert!(
        heights[0] > heights[1] && heights[1] > heights[2],
        "up is more"
    );
}

#[test]
fn days_are_drawn_to_scale() {
    let mut graph = graph(&[4], &[], false);
    for (session, day) in graph.sessions.iter_mut().zip([0, 7, 14, 49]) {
        session.day = Some(day);
    }
    let svg = chart::child("c", &graph, None, Format::WIDE);
    let at: Vec<f64> = elements(&svg)
        .iter()
        .filter(|e| e.name == "circle")
        .map(|e| e.number("cx"))
        .collect();
    assert!(
        ((at[3] - at[2]) / (at[1] - at[0]) - 5.0).abs() < 0.01,
        "five weeks are five times one"
    );
    assert!(svg.contains("weeks since the first recording"));
}

#[test]
fn one_unknown_date_puts_sessions_in_their_order() {
    let mut graph = graph(&[3], &[], false);
    graph.sessions[0].day = Some(0);
    graph.sessions[2].day = Some(90);
    let svg = chart::child("c", &graph, None, Format::WIDE);
    let at: Vec<f64> = elements(&svg)
        .iter()
        .filter(|e| e.name == "circle")
        .map(|e| e.number("cx"))
        .collect();
    assert!((at[2] - at[1] - (at[1] - at[0])).abs() < 0.02);
}

#[test]
fn series_differ_by_shape_by_stroke_and_by_name() {
    let svg = chart::child("c", &graph(&[3, 3], &[], true), None, Format::WIDE);
    let elements = elements(&svg);
    assert_eq!(elements.iter().filter(|e| e.name == "circle").count(), 6);
    assert_eq!(elements.iter().filter(|e| e.class() == "square").count(), 6);
    let dashed = elements.iter().filter(|e| e.class() == "run second");
    assert!(dashed.clone().count() > 0 && dashed.clone().all(|e| e.has("stroke-dasharray")));
    for name in ["● treated words", "□ untreated words"] {
        assert!(
            elements.iter().any(|e| e.name == "text" && e.text == name),
            "{name}"
        );
    }
}

#[test]
fn a_code_that_is_markup_stays_text() {
    let graph = Graph {
        child: "<script>&\"".to_owned(),
        ..graph(&[2], &[], false)
    };
    let svg = chart::child("c", &graph, None, Format::WIDE);
    assert!(elements(&svg).iter().all(|e| e.name != "script"));
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, cases: 64, ..ProptestConfig::default() })]

    #[test]
    fn no_path_crosses_a_phase_line_and_every_point_has_text(
        phases in prop::collection::vec(1_u32..7, 1..5),
        left_out in prop::collection::vec(1_u32..20, 0..4),
        two in any::<bool>(),
        dated in any::<bool>(),
        others in 0_usize..3,
        format in prop::sample::select(vec![Format::WIDE, Format::NARROW]),
    ) {
        let mut graphs = vec![graph(&phases, &left_out, two); others + 1];
        for (place, graph) in graphs.iter_mut().enumerate() {
            graph.child = format!("C{place}");
            for session in &mut graph.sessions {
                session.day = dated.then_some(session.number * 9 + session.number % 3);
            }
        }
        let svg = chart::study("all", &graphs, Some(&band()), format);
        let elements = elements(&svg);
        let ids: Vec<&String> = elements.iter().filter_map(|e| e.attributes.get("id")).collect();
        let mut unique = ids.clone();
        unique.sort();
        unique.dedup();
        prop_assert_eq!(ids.len(), unique.len());
        for panel in elements.iter().filter(|e| e.class() == "child") {
            let inside: Vec<&Element> = elements.iter().filter(|e| e.within.contains(&panel.place)).collect();
            let lines: Vec<f64> = inside.iter().filter(|e| e.class() == "phase").map(|e| e.number("x1")).collect();
            prop_assert_eq!(lines.len(), phases_seen(&graphs[0]).saturating_sub(1));
            for path in paths(&inside.iter().map(|e| (*e).clone()).collect::<Vec<_>>()) {
                let (first, last) = (path[0].0, path[path.len() - 1].0);
                prop_assert!(lines.iter().all(|line| *line < first || *line > last), "{:?} {:?}", path, lines);
            }
            let points: Vec<&&Element> = inside.iter().filter(|e| e.class() == "point").collect();
            prop_assert_eq!(points.len(), graphs[0].series.iter().flat_map(|s| s.marks.iter().flatten()).count());
            for point in points {
                let said = inside.iter().any(|e| e.name == "title" && e.within.last() == Some(&point.place) && !e.text.is_empty());
                prop_assert!(said);
            }
        }
    }
}

fn phases_seen(graph: &Graph) -> usize {
    let mut names: Vec<&String> = graph.sessions.iter().map(|s| &s.phase).collect();
    names.dedup();
    names.len()
}

/// The points of each series' path.
fn paths(elements: &[Element]) -> Vec<Vec<(f64, f64)>> {
    elements
        .iter()
        .filter(|e| e.name == "path" && e.class().starts_with("run"))
        .map(|e| {
            let d = &e.attributes["d"];
            d.split(['M', 'L'])
                .filter(|step| !step.is_empty())
                .map(|step| {
                    let (x, y) = step.split_once(' ').expect("two coordinates");
                    (x.parse().expect("a number"), y.parse().expect("a number"))
                })
                .collect()
        })
        .collect()
}

/// Phases of so many sessions each, numbered through, some left out.
fn graph(phases: &[u32], left_out: &[u32], two: bool) -> Graph {
    let mut sessions = Vec::new();
    let mut number = 0;
    for (phase, n) in phases.iter().enumerate() {
        for _ in 0..*n {
            number += 1;
            if !left_out.contains(&number) {
                sessions.push(Session {
                    number,
                    phase: format!("phase {phase}"),
                    day: None,
                });
            }
        }
    }
    let marks = |lift: f64| -> Vec<Option<Mark>> {
        let share = |number: u32| (f64::from(number * 37 % 100) / 100.0 + lift).min(1.0);
        sessions
            .iter()
            .map(|s: &Session| Some(mark(share(s.number), &format!("Session {}", s.number))))
            .collect()
    };
    let mut series = vec![Series {
        label: if two { "treated words" } else { "all words" }.to_owned(),
        symbol: Symbol::Disc,
        marks: marks(0.2),
        of_others: Vec::new(),
    }];
    if two {
        series.push(Series {
            label: "untreated words".to_owned(),
            symbol: Symbol::Square,
            marks: marks(0.0),
            of_others: Vec::new(),
        });
    }
    Graph {
        child: "C01".to_owned(),
        beside: None,
        sessions,
        series,
        levels: Vec::new(),
    }
}

fn mark(share: f64, said: &str) -> Mark {
    Mark {
        share,
        ci: Some([(share - 0.1).max(0.0), (share + 0.1).min(1.0)]),
        said: said.to_owned(),
    }
}

fn band() -> Band {
    Band {
        low: 0.88,
        high: 0.97,
        label: "peers 88% to 97%".to_owned(),
    }
}
