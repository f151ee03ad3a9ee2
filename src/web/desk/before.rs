//! Before the first recording: a guide to print, a probe sheet in random order, a test recording that is measured.

use askama::Template;
use axum::extract::DefaultBodyLimit;
use axum::extract::Multipart;
use axum::extract::Path;
use axum::extract::State;
use axum::extract::multipart::MultipartRejection;
use axum::http::Method;
use axum::response::Html;
use axum::response::IntoResponse;
use axum::response::Redirect;
use axum::response::Response;
use axum::routing::post;

use super::Desk;
use super::frame::DeskFrame;
use super::frame::Section;
use super::importing;
use super::refused::Refused;
use super::routes::PREPARERS;
use super::routes::Routes;
use crate::app;
use crate::app::Person;
use crate::app::ProbeSheet;
use crate::app::Tried;
use crate::app::Workspace;
use crate::app::review;
use crate::report::number;
use crate::study::StudySettings;
use crate::web::WebError;
use crate::web::html;

/// The largest test recording that is taken (ours): a minute in stereo at 96 kHz.
const MOST_BYTES: usize = 50_000_000;

/// The routes of these pages.
pub(super) fn routes(routes: Routes) -> Routes {
    let most = DefaultBodyLimit::max(MOST_BYTES);
    routes
        .get("/desk/before", PREPARERS, guide)
        .get("/desk/before/sheet", PREPARERS, sheets)
        .post("/desk/before/sheet", PREPARERS, draw)
        .get("/desk/before/sheet/{number}", PREPARERS, sheet)
        .get("/desk/before/test", PREPARERS, test)
        .route(
            Method::POST,
            "/desk/before/test",
            PREPARERS,
            post(measure).layer(most),
        )
}

#[derive(Template)]
#[template(path = "desk/before.html")]
struct GuidePage {
    frame: DeskFrame,
    settings: StudySettings,
}

#[derive(Template)]
#[template(path = "desk/sheets.html")]
struct SheetsPage {
    frame: DeskFrame,
    settings: StudySettings,
}

#[derive(Template)]
#[template(path = "desk/sheet.html")]
struct SheetPage {
    frame: DeskFrame,
    sheet: ProbeSheet,
}

#[derive(Template)]
#[template(path = "desk/test_recording.html")]
struct TestPage {
    frame: DeskFrame,
    tried: Option<Tried>,
}

/// `GET /desk/before`: how to record, on one sheet of paper.
async fn guide(State(desk): State<Desk>, person: Person) -> Result<Html<String>, WebError> {
    let frame = desk.frame(&person, Section::Recordings).await?;
    let settings = desk.act(Workspace::settings).await?;
    html(&GuidePage { frame, settings })
}

/// `GET /desk/before/sheet`: the list of words, and a button that draws a sheet.
async fn sheets(State(desk): State<Desk>, person: Person) -> Result<Html<String>, WebError> {
    let frame = desk.frame(&person, Section::Recordings).await?;
    let settings = desk.act(Workspace::settings).await?;
    html(&SheetsPage { frame, settings })
}

/// `POST /desk/before/sheet`: draws one.
async fn draw(State(desk): State<Desk>, person: Person) -> Result<Response, WebError> {
    let drawn = desk.try_act(app::draw_sheet).await?;
    match drawn {
        Ok(number) => Ok(Redirect::to(&format!("/desk/before/sheet/{number}")).into_response()),
        Err(error) => {
            let frame = desk.frame(&person, Section::Recordings).await?;
            let mut refused = Refused::leading(frame, "/desk/before/sheet");
            refused.add(&error);
            refused.or(())
        }
    }
}

/// `GET /desk/before/sheet/{number}`: the sheet, to be printed.
async fn sheet(
    State(desk): State<Desk>,
    person: Person,
    Path(number): Path<String>,
) -> Result<Html<String>, WebError> {
    let frame = desk.frame(&person, Section::Recordings).await?;
    let sheet = desk
        .act(move |workspace| app::sheet(workspace, &number))
        .await?;
    html(&SheetPage { frame, sheet })
}

/// `GET /desk/before/test`.
async fn test(State(desk): State<Desk>, person: Person) -> Result<Html<String>, WebError> {
    let frame = desk.frame(&person, Section::Recordings).await?;
    html(&TestPage { frame, tried: None })
}

/// `POST /desk/before/test`: measures a recording and keeps nothing of it.
async fn measure(
    State(desk): State<Desk>,
    person: Person,
    form: Result<Multipart, MultipartRejection>,
) -> Result<Response, WebError> {
    let mut form = form.map_err(|_| WebError::Unreadable)?;
    let mut bytes = Vec::new();
    while let Some(field) = form
        .next_field()
        .await
        .map_err(|error| importing::broken_off(&error))?
    {
        if field.name() == Some("recording") {
            let read = field.bytes().await;
            bytes = read
                .map_err(|error| importing::broken_off(&error))?
                .to_vec();
        }
    }
    let tried = desk
        .try_act(move |workspace| app::try_recording(workspace, &bytes))
        .await?;
    let frame = desk.frame(&person, Section::Recordings).await?;
    match tried {
        Ok(tried) => Ok(html(&TestPage {
            frame,
            tried: Some(tried),
        })?
        .into_response()),
        Err(error) => {
            let mut refused = Refused::leading(frame, "/desk/before/test");
            refused.add(&error);
            refused.or(())
        }
    }
}

impl TestPage {
    fn lead(&self) -> String {
        match &self.tried {
            None => "One word, recorded as the children will be. It is measured as an import would, and nothing of it is kept.".to_owned(),
            Some(tried) if tried.marks.is_empty() => "Nothing is remarked on this recording.".to_owned(),
            Some(tried) => format!("{} on this recording.", number::counted(tried.marks.len(), "remark")),
        }
    }

    fn next(&self) -> &'static str {
        match &self.tried {
            None => {
                "Say a word with the target sound, with a second of silence before and after it, and give the file."
            }
            Some(tried) if tried.marks.is_empty() => {
                "Leave the device where it is, and record the children like this."
            }
            Some(_) => "Change what is said below, and record the test word again.",
        }
    }

    fn noise(tried: &Tried) -> String {
        let told = tried.snr_db.map(|db| number::fixed(db, 0));
        told.map_or_else(
            || "cannot be told: leave a second of silence before and after the word".to_owned(),
            |db| format!("{db} dB under the word; 20 dB is the least, 40 dB is good"),
        )
    }

    fn rate(tried: &Tried) -> String {
        let rate = number::fixed(f64::from(tried.rate_hz) / 1000.0, 1);
        let enough = if tried.rate_hz >= 32_000 {
            ""
        } else {
            "; an /s/ needs 44.1 or 48 kHz"
        };
        format!("{rate} kHz{enough}")
    }
}

/// The gain that a word would be given, in words.
fn gain(gain_db: f64) -> String {
    let size = number::fixed(gain_db.abs(), 1);
    let towards = if gain_db < 0.0 { "quieter" } else { "louder" };
    format!("it would be made {size} dB {towards}")
}
