//! Whether the recordings of one phase could be told from those of another by the room alone.

use askama::Template;
use axum::extract::State;
use axum::response::Html;

use crate::app;
use crate::app::Compared;
use crate::app::Person;
use crate::app::PhaseSpread;
use crate::app::PhasesTold;
use crate::app::RoomMeasure;
use crate::report::chart;
use crate::report::chart::SpreadRow;
use crate::report::number;
use crate::web::WebError;
use crate::web::desk::Desk;
use crate::web::desk::frame::DeskFrame;
use crate::web::desk::frame::Section;
use crate::web::html;

#[derive(Template)]
#[template(path = "desk/phases.html")]
struct ComparisonPage {
    frame: DeskFrame,
    compared: Vec<Compared>,
}

/// `GET /desk/recordings/phases`.
pub(super) async fn comparison(
    State(desk): State<Desk>,
    person: Person,
) -> Result<Html<String>, WebError> {
    let frame = desk.frame(&person, Section::Recordings).await?;
    let compared = desk.act(app::compare_phases).await?;
    html(&ComparisonPage { frame, compared })
}

impl ComparisonPage {
    fn tells(&self) -> bool {
        self.compared
            .iter()
            .any(|one| one.pairs.iter().any(|pair| pair.tells))
    }

    /// Whether there are two phases to compare.
    fn has_two(&self) -> bool {
        self.compared.iter().any(|one| !one.pairs.is_empty())
    }

    fn lead(&self) -> &'static str {
        match (self.has_two(), self.tells()) {
            (false, _) => "There are no recordings of two phases to compare yet.",
            (true, false) => "No measure tells two phases apart.",
            (true, true) => {
                "A listener could tell phases apart without hearing the children's sounds."
            }
        }
    }

    fn next(&self) -> &'static str {
        match (self.has_two(), self.tells()) {
            (false, _) => "Come back when a second phase is recorded.",
            (true, false) => "Go on to plan a round.",
            (true, true) => {
                "Hear words of those phases. If the difference is plain, record the next sessions like the others, and say in the report what differed."
            }
        }
    }
}

fn name_of(measure: RoomMeasure) -> &'static str {
    match measure {
        RoomMeasure::Noise => "Noise: how far the word stands over the room",
        RoomMeasure::Bandwidth => "Bandwidth: up to where sound was recorded",
        RoomMeasure::Level => "Level: how loud it was recorded",
        RoomMeasure::Length => "Length of the sound that listeners hear",
    }
}

const fn unit_of(measure: RoomMeasure) -> &'static str {
    match measure {
        RoomMeasure::Noise => "dB",
        RoomMeasure::Bandwidth => "kHz",
        RoomMeasure::Level => "LUFS",
        RoomMeasure::Length => "s",
    }
}

/// What a difference can mean beside the room, so that nobody mends what is no fault.
const fn beside_the_room(measure: RoomMeasure) -> &'static str {
    match measure {
        RoomMeasure::Noise => {
            "Every word is brought to one level, so a quieter recording brings its room up with it."
        }
        RoomMeasure::Bandwidth => {
            "A device or its voice processing cuts the highest part, where an /s/ is. A sharper /s/ reaches higher too: that difference is the child's."
        }
        RoomMeasure::Level => {
            "Levels are matched before listeners hear them. A difference here says that the distance or the device was another."
        }
        RoomMeasure::Length => {
            "Children who are surer of a word may say it faster: this difference can be the child's, and listeners may hear it."
        }
    }
}

fn picture(one: &Compared) -> String {
    let rows: Vec<SpreadRow> = one
        .phases
        .iter()
        .map(|spread| SpreadRow {
            name: spread.phase.to_string(),
            five: spread.five,
        })
        .collect();
    let id = match one.measure {
        RoomMeasure::Noise => "noise",
        RoomMeasure::Bandwidth => "bandwidth",
        RoomMeasure::Level => "level",
        RoomMeasure::Length => "length",
    };
    chart::spreads(id, name_of(one.measure), unit_of(one.measure), &rows)
}

/// What a comparison of two phases means, in a sentence.
fn sentence(measure: RoomMeasure, told: &PhasesTold) -> String {
    let Some(share) = told.later_has_more else {
        return format!("No child has words in both {} and {}.", told.from, told.to);
    };
    let (more, less) = match measure {
        RoomMeasure::Noise => ("cleaner", "noisier"),
        RoomMeasure::Bandwidth => ("wider", "narrower"),
        RoomMeasure::Level => ("louder", "quieter"),
        RoomMeasure::Length => ("longer", "shorter"),
    };
    let (word, share) = if share >= 0.5 {
        (more, share)
    } else {
        (less, 1.0 - share)
    };
    let decimals = u8::from(matches!(measure, RoomMeasure::Bandwidth))
        + 2 * u8::from(matches!(measure, RoomMeasure::Length));
    let size = number::fixed(told.difference.abs(), decimals.max(1));
    let pairs = number::fixed(share * 100.0, 0);
    format!(
        "Of 100 pairs of words of one child, the one of {} is {word} than that of {} in {pairs} (50 would tell nothing); the medians differ by {size} {}.",
        told.to,
        told.from,
        unit_of(measure),
    )
}

/// Least, median and most of a phase, as the table shows them.
fn three(spread: &PhaseSpread) -> [String; 3] {
    let [least, _, median, _, most] = spread.five;
    [least, median, most].map(|value| number::fixed(value, 1))
}
