//! Exchange: CSV, JSON and TOML in and out.

mod assignment;
mod export;
mod manifest;
mod panel;
mod prepared;
mod ratings;
mod series;
mod sheet;
mod tokens;
mod toml_file;

pub use assignment::read_assignment;
pub use export::ExportFile;
pub use export::write_flow;
pub use export::write_key;
pub use export::write_missing;
pub use export::write_panel;
pub use export::write_ratings;
pub use export::write_set_aside;
pub use export::write_tokens;
pub use manifest::ManifestRow;
pub use manifest::read_manifest;
pub use panel::read_answer_key;
pub use panel::read_panel;
pub use prepared::PreparedFile;
pub use prepared::write_prepared;
pub use ratings::read_ratings;
pub use series::read_series;
pub use tokens::read_tokens;
pub use toml_file::read_plan;
pub use toml_file::read_rules;
pub use toml_file::read_settings;
