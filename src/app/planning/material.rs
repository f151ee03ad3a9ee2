//! What a study has for a round: all that a form must know before anything is chosen.

use std::collections::BTreeMap;
use std::collections::BTreeSet;

use crate::app::AppError;
use crate::app::Workspace;
use crate::app::sealing;
use crate::study::ChildCode;
use crate::study::Phase;
use crate::study::RoundState;
use crate::study::Use;

/// What a study has for a round.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Material {
    /// The sound under treatment, as listeners are told it.
    pub target: String,
    /// The phases in their order.
    pub phases: Vec<Phase>,
    /// Children and peers, by code.
    pub children: Vec<ChildCode>,
    /// Sounds that the manifest names of scored words; one at most where there is nothing to divide.
    pub targets: Vec<String>,
    /// Tokens by use; those that were left out are not counted.
    pub uses: BTreeMap<Use, u32>,
    /// Words of the longest session.
    pub longest_session: u32,
    /// Rounds that were sealed before, and whether any of them is unlocked.
    pub earlier: usize,
    /// Whether an earlier round is unlocked, so that its words can be links.
    pub unlocked: bool,
}

impl Material {
    /// Tokens of a use.
    pub fn of(&self, use_: Use) -> u32 {
        self.uses.get(&use_).copied().unwrap_or(0)
    }

    /// Words of children and peers.
    pub fn scored(&self) -> u32 {
        self.of(Use::Scored) + self.of(Use::Peer)
    }
}

/// What the study has for a round now.
///
/// # Errors
/// [`AppError::Store`] if the study cannot be read; [`AppError::File`] or [`AppError::Input`] if its settings cannot.
pub fn material(workspace: &Workspace) -> Result<Material, AppError> {
    let settings = workspace.settings()?;
    workspace.store().read(|reading| {
        let mut uses: BTreeMap<Use, u32> = BTreeMap::new();
        let mut targets = BTreeSet::new();
        let mut sessions: BTreeMap<_, u32> = BTreeMap::new();
        for token in sealing::tokens_in_use(reading)? {
            *uses.entry(token.key.use_).or_default() += 1;
            if token.key.use_.is_scored() {
                targets.insert(token.key.target.clone().unwrap_or_default());
                let session = (token.key.child.clone(), token.key.session);
                *sessions.entry(session).or_default() += 1;
            }
        }
        let rounds = reading.rounds()?;
        let children = reading.children()?;
        Ok(Material {
            target: settings.target,
            phases: settings.phases,
            children: children.into_iter().map(|child| child.code).collect(),
            targets: targets.into_iter().collect(),
            uses,
            longest_session: sessions.into_values().max().unwrap_or(0),
            earlier: rounds.len(),
            unlocked: rounds
                .iter()
                .any(|round| round.state == RoundState::Unlocked),
        })
    })
}
