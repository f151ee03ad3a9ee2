//! One listener: can she be trusted, does she agree with herself and with the others, and who is left out by which rule?

mod detection;
mod drift;
mod live;
mod repeats;
mod rest_of_panel;
mod rule;
mod screening;
mod signals;

pub use detection::Detection;
pub use detection::d_prime_of_rates;
pub use detection::signal_detection;
pub use drift::Drift;
pub use drift::drift;
pub use live::Remaining;
pub use live::out_of_reach;
pub use repeats::Repeats;
pub use repeats::repeats;
pub use rest_of_panel::RestOfPanel;
pub use rest_of_panel::rest_of_panel;
pub use rule::Chances;
pub use rule::Rule;
pub use rule::RuleError;
pub use rule::Rules;
pub use screening::Screened;
pub use screening::screen;
pub use signals::Signals;
pub use signals::longest_run;
pub use signals::median;
