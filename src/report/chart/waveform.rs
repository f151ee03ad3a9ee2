//! The outline of a sound over its length.

use std::fmt::Write;

use super::spread::head;
use super::spread::ticks;
use super::svg::Anchor;
use super::svg::at;
use super::svg::colour;
use super::svg::line;
use super::svg::put;
use super::svg::text;
use crate::report::number;

const WIDTH: f64 = 720.0;
const HEIGHT: f64 = 140.0;
const FOOT: f64 = 26.0;

/// The outline of a sound over its length: `columns` holds the lowest and the highest sample of stretches of equal length,
/// full scale being 1; `onset_s` is where the word begins, if that is known. `title` says which sound it is. `id` begins the
/// ids in it and must be the only one of its kind on a page.
pub fn waveform(
    id: &str,
    title: &str,
    seconds: f64,
    onset_s: Option<f64>,
    columns: &[(f64, f64)],
) -> String {
    let heights = columns.iter().map(|(low, high)| high.abs().max(low.abs()));
    let most = heights.fold(0.0, f64::max);
    let described = format!(
        "{} seconds long. The highest sample reaches {} of full scale; the picture fills its height with it.",
        number::fixed(seconds, 2),
        number::percent(most),
    );
    let mut out = head(id, title, &described, (WIDTH, HEIGHT + FOOT));
    outline(&mut out, columns, most.max(1e-9));
    let x = |second: f64| second / seconds.max(1e-9) * WIDTH;
    if let Some(onset) = onset_s {
        let look = format!(r#"stroke="{}" stroke-dasharray="4 3""#, colour::EDGE);
        let at_onset = x(onset);
        line(
            &mut out,
            "phase",
            (at_onset, 0.0),
            (at_onset, HEIGHT),
            &look,
        );
        let beside = (at_onset + 4.0, 12.0);
        text(&mut out, "tick", beside, Anchor::Start, "word begins");
    }
    seconds_below(&mut out, seconds, x);
    out.push_str("</svg>\n");
    out
}

fn outline(out: &mut String, columns: &[(f64, f64)], most: f64) {
    let middle = HEIGHT / 2.0;
    let width = WIDTH / columns.len().max(1) as f64;
    let y = |sample: f64| middle - sample / most * (middle - 4.0);
    let look = format!(r#"stroke="{}""#, colour::LINE);
    line(out, "line", (0.0, middle), (WIDTH, middle), &look);
    let mut d = String::new();
    for (place, (low, high)) in columns.iter().enumerate() {
        let x = at((place as f64 + 0.5) * width);
        let (top, bottom) = (at(y(*high) - 0.5), at(y(*low) + 0.5));
        // Writing to a String cannot fail.
        let _ = write!(d, "M{x} {top}V{bottom}");
    }
    put(
        out,
        format_args!(
            r#"<path class="wave" d="{d}" fill="none" stroke="{}" stroke-width="{}"/>"#,
            colour::SECOND,
            at(width),
        ),
    );
}

fn seconds_below(out: &mut String, seconds: f64, x: impl Fn(f64) -> f64) {
    let look = format!(r#"stroke="{}""#, colour::EDGE);
    line(out, "axis", (0.0, HEIGHT), (WIDTH, HEIGHT), &look);
    for second in ticks(0.0, seconds) {
        let x = x(second);
        line(out, "axis", (x, HEIGHT), (x, HEIGHT + 4.0), &look);
        let anchor = if second <= 0.0 {
            Anchor::Start
        } else if x > WIDTH - 20.0 {
            Anchor::End
        } else {
            Anchor::Middle
        };
        let shown = format!("{} s", number::fixed(second, 1));
        text(out, "tick", (x, HEIGHT + 18.0), anchor, &shown);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn silence_still_makes_a_picture() {
        let silent = waveform("y", "Recorded", 0.5, Some(0.3), &[(0.0, 0.0); 4]);
        assert!(
            !silent.contains("NaN") && !silent.contains("inf"),
            "{silent}"
        );
    }
}
