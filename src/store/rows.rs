//! The two ways to touch rows: reading, and writing inside a transaction.

use std::ops::Deref;

use rusqlite::Connection;
use rusqlite::Row;
use rusqlite::types::FromSql;

use super::StoreError;

/// Rows can be read. Every `select` of the store is a method of this type, in the file of its table.
pub struct Reading<'c> {
    pub(super) connection: &'c Connection,
}

/// Rows can be written too, inside a transaction that is committed as a whole or not at all.
pub struct Writing<'c> {
    reading: Reading<'c>,
}

impl<'c> Reading<'c> {
    pub(super) const fn on(connection: &'c Connection) -> Self {
        Self { connection }
    }

    /// All rows of a statement, each through `from_row`.
    pub(super) fn all<T>(
        &self,
        sql: &str,
        parameters: &[(&str, &dyn rusqlite::ToSql)],
        from_row: impl Fn(&Row<'_>) -> Result<T, StoreError>,
    ) -> Result<Vec<T>, StoreError> {
        let mut statement = self.connection.prepare_cached(sql)?;
        let mut rows = statement.query(parameters)?;
        let mut found = Vec::new();
        while let Some(row) = rows.next()? {
            found.push(from_row(row)?);
        }
        Ok(found)
    }

    /// The first row of a statement, if there is one.
    pub(super) fn first<T>(
        &self,
        sql: &str,
        parameters: &[(&str, &dyn rusqlite::ToSql)],
        from_row: impl Fn(&Row<'_>) -> Result<T, StoreError>,
    ) -> Result<Option<T>, StoreError> {
        let mut statement = self.connection.prepare_cached(sql)?;
        let mut rows = statement.query(parameters)?;
        rows.next()?.map(from_row).transpose()
    }
}

impl<'c> Writing<'c> {
    pub(super) const fn on(connection: &'c Connection) -> Self {
        Self {
            reading: Reading::on(connection),
        }
    }

    /// Runs a statement and says how many rows it touched.
    pub(super) fn run(
        &self,
        sql: &str,
        parameters: &[(&str, &dyn rusqlite::ToSql)],
    ) -> Result<usize, StoreError> {
        Ok(self.connection.prepare_cached(sql)?.execute(parameters)?)
    }

    /// Inserts a row and gives its new id.
    pub(super) fn insert(
        &self,
        sql: &str,
        parameters: &[(&str, &dyn rusqlite::ToSql)],
    ) -> Result<i64, StoreError> {
        self.run(sql, parameters)?;
        Ok(self.connection.last_insert_rowid())
    }
}

impl<'c> Deref for Writing<'c> {
    type Target = Reading<'c>;
    fn deref(&self) -> &Reading<'c> {
        &self.reading
    }
}

/// One column, as the store's own types give it.
pub(super) fn column<T: FromSql>(row: &Row<'_>, name: &str) -> Result<T, StoreError> {
    Ok(row.get(name)?)
}

/// A text column that goes through the checking constructor of a value.
pub(super) fn parsed<T>(row: &Row<'_>, table: &'static str, name: &str) -> Result<T, StoreError>
where
    T: std::str::FromStr,
    T::Err: std::fmt::Display,
{
    let raw: String = row.get(name)?;
    raw.parse()
        .map_err(|error: T::Err| unreadable(table, name, &error))
}

/// The same for a column that may be empty.
pub(super) fn parsed_if_any<T>(
    row: &Row<'_>,
    table: &'static str,
    name: &str,
) -> Result<Option<T>, StoreError>
where
    T: std::str::FromStr,
    T::Err: std::fmt::Display,
{
    let raw: Option<String> = row.get(name)?;
    raw.map(|raw| {
        raw.parse()
            .map_err(|error: T::Err| unreadable(table, name, &error))
    })
    .transpose()
}

pub(super) fn unreadable(
    table: &'static str,
    name: &str,
    error: &dyn std::fmt::Display,
) -> StoreError {
    StoreError::Unreadable {
        table,
        what: format!("column `{name}`: {error}"),
    }
}
