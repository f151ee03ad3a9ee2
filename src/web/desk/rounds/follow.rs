//! A round while it goes on: judgements, sittings, listeners. Nothing in it tells an outcome.

use askama::Template;
use axum::extract::Path;
use axum::extract::State;
use axum::response::Html;

use super::turn::followed;
use super::turn::named;
use crate::app;
use crate::app::Deviation;
use crate::app::Followed;
use crate::app::LinkState;
use crate::app::ListeningQuality;
use crate::app::Now;
use crate::app::Pace;
use crate::app::Person;
use crate::app::Progress;
use crate::report::number;
use crate::study::RoundState;
use crate::web::WebError;
use crate::web::clock;
use crate::web::desk::Desk;
use crate::web::desk::frame::DeskFrame;
use crate::web::desk::frame::Section;
use crate::web::html;

#[derive(Template)]
#[template(path = "desk/round.html")]
struct RoundPage {
    frame: DeskFrame,
    progress: Progress,
    /// What changes while listeners judge, as HTML.
    live: String,
    /// What was done otherwise than planned.
    deviations: Vec<Deviation>,
}

/// What changes while listeners judge: a part of the page, and what its events bring.
#[derive(Template)]
#[template(path = "desk/round_live.html")]
struct Live<'a> {
    followed: &'a Followed,
    progress: &'a Progress,
    listeners: Vec<ListenerLine>,
}

/// A listener as the page shows her.
struct ListenerLine {
    number: u32,
    code: String,
    heard: String,
    state: &'static str,
    until: String,
    checks: String,
    repeats: String,
    time: String,
    set_aside: String,
}

/// `GET /desk/rounds/{round}`: how far the round has come. Nothing in it tells an outcome.
pub(super) async fn round(
    State(desk): State<Desk>,
    person: Person,
    Path(round): Path<String>,
) -> Result<Html<String>, WebError> {
    let name = named(&round)?;
    let followed = followed(&desk, &name).await?;
    html(&RoundPage {
        deviations: desk
            .act(move |workspace| app::otherwise_than_planned(workspace, &name))
            .await?,
        frame: desk.frame(&person, Section::Rounds).await?,
        live: live_part(&followed)?,
        progress: followed.progress,
    })
}

/// What changes while listeners judge, as HTML.
pub(super) fn live_part(followed: &Followed) -> Result<String, WebError> {
    let part = Live {
        followed,
        progress: &followed.progress,
        listeners: lines(&followed.progress, &followed.quality),
    };
    Ok(part.render()?)
}

impl RoundPage {
    const fn next(&self) -> &'static str {
        match self.progress.state {
            RoundState::Draft => "Seal its plan, and give the links to the listeners.",
            RoundState::Open => {
                "Close it once every word has the judgements that are wanted of it."
            }
            RoundState::Closed => "Unlock it, and its results may be seen.",
            RoundState::Unlocked => "Read the results.",
        }
    }

    const fn care(&self) -> &'static str {
        match self.progress.state {
            RoundState::Draft | RoundState::Open => {
                "Closing cannot be taken back. A round that is closed early has wider intervals."
            }
            RoundState::Closed => "Unlocking is logged and cannot be taken back.",
            RoundState::Unlocked => {
                "The figures inform a licensed professional's judgement and do not replace it."
            }
        }
    }
}

impl Live<'_> {
    /// How fast it goes, and when it would end.
    fn pace_says(&self) -> String {
        let Pace {
            last_day,
            last_week,
            latest_ms,
            expected_ms,
        } = self.followed.pace;
        let Some(latest) = latest_ms else {
            return "No judgement has come yet, so no end can be expected.".to_owned();
        };
        let end = match expected_ms {
            Some(end) => format!(
                " At this pace the last one that is wanted would come about {}.",
                day(end)
            ),
            None => String::new(),
        };
        format!(
            "{} in the last 24 hours, {} in the last week; the latest at {} UTC.{end}",
            number::counted(last_day, "judgement"),
            number::count(last_week),
            moment(latest),
        )
    }

    /// What is missing, as long as anything is.
    fn missing_says(&self) -> String {
        match self.followed.words_short {
            0 => "Every word has the judgements that are wanted of it.".to_owned(),
            short => format!(
                "{} of {} {}; {} missing in all.",
                number::count(short),
                number::counted(self.progress.tokens, "word"),
                match self.progress.state {
                    RoundState::Draft | RoundState::Open => "still short of judgements",
                    RoundState::Closed | RoundState::Unlocked =>
                        "got fewer judgements than were wanted",
                },
                number::count(self.followed.judgements_short),
            ),
        }
    }
}

