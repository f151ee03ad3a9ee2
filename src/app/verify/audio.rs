//! The audio files: each is named by its content.

use std::collections::BTreeSet;
use std::path::Path;

use rayon::prelude::*;

use super::Findings;
use crate::app::AppError;
use crate::app::Workspace;
use crate::seal::Digest;
use crate::store::TokenRow;

/// Reads every recording and every prepared word of the study; says how many files there are.
pub(super) fn check(workspace: &Workspace, findings: &mut Findings) -> Result<usize, AppError> {
    let tokens: Vec<TokenRow> = workspace
        .store()
        .read(|reading| Ok::<_, AppError>(findings.read(reading.tokens())))?;
    let mut files = BTreeSet::new();
    for token in &tokens {
        let (original, prepared) = (&token.original_sha256, &token.prepared.sha256);
        files.insert((original.clone(), workspace.original(original), "recording"));
        files.insert((
            prepared.clone(),
            workspace.prepared(prepared),
            "prepared sound",
        ));
    }
    let said: Vec<_> = files
        .par_iter()
        .filter_map(|(sha256, path, kind)| differs(sha256, path, kind))
        .collect();
    for what in said {
        findings.say(what);
    }
    Ok(files.len())
}

fn differs(sha256: &str, path: &Path, kind: &str) -> Option<String> {
    let shown = path.display();
    match std::fs::read(path) {
        Ok(bytes) if Digest::of(&bytes).to_string() == sha256 => None,
        Ok(_) => Some(format!("the {kind} {shown} is not as it was written")),
        Err(error) => Some(format!("the {kind} {shown} cannot be read ({error})")),
    }
}
