//! One test program: a file for each act.

mod tidy;
