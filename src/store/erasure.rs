//! Erasing: rows go with all that hangs on them; what is left to do outlives a kill.

use super::ChildId;
use super::ListenerId;
use super::Reading;
use super::Store;
use super::StoreError;
use super::TokenId;
use super::Writing;
use super::rows::column;
use crate::study::ChildCode;

/// An export, a report or a backup that left the store.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CopyRow {
    /// `export`, `report` or `backup`.
    pub kind: String,
    /// Where it was put.
    pub place: String,
    /// When.
    pub made_ms: i64,
}

impl Reading<'_> {
    /// What the log tells of and was erased on purpose, in order.
    ///
    /// # Errors
    /// [`StoreError`] if the rows cannot be read.
    pub fn gone(&self) -> Result<Vec<String>, StoreError> {
        self.all("SELECT item FROM gone ORDER BY item", &[], |row| {
            column(row, "item")
        })
    }

    /// The copies that left the store, oldest first.
    ///
    /// # Errors
    /// [`StoreError`] if the rows cannot be read.
    pub fn copies(&self) -> Result<Vec<CopyRow>, StoreError> {
        self.all(
            "SELECT kind, place, made_ms FROM copy ORDER BY id",
            &[],
            |row| {
                Ok(CopyRow {
                    kind: column(row, "kind")?,
                    place: column(row, "place")?,
                    made_ms: column(row, "made_ms")?,
                })
            },
        )
    }

    /// What an erasure that was begun still has to do.
    ///
    /// # Errors
    /// [`StoreError`] if the rows cannot be read.
    pub fn unfinished_erasure(&self) -> Result<Vec<String>, StoreError> {
        self.all(
            "SELECT path FROM unfinished_erasure ORDER BY path",
            &[],
            |row| column(row, "path"),
        )
    }

    /// The listener with that code.
    ///
    /// # Errors
    /// [`StoreError`] if the row cannot be read.
    pub fn listener_with(&self, code: &str) -> Result<Option<ListenerId>, StoreError> {
        self.first(
            "SELECT id FROM listener WHERE code = :code",
            &[(":code", &code)],
            |row| column(row, "id"),
        )
    }
}

impl Writing<'_> {
    /// Notes that a copy left the store.
    ///
    /// # Errors
    /// [`StoreError`] if the row cannot be written.
    pub fn add_copy(&self, copy: &CopyRow) -> Result<(), StoreError> {
        self.run(
            "INSERT INTO copy (kind, place, made_ms) VALUES (:kind, :place, :made)",
            &[
                (":kind", &copy.kind),
                (":place", &copy.place),
                (":made", &copy.made_ms),
            ],
        )?;
        Ok(())
    }

    /// Erases tokens with what was made of them, their places in rounds and all judgements.
    ///
    /// # Errors
    /// [`StoreError`] if a row cannot be removed.
    pub fn erase_tokens(&self, tokens: &[TokenId]) -> Result<(), StoreError> {
        for token in tokens {
            self.run("DELETE FROM token WHERE id = :id", &[(":id", token)])?;
        }
        Ok(())
    }

    /// Erases who stands behind a number in everything that was drawn; the draws stay.
    ///
    /// # Errors
    /// [`StoreError`] if a row cannot be removed.
    pub fn erase_assigned(&self, code: &ChildCode) -> Result<(), StoreError> {
        self.run(
            "DELETE FROM assigned_child WHERE code = :code",
            &[(":code", &code.as_str())],
        )?;
        Ok(())
    }

    /// Erases a child with sessions, consents and bars.
    ///
    /// # Errors
    /// [`StoreError`] if a row cannot be removed.
    pub fn erase_child(&self, child: ChildId) -> Result<(), StoreError> {
        self.run("DELETE FROM child WHERE id = :id", &[(":id", &child)])?;
        Ok(())
    }

    /// Erases a listener with her enrolments, sittings and judgements.
    ///
    /// # Errors
    /// [`StoreError`] if a row cannot be removed.
    pub fn erase_listener(&self, listener: ListenerId) -> Result<(), StoreError> {
        self.run("DELETE FROM listener WHERE id = :id", &[(":id", &listener)])?;
        Ok(())
    }

    /// Adds to the list of what is gone.
    ///
    /// # Errors
    /// [`StoreError`] if a row cannot be written.
    pub fn add_gone(&self, items: &[String]) -> Result<(), StoreError> {
        for item in items {
            self.run("INSERT INTO gone (item) VALUES (:item)", &[(":item", item)])?;
        }
        Ok(())
    }

    /// Notes what an erasure still has to do, in the place of what was noted before.
    ///
    /// # Errors
    /// [`StoreError`] if a row cannot be written.
    pub fn set_unfinished_erasure(&self, paths: &[String]) -> Result<(), StoreError> {
        self.run("DELETE FROM unfinished_erasure", &[])?;
        for path in paths {
            self.run(
                "INSERT INTO unfinished_erasure (path) VALUES (:path)",
                &[(":path", path)],
            )?;
        }
        Ok(())
    }
}

impl Store {
    /// Writes the whole file anew without what was erased, and empties the write-ahead log. Blocks,
    /// and waits for readers.
    ///
    /// # Errors
    /// [`StoreError::Unwritable`] where there is no room, or where a reader never lets go.
    pub fn scrub(&self) -> Result<(), StoreError> {
        let connection = super::open::for_scrubbing(&self.path)?;
        connection.execute_batch("VACUUM")?;
        let busy: i64 =
            connection.query_row("PRAGMA wal_checkpoint(TRUNCATE)", [], |row| row.get("busy"))?;
        if busy == 0 {
            Ok(())
        } else {
            Err(StoreError::Unwritable(
                "another program reads it without end".to_owned(),
            ))
        }
    }

    /// Writes a consistent copy of the file, however much is being written meanwhile.
    ///
    /// # Errors
    /// [`StoreError`] if the copy cannot be written.
    pub fn copy_to(&self, path: &std::path::Path) -> Result<(), StoreError> {
        let connection = super::open::for_reading(&self.path)?;
        let path = path.to_string_lossy();
        connection.execute("VACUUM INTO ?1", [&*path])?;
        Ok(())
    }
}
