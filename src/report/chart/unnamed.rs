//! A graph that names nobody: levels in their order, and nothing else that could tell whose they are or when treatment began.

use super::panel::Frame;
use super::svg::Anchor;
use super::svg::at;
use super::svg::colour;
use super::svg::escaped;
use super::svg::line;
use super::svg::path;
use super::svg::put;
use super::svg::text;
use crate::report::number::percent;

const WIDTH: f64 = 720.0;
const RIGHT_MARGIN: f64 = 10.0;
const HEIGHT: f64 = 274.0;
/// The widest frame; with few points it ends earlier.
const FRAME: Frame = Frame {
    left: 44.0,
    right: WIDTH - RIGHT_MARGIN,
    top: 30.0,
    bottom: 230.0,
};
/// Room between the frame and the outermost point.
const INSET: f64 = 24.0;
/// Points lie no farther apart than this, so that few of them are not torn apart; six of them fit a phone.
const WIDEST_STEP: f64 = 48.0;

/// The unnamed graph of that number. `most`: the points of the longest graph beside it, so that a step is as wide in all of
/// them. Phases, dates, missing sessions, intervals and counts of words are not shown: each could tell when treatment began.
pub fn unnamed(number: u32, shares: &[f64], most: usize) -> String {
    let id = format!("graph-{number}");
    let step = step(most);
    let right = x(last_place(most), step) + INSET;
    let width = right + RIGHT_MARGIN;
    let mut out = String::new();
    put(
        &mut out,
        format_args!(
            r#"<svg class="chart" xmlns="http://www.w3.org/2000/svg" width="{0}" viewBox="0 0 {0} {1}" role="img" aria-labelledby="{id}-title {id}-desc" font-family="system-ui, -apple-system, 'Segoe UI', Roboto, 'Noto Sans', sans-serif" font-size="12">"#,
            at(width),
            at(HEIGHT),
        ),
    );
    put(
        &mut out,
        format_args!(
            r#"<title id="{id}-title">Graph {number}: share of words heard as correct, point by point</title>"#
        ),
    );
    put(
        &mut out,
        format_args!(
            r#"<desc id="{id}-desc">Upwards: percent of judgements 'correct', 0 to 100. Across: points in their order. {}</desc>"#,
            escaped(&in_words(shares)),
        ),
    );
    grid(&mut out, right);
    let points: Vec<(f64, f64)> = (0..)
        .zip(shares)
        .map(|(place, share)| (x(place, step), y(*share)))
        .collect();
    let look = format!(r#"stroke="{}" stroke-width="1.4""#, colour::INK);
    path(&mut out, "run", &points, &look);
    for ((x, y), (place, share)) in points.iter().zip((1..).zip(shares)) {
        dot(&mut out, (*x, *y), &said(place, *share));
        let below = (*x, FRAME.bottom + 18.0);
        text(&mut out, "tick", below, Anchor::Middle, &place.to_string());
    }
    let middle = f64::midpoint(FRAME.left, right);
    let title = (middle, FRAME.bottom + 38.0);
    text(&mut out, "tick", title, Anchor::Middle, "point, in order");
    out.push_str("</svg>\n");
    out
}

fn step(most: usize) -> f64 {
    let room = FRAME.right - FRAME.left - 2.0 * INSET;
    (room / f64::from(last_place(most))).min(WIDEST_STEP)
}

/// The place of the last of so many points, counted from 0; a graph has two at least.
fn last_place(most: usize) -> u32 {
    u32::try_from(most.saturating_sub(1).max(1)).unwrap_or(u32::MAX)
}

fn x(place: u32, step: f64) -> f64 {
    FRAME.left + INSET + f64::from(place) * step
}

fn y(share: f64) -> f64 {
    FRAME.y(share)
}

fn said(place: usize, share: f64) -> String {
    format!("Point {place}: {}", percent(share))
}

fn in_words(shares: &[f64]) -> String {
    let said: Vec<String> = (1..)
        .zip(shares)
        .map(|(place, share)| said(place, *share))
        .collect();
    format!("{}.", said.join(". "))
}

fn grid(out: &mut String, right: f64) {
    text(
        out,
        "tick",
        (6.0, FRAME.top - 14.0),
        Anchor::Start,
        "% heard as correct",
    );
    for quarter in 0..=4_u8 {
        let y = y(f64::from(quarter) / 4.0);
        let (class, stroke) = if quarter == 0 {
            ("axis", colour::EDGE)
        } else {
            ("grid", colour::LINE)
        };
        let look = format!(r#"stroke="{stroke}""#);
        line(out, class, (FRAME.left, y), (right, y), &look);
        let percent = (u32::from(quarter) * 25).to_string();
        text(
            out,
            "tick",
            (FRAME.left - 8.0, y + 4.0),
            Anchor::End,
            &percent,
        );
    }
}

fn dot(out: &mut String, point: (f64, f64), said: &str) {
    put(
        out,
        format_args!(
            r#"<g class="point"><title>{}</title><circle class="disc" cx="{}" cy="{}" r="4.2" fill="{}"/></g>"#,
            escaped(said),
            at(point.0),
            at(point.1),
            colour::INK,
        ),
    );
}
