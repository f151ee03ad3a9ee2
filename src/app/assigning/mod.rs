//! Assigning: one draw from the operating system's chance, sealed with the contrast before treatment begins.

use std::path::Path;

use serde_json::json;

// What is sealed, and what its parts are.
pub(super) mod document;
mod material;

pub use material::DrawMaterial;
pub use material::draw_material;

use super::AppError;
use super::Now;
use super::Workspace;
use super::files;
use super::log;
use super::results::moment;
use super::secret;
use crate::analysis::AssignmentSheet;
use crate::analysis::DrawNumbers;
use crate::analysis::Possible;
use crate::blinding::Seed;
use crate::exchange;
use crate::seal;
use crate::store::AssignedChildRow;
use crate::store::AssignmentId;
use crate::store::AssignmentRow;
use crate::store::Reading;
use crate::store::TokenRow;
use crate::store::Writing;
use crate::study::Assignment;
use crate::study::AssignmentPlan;
use crate::study::Design;
use crate::study::Invalid;
use crate::study::Phase;
use crate::study::Problem;
use crate::study::Problems;
use crate::study::StudySettings;

use document::Recordings;

/// Whether this may be a further draw.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Again {
    /// The first draw of the study.
    No,
    /// A further one, and why: it is logged as such, and stands in every report.
    Because(String),
}

/// A plan held against the study, and nothing drawn.
#[derive(Debug, Clone, PartialEq, serde::Serialize)]
pub struct Previewed {
    /// The plan.
    pub plan: AssignmentPlan,
    /// How many draws there are, and what a test over them can reach.
    #[serde(flatten)]
    pub numbers: DrawNumbers,
    /// Assignments that were drawn before.
    pub drawn_before: usize,
}

/// What was drawn and sealed.
#[derive(Debug, Clone, PartialEq, serde::Serialize)]
pub struct Assigned {
    /// What is printed and kept.
    #[serde(flatten)]
    pub sheet: AssignmentSheet,
    /// What was drawn, as the commands on files read it.
    pub assignment: Assignment,
    /// Where the log stands, short: to be deposited elsewhere.
    pub receipt: String,
}

/// Says what a plan would draw among, and draws nothing.
///
/// # Errors
/// [`AppError::Input`] with all that makes the plan impossible.
pub fn preview(workspace: &Workspace, plan: &Path) -> Result<Previewed, AppError> {
    let (name, plan) = read(plan)?;
    previewed(workspace, checked(workspace, &name, plan)?)
}

/// The same for a plan that stands in no file.
///
/// # Errors
/// As [`preview`].
pub fn preview_plan(workspace: &Workspace, plan: AssignmentPlan) -> Result<Previewed, AppError> {
    previewed(workspace, checked(workspace, NO_FILE, plan)?)
}

fn previewed(workspace: &Workspace, draft: Draft) -> Result<Previewed, AppError> {
    let drawn_before = workspace
        .store()
        .read(|reading| Ok::<_, AppError>(reading.assignments()?.len()))?;
    Ok(Previewed {
        numbers: draft.possible.numbers(),
        plan: draft.plan,
        drawn_before,
    })
}

/// Draws, and seals the draw with its contrast: both in one transaction, or neither.
///
/// # Errors
/// [`AppError::Input`] with all that makes the plan impossible; [`AppError::Refused`] for a second draw that is not
/// asked for as such, or gives no reason.
pub fn assign(
    workspace: &Workspace,
    plan: &Path,
    again: Again,
    now: Now,
) -> Result<Assigned, AppError> {
    let (name, plan) = read(plan)?;
    let draft = checked(workspace, &name, plan)?;
    workspace
        .store()
        .write(move |writing| draft.write(writing, &again, now))
}

/// The same for a plan that stands in no file.
///
/// # Errors
/// As [`assign`].
pub fn assign_plan(
    workspace: &Workspace,
    plan: AssignmentPlan,
    again: Again,
    now: Now,
) -> Result<Assigned, AppError> {
    let draft = checked(workspace, NO_FILE, plan)?;
    workspace
        .store()
        .write(move |writing| draft.write(writing, &again, now))
}

/// What a plan without a file is called where something is wrong with it.
const NO_FILE: &str = "the plan of the draw";

/// The assignment that stands: the last one drawn.
///
/// # Errors
/// [`AppError::Refused`] where nothing was drawn yet; [`AppError::Unreadable`] if what was drawn cannot be read.
pub fn assigned(workspace: &Workspace) -> Result<Assigned, AppError> {
    let settings = workspace.settings()?;
    workspace.store().read(|reading| {
        let Some(row) = reading.assignments()?.pop() else {
            return Err(AppError::refused(
                "nothing was assigned in this study",
                "draw with `fairhearing assign --plan PLAN.toml`",
            ));
        };
        read_back(reading, &settings.name, row)
    })
}

/// An assignment out of its rows. A child that is gone keeps its number for a code.
pub(super) fn read_back(
    reading: &Reading<'_>,
    study: &str,
    row: AssignmentRow,
) -> Result<Assigned, AppError> {
    let children = reading.assigned_children(row.id)?;
    let plan = document::plan_of(&row, &children)?;
    let possible = Possible::of(&plan).map_err(|refusal| unreadable(&refusal))?;
    let drawn = document::drawn_of(&row)?;
    let earlier = reading.assignments()?;
    let earlier = earlier
        .into_iter()
        .filter(|other| other.number < row.number);
    Ok(Assigned {
        assignment: possible.assignment(&drawn),
        receipt: reading.head()?.receipt().to_string(),
        sheet: AssignmentSheet {
            study: study.to_owned(),
            number: row.number,
            drawn: moment(Some(row.drawn_ms))?,
            recordings: document::recordings_of(&row).all,
            later_recordings: document::recordings_of(&row).later,
            program: document::program_of(&row),
            seed: data_encoding::HEXLOWER.encode(&row.seed),
            seal: row.seal,
            earlier: earlier.map(|other| other.seal).collect(),
            why: row.why,
            numbers: possible.numbers(),
            lines: possible.lines(&drawn),
            plan,
        },
    })
}

