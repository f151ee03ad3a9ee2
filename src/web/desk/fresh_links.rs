//! Links that were just made. They are kept nowhere but in this process's memory, for a while, for the person who made
//! them: on the disk only their digests are.

use super::Site;
use crate::app;
use crate::app::Link;
use crate::app::Now;
use crate::app::OpenLink;
use crate::app::Person;
use crate::study::RoundName;

/// How long links can be shown after they were made (ours): long enough to print them.
pub(super) const KEPT_MINUTES: i64 = 30;

/// Links that were made together.
#[derive(Clone)]
pub(super) struct FreshLinks {
    /// What they are asked for by: random, and no secret of a listener.
    pub(super) id: String,
    /// The account that made them.
    account: String,
    /// The round that they belong to.
    pub(super) round: RoundName,
    /// When they were made.
    pub(super) at: Now,
    /// The personal links.
    pub(super) links: Vec<Link>,
    /// The open link.
    pub(super) open: Option<OpenLink>,
}

impl FreshLinks {
    /// Links that were made now.
    pub(super) fn new(
        person: &Person,
        round: RoundName,
        links: Vec<Link>,
        open: Option<OpenLink>,
    ) -> Self {
        Self {
            id: app::one_time_secret(),
            account: person.code.clone(),
            round,
            at: Now::read(),
            links,
            open,
        }
    }

    /// When they are gone.
    pub(super) fn until(&self) -> Now {
        Now::at_ms(self.at.ms() + KEPT_MINUTES * 60_000)
    }
}

impl Site {
    /// Keeps links for a while.
    pub(super) fn keep_links(&self, links: FreshLinks) {
        self.fresh_links().push(links);
    }

    /// The links of a round that this person can still see, the newest first.
    pub(super) fn links_of(&self, person: &Person, round: &RoundName) -> Vec<FreshLinks> {
        let mut kept = self.fresh_links();
        let now = Now::read();
        kept.retain(|links| links.until() > now);
        let own = kept
            .iter()
            .rev()
            .filter(|links| links.account == person.code && links.round == *round);
        own.cloned().collect()
    }

    /// Forgets links before their time.
    pub(super) fn forget_links(&self, person: &Person, id: &str) {
        self.fresh_links()
            .retain(|links| links.account != person.code || links.id != id);
    }
}
