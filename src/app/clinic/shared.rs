//! A child's page behind a link that runs out: made, taken back, and opened without signing in. Without any sound.

use serde_json::json;

use super::ChildOutcome;
use super::outcome_of_child;
use crate::app::AppError;
use crate::app::Now;
use crate::app::Person;
use crate::app::Workspace;
use crate::app::consent;
use crate::app::log;
use crate::app::secret;
use crate::seal;
use crate::seal::Digest;
use crate::store::SharedPageRow;
use crate::store::Writing;
use crate::study::ChildCode;

/// Days for which a link is good where nobody says otherwise (ours).
pub const USUAL_DAYS: u32 = 14;

/// The most days that one may ask for (ours).
const MOST_DAYS: u32 = 90;

/// The event of a page that was shared.
pub(in crate::app) const SHARED: &str = "page shared";

/// The event of a page that was taken back.
pub(in crate::app) const TAKEN_BACK: &str = "shared page taken back";

/// The event of a page that was opened.
pub(in crate::app) const OPENED: &str = "shared page opened";

const DAY_MS: i64 = 24 * 60 * 60 * 1000;

/// A link to a child's page.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize)]
pub struct SharedPage {
    /// Its number in the study.
    pub number: u32,
    /// Whose page it is.
    pub child: ChildCode,
    /// When it was made, in milliseconds since 1970 UTC.
    pub made_ms: i64,
    /// From when it is shown no more.
    pub expires_ms: i64,
    /// When it was taken back.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub revoked_ms: Option<i64>,
}

impl SharedPage {
    fn of(row: SharedPageRow) -> Self {
        Self {
            number: row.number,
            child: row.child,
            made_ms: row.made_ms,
            expires_ms: row.expires_ms,
            revoked_ms: row.revoked_ms,
        }
    }

    /// Whether it is shown at this moment.
    pub fn is_open(&self, now: Now) -> bool {
        self.revoked_ms.is_none() && now.ms() < self.expires_ms
    }
}

/// How long a browser may show the page again before that is another opening (ours): one reading, not two days.
pub const VISIT_MINUTES: i64 = 60;

/// What stands behind a link.
pub enum Opened {
    /// The child's page.
    Page {
        /// Whose.
        child: ChildCode,
        /// What it shows.
        outcome: Box<ChildOutcome>,
        /// By which the browser shows that its visit is in the log; nothing where it brought that itself.
        visit: Option<String>,
    },
    /// It ran out.
    RanOut,
    /// It was taken back.
    TakenBack,
}

/// Makes a link to a child's page; gives the page and the link's secret, which is kept nowhere.
///
/// # Errors
/// [`AppError::Refused`] if the study has no such child, and for no day or too many.
pub fn share_page(
    workspace: &Workspace,
    child: &ChildCode,
    days: u32,
    by: Option<&Person>,
    now: Now,
) -> Result<(SharedPage, String), AppError> {
    if !(1..=MOST_DAYS).contains(&days) {
        return Err(AppError::refused(
            format!("a link cannot be good for {days} days"),
            format!("ask for 1 to {MOST_DAYS} days; {USUAL_DAYS} is usual"),
        ));
    }
    super::check_child(workspace, child)?;
    let (child, by) = (child.clone(), by.map(|person| person.code.clone()));
    workspace.store().write(move |writing| {
        let secret = secret::token();
        let row = SharedPageRow {
            number: 0,
            child: child.clone(),
            secret_sha256: secret::digest_of(&secret),
            made_ms: now.ms(),
            expires_ms: now.ms() + i64::from(days) * DAY_MS,
            revoked_ms: None,
            salt: secret::salt(),
        };
        writing.add_shared_page(consent::child_of(writing, &child)?, &row)?;
        let body = json!({"rows": [page_digest(&row)?], "days": days});
        log::append(writing, now, SHARED, &log::by(body, by.as_deref()))?;
        let made = writing.shared_page(&row.secret_sha256)?.unwrap_or(row);
        Ok((SharedPage::of(made), secret))
    })
}

/// The links to the pages of a child, or of all children, in the order in which they were made.
///
/// # Errors
/// [`AppError::Store`] if the study cannot be read.
pub fn shared_pages(
    workspace: &Workspace,
    child: Option<&ChildCode>,
) -> Result<Vec<SharedPage>, AppError> {
    let rows = workspace
        .store()
        .read(|reading| Ok::<_, AppError>(reading.shared_pages()?))?;
    let wanted = |row: &SharedPageRow| child.is_none_or(|child| row.child == *child);
    Ok(rows
        .into_iter()
        .filter(wanted)
        .map(SharedPage::of)
        .collect())
}