/// Draws again from a seed that was kept: the same seed gives the same draw.
pub(super) fn draw_from(seed: &[u8; 32], possible: &Possible) -> Vec<Vec<usize>> {
    let mut chance = Seed::new(*seed).sitting(0);
    possible.draw(|n| {
        let bound = usize::try_from(n).unwrap_or(usize::MAX);
        chance.below(bound) as u64
    })
}

fn read(path: &Path) -> Result<(String, AssignmentPlan), AppError> {
    let name = path.display().to_string();
    let plan = exchange::read_assignment_plan(&name, &files::read_text(path)?)?;
    Ok((name, plan))
}

fn checked(workspace: &Workspace, name: &str, plan: AssignmentPlan) -> Result<Draft, AppError> {
    let refused = |refusal: Invalid| Problem::new(name, refusal.what, refusal.mend);
    plan.check().map_err(refused)?;
    let settings = workspace.settings()?;
    let problems = strange_labels(name, &plan, &settings);
    let possible = Possible::of(&plan).map_err(refused)?;
    Ok(problems.or(Draft {
        plan,
        possible,
        settings,
    })?)
}

/// Phases and cohorts that the study does not know.
fn strange_labels(name: &str, plan: &AssignmentPlan, settings: &StudySettings) -> Problems {
    let mut problems = Problems::default();
    for phase in [&plan.contrast.from, &plan.contrast.to] {
        if !settings.phases.contains(phase) {
            let known: Vec<_> = settings.phases.iter().map(Phase::as_str).collect();
            problems.push(Problem::new(
                name,
                format!("`{phase}` is no phase of this study"),
                format!("write one of {}", known.join(", ")),
            ));
        }
    }
    if let Design::Cohorts { cohorts, .. } = &plan.draw {
        for cohort in cohorts
            .iter()
            .filter(|cohort| !settings.cohorts.contains(cohort))
        {
            problems.push(Problem::new(
                name,
                format!("`{cohort}` is no cohort of this study"),
                "name it in `cohorts` of study.toml, or mend it here",
            ));
        }
    }
    problems
}

/// A plan that is to be drawn.
struct Draft {
    plan: AssignmentPlan,
    possible: Possible,
    settings: StudySettings,
}

impl Draft {
    fn write(self, writing: &Writing<'_>, again: &Again, now: Now) -> Result<Assigned, AppError> {
        let before = writing.assignments()?;
        let why = reason(before.len(), again)?;
        let seed = secret::seed();
        let children: Vec<_> = (1..)
            .zip(&self.plan.children)
            .map(|(number, child)| AssignedChildRow {
                number,
                code: child.code.clone(),
                age_months: child.age_months,
                severity: child.severity.clone(),
                salt: secret::salt(),
            })
            .collect();
        let mut row = AssignmentRow {
            id: AssignmentId::default(),
            number: before.last().map_or(0, |last| last.number) + 1,
            drawn_ms: now.ms(),
            plan: document::public_plan(&self.plan)?.to_string(),
            drawn: log::canonical(&json!(draw_from(&seed, &self.possible)))?.to_string(),
            document: String::new(),
            seal: String::new(),
            seed,
            salt: secret::salt(),
            why,
        };
        let earlier: Vec<_> = before.iter().map(|other| other.seal.clone()).collect();
        let document = document::document(
            &row,
            &children,
            &self.possible.numbers(),
            &earlier,
            self.recordings(&writing.tokens()?),
            writing.head()?,
        )?;
        row.seal = seal::seal_of(&document).to_string();
        row.document = document.to_string();
        writing.add_assignment(&row, &children)?;
        let why = document::why_commitment(&row.salt, row.why.as_deref())?;
        let body = json!({"assignment": row.number, "seal": row.seal, "why": why});
        log::append(writing, now, DRAWN, &body)?;
        let row = writing
            .assignments()?
            .pop()
            .ok_or_else(|| AppError::Unreadable("the assignment just drawn".to_owned()))?;
        read_back(writing, &self.settings.name, row)
    }
}

impl Draft {
    /// What was recorded before the draw.
    fn recordings(&self, tokens: &[TokenRow]) -> Recordings {
        let phase = Some(&self.plan.contrast.to);
        let later = tokens
            .iter()
            .filter(|token| token.key.phase.as_ref() == phase);
        Recordings {
            all: tokens.len() as u64,
            later: later.count() as u64,
        }
    }
}

/// The name of the event.
pub(super) const DRAWN: &str = "assignment drawn";

fn reason(before: usize, again: &Again) -> Result<Option<String>, AppError> {
    match (before, again) {
        (0, Again::No) => Ok(None),
        (0, Again::Because(_)) => Err(AppError::refused(
            "nothing was drawn in this study yet",
            "draw without --again",
        )),
        (_, Again::No) => Err(AppError::refused(
            "this study was assigned already: a draw is not repeated until it pleases",
            "print it with `fairhearing assign --show`; if it must be drawn again, say so with --again --why REASON, and \
             every report will tell it",
        )),
        (_, Again::Because(why)) if why.trim().is_empty() => Err(AppError::refused(
            "a further draw needs a reason",
            "give it with --why",
        )),
        (_, Again::Because(why)) => Ok(Some(why.trim().to_owned())),
    }
}

fn unreadable(refusal: &Invalid) -> AppError {
    AppError::Unreadable(refusal.to_string())
}
