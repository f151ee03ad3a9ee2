//! Opening a study's file: settings read back, migrations, refusal of a newer file.

use std::path::Path;

use rusqlite::Connection;
use rusqlite::OpenFlags;
use rusqlite::TransactionBehavior;

use super::StoreError;

/// The migrations in their order; one is never edited once released.
pub(super) const MIGRATIONS: &[&str] = &[
    include_str!("migrations/0001_study.sql"),
    include_str!("migrations/0002_assignment.sql"),
    include_str!("migrations/0003_links.sql"),
    include_str!("migrations/0004_course.sql"),
    include_str!("migrations/0005_accounts.sql"),
    include_str!("migrations/0006_records.sql"),
    include_str!("migrations/0007_round_draft.sql"),
    include_str!("migrations/0008_plays.sql"),
    include_str!("migrations/0009_masked.sql"),
    include_str!("migrations/0010_shared_page.sql"),
    include_str!("migrations/0011_sound_checks.sql"),
    include_str!("migrations/0012_numbers.sql"),
    include_str!("migrations/0013_words_of_sitting.sql"),
];

/// Statements that a connection keeps prepared: more than there are.
const STATEMENTS: usize = 512;

/// Opens the one writing connection, makes the file if it is not there, and brings it up to date.
pub(super) fn for_writing(path: &Path) -> Result<Connection, StoreError> {
    let mut connection = Connection::open(path)?;
    refuse_newer(&connection)?;
    settle(&connection)?;
    migrate(&mut connection, MIGRATIONS)?;
    connection.set_prepared_statement_cache_capacity(STATEMENTS);
    Ok(connection)
}

/// Opens a connection that writes the file anew; nothing of it is put in a temporary file.
pub(super) fn for_scrubbing(path: &Path) -> Result<Connection, StoreError> {
    let connection = Connection::open(path)?;
    settle(&connection)?;
    connection.pragma_update(None, "temp_store", "MEMORY")?;
    Ok(connection)
}

/// Opens a connection that can only read.
pub(super) fn for_reading(path: &Path) -> Result<Connection, StoreError> {
    let flags = OpenFlags::SQLITE_OPEN_READ_ONLY | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    let connection = Connection::open_with_flags(path, flags)?;
    connection.busy_timeout(std::time::Duration::from_secs(10))?;
    connection.pragma_update(None, "foreign_keys", true)?;
    connection.set_prepared_statement_cache_capacity(STATEMENTS);
    Ok(connection)
}

/// Runs every migration that the file has not seen, all in one transaction.
pub(super) fn migrate(connection: &mut Connection, all: &[&str]) -> Result<(), StoreError> {
    let transaction = connection.transaction_with_behavior(TransactionBehavior::Immediate)?;
    let seen: i64 = transaction.pragma_query_value(None, "user_version", |row| row.get(0))?;
    let seen = usize::try_from(seen).unwrap_or(0);
    for migration in all.iter().skip(seen) {
        transaction.execute_batch(migration)?;
    }
    transaction.pragma_update(None, "user_version", all.len().max(seen).to_string())?;
    transaction.commit()?;
    Ok(())
}

fn refuse_newer(connection: &Connection) -> Result<(), StoreError> {
    let found: i64 = connection.pragma_query_value(None, "user_version", |row| row.get(0))?;
    let known = i64::try_from(MIGRATIONS.len()).unwrap_or(i64::MAX);
    if found > known {
        Err(StoreError::Newer { found, known })
    } else {
        Ok(())
    }
}

/// Sets what durability rests on, and reads each setting back.
fn settle(connection: &Connection) -> Result<(), StoreError> {
    connection.busy_timeout(std::time::Duration::from_secs(10))?;
    for (pragma, value, wanted) in [
        ("journal_mode", "WAL", "wal"),
        ("synchronous", "FULL", "2"),
        ("foreign_keys", "ON", "1"),
        ("secure_delete", "ON", "1"),
    ] {
        connection
            .pragma_update_and_check(None, pragma, value, |_| Ok(()))
            .or_else(|error| {
                // A setting that answers with no row has been taken all the same.
                if matches!(error, rusqlite::Error::QueryReturnedNoRows) {
                    Ok(())
                } else {
                    Err(error)
                }
            })?;
        let found: rusqlite::types::Value =
            connection.pragma_query_value(None, pragma, |row| row.get(0))?;
        let found = match found {
            rusqlite::types::Value::Text(text) => text,
            rusqlite::types::Value::Integer(number) => number.to_string(),
            other => format!("{other:?}"),
        };
        if found != wanted {
            return Err(StoreError::NotDurable {
                pragma,
                found,
                wanted,
            });
        }
    }
    Ok(())
}
