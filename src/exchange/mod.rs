//! Exchange: CSV, JSON and TOML in and out.

mod panel;
mod ratings;
mod sheet;
mod tokens;

pub use panel::read_answer_key;
pub use panel::read_panel;
pub use ratings::read_ratings;
pub use tokens::read_tokens;
