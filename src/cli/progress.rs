//! How far a long act has come, on standard error; hidden where that is no terminal.

use indicatif::ProgressBar;
use indicatif::ProgressStyle;

/// The bar that shows how many words are prepared.
pub(super) fn preparing() -> ProgressBar {
    let style = ProgressStyle::with_template("preparing {bar:40} {pos} of {len}, {eta} to go");
    ProgressBar::new(0).with_style(style.unwrap_or_else(|_| ProgressStyle::default_bar()))
}

/// Moves a bar on.
pub(super) fn show(bar: &ProgressBar, done: usize, of: usize) {
    bar.set_length(of as u64);
    bar.set_position(done as u64);
}
