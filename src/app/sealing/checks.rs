//! Whether a plan can be met with the tokens and listeners that there are.

use std::collections::BTreeMap;
use std::collections::BTreeSet;

use super::Draft;
use super::Entry;
use super::choice::Earlier;
use crate::analysis;
use crate::app::answers::Standing;
use crate::app::consent;
use crate::audio::prepare::HIGHEST_DBTP;
use crate::blinding;
use crate::blinding::Candidate;
use crate::blinding::ListenerPlan;
use crate::blinding::RoundDesign;
use crate::blinding::Supply;
use crate::study::Phase;
use crate::study::Problem;
use crate::study::Problems;
use crate::study::Use;

impl Draft {
    /// All that makes the plan impossible.
    pub(super) fn problems(&self, name: &str, earlier: &Earlier) -> Problems {
        let mut problems = self.problems_of_the_plan(name);
        problems.extend(self.problems_of_links(name, earlier));
        problems
    }

    fn problems_of_the_plan(&self, name: &str) -> Problems {
        let mut problems = Problems::default();
        let mut say = |what: String, mend: String| problems.push(Problem::new(name, what, mend));
        let phases = &self.settings.phases;
        for phase in [&self.plan.contrast.from, &self.plan.contrast.to]
            .into_iter()
            .chain(&self.plan.tokens.phases)
        {
            if !phases.contains(phase) {
                let known: Vec<_> = phases.iter().map(Phase::as_str).collect();
                say(
                    format!("`{phase}` is no phase of this study"),
                    format!("write one of {}", known.join(", ")),
                );
            }
        }
        for bar in &self.plan.listeners.bars {
            if bar.listener == 0 || bar.listener > self.plan.listeners.invited {
                say(
                    format!("a bar names listener {}", bar.listener),
                    format!(
                        "listeners are numbered 1 to {}",
                        self.plan.listeners.invited
                    ),
                );
            }
            if !self.plays(&bar.child) {
                say(
                    "a bar names a child of whom this round plays nothing".to_owned(),
                    "check the child's code".to_owned(),
                );
            }
        }
        if let Err(refusal) = analysis::rules_of(&self.plan.screening) {
            say(refusal.what, refusal.mend);
        }
        for child in &self.plan.tokens.children {
            if !self.children.contains(child) {
                say(
                    "`tokens.children` names a child of whom the study has no word to play"
                        .to_owned(),
                    "check the codes".to_owned(),
                );
            }
        }
        let sample = [Use::Example, Use::Practice, Use::WarmUp];
        if !self
            .entries
            .iter()
            .any(|entry| sample.contains(&entry.token.key.use_))
        {
            say(
                "the sound check has no word to play".to_owned(),
                "import at least one word with use example, practice or warm-up".to_owned(),
            );
        }
        for entry in &self.entries {
            let prepared = &entry.token.prepared;
            if prepared.true_peak_dbtp > HIGHEST_DBTP {
                let file = entry.token.key.file.as_deref().unwrap_or_default();
                say(
                    format!(
                        "{file} would peak at {:.1} dBTP at the study's level, above {HIGHEST_DBTP}",
                        prepared.true_peak_dbtp
                    ),
                    "leave the word out, or begin a study at a lower `level_lufs`".to_owned(),
                );
            }
        }
        let forbidden = self.forbidden().into_iter();
        for (what, mend) in forbidden
            .chain(self.disputed())
            .chain(self.target_problems())
            .chain(self.speaker_problems())
        {
            say(what, mend);
        }
        for refusal in self.refusals() {
            problems.push(Problem::new(name, "the plan cannot be met", refusal));
        }
        problems
    }

    /// Whether every word to judge belongs to a part of the sitting, and every part can be filled.
    fn target_problems(&self) -> Vec<(String, String)> {
        let mut problems = Vec::new();
        let scored = self
            .entries
            .iter()
            .filter(|entry| entry.stratum.is_some())
            .map(|entry| entry.token.key.target.as_deref());
        let mut found: BTreeMap<Option<&str>, usize> = BTreeMap::new();
        for target in scored {
            *found.entry(target).or_default() += 1;
        }
        let targets = &self.plan.targets;
        let planned: Vec<_> = targets
            .iter()
            .map(|one| Some(one.target.as_str()))
            .collect();
        let named = |target: Option<&str>| target.unwrap_or("(none)").to_owned();
        if targets.is_empty() && found.len() > 1 {
            let all: Vec<_> = found.keys().copied().map(named).collect();
            problems.push((
                format!(
                    "the round plays words of several targets: {}",
                    all.join(", ")
                ),
                "say in `[[targets]]` what listeners are told of each; each has its own part of \
                 a sitting"
                    .to_owned(),
            ));
        }
        for target in found
            .keys()
            .filter(|target| !targets.is_empty() && !planned.contains(target))
        {
            problems.push((
                format!(
                    "the round plays words of target {}, which `targets` does not name",
                    named(*target)
                ),
                "add it to `[[targets]]`, or give the words a target in the manifest".to_owned(),
            ));
        }
        for target in planned.iter().filter(|target| !found.contains_key(*target)) {
            problems.push((
                format!("the round plays no word of target {}", named(*target)),
                "take it out of `[[targets]]`".to_owned(),
            ));
        }
        if problems.is_empty() && !targets.is_empty() {
            problems.extend(self.part_problems(&found));
        }
        problems
    }

