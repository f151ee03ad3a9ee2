//! Charts as SVG: a child's sessions over time, and the children of a study under each other.
//!
//! Ordinate 0 to 100% heard as correct; abscissa to scale; an interval on every point; a path that breaks at every phase
//! and every missing session; series apart by shape, stroke and text, so that grey, dark and print lose nothing. Presentation
//! attributes carry the look where no style reaches (a picture, another program); classes let a page change it.

mod data;
mod draw;
mod format;
mod labels;
mod panel;
#[cfg(feature = "png")]
mod png;
mod spread;
mod svg;
mod time;
mod unnamed;
mod waveform;

pub use data::Band;
pub use data::Graph;
pub use data::Level;
pub use data::Mark;
pub use data::Series;
pub use data::Session;
pub use data::Symbol;
pub use draw::child;
pub use draw::study;
pub use format::Format;
#[cfg(feature = "png")]
pub use png::png;
pub use spread::SpreadRow;
pub use spread::spreads;
pub use unnamed::unnamed;
pub use waveform::waveform;
