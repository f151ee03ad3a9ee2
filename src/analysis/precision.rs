//! Precision: variance components of the judgements, and the forecast for any panel and probe.

use serde::Serialize;

use super::Reasons;
use super::outcome::Joined;
use super::outcome::Words;
use crate::stats::precision::Component;
use crate::stats::precision::Components;
use crate::stats::precision::Facet;
use crate::stats::precision::Observation;
use crate::stats::precision::Probe;
use crate::stats::precision::components;
use crate::stats::special::normal;
use crate::study::Invalid;
use crate::study::Ratings;
use crate::study::TokenTable;

/// Panels and probes that are forecast (ours).
const LISTENERS: [u32; 8] = [3, 5, 7, 9, 12, 15, 20, 30];
const WORDS: [u32; 6] = [5, 10, 20, 30, 50, 100];
/// No panel is sought beyond this.
const MOST_LISTENERS: u32 = 1000;

/// How precision is to be computed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PrecisionOptions {
    /// The half width of a session's interval that is asked for, as a share of 1 (none).
    pub half_width: Option<f64>,
    /// Sessions in each phase of the change that `mdc95` speaks of (3).
    pub sessions: u32,
    /// The level of the half width (0.95).
    pub confidence: f64,
}

impl Default for PrecisionOptions {
    fn default() -> Self {
        Self {
            half_width: None,
            sessions: 3,
            confidence: 0.95,
        }
    }
}

/// Components and forecast.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Precision {
    /// Where the variance comes from.
    pub components: Vec<ComponentFinding>,
    /// What each panel and probe would give.
    pub forecast: Vec<ForecastFinding>,
    /// For each probe the smallest panel that reaches the half width, where one is asked for.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub reached_by: Option<Vec<ReachedFinding>>,
    /// Why a field is `null`, and what a component holds.
    pub reasons: Reasons,
}

/// One source of variance.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ComponentFinding {
    /// What varies.
    pub facet: &'static str,
    /// Its variance, as it came out.
    pub variance: f64,
    /// Its share of all, what is below 0 counted as 0.
    pub share: Option<f64>,
}

/// What one panel and probe would give.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct ForecastFinding {
    /// Listeners.
    pub listeners: u32,
    /// Tokens a session.
    pub tokens: u32,
    /// The standard error of a session's score.
    pub se: f64,
    /// Brennan's Φ.
    pub dependability: Option<f64>,
    /// The minimal detectable change between phases of `sessions` sessions.
    pub mdc95: f64,
    /// Sessions a phase.
    pub sessions: u32,
}

/// The panel that a probe needs.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct ReachedFinding {
    /// The half width asked for.
    pub half_width: f64,
    /// Tokens a session.
    pub tokens: u32,
    /// The fewest listeners that reach it; nothing where no panel of a thousand does.
    pub listeners: Option<u32>,
}

/// Computes where the variance of the main judgements of children in treatment comes from (peers are left out).
///
/// # Errors
/// [`Invalid`] where ratings and tokens do not fit each other, as in [`outcome`](super::outcome).
pub fn precision(
    ratings: &Ratings,
    tokens: &TokenTable,
    options: &PrecisionOptions,
) -> Result<Precision, Invalid> {
    let joined = Joined::new(ratings, tokens)?;
    let mut reasons = Reasons::new();
    let found = components(&observations(&joined));
    if found.components.is_empty() {
        reasons.say("components", "there are no two judgements to compare");
        reasons.say(
            "forecast",
            "without components there is nothing to forecast from",
        );
        if options.half_width.is_some() {
            reasons.say("reached_by", "without components there is no forecast");
        }
        return Ok(Precision {
            components: vec![],
            forecast: vec![],
            reached_by: None,
            reasons,
        });
    }
    explain(&found, &mut reasons);
    Ok(Precision {
        components: listed(&found),
        forecast: forecast(&found, options),
        reached_by: options
            .half_width
            .map(|half_width| reached(&found, half_width, options, &mut reasons)),
        reasons,
    })
}

/// The main judgements of children in treatment, numbered for the statistics.
pub(in crate::analysis) fn observations(joined: &Joined<'_>) -> Vec<Observation> {
    let everyone = vec![1.0; joined.ratings().raters.len()];
    joined
        .judgements(Words::All, &everyone)
        .into_iter()
        .filter_map(|judgement| {
            let session = joined.sessions.get(judgement.session as usize)?;
            (!session.peer).then(|| Observation {
                child: session.child,
                session: judgement.session,
                token: judgement.token,
                word: judgement.word,
                listener: judgement.listener,
                value: f64::from(u8::from(judgement.correct)),
            })
        })
        .collect()
}

fn explain(found: &Components, reasons: &mut Reasons) {
    for component in &found.components {
        let name = component.facet.name();
        let mut said = Vec::new();
        if component.variance < 0.0 {
            said.push(
                "came out below 0, which is chance; it counts as 0 in the forecast".to_owned(),
            );
        }
        if !component.with.is_empty() {
            let with: Vec<&str> = component.with.iter().map(|facet| facet.name()).collect();
            said.push(format!(
                "holds also {}, which this design cannot tell from it",
                with.join(", ")
            ));
        }
        if !said.is_empty() {
            reasons.say(&format!("components.{name}"), said.join("; "));
        }
    }
    for facet in &found.unseen {
        let name = facet.name();
        reasons.say(
            &format!("components.{name}"),
            "nothing is seen of it: the data hold one only",
        );
    }
    let session_apart = found.get(Facet::Session).is_some();
    if !session_apart && !found.components.is_empty() {
        reasons.say(
            "forecast.mdc95",
            "good and bad days are not in it: no child has two sessions to compare",
        );
    }
}

fn listed(found: &Components) -> Vec<ComponentFinding> {
    let used = |component: &Component| component.variance.max(0.0);
    let total: f64 = found.components.iter().map(used).sum();
    found
        .components
        .iter()
        .map(|component| ComponentFinding {
            facet: component.facet.name(),
            variance: component.variance,
            share: (total > 0.0).then(|| used(component) / total),
        })
        .collect()
}

fn forecast(found: &Components, options: &PrecisionOptions) -> Vec<ForecastFinding> {
    let designs = LISTENERS
        .into_iter()
        .flat_map(|listeners| WORDS.map(|words| (listeners, words)));
    designs
        .map(|(listeners, tokens)| {
            let then = found.forecast(probe(listeners, tokens, options));
            ForecastFinding {
                listeners,
                tokens,
                se: then.se,
                dependability: then.dependability,
                mdc95: then.mdc95,
                sessions: options.sessions,
            }
        })
        .collect()
}

fn reached(
    found: &Components,
    half_width: f64,
    options: &PrecisionOptions,
    reasons: &mut Reasons,
) -> Vec<ReachedFinding> {
    let z = normal::two_sided(options.confidence);
    let reached: Vec<ReachedFinding> = WORDS
        .into_iter()
        .map(|tokens| ReachedFinding {
            half_width,
            tokens,
            listeners: (1..=MOST_LISTENERS)
                .find(|n| z * found.forecast(probe(*n, tokens, options)).se <= half_width),
        })
        .collect();
    if reached.iter().any(|row| row.listeners.is_none()) {
        reasons.say(
            "reached_by.listeners",
            "with so few words no panel is large enough: the words themselves differ too much",
        );
    }
    reached
}

fn probe(listeners: u32, words: u32, options: &PrecisionOptions) -> Probe {
    Probe {
        listeners: f64::from(listeners),
        words: f64::from(words),
        sessions: f64::from(options.sessions),
    }
}
