//! The vocabulary of the study. A value is checked once, when it is made; nothing here does I/O.

mod assigning;
mod assignment;
// What leads a listener through a sitting.
pub mod course;
mod invalid;
// The blinding key.
pub mod key;
mod label;
mod labels;
mod panel;
// The sealed plan of a round.
pub mod plan;
mod presentation;
mod problem;
mod ratings;
// What a round yielded.
pub mod record;
mod round;
mod series;
mod settings;
mod terms;
mod token_table;
mod units;
mod word;

pub use assigning::AssignmentPlan;
pub use assigning::Design;
pub use assigning::Enrolled;
pub use assigning::How;
pub use assigning::Trait;
pub use assigning::WordLists;
pub use assignment::Assignment;
pub use assignment::Drawn;
pub use assignment::StartDrawn;
pub use invalid::Invalid;
pub use label::AccountCode;
pub use label::AccountName;
pub use label::ChildCode;
pub use label::Cohort;
pub use label::Condition;
pub use label::ListenerCode;
pub use label::Phase;
pub use label::RoundName;
pub use labels::Labels;
pub use panel::Panel;
pub use panel::PanelRow;
pub use plan::Plan;
pub use presentation::Place;
pub use presentation::PresentationId;
pub use presentation::Presented;
pub use problem::Problem;
pub use problem::Problems;
pub use ratings::Rating;
pub use ratings::Ratings;
pub use round::Unlocked;
pub use series::Series;
pub use series::SeriesRow;
pub use settings::StudySettings;
pub use settings::WordList;
pub use terms::AnswerSide;
pub use terms::Elicitation;
pub use terms::Judgement;
pub use terms::KnownAnswer;
pub use terms::ListenerKind;
pub use terms::PresentationKind;
pub use terms::Role;
pub use terms::RoundState;
pub use terms::SetAside;
pub use terms::Use;
pub use token_table::TokenRow;
pub use token_table::TokenTable;
pub use units::Confidence;
pub use units::Share;
pub use word::Part;
pub use word::Word;
