//! Imports that run while nobody waits for them: how far they have come, and how they ended.

use std::collections::HashMap;
use std::sync::Arc;
use std::sync::Mutex;
use std::sync::MutexGuard;
use std::sync::PoisonError;
use std::sync::atomic::AtomicUsize;
use std::sync::atomic::Ordering;

use crate::app::AppError;
use crate::app::Imported;
use crate::app::Now;
use crate::app::Workspace;
use crate::app::staging;
use crate::app::staging::StagingId;
use crate::study::Problem;

/// The imports of this process. One that ends with the process has left nothing behind: it is begun again.
#[derive(Clone, Default)]
pub(in crate::web::desk) struct Jobs(Arc<Mutex<HashMap<StagingId, Arc<Job>>>>);

/// One import.
#[derive(Default)]
pub(super) struct Job {
    done: AtomicUsize,
    of: AtomicUsize,
    end: Mutex<Option<End>>,
}

/// How an import ended.
#[derive(Debug, Clone)]
pub(super) enum End {
    /// All of it was imported.
    Imported(Imported),
    /// Nothing was, because of these.
    Wrong(Vec<Problem>),
    /// Nothing was, because of what this sentence says.
    Refused(String),
    /// Nothing was, and it is our fault.
    Failed,
}

impl Job {
    /// How it ended, once it has.
    pub(super) fn end(&self) -> Option<End> {
        held(&self.end).clone()
    }

    /// So many of so many recordings are prepared.
    pub(super) fn progress(&self) -> (usize, usize) {
        (
            self.done.load(Ordering::Relaxed),
            self.of.load(Ordering::Relaxed),
        )
    }

    fn run(&self, workspace: &Workspace, id: &StagingId) {
        let told = |done, of| {
            self.done.fetch_max(done, Ordering::Relaxed);
            self.of.store(of, Ordering::Relaxed);
        };
        let end = match staging::run(workspace, id, Now::read(), &told) {
            Ok(imported) => End::Imported(imported),
            Err(AppError::Input(problems)) => End::Wrong(problems.iter().cloned().collect()),
            Err(error) if error.is_the_askers() => End::Refused(error.to_string()),
            Err(error) => {
                tracing::error!(?error, "an import failed");
                End::Failed
            }
        };
        *held(&self.end) = Some(end);
    }
}

impl Jobs {
    /// Begins an import, unless it runs already.
    pub(super) fn start(&self, workspace: &Workspace, id: &StagingId) {
        let mut jobs = held(&self.0);
        if jobs.get(id).is_some_and(|job| job.end().is_none()) {
            return;
        }
        let job = Arc::new(Job::default());
        jobs.insert(id.clone(), job.clone());
        let (workspace, id) = (workspace.clone(), id.clone());
        tokio::task::spawn_blocking(move || {
            // A job that panics must not look as if it ran for ever.
            let ran = std::panic::catch_unwind(std::panic::AssertUnwindSafe(|| {
                job.run(&workspace, &id);
            }));
            if ran.is_err() {
                *held(&job.end) = Some(End::Failed);
            }
        });
    }

    /// The import's last run, if this process has seen one.
    pub(super) fn of(&self, id: &StagingId) -> Option<Arc<Job>> {
        held(&self.0).get(id).cloned()
    }

    /// Whether it runs now.
    pub(super) fn running(&self, id: &StagingId) -> bool {
        self.of(id).is_some_and(|job| job.end().is_none())
    }

    /// What the last run found wrong, of what was not mended since.
    pub(super) fn problems(&self, id: &StagingId) -> Vec<Problem> {
        match self.of(id).and_then(|job| job.end()) {
            Some(End::Wrong(problems)) => problems,
            _ => Vec::new(),
        }
    }

    /// Forgets what was wrong with a row that was mended since.
    pub(super) fn mended(&self, id: &StagingId, line: u64) {
        if let Some(job) = self.of(id)
            && let Some(End::Wrong(problems)) = held(&job.end).as_mut()
        {
            problems.retain(|problem| problem.line() != Some(line));
        }
    }

    /// Forgets the last run: its manifest is another now.
    pub(super) fn forget(&self, id: &StagingId) {
        if !self.running(id) {
            held(&self.0).remove(id);
        }
    }
}

fn held<T>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}
