//! Rounds: the sealed document, the tokens, the plan, the state.

use std::collections::BTreeMap;
use std::collections::BTreeSet;

use serde_json::Value;

use super::Findings;
use super::gone;
use super::gone::Gone;
use super::story::RoundStory;
use super::story::Story;
use crate::app::log;
use crate::app::sealing::document;
use crate::seal;
use crate::seal::Canonical;
use crate::seal::Digest;
use crate::store::ChildRow;
use crate::store::Reading;
use crate::store::RoundRow;
use crate::store::RoundTokenRow;
use crate::store::TokenRow;
use crate::study::RoundState;
use crate::study::Use;

/// Holds every round against its document and the log; says how many rounds there are.
pub(super) fn check(
    reading: &Reading<'_>,
    story: &Story,
    gone: &Gone,
    findings: &mut Findings,
) -> usize {
    let rounds = findings.read(reading.rounds());
    let tokens = findings.read(reading.tokens());
    let children = findings.read(reading.children());
    let level = findings.read(reading.study_level_lufs());
    let names: BTreeSet<_> = rounds.iter().map(|round| round.name.as_str()).collect();
    for name in story.rounds.keys() {
        if !names.contains(name.as_str()) {
            findings.say(format!("round {name} was sealed, and is not in the store"));
        }
    }
    for round in &rounds {
        let told = story.rounds.get(round.name.as_str());
        check_state(round, told, findings);
        let played = findings.read(reading.round_tokens(round.id));
        let sealed = Sealed::of(round);
        let Some(sealed) = sealed else {
            findings.say(format!(
                "the document or plan of round {} cannot be read",
                round.name
            ));
            continue;
        };
        sealed.check_plan(round, told, findings);
        if sealed
            .document
            .pointer("/study/level_lufs")
            .and_then(Value::as_f64)
            != level
        {
            findings.say(format!(
                "the study's level is not the one that was sealed with round {}",
                round.name
            ));
        }
        sealed.check_tokens(round, &played, &tokens, gone, findings);
        check_peers(round, &played, &tokens, &children, findings);
    }
    rounds.len()
}

fn check_state(round: &RoundRow, told: Option<&RoundStory>, findings: &mut Findings) {
    let name = &round.name;
    let seal = seal::seal_of(&Canonical::stored(round.document.as_str())).to_string();
    if seal != round.seal {
        findings.say(format!(
            "round {name} is not as it was sealed: its document and its seal do not fit"
        ));
    }
    let Some(told) = told else {
        findings.say(format!(
            "round {name} is in the store, and no event tells that it was sealed"
        ));
        return;
    };
    if told.seal != round.seal {
        findings.say(format!(
            "the seal of round {name} is not the one that the log tells"
        ));
    }
    let state = match (&told.closed, told.unlocked_ms) {
        (_, Some(_)) => RoundState::Unlocked,
        (Some(_), None) => RoundState::Closed,
        (None, None) => RoundState::Open,
    };
    if round.state != state {
        findings.say(format!(
            "round {name} is {} in the store, and {state} by the log",
            round.state
        ));
    }
    if round.paused != told.paused {
        findings.say(format!(
            "round {name} is paused or not, and the log tells the contrary"
        ));
    }
    let closed_ms = told.closed.as_ref().map(|(ms, _)| *ms);
    for (what, found, told) in [
        ("opened", round.opened_ms, Some(told.sealed_ms)),
        ("closed", round.closed_ms, closed_ms),
        ("unlocked", round.unlocked_ms, told.unlocked_ms),
    ] {
        if found != told {
            findings.say(format!(
                "the time at which round {name} was {what} is not the one that the log tells"
            ));
        }
    }
    let seed = data_encoding::HEXLOWER.encode(&round.seed);
    if told.closed.as_ref().is_some_and(|(_, told)| *told != seed) {
        findings.say(format!(
            "the seed of round {name} is not the one that was revealed at its close"
        ));
    }
}

/// A document and a plan that can be read.
struct Sealed {
    document: Value,
    plan: Value,
}

impl Sealed {
    fn of(round: &RoundRow) -> Option<Self> {
        Some(Self {
            document: serde_json::from_str(&round.document).ok()?,
            plan: serde_json::from_str(&round.plan).ok()?,
        })
    }

