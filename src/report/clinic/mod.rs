//! One child, or all of a study, for whoever treats them: what changed in one sentence, how sure, what would settle it, what is not shown.
//!
//! All figures are those of the report; nothing is computed again.

mod beginning;
mod brief;
mod heard;
mod lines;
mod mind;
mod sentence;
mod sheet;
mod study;
mod told;

pub use beginning::Heard;
pub use beginning::little_room;
pub use beginning::maintenance;
pub use beginning::without_comparison;
pub use brief::Brief;
pub use brief::Standing;
pub use brief::brief;
pub use lines::age;
pub use lines::how_sure;
pub use lines::peers;
pub use lines::what_would_settle_it;
pub use sentence::headline;
pub use sentence::what_changed;
pub use sheet::ChildSheet;
pub use sheet::Line;
pub use sheet::child_sheet;
pub use study::ChildOfCohort;
pub use study::CohortSheet;
pub use study::StudySheet;
pub use study::study_sheet;
pub use told::Told;
