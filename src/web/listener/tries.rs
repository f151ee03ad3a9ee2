//! Wrong tries, counted: whoever guesses must wait.

use std::collections::HashMap;
use std::collections::VecDeque;
use std::net::IpAddr;
use std::net::Ipv6Addr;
use std::sync::Mutex;
use std::sync::PoisonError;
use std::time::Duration;
use std::time::Instant;

use super::error::ListenerError;

/// How long a wrong try counts (ours).
const COUNTS_FOR: Duration = Duration::from_mins(1);

/// The most addresses that are remembered (ours): a bound on memory. Beyond it the table begins anew, and what is guessed is
/// long enough to bear that.
const ADDRESSES: usize = 10_000;

/// The wrong tries of each address, so that one who guesses keeps nobody else out. Behind a proxy that was not named all have its
/// address, and wait together.
pub(super) struct Tries {
    most: usize,
    wrong: Mutex<HashMap<IpAddr, VecDeque<Instant>>>,
}

impl Tries {
    /// At most so many wrong tries a minute.
    pub(super) fn at_most(most: usize) -> Self {
        Self {
            most,
            wrong: Mutex::new(HashMap::new()),
        }
    }

    /// Takes a try, which counts as wrong until [`Tries::was_right`] is told.
    ///
    /// # Errors
    /// [`ListenerError::TooManyTries`] where there is none left to take.
    pub(super) fn take(&self, from: IpAddr) -> Result<(), ListenerError> {
        if self.take_at(from, Instant::now()) {
            Ok(())
        } else {
            Err(ListenerError::TooManyTries)
        }
    }

    fn take_at(&self, from: IpAddr, now: Instant) -> bool {
        let mut wrong = self.wrong.lock().unwrap_or_else(PoisonError::into_inner);
        let counts = |then: &Instant| now.duration_since(*then) < COUNTS_FOR;
        if wrong.len() >= ADDRESSES {
            wrong.retain(|_, tries| tries.back().is_some_and(counts));
        }
        if wrong.len() >= ADDRESSES {
            wrong.clear();
        }
        let tries = wrong.entry(line_of(from)).or_default();
        tries.retain(counts);
        let left = tries.len() < self.most;
        if left {
            tries.push_back(now);
        }
        left
    }

    /// The last try from there was right: it does not count.
    pub(super) fn was_right(&self, from: IpAddr) {
        let mut wrong = self.wrong.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(tries) = wrong.get_mut(&line_of(from)) {
            tries.pop_back();
        }
    }
}

/// Of an IPv6 address the first half: one line has all of it.
fn line_of(from: IpAddr) -> IpAddr {
    match from {
        IpAddr::V4(_) => from,
        IpAddr::V6(address) => {
            let [a, b, c, d, ..] = address.segments();
            Ipv6Addr::new(a, b, c, d, 0, 0, 0, 0).into()
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn whoever_guesses_waits_and_neither_who_is_right_nor_anybody_else_does() {
        let tries = Tries::at_most(2);
        let now = Instant::now();
        let here = IpAddr::from([192, 0, 2, 7]);
        for _ in 0..10 {
            assert!(tries.take_at(here, now));
            tries.was_right(here);
        }
        assert!(tries.take_at(here, now) && tries.take_at(here, now));
        assert!(!tries.take_at(here, now));
        assert!(tries.take_at(IpAddr::from([192, 0, 2, 8]), now));
        assert!(tries.take_at(here, now + COUNTS_FOR));
    }

    #[test]
    fn all_addresses_of_one_line_count_together_and_the_table_stays_small() {
        let tries = Tries::at_most(1);
        let now = Instant::now();
        let line = |last| IpAddr::from([0x2001, 0xdb8, 0, 1, 0, 0, 0, last]);
        assert!(tries.take_at(line(1), now) && !tries.take_at(line(2), now));
        for n in 0..20_001_u32 {
            tries.take_at(IpAddr::from(n.to_be_bytes()), now);
        }
        assert!(tries.wrong.lock().unwrap().len() <= ADDRESSES);
    }
}
