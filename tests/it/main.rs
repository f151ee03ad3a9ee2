//! One test program: a file for each act.
#![cfg(test)]

mod agreement_command;
mod blinding_allocation;
mod blinding_chance;
mod blinding_order;
mod blinding_plan;
mod blinding_spread;
mod decode;
mod distributions;
mod loudness;
mod prepare;
mod ratings_file;
mod reference;
mod reference_agreement;
mod reference_change;
mod reference_intervals;
mod reference_proportion;
mod seal;
mod sound;
mod tidy;