/// Takes a link back. `child`: whose it must be, where only hers may be touched.
///
/// # Errors
/// [`AppError::Refused`] if there is no such link, or it was taken back before.
pub fn take_back_page(
    workspace: &Workspace,
    number: u32,
    child: Option<&ChildCode>,
    by: Option<&Person>,
    now: Now,
) -> Result<SharedPage, AppError> {
    let (child, by) = (child.cloned(), by.map(|person| person.code.clone()));
    workspace.store().write(move |writing| {
        let mut rows = writing.shared_pages()?.into_iter();
        let mut row = rows
            .find(|row| row.number == number && child.as_ref().is_none_or(|it| row.child == *it))
            .ok_or_else(|| {
                AppError::refused(
                    format!("there is no shared page {number}"),
                    "the list of shared pages shows their numbers",
                )
            })?;
        if row.revoked_ms.is_some() {
            return Err(AppError::refused(
                format!("shared page {number} was taken back before"),
                "there is nothing left to do",
            ));
        }
        writing.revoke_shared_page(number, now.ms())?;
        let body = json!({"row": page_digest(&row)?});
        log::append(writing, now, TAKEN_BACK, &log::by(body, by.as_deref()))?;
        row.revoked_ms = Some(now.ms());
        Ok(SharedPage::of(row))
    })
}

/// What stands behind the link with this secret; nothing where no link has it.
///
/// The log tells that a page was opened: once for a browser's visit. `visit`: what the browser was given at an opening
/// within the last [`VISIT_MINUTES`]; nobody can make it who was not given it, so that no first opening goes untold.
///
/// # Errors
/// [`AppError::Store`] or [`AppError::Unreadable`] if the study cannot be read.
pub fn open_shared_page(
    workspace: &Workspace,
    secret: &str,
    visit: Option<&str>,
    now: Now,
) -> Result<Option<Opened>, AppError> {
    let digest = secret::digest_of(secret);
    // Whoever guesses writes nothing.
    let known = workspace
        .store()
        .read(|reading| reading.shared_page(&digest))?;
    let Some(known) = known else {
        return Ok(None);
    };
    if is_told(&known, visit, now)? {
        let page = SharedPage::of(known);
        return Ok(Some(opened(workspace, page, None, now)?));
    }
    let noted = workspace
        .store()
        .write(move |writing| note_opened(writing, &digest, now))?;
    let shown = noted.map(|(page, visit)| opened(workspace, page, Some(visit), now));
    shown.transpose()
}

fn opened(
    workspace: &Workspace,
    page: SharedPage,
    visit: Option<String>,
    now: Now,
) -> Result<Opened, AppError> {
    Ok(if page.revoked_ms.is_some() {
        Opened::TakenBack
    } else if page.is_open(now) {
        Opened::Page {
            outcome: Box::new(outcome_of_child(workspace, &page.child)?),
            child: page.child,
            visit,
        }
    } else {
        Opened::RanOut
    })
}

/// The page as it stands in this moment, and a visit that begins; where it is shown, the log tells so in the same
/// transaction.
fn note_opened(
    writing: &Writing<'_>,
    digest: &str,
    now: Now,
) -> Result<Option<(SharedPage, String)>, AppError> {
    let Some(row) = writing.shared_page(digest)? else {
        return Ok(None);
    };
    let told = json!({"row": page_digest(&row)?, "link": row.number});
    let visit = visit_of(&row, now.ms())?;
    let page = SharedPage::of(row);
    if page.is_open(now) {
        log::append(writing, now, OPENED, &told)?;
    }
    Ok(Some((page, visit)))
}

/// When the visit began, and a digest that only who knows the link's salt can make: it never leaves the study.
fn visit_of(row: &SharedPageRow, began_ms: i64) -> Result<String, AppError> {
    let began = log::canonical(&json!({"link": row.number, "visit_began_ms": began_ms}))?;
    Ok(format!("{began_ms}.{}", seal::commit(&row.salt, &began)))
}

/// Whether the log tells of this visit already.
fn is_told(row: &SharedPageRow, visit: Option<&str>, now: Now) -> Result<bool, AppError> {
    let Some(visit) = visit else {
        return Ok(false);
    };
    let began_ms = visit.split('.').next().and_then(|ms| ms.parse().ok());
    let Some(began_ms) = began_ms else {
        return Ok(false);
    };
    let lasts = (0..VISIT_MINUTES * 60_000).contains(&(now.ms().saturating_sub(began_ms)));
    Ok(lasts && visit == visit_of(row, began_ms)?)
}

/// What the log says of a page behind a link.
pub(in crate::app) fn page_digest(row: &SharedPageRow) -> Result<Digest, AppError> {
    let value = log::canonical(&json!({
        "child": row.child,
        "secret_sha256": row.secret_sha256,
        "expires_ms": row.expires_ms,
    }))?;
    Ok(seal::commit(&row.salt, &value))
}
