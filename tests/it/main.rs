//! One test program: a file for each act.

mod decode;
mod distributions;
mod loudness;
mod prepare;
mod ratings_file;
mod reference;
mod reference_agreement;
mod reference_intervals;
mod reference_proportion;
mod sound;
mod tidy;
