//! The report: findings to tables, charts and pages.

// Charts as SVG.
pub mod chart;
// One child's page, for whoever treats her.
pub mod clinic;
// What a family is given.
mod family;
// Numbers as they are shown.
pub mod number;
// The report as one page that stands alone.
mod page;
// For an ethics board.
mod papers;
// The sheet of an assignment.
pub mod sheet;
// A table for a page and a file at once.
pub mod table;
// The tables of a round.
pub mod tables;
// Findings as plain text, for a terminal.
pub mod text;

pub use family::FamilyReceipt;
pub use family::family_policy;
pub use family::family_receipt;
pub use page::Picture;
pub use page::manuscript;
pub use page::page;
pub use page::pictures;
pub use page::policy;
pub use page::sections;
pub use papers::Paper;
pub use papers::PaperFacts;
pub use papers::paper;
pub use papers::papers_policy;
