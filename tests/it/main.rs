//! One test program: a file for each act.

mod distributions;
mod tidy;