fn moment(ms: i64) -> String {
    clock::day_and_time(Now::at_ms(ms))
}

fn day(ms: i64) -> String {
    moment(ms).chars().take(10).collect()
}

/// Judgements so far, of those wanted.
pub(super) fn judged(progress: &Progress) -> String {
    format!(
        "{} of {}",
        number::count(progress.judgements),
        number::count(wanted(progress)),
    )
}

fn wanted(progress: &Progress) -> usize {
    progress.tokens * progress.wanted as usize
}

/// What a state means for whoever reads it.
const fn state_says(state: RoundState) -> &'static str {
    match state {
        RoundState::Draft => "Not sealed yet.",
        RoundState::Open => "Listeners can judge. No result can be seen.",
        RoundState::Closed => "No further judgement. No result can be seen until it is unlocked.",
        RoundState::Unlocked => "Its results may be seen.",
    }
}

fn lines(progress: &Progress, quality: &[ListeningQuality]) -> Vec<ListenerLine> {
    let listeners = progress.listeners.iter();
    listeners
        .map(|listener| {
            let found = quality.iter().find(|of| of.listener == listener.listener);
            ListenerLine {
                number: listener.number,
                code: listener.listener.clone(),
                heard: out_of((listener.done, listener.of)),
                state: link_says(listener.link),
                until: until(listener.expires.as_deref()),
                checks: out_of(found.map(|of| of.checks).unwrap_or_default()),
                repeats: out_of(found.map(|of| of.repeats).unwrap_or_default()),
                time: seconds(found.and_then(|of| of.median_rt_ms)),
                set_aside: number::count(found.map(|of| of.set_aside).unwrap_or_default()),
            }
        })
        .collect()
}

pub(in crate::web::desk) const fn link_says(state: LinkState) -> &'static str {
    match state {
        LinkState::Invited => "invited",
        LinkState::Opened => "opened",
        LinkState::UnderWay => "under way",
        LinkState::Finished => "finished",
        LinkState::LetGo => "let go",
        LinkState::Revoked => "taken back",
    }
}

/// The day on which a link runs out.
pub(in crate::web::desk) fn until(expires: Option<&str>) -> String {
    let day = expires.and_then(|moment| moment.split('T').next());
    day.unwrap_or(number::NONE).to_owned()
}

/// What has become of a round's links, in one line.
fn links_say(progress: &Progress) -> String {
    let of = |state| {
        let those = progress.listeners.iter().filter(|one| one.link == state);
        number::count(those.count())
    };
    let by_open = progress.listeners.iter().filter(|one| one.by_open_link);
    format!(
        "{} listeners, {} of them by open links. Not opened {}, opened {}, under way {}, finished {}, let go {}, taken back {}, withdrew {}.",
        number::count(progress.listeners.len() + progress.withdrew),
        number::count(by_open.count()),
        of(LinkState::Invited),
        of(LinkState::Opened),
        of(LinkState::UnderWay),
        of(LinkState::Finished),
        of(LinkState::LetGo),
        of(LinkState::Revoked),
        number::count(progress.withdrew),
    )
}

fn seconds(ms: Option<u32>) -> String {
    number::maybe(ms.map(|ms| f64::from(ms) / 1000.0), 2)
}

/// "7 of 8", or a dash where there was none.
fn out_of(part: (usize, usize)) -> String {
    if part.1 == 0 {
        number::NONE.to_owned()
    } else {
        format!("{} of {}", number::count(part.0), number::count(part.1))
    }
}
