//! The graphs of a report one by one, as whole pictures.

use super::super::chart;
use super::super::chart::Format;
use super::children;
use super::graphs;
use super::over_rounds::OverRounds;
use crate::analysis::RoundFindings;

/// A graph that stands alone.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Picture {
    /// The name of its file, without ending.
    pub name: String,
    /// What it shows.
    pub title: String,
    /// The graph as SVG.
    pub svg: String,
}

impl Picture {
    /// The graph of one child.
    pub fn of_child(code: &str, svg: String) -> Self {
        Self {
            name: format!("graph-{}", plain(code)),
            title: format!("Child {code}"),
            svg,
        }
    }

    /// The graph of all children under each other.
    pub fn of_all(svg: String) -> Self {
        Self {
            name: "graph-all-children".to_owned(),
            title: "All children".to_owned(),
            svg,
        }
    }
}

/// Every graph of a report: all children, each child, and all rounds on one scale where there are several.
pub fn pictures(found: &RoundFindings) -> Vec<Picture> {
    let band = graphs::band(&found.outcome);
    let band = band.as_ref();
    let graphs = children::graphs_of(found);
    let mut pictures = vec![Picture::of_all(chart::study(
        "study",
        &graphs,
        band,
        Format::WIDE,
    ))];
    for (number, graph) in (1..).zip(&graphs) {
        pictures.push(Picture {
            name: format!("graph-{number}-{}", plain(&graph.child)),
            title: format!("Child {}", graph.child),
            svg: chart::child(&format!("child-{number}"), graph, band, Format::WIDE),
        });
    }
    let over = found.over_rounds.as_ref().map(OverRounds::new);
    if let Some(over) = over.filter(|over| over.refused.is_none()) {
        pictures.push(Picture {
            name: "graph-over-the-rounds".to_owned(),
            title: "All children over all rounds, on one scale".to_owned(),
            svg: over.chart,
        });
    }
    pictures
}

/// A code as far as every system takes it for the name of a file.
fn plain(code: &str) -> String {
    let sign = |sign: char| {
        if sign.is_ascii_alphanumeric() {
            sign
        } else {
            '-'
        }
    };
    code.chars().map(sign).collect()
}
