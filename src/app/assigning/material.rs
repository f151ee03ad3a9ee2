//! What a study has for a draw: all that a form must know before anything is drawn.

use crate::app::AppError;
use crate::app::Workspace;
use crate::app::drawn;
use crate::study::ChildCode;
use crate::study::Cohort;
use crate::study::Phase;
use crate::study::record::AssignmentMention;

/// What a study has for a draw.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct DrawMaterial {
    /// The phases in their order.
    pub phases: Vec<Phase>,
    /// The ways of treating.
    pub cohorts: Vec<Cohort>,
    /// The children who are known already, peers left out.
    pub children: Vec<ChildCode>,
    /// What was drawn before, in its order.
    pub drawn: Vec<AssignmentMention>,
}

/// What the study has for a draw now.
///
/// # Errors
/// [`AppError::Store`] if the study cannot be read; [`AppError::File`] or [`AppError::Input`] if its settings cannot.
pub fn draw_material(workspace: &Workspace) -> Result<DrawMaterial, AppError> {
    let settings = workspace.settings()?;
    workspace.store().read(|reading| {
        let children = reading.children()?.into_iter();
        let rows = reading.assignments()?;
        Ok(DrawMaterial {
            phases: settings.phases,
            cohorts: settings.cohorts,
            children: children
                .filter(|child| !child.peer)
                .map(|child| child.code)
                .collect(),
            drawn: rows.iter().map(drawn::mention).collect::<Result<_, _>>()?,
        })
    })
}
