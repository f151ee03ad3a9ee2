//! Whether the words that a round hears again will put it on one scale with the earlier rounds.

use super::PlannedWords;
use super::PrecisionBasis;
use crate::stats::interval::FEWEST_LINKS;
use crate::stats::interval::links_needed;
use crate::study::Plan;

/// How a round that is not sealed yet will be linked to earlier ones.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LinkForecast {
    /// Words heard again that count: of every earlier round with enough of them to tell its panel apart, else of the one
    /// with most.
    pub links: u32,
    /// How many will likely do.
    pub links_needed: u32,
    /// The share of links that would bring as many, where that is more than the plan asks for.
    pub share_needed: Option<f64>,
}

impl LinkForecast {
    /// Nothing where no earlier round is unlocked.
    pub(super) fn of(plan: &Plan, words: &PlannedWords, basis: &PrecisionBasis) -> Option<Self> {
        let most = words.heard_before.iter().max()?;
        let counted: Vec<u32> = words
            .heard_before
            .iter()
            .copied()
            .filter(|links| *links as usize >= FEWEST_LINKS)
            .collect();
        let needed = links_needed(
            counted.len().max(1),
            basis.link_spread(plan.listeners.judgements_per_token),
            plan.contrast.linking_bound(),
            plan.analysis.confidence.level(),
        );
        let needed = u32::try_from(needed).unwrap_or(u32::MAX);
        let new = words.tokens().saturating_sub(words.links);
        let share = f64::from(needed) / f64::from(new.max(1));
        Some(Self {
            links: if counted.is_empty() {
                *most
            } else {
                counted.iter().sum()
            },
            links_needed: needed,
            share_needed: (plan.tokens.only_new && share > plan.tokens.links.get())
                .then_some(share),
        })
    }

    /// Whether the round will likely stand on one scale with earlier ones.
    pub const fn enough(&self) -> bool {
        self.links >= self.links_needed
    }

    /// The same in plain words.
    pub fn sentence(&self) -> String {
        let Self {
            links,
            links_needed,
            share_needed,
        } = self;
        if self.enough() {
            return format!(
                "{links} words are heard again; about {links_needed} are likely to put this round on one scale with the earlier ones."
            );
        }
        let way = match share_needed.map(|share| (share * 100.0).ceil()) {
            Some(percent) if percent > 100.0 => {
                "The round has too few new words for that: let it play more.".to_owned()
            }
            Some(percent) => format!("Ask for {percent:.0}% links."),
            None => {
                "The unlocked rounds have no more words that this plan may play again.".to_owned()
            }
        };
        format!(
            "{links} words are heard again, and about {links_needed} are likely to be needed to put this round on one scale with the earlier ones. {way} Else the report may have to show the rounds apart."
        )
    }
}
