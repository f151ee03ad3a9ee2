//! The report: findings to tables, charts and pages.

// Findings as plain text, for a terminal.
pub mod text;
