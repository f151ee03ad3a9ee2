//! Whole charts: title, description, panels, phases' names, abscissa.

use super::data::Band;
use super::data::Graph;
use super::format::Format;
use super::labels;
use super::panel::Frame;
use super::panel::Panel;
use super::svg::Anchor;
use super::svg::at;
use super::svg::colour;
use super::svg::escaped;
use super::svg::line;
use super::svg::put;
use super::svg::text;
use super::time::Time;

/// The ordinate's title.
const HEAD: f64 = 18.0;
const LINE: f64 = 15.0;
const FOOT: f64 = 44.0;

/// One child's chart. `id` begins the ids in it and must be the only one of its kind on a page: a letter, then letters, digits, `-`.
pub fn child(id: &str, graph: &Graph, band: Option<&Band>, format: Format) -> String {
    let title = format!(
        "Child {}: share of words heard as correct, by session",
        graph.child
    );
    chart(id, &title, std::slice::from_ref(graph), band, format)
}

/// All children under each other on one time axis.
pub fn study(id: &str, graphs: &[Graph], band: Option<&Band>, format: Format) -> String {
    let title = "All children: share of words heard as correct, by session, on one time axis";
    chart(id, title, graphs, band, format)
}

/// Whether the means over a phase stand under its name.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Means {
    Said,
    Unsaid,
}

fn chart(id: &str, title: &str, graphs: &[Graph], band: Option<&Band>, format: Format) -> String {
    let time = Time::new(graphs, format.left, format.right);
    let mut body = String::new();
    text(
        &mut body,
        "tick",
        (6.0, HEAD - 5.0),
        Anchor::Start,
        "% heard as correct",
    );
    let bottom = panels(&mut body, graphs, band, &time, format);
    abscissa(&mut body, &time, bottom, format);
    let description = description(graphs, band, &time);
    let mut out = String::new();
    put(
        &mut out,
        format_args!(
            r#"<svg class="{}" xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {} {}" role="img" aria-labelledby="{id}-title {id}-desc" font-family="system-ui, -apple-system, 'Segoe UI', Roboto, 'Noto Sans', sans-serif" font-size="12">"#,
            format.class,
            at(format.width),
            at(bottom + FOOT),
        ),
    );
    put(
        &mut out,
        format_args!(r#"<title id="{id}-title">{}</title>"#, escaped(title)),
    );
    put(
        &mut out,
        format_args!(r#"<desc id="{id}-desc">{}</desc>"#, escaped(&description)),
    );
    out.push_str(&body);
    out.push_str("</svg>\n");
    out
}

/// Draws the panels under each other; returns where the last one ends.
fn panels(
    out: &mut String,
    graphs: &[Graph],
    band: Option<&Band>,
    time: &Time,
    format: Format,
) -> f64 {
    let (height, means) = if graphs.len() == 1 {
        (format.one_height, Means::Said)
    } else {
        (format.stacked_height, Means::Unsaid)
    };
    let mut top = HEAD;
    let mut above: Option<Panel<'_>> = None;
    for graph in graphs {
        let mut panel = Panel {
            graph,
            band,
            names_band: above.is_none(),
            time,
            frame: Frame {
                left: format.left,
                right: format.right,
                top,
                bottom: top + height,
            },
            labels: format.labels,
            name_at: top,
        };
        if above
            .as_ref()
            .is_none_or(|above| !same_phases(above, &panel))
        {
            let down = phase_names(out, &panel, means);
            panel.frame.top += down;
            panel.frame.bottom += down;
        }
        if let Some(above) = &above {
            staircase(out, above, &panel);
        }
        panel.draw(out);
        top = panel.frame.bottom + format.between_panels;
        above = Some(panel);
    }
    above.map_or(HEAD, |last| last.frame.bottom)
}

fn same_phases(above: &Panel<'_>, below: &Panel<'_>) -> bool {
    let names = |panel: &Panel<'_>| -> Vec<String> {
        panel.phases().into_iter().map(|phase| phase.name).collect()
    };
    names(above) == names(below)
}

/// Writes the phases' names above a panel, and their means where it is the only one; returns the room that they took.
fn phase_names(out: &mut String, panel: &Panel<'_>, means: Means) -> f64 {
    let mut phases = panel.phases();
    if means == Means::Unsaid {
        for phase in &mut phases {
            phase.level = None;
        }
    }
    let spans: Vec<(f64, f64)> = phases
        .iter()
        .map(|phase| {
            let level = phase.level.as_deref().unwrap_or_default();
            let width = labels::width(&phase.name).max(labels::width(level));
            let room = panel.frame.right - width / 2.0;
            (phase.middle.min(room).max(width / 2.0), width)
        })
        .collect();
    let rows = labels::rows(&spans);
    let n_rows = rows.iter().max().map_or(0, |most| most + 1) as f64;
    let row_height = if phases.iter().any(|phase| phase.level.is_some()) {
        2.0 * LINE
    } else {
        LINE
    };
    for ((phase, (middle, _)), row) in phases.iter().zip(spans).zip(rows) {
        let y = panel.frame.top + row_height * row as f64 + LINE - 3.0;
        text(out, "label", (middle, y), Anchor::Middle, &phase.name);
        if let Some(level) = &phase.level {
            text(out, "tick", (middle, y + LINE - 1.0), Anchor::Middle, level);
        }
    }
    n_rows * row_height + 8.0
}

/// Joins the phase lines of two panels, so that the eye follows the staggered starts.
fn staircase(out: &mut String, above: &Panel<'_>, below: &Panel<'_>) {
    if !same_phases(above, below) {
        return;
    }
    let look = format!(r#"stroke="{}" stroke-dasharray="6 4""#, colour::EDGE);
    let (top, bottom) = (above.frame.bottom, below.frame.top - 6.0);
    let middle = f64::midpoint(top, bottom);
    for (upper, lower) in above.phase_changes().into_iter().zip(below.phase_changes()) {
        line(out, "phase", (upper, top), (upper, middle), &look);
        line(out, "phase", (upper, middle), (lower, middle), &look);
        line(out, "phase", (lower, middle), (lower, bottom), &look);
    }
}

fn abscissa(out: &mut String, time: &Time, bottom: f64, format: Format) {
    let look = format!(r#"stroke="{}""#, colour::EDGE);
    line(
        out,
        "axis",
        (format.left, bottom),
        (format.right, bottom),
        &look,
    );
    for (x, label) in time.ticks() {
        line(out, "axis", (x, bottom), (x, bottom + 5.0), &look);
        text(out, "tick", (x, bottom + 18.0), Anchor::Middle, &label);
    }
    let middle = f64::midpoint(format.left, format.right);
    text(
        out,
        "tick",
        (middle, bottom + 36.0),
        Anchor::Middle,
        time.title(),
    );
}

fn description(graphs: &[Graph], band: Option<&Band>, time: &Time) -> String {
    let mut said = format!(
        "Upwards: percent of judgements 'correct', 0 to 100. Across: {}. Vertical lines part the phases; no line joins points of two phases or across a missing session. Bars are intervals.",
        time.title()
    );
    if let Some(band) = band {
        said.push_str(" Shaded: ");
        said.push_str(&band.label);
        said.push('.');
    }
    for graph in graphs {
        said.push_str(" Child ");
        said.push_str(&graph.child);
        said.push(':');
        for series in &graph.series {
            for mark in series.marks.iter().flatten() {
                said.push(' ');
                said.push_str(&mark.said);
                said.push('.');
            }
        }
    }
    said
}
