//! One test program: a file for each act.

mod distributions;
mod ratings_file;
mod reference;
mod reference_proportion;
mod decode;
mod sound;
mod reference_intervals;
mod tidy;
