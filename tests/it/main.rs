//! One test program: a file for each act.

#![expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    clippy::float_cmp,
    clippy::format_push_string,
    reason = "tests index with small numbers from files, and compare with exact expected values"
)]
#![cfg(test)]

mod agreement_command;
mod agreement_coverage;
mod agreement_laws;
mod backup;
mod blinding_allocation;
mod blinding_chance;
mod blinding_order;
mod blinding_plan;
mod blinding_spread;
mod blindness;
mod browser_access;
mod browser_sitting;
mod browser_trouble;
mod calibration;
mod chart;
mod consent;
mod crowd;
mod decode;
mod desk;
mod disk;
mod distributions;
mod exclude;
mod export;
mod import;
mod interval_laws;
mod known_answers;
mod listening;
mod listening_walks;
mod loudness;
mod main_job;
mod metadata;
mod outcome_command;
mod page_languages;
mod panel_commands;
mod prepare;
mod prepare_command;
mod program;
mod ratings_file;
mod real_speech_audio;
mod reference;
mod reference_agreement;
mod reference_change;
mod reference_intervals;
mod reference_listener;
mod reference_precision;
mod reference_proportion;
mod report_page;
mod sample_audio;
mod seal;
mod sealing;
mod series_command;
mod simulated_round;
mod sound;
mod store;
mod support;
mod threads;
mod tidy;
mod verify;
mod withdraw;
mod withdraw_kill;
