//! One test program: a file for each act.
#![cfg(test)]

mod decode;
mod blinding_allocation;
mod blinding_chance;
mod blinding_order;
mod blinding_plan;
mod blinding_spread;
mod distributions;
mod loudness;
mod prepare;
mod ratings_file;
mod reference;
mod reference_agreement;
mod reference_intervals;
mod reference_proportion;
mod sound;
mod seal;
mod reference_intervals;
mod reference_intervals;
mod reference_intervals;
mod reference_proportion;
mod reference_proportion;
mod reference_proportion;
mod sound;
mod sound;
mod sound;
mod tidy;
