//! Wrong tries, counted: whoever guesses must wait.

use std::collections::VecDeque;
use std::sync::Mutex;
use std::sync::PoisonError;
use std::time::Duration;
use std::time::Instant;

use super::error::ListenerError;

/// How long a wrong try counts (ours).
const COUNTS_FOR: Duration = Duration::from_mins(1);

/// The tries of everybody together: behind a proxy nobody can be told from another.
pub(super) struct Tries {
    most: usize,
    wrong: Mutex<VecDeque<Instant>>,
}

impl Tries {
    /// At most so many wrong tries a minute.
    pub(super) const fn at_most(most: usize) -> Self {
        Self {
            most,
            wrong: Mutex::new(VecDeque::new()),
        }
    }

    /// Takes a try, which counts as wrong until [`Tries::was_right`] is told.
    ///
    /// # Errors
    /// [`ListenerError::TooManyTries`] where there is none left to take.
    pub(super) fn take(&self) -> Result<(), ListenerError> {
        if self.take_at(Instant::now()) {
            Ok(())
        } else {
            Err(ListenerError::TooManyTries)
        }
    }

    fn take_at(&self, now: Instant) -> bool {
        let mut wrong = self.wrong.lock().unwrap_or_else(PoisonError::into_inner);
        while wrong
            .front()
            .is_some_and(|then| now.duration_since(*then) >= COUNTS_FOR)
        {
            wrong.pop_front();
        }
        let left = wrong.len() < self.most;
        if left {
            wrong.push_back(now);
        }
        left
    }

    /// The last try was right: it does not count.
    pub(super) fn was_right(&self) {
        let mut wrong = self.wrong.lock().unwrap_or_else(PoisonError::into_inner);
        wrong.pop_back();
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn whoever_guesses_waits_and_whoever_is_right_does_not() {
        let tries = Tries::at_most(2);
        let now = Instant::now();
        for _ in 0..10 {
            assert!(tries.take_at(now));
            tries.was_right();
        }
        assert!(tries.take_at(now) && tries.take_at(now));
        assert!(!tries.take_at(now));
        assert!(tries.take_at(now + COUNTS_FOR));
    }
}
