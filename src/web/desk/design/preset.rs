//! What a form begins with: a panel of naive listeners, or a few colleagues.

use crate::app::planning::Material;
use crate::study::Use;
use crate::web::desk::form::Values;

/// A round to begin from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Preset {
    /// Many people without training, a short sitting each.
    Naive,
    /// A few colleagues with training, who hear everything.
    Colleagues,
}

/// Links beside those that are needed, for people who do not come: one in four (ours).
const SPARE: u32 = 4;

impl Preset {
    /// The preset that a button names.
    pub(super) fn named(name: &str) -> Option<Self> {
        match name {
            "naive" => Some(Self::Naive),
            "colleagues" => Some(Self::Colleagues),
            _ => None,
        }
    }

    /// A form with nothing in it but the preset.
    pub(super) fn fresh(self, material: &Material) -> Values {
        let mut values = Values::default();
        for (name, value) in USUAL {
            values.set(name, value);
        }
        let instruction = format!(
            "Judge {} alone: is it right, or is it distorted? Leave the other sounds and the voice out of account.",
            material.target
        );
        values.set("text-instruction", &instruction);
        let phases: Vec<_> = material.phases.iter().take(2).collect();
        if let [from, to] = phases.as_slice() {
            values.set("contrast-from", from.as_str());
            values.set("contrast-to", to.as_str());
        }
        if material.earlier > 0 {
            values.set("links", if material.unlocked { "15" } else { "0" });
        }
        self.put(&mut values, material);
        values
    }

    /// Puts the numbers of the preset into a form; name, words, contrast and texts stay.
    pub(super) fn put(self, values: &mut Values, material: &Material) {
        let numbers = match self {
            Self::Naive => Numbers::naive(material),
            Self::Colleagues => Numbers::colleagues(material),
        };
        numbers.put(values);
    }
}

/// What both presets share, as the plan's own defaults (ours).
const USUAL: &[(&str, &str)] = &[
    ("attempts", "first"),
    ("may-change", "yes"),
    ("show-word", "yes"),
    ("give-back", "60"),
    ("practice-pass", "75"),
    ("practice-tries", "3"),
    ("practice-failed", "go-on"),
    ("practice-again", "24"),
    ("rest-every", "50"),
    ("words-a-day", "0"),
    ("minutes-a-day", "45"),
    ("first-sound", "record"),
    ("headphones", "off"),
    ("contrast-words", "all"),
    ("smallest-change", "15"),
    ("careful", "90"),
    ("confidence", "95"),
    ("seed", "1"),
    ("text-consent-version", "1"),
];

/// The numbers of a preset, cut to what the study has.
struct Numbers {
    kind: &'static str,
    judgements: u32,
    tokens: u32,
    sittings: u32,
    invited: u32,
    repeats: &'static str,
    checks: u32,
    practice: u32,
    warm_up: u32,
    replays: u32,
    /// Check words of twelve that must be right, and the share of repeats; nothing: no rule.
    screening: Option<(u32, &'static str)>,
}

impl Numbers {
    /// Nine judgements a word, sixty words a sitting: a quarter of an hour (ours).
    fn naive(material: &Material) -> Self {
        let tokens = material.scored().clamp(1, 60);
        let judgements = 9;
        let needed = (material.scored() * judgements)
            .div_ceil(tokens)
            .max(judgements);
        let checks = material.of(Use::Check).min(12);
        Self {
            kind: "naive",
            judgements,
            tokens,
            sittings: 1,
            invited: needed + needed.div_ceil(SPARE),
            repeats: "15",
            checks,
            practice: material.of(Use::Practice).min(4),
            warm_up: material.of(Use::WarmUp).min(4),
            replays: 1,
            // Ten of twelve: a guesser passes in 1.9% of cases, a careful listener fails in 11%.
            screening: Some(((checks * 10).div_ceil(12), "60")),
        }
    }

    /// Three colleagues hear every word, a hundred a sitting, and none is left out by a rule (ours).
    fn colleagues(material: &Material) -> Self {
        let tokens = material.scored().clamp(1, 100);
        Self {
            kind: "expert",
            judgements: 3,
            tokens,
            sittings: material.scored().div_ceil(tokens).max(1),
            invited: 3,
            repeats: "20",
            checks: material.of(Use::Check).min(6),
            practice: material.of(Use::Practice).min(4),
            warm_up: material.of(Use::WarmUp).min(2),
            replays: 3,
            screening: None,
        }
    }

    fn put(&self, values: &mut Values) {
        for (name, number) in [
            ("judgements", self.judgements),
            ("tokens", self.tokens),
            ("sittings", self.sittings),
            ("invited", self.invited),
            ("checks", self.checks),
            ("practice", self.practice),
            ("warm-up", self.warm_up),
            ("replays", self.replays),
            ("repeat-distance", self.tokens.div_ceil(2).min(10)),
        ] {
            values.set(name, &number.to_string());
        }
        values.set("kind", self.kind);
        values.set("repeats", self.repeats);
        let (right, repeats) = self.screening.unwrap_or((0, ""));
        let right = if right == 0 {
            String::new()
        } else {
            right.to_string()
        };
        values.set("rule-checks-right", &right);
        values.set("rule-repeats", repeats);
        let time = if self.screening.is_some() { "200" } else { "" };
        values.set("rule-median-time", time);
        values.set("live", if self.screening.is_some() { "yes" } else { "" });
        values.set("live-after", "");
    }
}
