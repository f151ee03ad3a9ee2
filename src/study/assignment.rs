//! How cases were assigned: what a randomisation test may count as possible. Nothing is tested without it.

use std::collections::BTreeMap;

use serde::Deserialize;

/// The assignment that was really drawn, as it stands in a file of its own.
///
/// ```json
/// {"design": "cohorts"}
/// {"design": "cohorts", "blocks": [["C01", "C02"], ["C03", "C04"]]}
/// {"design": "start_points", "drawn": "starts",
///  "cases": {"C01": {"start": 5, "allowed": [4, 5, 6]}, "C02": {"start": 7, "allowed": [6, 7, 8]}}}
/// {"design": "phase_changes", "min_per_phase": 4, "cases": {"C01": [7, 13, 19]}}
/// {"design": "alternating", "longest_run": 2}
/// {"design": "alternating", "pairs": true}
/// ```
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(tag = "design", rename_all = "snake_case", deny_unknown_fields)]
pub enum Assignment {
    /// Children were assigned to cohorts at random, with the cohort sizes fixed beforehand.
    Cohorts {
        /// Children among whom the assignment was drawn apart from others (matched pairs, say); absent: all together.
        #[serde(default)]
        blocks: Vec<Vec<String>>,
    },
    /// The session at which treatment began was drawn.
    StartPoints {
        /// What was drawn.
        #[serde(default)]
        drawn: Drawn,
        /// Each case with its start and the starts it could have had, counted in its sessions from 1.
        cases: BTreeMap<String, StartDrawn>,
    },
    /// The sessions at which phases changed were drawn within each case.
    PhaseChanges {
        /// The fewest sessions a phase could have.
        min_per_phase: usize,
        /// Each case with the sessions at which each phase after the first began, counted from 1.
        cases: BTreeMap<String, Vec<usize>>,
    },
    /// The order of two conditions was drawn from session to session; it stands in the column `condition`.
    Alternating {
        /// The longest run of one condition that was possible.
        #[serde(default)]
        longest_run: Option<usize>,
        /// Whether sessions were paired and the order drawn in each pair.
        #[serde(default)]
        pairs: bool,
    },
}

/// What was drawn where starts were staggered.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Drawn {
    /// Each case's start among its own allowed ones.
    #[default]
    Starts,
    /// Which case gets which of the starts.
    Cases,
    /// Which case gets which set of allowed starts, and the start in it.
    Both,
}

/// A start that was drawn.
#[derive(Debug, Clone, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct StartDrawn {
    /// The first session of treatment.
    pub start: usize,
    /// The sessions at which it could have begun.
    pub allowed: Vec<usize>,
}

impl Assignment {
    /// Children assigned to cohorts at random, all together: `--assignment random`.
    pub const fn random() -> Self {
        Self::Cohorts { blocks: Vec::new() }
    }
}
