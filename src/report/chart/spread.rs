//! How a measure lies in each phase: a small chart with a row a phase.

use super::svg::Anchor;
use super::svg::at;
use super::svg::colour;
use super::svg::escaped;
use super::svg::line;
use super::svg::put;
use super::svg::text;
use crate::report::number;

/// A row of a chart of spreads.
#[derive(Debug, Clone, PartialEq)]
pub struct SpreadRow {
    /// Its name.
    pub name: String,
    /// Least, quartiles and most.
    pub five: [f64; 5],
}

const WIDTH: f64 = 480.0;
const LEFT: f64 = 120.0;
const RIGHT: f64 = WIDTH - 16.0;
const ROW: f64 = 34.0;
const FOOT: f64 = 26.0;

/// A row a phase on one scale: a line from the least to the most, a box between the quartiles, a stroke at the median.
/// `id` begins the ids in it and must be the only one of its kind on a page; `unit` stands behind the numbers at the scale.
pub fn spreads(id: &str, title: &str, unit: &str, rows: &[SpreadRow]) -> String {
    let low = rows
        .iter()
        .map(|row| row.five[0])
        .fold(f64::INFINITY, f64::min);
    let high = rows
        .iter()
        .map(|row| row.five[4])
        .fold(f64::NEG_INFINITY, f64::max);
    let room = if high > low {
        (high - low) * 0.06
    } else {
        // One value alone stands in the middle of a scale.
        2.0
    };
    let (low, high) = (low - room, high + room);
    let x = |value: f64| LEFT + (value - low) / (high - low) * (RIGHT - LEFT);
    let bottom = ROW * rows.len() as f64 + 6.0;
    let mut out = head(id, title, &said(rows, unit), (WIDTH, bottom + FOOT));
    for (place, row) in rows.iter().enumerate() {
        draw_row(&mut out, row, ROW * (place as f64 + 0.5) + 3.0, x);
    }
    let look = format!(r#"stroke="{}""#, colour::EDGE);
    line(&mut out, "axis", (LEFT, bottom), (RIGHT, bottom), &look);
    let decimals = u8::from(high - low < 6.0);
    for value in ticks(low, high) {
        let place = x(value);
        line(
            &mut out,
            "axis",
            (place, bottom),
            (place, bottom + 4.0),
            &look,
        );
        let shown = format!("{} {unit}", number::fixed(value, decimals));
        let below = (place, bottom + 18.0);
        text(&mut out, "tick", below, Anchor::Middle, &shown);
    }
    out.push_str("</svg>\n");
    out
}

fn draw_row(out: &mut String, row: &SpreadRow, y: f64, x: impl Fn(f64) -> f64) {
    let name = shortened(&row.name);
    text(out, "label", (LEFT - 10.0, y + 4.0), Anchor::End, &name);
    let [least, q1, median, q3, most] = row.five.map(x);
    let thin = format!(r#"stroke="{}" stroke-width="1.5""#, colour::INK);
    line(out, "line", (least, y), (most, y), &thin);
    put(
        out,
        format_args!(
            r#"<rect class="box" x="{}" y="{}" width="{}" height="14" fill="{}" stroke="{}"/>"#,
            at(q1),
            at(y - 7.0),
            at((q3 - q1).max(1.0)),
            colour::BAND,
            colour::INK,
        ),
    );
    let thick = format!(r#"stroke="{}" stroke-width="3""#, colour::SECOND);
    line(out, "middle", (median, y - 9.0), (median, y + 9.0), &thick);
}

/// Three to six round values inside a range.
pub(super) fn ticks(low: f64, high: f64) -> Vec<f64> {
    let rough = (high - low) / 4.0;
    let power = 10_f64.powf(rough.log10().floor());
    let step = [1.0, 2.0, 5.0, 10.0]
        .map(|times| times * power)
        .into_iter()
        .find(|step| *step >= rough)
        .unwrap_or(power);
    let mut value = (low / step).ceil() * step;
    let mut found = Vec::new();
    while value <= high && found.len() < 8 {
        found.push(value);
        value += step;
    }
    found
}

fn said(rows: &[SpreadRow], unit: &str) -> String {
    let rows = rows.iter().map(|row| {
        let [least, q1, median, q3, most] = row.five.map(|value| number::fixed(value, 1));
        format!(
            "{}: median {median} {unit}, half of the recordings from {q1} to {q3}, all from {least} to {most}.",
            row.name
        )
    });
    rows.collect::<Vec<_>>().join(" ")
}

/// A name that fits into the margin.
fn shortened(name: &str) -> String {
    if name.chars().count() <= 16 {
        return name.to_owned();
    }
    let first: String = name.chars().take(15).collect();
    format!("{first}…")
}

/// The beginning of a chart: its size, its title, what it shows in words.
pub(super) fn head(
    id: &str,
    title: &str,
    description: &str,
    (width, height): (f64, f64),
) -> String {
    let mut out = String::new();
    put(
        &mut out,
        format_args!(
            r#"<svg class="chart" xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {} {}" role="img" aria-labelledby="{id}-title {id}-desc" font-family="system-ui, -apple-system, 'Segoe UI', Roboto, 'Noto Sans', sans-serif" font-size="13">"#,
            at(width),
            at(height),
        ),
    );
    put(
        &mut out,
        format_args!(r#"<title id="{id}-title">{}</title>"#, escaped(title)),
    );
    put(
        &mut out,
        format_args!(r#"<desc id="{id}-desc">{}</desc>"#, escaped(description)),
    );
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ticks_are_round_and_inside() {
        for (low, high, wanted) in [
            (0.0, 0.82, vec![0.0, 0.5]),
            (-31.0, -22.0, vec![-30.0, -25.0]),
            (0.0, 40.0, vec![0.0, 10.0, 20.0, 30.0, 40.0]),
        ] {
            assert_eq!(ticks(low, high), wanted);
        }
    }

    #[test]
    fn one_value_in_a_phase_still_makes_a_chart() {
        let row = SpreadRow {
            name: "a <b> phase".to_owned(),
            five: [7.0; 5],
        };
        let chart = spreads("x", "Noise", "dB", &[row]);
        assert!(!chart.contains("NaN") && !chart.contains("inf"), "{chart}");
        assert!(chart.contains("a &lt;b&gt; phase"), "{chart}");
    }
}
