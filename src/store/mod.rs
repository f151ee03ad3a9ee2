//! The store: SQLite, and the only SQL of the program.
