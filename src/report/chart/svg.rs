//! SVG as text: the few elements that a chart needs, coordinates rounded so that equal input gives equal bytes.

use std::fmt::Write;

/// The colours of a chart on white paper; a page's own style may replace them by class.
pub(super) mod colour {
    /// Points, paths and their intervals.
    pub(in crate::report::chart) const INK: &str = "#1a2527";
    /// The second series.
    pub(in crate::report::chart) const SECOND: &str = "#12606c";
    /// Words at the axes.
    pub(in crate::report::chart) const QUIET: &str = "#51605f";
    /// Phase lines.
    pub(in crate::report::chart) const EDGE: &str = "#6f807f";
    /// Lines behind.
    pub(in crate::report::chart) const LINE: &str = "#dbe3e2";
    /// The peers' band.
    pub(in crate::report::chart) const BAND: &str = "#d8e6e2";
    /// Its edges, which tell it from the lines behind in grey too.
    pub(in crate::report::chart) const BAND_EDGE: &str = "#8ba39d";
    /// The ground.
    pub(in crate::report::chart) const PAPER: &str = "#ffffff";
}

/// A coordinate to 0.01, without trailing zeros.
pub(super) fn at(coordinate: f64) -> String {
    let rounded = (coordinate * 100.0).round() / 100.0;
    // No minus before a zero.
    format!("{}", if rounded == 0.0 { 0.0 } else { rounded })
}

/// Text for an element or an attribute; what XML 1.0 cannot hold at all is left out.
pub(super) fn escaped(text: &str) -> String {
    let mut safe = String::with_capacity(text.len());
    for sign in text.chars() {
        match sign {
            '&' => safe.push_str("&amp;"),
            '<' => safe.push_str("&lt;"),
            '>' => safe.push_str("&gt;"),
            '"' => safe.push_str("&quot;"),
            '\t' | '\n' | '\r' => safe.push(' '),
            '\u{0}'..='\u{1f}' | '\u{fffe}' | '\u{ffff}' => {}
            sign => safe.push(sign),
        }
    }
    safe
}

/// A straight line.
pub(super) fn line(out: &mut String, class: &str, from: (f64, f64), to: (f64, f64), look: &str) {
    put(
        out,
        format_args!(
            r#"<line class="{class}" x1="{}" y1="{}" x2="{}" y2="{}" {look}/>"#,
            at(from.0),
            at(from.1),
            at(to.0),
            at(to.1),
        ),
    );
}

/// A path through points.
pub(super) fn path(out: &mut String, class: &str, points: &[(f64, f64)], look: &str) {
    let mut d = String::new();
    for (place, (x, y)) in points.iter().enumerate() {
        let step = if place == 0 { "M" } else { "L" };
        // Writing to a String cannot fail.
        let _ = write!(d, "{step}{} {}", at(*x), at(*y));
    }
    put(
        out,
        format_args!(r#"<path class="{class}" d="{d}" fill="none" {look}/>"#),
    );
}

/// Where a text stands relative to its point.
#[derive(Debug, Clone, Copy)]
pub(super) enum Anchor {
    Start,
    Middle,
    End,
}

/// A line of text.
pub(super) fn text(
    out: &mut String,
    class: &str,
    at_point: (f64, f64),
    anchor: Anchor,
    said: &str,
) {
    let anchor = match anchor {
        Anchor::Start => "start",
        Anchor::Middle => "middle",
        Anchor::End => "end",
    };
    let fill = if class == "label" {
        colour::INK
    } else {
        colour::QUIET
    };
    put(
        out,
        format_args!(
            r#"<text class="{class}" x="{}" y="{}" text-anchor="{anchor}" fill="{fill}">{}</text>"#,
            at(at_point.0),
            at(at_point.1),
            escaped(said),
        ),
    );
}

/// One line of markup.
pub(super) fn put(out: &mut String, markup: std::fmt::Arguments<'_>) {
    // Writing to a String cannot fail.
    let _ = out.write_fmt(markup);
    out.push('\n');
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn coordinates_have_two_places_at_most() {
        assert_eq!(at(12.3456), "12.35");
        assert_eq!(at(-0.001), "0");
        assert_eq!(at(7.0), "7");
    }

    #[test]
    fn markup_in_a_label_stays_text() {
        assert_eq!(escaped("a<b & \"c\"\u{1}"), "a&lt;b &amp; &quot;c&quot;");
    }
}
