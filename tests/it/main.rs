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
mod assigning;
mod backup;
mod blinding_allocation;
mod blinding_chance;
mod blinding_order;
mod blinding_plan;
mod blinding_spread;
mod blindness;
mod browser_access;
mod browser_course;
mod browser_cut_short;
mod browser_design;
mod browser_desk;
mod browser_engines;
mod browser_everyone;
mod browser_laptop;
mod browser_plays;
mod browser_recordings;
mod browser_sitting;
mod browser_storm;
mod browser_trouble;
mod calibration;
mod chart;
mod clinic_child;
mod clinic_sentences;
mod completeness;
mod consent;
mod course_pages;
mod crowd;
mod decode;
mod desk;
mod desk_accounts;
mod desk_attacks;
mod desk_before;
mod desk_design;
mod desk_draw;
mod desk_import;
mod desk_invitations;
mod desk_reach;
mod desk_review;
mod desk_roles;
mod desk_rounds;
mod disk;
mod distributions;
mod drawn_words;
mod draws;
mod erased_rows;
mod exclude;
mod export;
mod import;
mod interval_laws;
mod known_answers;
mod let_go;
mod link_commands;
mod linking;
mod links;
mod listening;
mod listening_course;
mod listening_walks;
mod lived_in;
mod loudness;
mod main_job;
mod metadata;
mod one_laptop;
mod other_sites;
mod outcome_command;
mod page_languages;
mod panel_commands;
mod plan_forecast;
mod plays;
mod prepare;
mod prepare_command;
mod program;
mod publication;
mod published_series;
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
mod rounds;
mod sample_audio;
mod seal;
mod sealing;
mod sensitivity;
mod series_command;
mod simulated_round;
mod sound;
mod spellings;
mod store;
mod support;
mod threads;
mod tidy;
mod verify;
mod voided;
mod withdraw;
mod withdraw_kill;
mod withdrawal;
