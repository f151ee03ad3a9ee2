//! The report: findings to tables, charts and pages.

// Charts as SVG.
pub mod chart;
// Numbers as they are shown.
pub mod number;
// Findings as plain text, for a terminal.
pub mod text;