    fn text(&self, field: &str) -> &str {
        self.document
            .get(field)
            .and_then(Value::as_str)
            .unwrap_or_default()
    }

    /// The plan's open half stands in the document, its other half as a commitment; the seed too.
    /// Where a child was erased who was named there, the log holds the commitment to what is left.
    fn check_plan(&self, round: &RoundRow, told: Option<&RoundStory>, findings: &mut Findings) {
        let name = &round.name;
        let replaced = told.and_then(|told| told.private.as_deref());
        let sealed_private = replaced.unwrap_or_else(|| self.text("children"));
        // As it was written: a later program may know of more fields.
        let (public, private) = document::split_plan(self.plan.clone());
        let commitment =
            log::canonical(&private).map(|private| seal::commit(&round.salt, &private).to_string());
        let sealed = log::canonical(self.document.get("plan").unwrap_or(&Value::Null));
        // As texts: 0.0 and 0 are one number there.
        let fits = sealed.as_ref().ok() == log::canonical(&public).as_ref().ok()
            && commitment.is_ok_and(|commitment| sealed_private == commitment)
            && log::canonical(&self.plan).is_ok_and(|whole| whole.as_str() == round.plan)
            && public.get("round").and_then(Value::as_str) == Some(name.as_str());
        if !fits {
            findings.say(format!(
                "the plan of round {name} is not the one that was sealed"
            ));
        }
        if Digest::of(&round.seed).to_string() != self.text("seed_sha256") {
            findings.say(format!(
                "the seed of round {name} is not the one that was sealed"
            ));
        }
    }

    fn check_tokens(
        &self,
        round: &RoundRow,
        played: &[RoundTokenRow],
        tokens: &[TokenRow],
        gone: &Gone,
        findings: &mut Findings,
    ) {
        let name = &round.name;
        let by_id: BTreeMap<_, _> = tokens.iter().map(|token| (token.id, token)).collect();
        let mut sealed = self.sealed_tokens();
        for row in played {
            let number = row.number;
            let Some((use_, link, commitment)) = sealed.remove(&u64::from(number)) else {
                findings.say(format!("token {number} of round {name} was never sealed"));
                continue;
            };
            let found = by_id
                .get(&row.token)
                .and_then(|token| document::token_commitment(&row.salt, token, row.stratum).ok());
            let fits = found.is_some_and(|found| found.to_string() == commitment);
            if !fits || row.use_.as_str() != use_ || row.link != link {
                findings.say(format!(
                    "token {number} of round {name} is not as it was sealed: its labels, its \
                     sound or its salt were changed"
                ));
            }
        }
        let told = |number: &&u64| !gone.holds(&gone::token(name.as_str(), **number));
        for number in sealed.keys().filter(told) {
            findings.say(format!(
                "token {number} of round {name} was sealed, and is gone"
            ));
        }
    }

    /// Use of each token by its number, whether it is a link, and its commitment.
    fn sealed_tokens(&self) -> BTreeMap<u64, (String, bool, String)> {
        let rows = self.document.get("tokens").and_then(Value::as_array);
        rows.into_iter()
            .flatten()
            .filter_map(|row| {
                let text = |field: &str| row.get(field)?.as_str().map(str::to_owned);
                let number = row.get("number")?.as_u64()?;
                // Rounds of the first version knew no links.
                let link = row.get("link").and_then(Value::as_bool).unwrap_or(false);
                Some((number, (text("use")?, link, text("commitment")?)))
            })
            .collect()
    }
}

/// Whether a child is a peer follows from the sealed use of its tokens.
fn check_peers(
    round: &RoundRow,
    played: &[RoundTokenRow],
    tokens: &[TokenRow],
    children: &[ChildRow],
    findings: &mut Findings,
) {
    let by_code: BTreeMap<_, _> = children
        .iter()
        .map(|child| (&child.code, child.peer))
        .collect();
    let in_round: BTreeSet<_> = played.iter().map(|row| row.token).collect();
    let differs = tokens
        .iter()
        .filter(|token| in_round.contains(&token.id) && token.key.use_.is_scored())
        .filter_map(|token| Some((token.key.use_, by_code.get(token.key.child.as_ref()?)?)))
        .any(|(use_, peer)| (use_ == Use::Peer) != *peer);
    if differs {
        findings.say(format!(
            "a child of round {} is a peer in one table and none in another",
            round.name
        ));
    }
}
