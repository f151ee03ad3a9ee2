//! The vocabulary of the study. A value is checked once, when it is made; nothing here does I/O.
