//! What the desk knows of the server as it runs: how it is reached, who looked whether it is, and when it slept.

use std::sync::Arc;
use std::sync::Mutex;
use std::sync::MutexGuard;
use std::sync::PoisonError;
use std::time::Duration;

use tokio::sync::Semaphore;

use super::Demonstration;
use super::backup::BackupWork;
use super::fresh_links::FreshLinks;
use super::leaving::Kept;
use crate::app::Now;
use crate::web::reached::Reached;

/// Passwords that are hashed at the same moment: each takes 19 MiB and a core.
const PASSWORDS_AT_ONCE: usize = 2;

/// How often it is looked whether the machine slept, and from which gap on it did.
const LOOK: Duration = Duration::from_secs(20);
const SLEPT_MS: i64 = 90_000;

/// The server as it runs. All of it is gone with the process.
pub(crate) struct Site {
    /// How listeners and staff are to reach it.
    pub(super) reached: Arc<Reached>,
    /// The address that signs in without a password, where this is a demonstration.
    pub(super) demonstration: Option<Demonstration>,
    pub(super) passwords: Semaphore,
    /// The test of reachability that runs.
    pub(super) reach: Mutex<ReachTest>,
    /// Links that were just made.
    fresh_links: Mutex<Vec<FreshLinks>>,
    /// What was done when somebody left the study.
    left: Mutex<Vec<Kept>>,
    /// What was last asked of backups.
    backup: Mutex<Option<BackupWork>>,
}

/// Whether a phone reached this machine.
#[derive(Default)]
pub(super) struct ReachTest {
    /// The token in the address that is shown.
    pub(super) token: Option<String>,
    /// Who opened it last, and when.
    pub(super) seen: Option<Seen>,
}

/// A phone that opened the test's address.
#[derive(Clone)]
pub(super) struct Seen {
    /// When.
    pub(super) at: Now,
    /// Whether the way was safe.
    pub(super) safe: bool,
    /// Whether it was this machine itself.
    pub(super) this_machine: bool,
}

impl Site {
    /// A server that has just begun.
    pub(super) fn new(reached: Arc<Reached>, demonstration: Option<Demonstration>) -> Self {
        Self {
            reached,
            demonstration,
            passwords: Semaphore::new(PASSWORDS_AT_ONCE),
            reach: Mutex::default(),
            fresh_links: Mutex::default(),
            left: Mutex::default(),
            backup: Mutex::default(),
        }
    }

    pub(super) fn fresh_links(&self) -> MutexGuard<'_, Vec<FreshLinks>> {
        self.fresh_links
            .lock()
            .unwrap_or_else(PoisonError::into_inner)
    }

    pub(super) fn left(&self) -> MutexGuard<'_, Vec<Kept>> {
        self.left.lock().unwrap_or_else(PoisonError::into_inner)
    }

    pub(super) fn backup(&self) -> MutexGuard<'_, Option<BackupWork>> {
        self.backup.lock().unwrap_or_else(PoisonError::into_inner)
    }

    pub(super) fn reach(&self) -> MutexGuard<'_, ReachTest> {
        self.reach.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

/// When the machine last slept: from, to.
static LAST_SLEEP: Mutex<Option<(Now, Now)>> = Mutex::new(None);

/// When the machine last slept while the server ran.
pub(super) fn last_sleep() -> Option<(Now, Now)> {
    *LAST_SLEEP.lock().unwrap_or_else(PoisonError::into_inner)
}

/// Looks again and again whether the machine slept: then the clock has gone on by more than the time waited. Never
/// ends.
pub async fn watch_for_sleep() {
    let mut before = Now::read();
    loop {
        tokio::time::sleep(LOOK).await;
        let now = Now::read();
        if slept(before, now) {
            tracing::warn!(
                minutes = (now.ms() - before.ms()) / 60_000,
                "this machine slept; links failed meanwhile"
            );
            *LAST_SLEEP.lock().unwrap_or_else(PoisonError::into_inner) = Some((before, now));
        }
        before = now;
    }
}

fn slept(before: Now, now: Now) -> bool {
    now.ms() - before.ms() > SLEPT_MS
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_gap_that_no_waiting_explains_is_sleep() {
        let then = Now::at_ms(1_000_000);
        assert!(!slept(then, Now::at_ms(1_000_000 + 21_000)));
        assert!(slept(then, Now::at_ms(1_000_000 + 600_000)));
    }
}
