//! Exchange: CSV, JSON and TOML in and out.
