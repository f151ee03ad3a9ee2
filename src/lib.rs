//! Fair Hearing: blind judgements of children's speech sounds, and what they prove.
//!
//! The modules stand in reading order; each knows only those above it that the table in
//! `tests/it/tidy.rs` allows.

// The vocabulary: a value is checked once, when it is made. No I/O.
pub mod study;

// Numbers in, numbers out: agreement, listeners, consensus, change, precision.
pub mod stats;

// A recording in, a prepared token out.
pub mod audio;

// Which listener hears what, in which order: pure and seeded.
pub mod blinding;

// Canonical form, hash and the chained log: pure.
pub mod seal;

// SQLite and the only SQL.
pub mod store;

// CSV, JSON and TOML in and out; a refusal names file, line, column and the mend.
pub mod exchange;

// Judgements to tables to findings.
pub mod analysis;

// Findings to tables, charts and pages: the same input gives the same bytes.
pub mod report;

// What a person can do, one function an act.
pub mod app;

// The files of an export and of a report.
pub mod folder;

// HTTP and nothing else.
pub mod web;

// The commands: raw arguments become checked options before anything runs.
pub mod cli;