    /// Whether the parts of a sitting hold their repeats, and have words to practise on and to be
    /// checked by. `found`: scored words by target.
    fn part_problems(&self, found: &BTreeMap<Option<&str>, usize>) -> Vec<(String, String)> {
        let mut problems = Vec::new();
        let sitting = &self.plan.sitting;
        let n_parts = found.len().max(1);
        let all: usize = found.values().sum();
        let places = size(sitting.tokens).min(all);
        for (target, words) in found {
            let name = target.unwrap_or_default();
            for (use_, wanted) in [
                (Use::Practice, size(sitting.practice)),
                (Use::Check, size(sitting.checks).div_ceil(n_parts)),
                (Use::WarmUp, size(sitting.warm_up).div_ceil(n_parts)),
            ] {
                let there = self.extras_of(use_, *target);
                if there < wanted {
                    problems.push((
                        format!(
                            "{wanted} {use_} words are wanted of target {name}, and the study \
                             has {there}"
                        ),
                        "import more of that target, or ask for fewer".to_owned(),
                    ));
                }
            }
            let main = places * words / all.max(1);
            let room = main + size(sitting.checks) / n_parts;
            let distance = size(sitting.repeat_distance);
            if self.plan.repeats_among(main) > 0 && distance > room {
                problems.push((
                    format!(
                        "a repeat is to come {distance} places after its first, and the part of \
                         target {name} has room for about {room}"
                    ),
                    "shorten `repeat_distance` or lengthen the sitting".to_owned(),
                ));
            }
        }
        problems
    }

    /// Words of a use that the part of a target may play.
    fn extras_of(&self, use_: Use, target: Option<&str>) -> usize {
        let fits = self.entries.iter().filter(|entry| {
            let key = &entry.token.key;
            key.use_ == use_ && (key.target.is_none() || key.target.as_deref() == target)
        });
        fits.count()
    }

    /// Whether a round of new words has something to be linked by.
    fn problems_of_links(&self, name: &str, earlier: &Earlier) -> Problems {
        let choice = &self.plan.tokens;
        let mut problems = Problems::default();
        if !choice.only_new {
            return problems;
        }
        let scored = |entry: &&Entry| entry.token.key.use_.is_scored();
        if self.entries.iter().filter(scored).all(|entry| entry.link) {
            problems.push(Problem::new(
                name,
                "no word is new: earlier rounds played all that the plan chooses",
                "import the new recordings first, or leave out `tokens.only_new`",
            ));
        }
        if choice.links.get() > 0.0 && !earlier.played.is_empty() && earlier.shares.is_empty() {
            problems.push(Problem::new(
                name,
                "no earlier round is unlocked, so its words cannot be spread over the whole range of quality as links",
                "unlock an earlier round first, or write `tokens.links = 0`: the rounds then stay on scales of their own",
            ));
        }
        problems
    }

    /// What no consent allows, each child and use once.
    fn forbidden(&self) -> BTreeSet<(String, String)> {
        let kind = self.plan.listeners.kind;
        self.entries
            .iter()
            .filter_map(|entry| {
                let code = entry.token.key.child.as_ref()?;
                consent::forbids(code, self.consents.get(code), entry.token.key.use_, kind)
            })
            .collect()
    }

    /// The check and practice words on whose answer people differ.
    fn disputed(&self) -> Vec<(String, String)> {
        let disputed = self.known.iter().filter(|word| {
            word.standing == Standing::Disputed
                && self
                    .entries
                    .iter()
                    .any(|entry| entry.token.prepared.sha256 == word.sha256)
        });
        disputed
            .map(|word| {
                let what = format!("people differ on what {} is", word.file);
                let mend = "let them settle it with `fairhearing known-answers`, or exclude it";
                (what, mend.to_owned())
            })
            .collect()
    }

    /// What the blinding says of the plan's numbers.
    fn refusals(&self) -> Vec<String> {
        let tokens = self.candidates();
        let child_number: BTreeMap<_, u32> = self.children.iter().zip(0..).collect();
        let sitting = &self.plan.sitting;
        let promised = self
            .plan
            .listeners
            .invited
            .saturating_add(self.plan.listeners.open);
        let listeners: Vec<_> = (1..=promised)
            .map(|number| ListenerPlan {
                sittings: self.plan.listeners.sittings,
                barred: self
                    .plan
                    .listeners
                    .bars
                    .iter()
                    .filter(|bar| bar.listener == number)
                    .filter_map(|bar| child_number.get(&bar.child).copied())
                    .collect(),
            })
            .collect();
        let supply = |places: u32, use_: Use| Supply {
            places: size(places),
            tokens: self
                .entries
                .iter()
                .filter(|entry| entry.token.key.use_ == use_)
                .count(),
        };
        let places = size(sitting.tokens).min(tokens.len());
        blinding::feasible(&RoundDesign {
            tokens: &tokens,
            planned: self.plan.listeners.judgements_per_token,
            places,
            repeats: self.plan.repeats_among(places),
            repeat_distance: size(sitting.repeat_distance),
            checks: supply(sitting.checks, Use::Check),
            warm_ups: supply(sitting.warm_up, Use::WarmUp),
            practice: supply(sitting.practice, Use::Practice),
            listeners: &listeners,
        })
        .iter()
        .map(ToString::to_string)
        .collect()
    }

    fn candidates(&self) -> Vec<Candidate> {
        let child_number: BTreeMap<_, u32> = self.children.iter().zip(0..).collect();
        self.entries
            .iter()
            .filter_map(|entry| {
                let child = entry.token.key.child.as_ref()?;
                Some(Candidate {
                    token: entry.number,
                    stratum: entry.stratum?,
                    phase: 0,
                    child: child_number.get(child).copied()?,
                    word: 0,
                    committed: 0,
                    may_hear: true,
                })
            })
            .collect()
    }
}

fn size(count: u32) -> usize {
    usize::try_from(count).unwrap_or(usize::MAX)
}
