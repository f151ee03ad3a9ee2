//! Exchange: CSV, JSON and TOML in and out.

mod assignment;
mod consents;
mod dictionary;
mod export;
mod hashes;
mod manifest;
mod panel;
mod prepared;
mod ratings;
mod rows;
mod series;
mod share;
mod sheet;
mod tokens;
mod toml_file;
mod truth;
#[cfg(feature = "xlsx")]
mod workbook;

pub use assignment::read_assignment;
pub use consents::ConsentLine;
pub use consents::read_consents;
pub use dictionary::Explained;
pub use dictionary::write_dictionary;
pub use dictionary::write_shared_dictionary;
pub use dictionary::write_table;
pub use export::ExportFile;
pub use export::Form;
pub use export::write_excluded;
pub use export::write_flow;
pub use export::write_key;
pub use export::write_missing;
pub use export::write_panel;
pub use export::write_ratings;
pub use export::write_set_aside;
pub use export::write_tokens;
pub use hashes::read_hashes;
pub use hashes::write_hashes;
pub use manifest::ManifestRow;
pub use manifest::read_manifest;
pub use panel::read_answer_key;
pub use panel::read_panel;
pub use prepared::PreparedFile;
pub use prepared::write_prepared;
pub use ratings::read_ratings;
pub use rows::without_rows;
pub use series::read_series;
pub use share::shared;
pub use tokens::read_tokens;
pub use toml_file::read_plan;
pub use toml_file::read_rules;
pub use toml_file::read_settings;
pub use truth::read_truth;
#[cfg(feature = "xlsx")]
pub use workbook::write_workbook;
