//! One child's panel: grid, band, phases, levels, intervals, paths and points, in this order from back to front.

use super::data::Band;
use super::data::Graph;
use super::data::Mark;
use super::data::Series;
use super::data::Session;
use super::data::Symbol;
use super::format::Labels;
use super::labels;
use super::svg::Anchor;
use super::svg::at;
use super::svg::colour;
use super::svg::escaped;
use super::svg::line;
use super::svg::path;
use super::svg::put;
use super::svg::text;
use super::time::Time;

/// Where a panel lies in its chart.
#[derive(Debug, Clone, Copy)]
pub(super) struct Frame {
    pub(super) left: f64,
    pub(super) right: f64,
    pub(super) top: f64,
    pub(super) bottom: f64,
}

impl Frame {
    pub(super) fn y(&self, share: f64) -> f64 {
        self.bottom - share.clamp(0.0, 1.0) * (self.bottom - self.top)
    }
}

/// A phase as it is named above a panel.
pub(super) struct Phase {
    pub(super) name: String,
    /// What stands under the name.
    pub(super) level: Option<String>,
    pub(super) middle: f64,
}

/// Sessions in a row that share a phase, as places in the child's list.
struct Run {
    phase: String,
    first: usize,
    last: usize,
}

/// The child's sessions, phase by phase.
fn runs(sessions: &[Session]) -> Vec<Run> {
    let mut runs: Vec<Run> = Vec::new();
    for (place, session) in sessions.iter().enumerate() {
        match runs.last_mut() {
            Some(run) if run.phase == session.phase => run.last = place,
            _ => runs.push(Run {
                phase: session.phase.clone(),
                first: place,
                last: place,
            }),
        }
    }
    runs
}

/// Half the distance between neighbouring series at one session, so that their intervals stay apart.
const ASIDE: f64 = 3.5;

/// One child's panel.
pub(super) struct Panel<'a> {
    pub(super) graph: &'a Graph,
    pub(super) band: Option<&'a Band>,
    /// Whether the band's label stands beside this panel.
    pub(super) names_band: bool,
    pub(super) time: &'a Time,
    pub(super) frame: Frame,
    pub(super) labels: Labels,
    /// Above the phases' names, where the child's code stands if it stands above.
    pub(super) name_at: f64,
}

