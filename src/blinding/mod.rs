//! Which listener hears what, and in which order: pure, seeded, frozen by tests. Strata, children,
//! phases and words are bare numbers here; who hides behind them is not known.

mod allocate;
mod chance;
mod feasible;
mod flow;
mod order;

pub use allocate::Candidate;
pub use allocate::allocate;
pub use chance::Chance;
pub use chance::Seed;
pub use chance::answer_side;
pub use chance::target_order;
pub use feasible::ListenerPlan;
pub use feasible::Refusal;
pub use feasible::RoundDesign;
pub use feasible::Supply;
pub use feasible::feasible;
pub use order::Extra;
pub use order::OrderError;
pub use order::SittingDesign;
pub use order::Slot;
pub use order::order;
