//! One test program: a file for each act.

mod distributions;
mod reference;
mod reference_proportion;
mod tidy;
