//! The store: SQLite, and the only SQL of the program. One file a study, one writer, any number of
//! readers; what is acknowledged is on the disk.

use std::cell::RefCell;
use std::path::Path;
use std::path::PathBuf;
use std::sync::Arc;

mod accounts;
mod answers;
mod assignments;
mod audit;
mod children;
mod consents;
mod drafts;
mod enrolments;
mod erasure;
mod error;
mod events;
mod exclusions;
mod gates;
mod ids;
mod judgements;
mod leaving;
mod links;
mod masked;
mod open;
mod plays;
mod presentations;
mod progress;
mod results;
mod rounds;
mod rows;
mod sign_ins;
mod sittings;
mod tokens;
mod writer;

pub use accounts::AccountChildRow;
pub use accounts::AccountRow;
pub use answers::KnownAnswerRow;
pub use answers::SingleJudgeRow;
pub use assignments::AssignedChildRow;
pub use assignments::AssignmentRow;
pub use audit::BarTrace;
pub use audit::EnrolmentTrace;
pub use audit::SittingTrace;
pub use children::ChildRow;
pub use children::SessionRow;
pub use consents::ConsentRow;
pub use consents::StoppedRow;
pub use enrolments::Enrolment;
pub use enrolments::NewEnrolment;
pub use enrolments::Step;
pub use erasure::CopyRow;
pub use error::StoreError;
pub use events::EventRow;
pub use events::EventsWanted;
pub use exclusions::ExclusionRow;
pub use gates::GateKind;
pub use gates::GateRow;
pub use ids::AccountId;
pub use ids::AssignmentId;
pub use ids::ChildId;
pub use ids::EnrolmentId;
pub use ids::ListenerId;
pub use ids::MaskedId;
pub use ids::OpenLinkId;
pub use ids::RoundId;
pub use ids::RoundTokenId;
pub use ids::SessionId;
pub use ids::SittingId;
pub use ids::TokenId;
pub use judgements::JudgementRow;
pub use leaving::HeardRow;
pub use leaving::WithdrawalTrace;
pub use links::NewOpenLink;
pub use links::OpenLinkRow;
pub use masked::MaskedGraphRow;
pub use masked::MaskedMarkRow;
pub use masked::MaskedRow;
pub use plays::PlayRow;
pub use presentations::NewPresentation;
pub use presentations::PresentationRow;
pub use presentations::PresentationState;
pub use progress::ListenerProgressRow;
pub use results::ResultRow;
pub use results::SaidRow;
pub use rounds::NewRoundToken;
pub use rounds::RoundBrief;
pub use rounds::RoundRow;
pub use rounds::RoundTokenRow;
pub use rounds::Standing;
pub use rows::Reading;
pub use rows::Writing;
pub use sign_ins::AccountLink;
pub use sign_ins::SessionOfAccount;
pub use sign_ins::Tries;
pub use sittings::SittingRow;
pub use tokens::MissingRow;
pub use tokens::NewToken;
pub use tokens::PreparedRow;
pub use tokens::TokenRow;

use writer::Writer;

/// The store of one study. Cheap to clone; the file closes when the last clone is gone.
#[derive(Clone)]
pub struct Store {
    path: Arc<PathBuf>,
    writer: Writer,
}

impl Store {
    /// Opens the file, makes it if it is not there, and brings it up to date.
    ///
    /// # Errors
    /// [`StoreError::Newer`] for a file of a newer program, which stays unharmed;
    /// [`StoreError::NotDurable`] where the engine cannot keep what it acknowledges.
    pub fn open(path: &Path) -> Result<Self, StoreError> {
        Ok(Self {
            path: Arc::new(path.to_owned()),
            writer: Writer::start(path)?,
        })
    }

    /// Runs a job that writes, and returns its answer once it is on the disk. An `Err` of the job
    /// leaves nothing of it behind. Blocks; in an asynchronous task call it from a blocking one.
    ///
    /// # Errors
    /// What the job says, or why the commit failed.
    pub fn write<T, E>(
        &self,
        job: impl FnOnce(&Writing<'_>) -> Result<T, E> + Send + 'static,
    ) -> Result<T, E>
    where
        T: Send + 'static,
        E: From<StoreError> + Send + 'static,
    {
        self.writer.write(job)
    }

    /// Reads in one consistent view of the file, on a connection that can only read.
    ///
    /// # Errors
    /// What the job says, or why the file cannot be read.
    pub fn read<T, E>(&self, job: impl FnOnce(&Reading<'_>) -> Result<T, E>) -> Result<T, E>
    where
        E: From<StoreError>,
    {
        thread_local! {
            static OPEN: RefCell<Option<(PathBuf, rusqlite::Connection)>> = const { RefCell::new(None) };
        }
        // Taken out while it is used, so that a read inside a read opens one of its own.
        let kept = OPEN.take().filter(|(path, _)| path == &*self.path);
        let connection = match kept {
            Some((_, connection)) => connection,
            None => open::for_reading(&self.path)?,
        };
        let outcome = read_once(&connection, job);
        OPEN.set(Some(((*self.path).clone(), connection)));
        outcome
    }
}

fn read_once<T, E>(
    connection: &rusqlite::Connection,
    job: impl FnOnce(&Reading<'_>) -> Result<T, E>,
) -> Result<T, E>
where
    E: From<StoreError>,
{
    let view = connection
        .unchecked_transaction()
        .map_err(StoreError::from)?;
    let outcome = job(&Reading::on(&view));
    view.finish().map_err(StoreError::from)?;
    outcome
}