impl Panel<'_> {
    /// Draws everything but the phases' names and the abscissa.
    pub(super) fn draw(&self, out: &mut String) {
        let child = escaped(&self.graph.child);
        put(
            out,
            format_args!(r#"<g class="child" role="group" aria-label="child {child}">"#),
        );
        self.grid(out);
        self.phase_lines(out);
        self.levels(out);
        for (place, series) in self.graph.series.iter().enumerate() {
            self.paths(out, series, self.aside(place));
        }
        for (place, series) in self.graph.series.iter().enumerate() {
            self.points(out, series, self.aside(place));
        }
        self.labels(out);
        out.push_str("</g>\n");
    }

    /// Where one phase ends and the next begins: halfway between their sessions.
    pub(super) fn phase_changes(&self) -> Vec<f64> {
        let runs = runs(&self.graph.sessions);
        runs.iter()
            .zip(runs.iter().skip(1))
            .map(|(before, after)| f64::midpoint(self.x(before.last), self.x(after.first)))
            .collect()
    }

    /// Each phase with the middle of its part of the panel.
    pub(super) fn phases(&self) -> Vec<Phase> {
        let mut edges = vec![self.frame.left];
        edges.extend(self.phase_changes());
        edges.push(self.frame.right);
        runs(&self.graph.sessions)
            .into_iter()
            .zip(edges.iter().zip(edges.iter().skip(1)))
            .map(|(run, (from, to))| Phase {
                level: self.level_of(&run),
                name: run.phase,
                middle: f64::midpoint(*from, *to),
            })
            .collect()
    }

    fn level_of(&self, run: &Run) -> Option<String> {
        let numbers = self.graph.sessions.get(run.first..=run.last)?;
        let level = self.graph.levels.iter().find(|level| {
            level.phase == run.phase && numbers.iter().any(|s| s.number == level.last)
        })?;
        Some(level.said.clone())
    }

    fn x(&self, place: usize) -> f64 {
        let session = self.graph.sessions.get(place);
        session.map_or(self.frame.left, |session| self.time.x(session))
    }

    fn aside(&self, series: usize) -> f64 {
        let n = self.graph.series.len() as f64;
        (2.0 * series as f64 - (n - 1.0)) * ASIDE
    }

    fn grid(&self, out: &mut String) {
        let Frame { left, right, .. } = self.frame;
        if let Some(band) = self.band {
            let (top, bottom) = (self.frame.y(band.high), self.frame.y(band.low));
            // A band of one value must still be seen.
            let height = (bottom - top).max(2.0);
            put(
                out,
                format_args!(
                    r#"<rect class="band" x="{}" y="{}" width="{}" height="{}" fill="{}" stroke="{}" stroke-width="0.75"><title>{}</title></rect>"#,
                    at(left),
                    at(top),
                    at(right - left),
                    at(height),
                    colour::BAND,
                    colour::BAND_EDGE,
                    escaped(&band.label),
                ),
            );
        }
        for quarter in 0..=4_u8 {
            let share = f64::from(quarter) / 4.0;
            let y = self.frame.y(share);
            let look = format!(r#"stroke="{}""#, colour::LINE);
            line(out, "grid", (left, y), (right, y), &look);
            let percent = (u32::from(quarter) * 25).to_string();
            text(out, "tick", (left - 8.0, y + 4.0), Anchor::End, &percent);
        }
    }

    fn phase_lines(&self, out: &mut String) {
        let look = format!(r#"stroke="{}" stroke-dasharray="6 4""#, colour::EDGE);
        for x in self.phase_changes() {
            let (top, bottom) = (self.frame.top - 6.0, self.frame.bottom);
            line(out, "phase", (x, top), (x, bottom), &look);
        }
    }

    fn levels(&self, out: &mut String) {
        for level in &self.graph.levels {
            let Some((from, to)) = self.span(level.first, level.last) else {
                continue;
            };
            let y = self.frame.y(level.share);
            let look = format!(r#"stroke="{}" stroke-width="1""#, colour::EDGE);
            line(out, "level", (from - 12.0, y), (to + 12.0, y), &look);
        }
    }

    fn span(&self, first: u32, last: u32) -> Option<(f64, f64)> {
        let find = |number: u32| self.graph.sessions.iter().find(|s| s.number == number);
        Some((self.time.x(find(first)?), self.time.x(find(last)?)))
    }

    /// The series as paths that break at every phase, every missing session and every session without a value.
    fn paths(&self, out: &mut String, series: &Series, aside: f64) {
        let (class, look) = match series.symbol {
            Symbol::Disc => (
                "run",
                format!(r#"stroke="{}" stroke-width="1.4""#, colour::INK),
            ),
            Symbol::Square => (
                "run second",
                format!(
                    r#"stroke="{}" stroke-width="1.4" stroke-dasharray="1.5 3" stroke-linecap="round""#,
                    colour::SECOND
                ),
            ),
        };
        for run in runs(&self.graph.sessions) {
            let mut stretch: Vec<(f64, f64)> = Vec::new();
            let mut before: Option<u32> = None;
            for place in run.first..=run.last {
                let number = self.graph.sessions.get(place).map(|s| s.number);
                let mark = series.marks.get(place).and_then(Option::as_ref);
                let next_to = before.zip(number).is_some_and(|(a, b)| a + 1 == b);
                let passed_over = series.of_others.get(place) == Some(&true);
                if !next_to || (mark.is_none() && !passed_over) {
                    finish(out, class, &mut stretch, &look);
                }
                if let Some(mark) = mark {
                    stretch.push((self.x(place) + aside, self.frame.y(mark.share)));
                }
                before = number;
            }
            finish(out, class, &mut stretch, &look);
        }
    }

    fn points(&self, out: &mut String, series: &Series, aside: f64) {
        for (place, mark) in series.marks.iter().enumerate() {
            let Some(mark) = mark else { continue };
            let x = self.x(place) + aside;
            put(
                out,
                format_args!(r#"<g class="point"><title>{}</title>"#, escaped(&mark.said)),
            );
            self.interval(out, series.symbol, mark, x);
            let y = self.frame.y(mark.share);
            match series.symbol {
                Symbol::Disc => put(
                    out,
                    format_args!(
                        r#"<circle class="disc" cx="{}" cy="{}" r="4.2" fill="{}"/>"#,
                        at(x),
                        at(y),
                        colour::INK
                    ),
                ),
                Symbol::Square => put(
                    out,
                    format_args!(
                        r#"<rect class="square" x="{}" y="{}" width="7.6" height="7.6" fill="{}" stroke="{}" stroke-width="1.6"/>"#,
                        at(x - 3.8),
                        at(y - 3.8),
                        colour::PAPER,
                        colour::SECOND
                    ),
                ),
            }
            out.push_str("</g>\n");
        }
    }

    fn interval(&self, out: &mut String, symbol: Symbol, mark: &Mark, x: f64) {
        let Some([low, high]) = mark.ci else { return };
        let (class, stroke) = match symbol {
            Symbol::Disc => ("interval", colour::INK),
            Symbol::Square => ("interval second", colour::SECOND),
        };
        let (top, bottom) = (self.frame.y(high), self.frame.y(low));
        put(
            out,
            format_args!(
                r#"<path class="{class}" d="M{0} {2}L{1} {2}M{3} {2}L{3} {4}M{0} {4}L{1} {4}" fill="none" stroke="{stroke}" stroke-width="1" stroke-opacity="0.6"/>"#,
                at(x - 2.5),
                at(x + 2.5),
                at(top),
                at(x),
                at(bottom),
            ),
        );
    }

    fn labels(&self, out: &mut String) {
        match self.labels {
            Labels::Beside => {
                let above_margin = (self.frame.right + 10.0, self.frame.top - 9.0);
                self.name(out, above_margin, "start");
                self.margin(out);
            }
            Labels::Above => self.name(out, (self.frame.right, self.name_at - 5.0), "end"),
        }
    }

    /// The child's code with what stands beside it; a phase line behind it stays away from its letters.
    fn name(&self, out: &mut String, (x, y): (f64, f64), anchor: &str) {
        let beside = self.graph.beside.as_deref().unwrap_or_default();
        put(
            out,
            format_args!(
                r#"<text class="label name" x="{}" y="{}" text-anchor="{anchor}" fill="{}" stroke="{}" stroke-width="4" stroke-linejoin="round" paint-order="stroke"><tspan font-weight="650">{}</tspan> {}</text>"#,
                at(x),
                at(y),
                colour::INK,
                colour::PAPER,
                escaped(&self.graph.child),
                escaped(beside),
            ),
        );
    }

    /// The series' names and the peers in the margin, beside what they name.
    fn margin(&self, out: &mut String) {
        let x = self.frame.right + 10.0;
        let mut said = Vec::new();
        if let (Some(band), true) = (self.band, self.names_band) {
            let y = f64::midpoint(self.frame.y(band.low), self.frame.y(band.high));
            said.push(("tick", band.label.clone(), y + 4.0));
        }
        if self.graph.series.len() > 1 {
            for series in &self.graph.series {
                let last = series.marks.iter().rev().flatten().next();
                let Some(mark) = last else { continue };
                let label = format!("{} {}", series.symbol.sign(), series.label);
                said.push(("label", label, self.frame.y(mark.share) + 4.0));
            }
        }
        let wanted: Vec<f64> = said.iter().map(|(_, _, y)| *y).collect();
        let placed = labels::apart(&wanted, self.frame.top + 4.0, self.frame.bottom + 4.0);
        for ((class, label, _), y) in said.into_iter().zip(placed) {
            text(out, class, (x, y), Anchor::Start, &label);
        }
    }
}

fn finish(out: &mut String, class: &str, stretch: &mut Vec<(f64, f64)>, look: &str) {
    if stretch.len() > 1 {
        path(out, class, stretch, look);
    }
    stretch.clear();
}
