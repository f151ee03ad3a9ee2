//! What a plan will cost and can show, before it is sealed.

use std::path::Path;

mod draft;
mod material;

pub use draft::RoundDraft;
pub use draft::draft;
pub use draft::forget_draft;
pub use draft::keep_draft;
pub use material::Material;
pub use material::material;

use super::AppError;
use super::Workspace;
use super::files;
use super::findings;
use super::results;
use super::sealing;
use crate::analysis;
use crate::analysis::PlannedWords;
use crate::exchange;
use crate::study::Plan;
use crate::study::Unlocked;

pub use crate::analysis::LinkForecast;
pub use crate::analysis::MINUTES_A_REST;
pub use crate::analysis::MINUTES_BEFORE;
pub use crate::analysis::PlanForecast;
pub use crate::analysis::PrecisionBasis;
pub use crate::analysis::Proof;
pub use crate::analysis::ProofLine;
pub use crate::analysis::SECONDS_A_WORD;
pub use crate::analysis::Volunteers;

/// A plan that is not sealed yet, with what it will cost and can show.
#[derive(Debug, Clone, PartialEq)]
pub struct Planned {
    /// What makes it impossible, a sentence each; empty for nothing.
    pub problems: Vec<String>,
    /// What staff had better look at before the seal, a sentence each.
    pub notices: Vec<String>,
    /// The forecast.
    pub forecast: PlanForecast,
    /// What the volunteers can prove, where some were named.
    pub proof: Option<Proof>,
    /// What the forecast of precision rests on.
    pub basis: PrecisionBasis,
}

/// Holds a plan against the study and forecasts it, from the last unlocked round where there is one. Nothing is sealed.
///
/// # Errors
/// [`AppError::Store`] if the study cannot be read; [`AppError::File`] or [`AppError::Input`] if its settings cannot.
pub fn forecast(
    workspace: &Workspace,
    plan: &Plan,
    volunteers: Option<&Volunteers>,
) -> Result<Planned, AppError> {
    let preview = sealing::preview(workspace, plan)?;
    let basis = basis(workspace)?;
    let proof = volunteers
        .map(|volunteers| {
            let words = all_words(workspace, plan)?;
            Ok::<_, AppError>(analysis::proof(plan, &words, &basis, volunteers))
        })
        .transpose()?;
    Ok(Planned {
        problems: preview.problems,
        notices: preview.notices,
        forecast: analysis::plan_forecast(plan, &preview.words, &basis),
        proof,
        basis,
    })
}

/// Reads a plan from a file, holds it against the study and forecasts it. Nothing is sealed.
///
/// # Errors
/// [`AppError::Input`] where the file is no plan; else as [`forecast`].
pub fn forecast_file(workspace: &Workspace, plan: &Path) -> Result<(Plan, Planned), AppError> {
    let name = plan.display().to_string();
    let plan = exchange::read_plan(&name, &files::read_text(plan)?)?;
    let planned = forecast(workspace, &plan, None)?;
    Ok((plan, planned))
}

/// The words of a plan without any draw of words of a session.
fn all_words(workspace: &Workspace, plan: &Plan) -> Result<PlannedWords, AppError> {
    let mut whole = plan.clone();
    whole.tokens.sample_words = None;
    Ok(sealing::preview(workspace, &whole)?.words)
}

/// What the last unlocked round with judgements to compare shows of precision; else what is assumed.
fn basis(workspace: &Workspace) -> Result<PrecisionBasis, AppError> {
    let rounds = workspace
        .store()
        .read(|reading| Ok::<_, AppError>(reading.rounds()?))?;
    let unlocked = rounds
        .into_iter()
        .rev()
        .filter_map(|round| Unlocked::of(round.name, round.state));
    for unlocked in unlocked {
        let record = results::record(workspace, &unlocked)?;
        let tables = findings::tables_of(&record)?;
        let seen = PrecisionBasis::seen(&record, &tables)
            .map_err(|refusal| AppError::Unreadable(refusal.to_string()))?;
        if let Some(seen) = seen {
            return Ok(seen);
        }
    }
    Ok(PrecisionBasis::assumed())
}

/// The screening rules of a plan, each in words; rules that cannot be read are left out, and refused at the seal.
pub fn rules_in_words(plan: &Plan) -> Vec<String> {
    let rules = analysis::rules_of(&plan.screening)
        .unwrap_or_default()
        .rules;
    rules.iter().map(analysis::Rule::sentence).collect()
}

/// A plan as the file that `seal --plan` reads.
///
/// # Errors
/// [`AppError::Unreadable`] if it cannot be written so.
pub fn plan_as_file(plan: &Plan) -> Result<String, AppError> {
    toml::to_string_pretty(plan).map_err(|error| AppError::Unreadable(error.to_string()))
}
