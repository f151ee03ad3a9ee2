//! Whoever guesses is held off: so many tries in so many minutes, counted by name and by address.

use std::net::IpAddr;
use std::net::Ipv6Addr;

use serde_json::json;

use crate::app::AppError;
use crate::app::Now;
use crate::app::log;
use crate::app::secret;
use crate::store::Tries;
use crate::store::Writing;

/// Tries are counted over this time (ours).
const WINDOW_MS: i64 = 15 * 60 * 1000;

/// The most tries in that time (ours): for a name from one address, for any name from one address, for a name from
/// anywhere. The last is the largest, so that nobody far away can keep the person herself out with a few tries.
const MOST: Tries = Tries {
    here: 5,
    address: 20,
    name: 50,
    told: false,
};

/// One try, counted before the password is looked at, so that tries at the same moment count too.
pub(super) struct Try {
    name_sha256: String,
    came_from: String,
}

impl Try {
    /// A try for a name from an address. Of an IPv6 address its first half counts: one line has all of it.
    pub(super) fn new(name: &str, from: IpAddr) -> Self {
        let came_from = match from {
            IpAddr::V4(address) => address.to_string(),
            IpAddr::V6(address) => {
                let [a, b, c, d, ..] = address.segments();
                Ipv6Addr::new(a, b, c, d, 0, 0, 0, 0).to_string()
            }
        };
        Self {
            name_sha256: secret::digest_of(&name.trim().to_lowercase()),
            came_from,
        }
    }

    /// Counts it; says whether it may go on. The first one that may not is told by the log.
    pub(super) fn count(
        &self,
        writing: &Writing<'_>,
        account: Option<&str>,
        now: Now,
    ) -> Result<bool, AppError> {
        let since_ms = now.ms() - WINDOW_MS;
        writing.forget_old_sign_in_tries(since_ms)?;
        let tries = writing.sign_in_tries(&self.name_sha256, &self.came_from, since_ms)?;
        let held =
            tries.here >= MOST.here || tries.address >= MOST.address || tries.name >= MOST.name;
        if !held {
            writing.note_sign_in_try(&self.name_sha256, &self.came_from, false, now.ms())?;
        } else if !tries.told {
            writing.note_sign_in_try(&self.name_sha256, &self.came_from, true, now.ms())?;
            let body = json!({ "account": account });
            log::append(writing, now, "sign-ins held off", &body)?;
        }
        Ok(!held)
    }

    /// Forgets the tries for this name from this address: the person knows the password.
    pub(super) fn forget(&self, writing: &Writing<'_>) -> Result<(), AppError> {
        Ok(writing.forget_sign_in_tries(&self.name_sha256, &self.came_from)?)
    }
}
