//! The one writer: a thread that owns the writing connection and groups what waits into one commit.

use std::panic::AssertUnwindSafe;
use std::panic::catch_unwind;
use std::path::Path;
use std::sync::mpsc;

use rusqlite::Connection;
use rusqlite::TransactionBehavior;

use super::StoreError;
use super::Writing;
use super::open;

/// The most jobs in one commit: enough to share a slow disk's sync, few enough to stay quick.
const MOST_IN_ONE_COMMIT: usize = 256;

/// What becomes of a job once its commit has gone through, or has failed.
type Acknowledge = Box<dyn FnOnce(Result<(), StoreError>) + Send>;

/// A job runs inside a savepoint of its own, or hears why it cannot; it says whether to keep what
/// it wrote.
type Job = Box<dyn FnOnce(Result<&Writing<'_>, StoreError>) -> (Keep, Acknowledge) + Send>;

enum Keep {
    Yes,
    No,
}

/// Sends jobs to the writing thread. The thread ends when the last sender is gone.
#[derive(Clone)]
pub(super) struct Writer {
    jobs: mpsc::SyncSender<Job>,
}

impl Writer {
    /// Opens the file for writing and starts the thread.
    pub(super) fn start(path: &Path) -> Result<Self, StoreError> {
        let connection = open::for_writing(path)?;
        let (jobs, waiting) = mpsc::sync_channel(1024);
        std::thread::Builder::new()
            .name("store-writer".to_owned())
            .spawn(move || serve(connection, &waiting))
            .map_err(|error| StoreError::Engine(error.to_string()))?;
        Ok(Self { jobs })
    }

    /// Runs a job and returns its answer once it is committed; an `Err` rolls the job back.
    pub(super) fn write<T, E>(
        &self,
        job: impl FnOnce(&Writing<'_>) -> Result<T, E> + Send + 'static,
    ) -> Result<T, E>
    where
        T: Send + 'static,
        E: From<StoreError> + Send + 'static,
    {
        let (answer, answered) = mpsc::sync_channel::<Result<T, E>>(1);
        let job: Job = Box::new(move |writing| {
            let outcome = writing.map_err(E::from).and_then(job);
            let keep = if outcome.is_ok() { Keep::Yes } else { Keep::No };
            let acknowledge: Acknowledge = Box::new(move |committed| {
                let said = committed.map_err(E::from).and(outcome);
                // Whoever asked may be gone; what was written stays written.
                let _ = answer.send(said);
            });
            (keep, acknowledge)
        });
        self.jobs
            .send(job)
            .map_err(|_| E::from(StoreError::Closing))?;
        answered.recv().map_err(|_| E::from(StoreError::Closing))?
    }
}

fn serve(mut connection: Connection, waiting: &mpsc::Receiver<Job>) {
    while let Ok(first) = waiting.recv() {
        let mut acknowledgements = Vec::new();
        let committed = group(&mut connection, first, waiting, &mut acknowledgements);
        for acknowledge in acknowledgements {
            acknowledge(committed.clone());
        }
    }
}

/// Runs the first job and all that wait behind it, then commits once.
fn group(
    connection: &mut Connection,
    first: Job,
    waiting: &mpsc::Receiver<Job>,
    acknowledgements: &mut Vec<Acknowledge>,
) -> Result<(), StoreError> {
    let mut transaction = match connection.transaction_with_behavior(TransactionBehavior::Immediate)
    {
        Ok(transaction) => transaction,
        Err(error) => {
            let error = StoreError::from(error);
            acknowledgements.push(first(Err(error.clone())).1);
            return Err(error);
        }
    };
    let mut next = Some(first);
    while let Some(job) = next {
        let savepoint = transaction.savepoint()?;
        // A job that panics is undone like one that fails; whoever asked hears that the channel of
        // its answer is gone, and the writer goes on for all others.
        let ran = catch_unwind(AssertUnwindSafe(|| job(Ok(&Writing::on(&savepoint)))));
        let keep = ran.map_or(Keep::No, |(keep, acknowledge)| {
            acknowledgements.push(acknowledge);
            keep
        });
        match keep {
            Keep::Yes => savepoint.commit()?,
            Keep::No => savepoint.finish()?,
        }
        next = if acknowledgements.len() < MOST_IN_ONE_COMMIT {
            waiting.try_recv().ok()
        } else {
            None
        };
    }
    Ok(transaction.commit()?)
}
