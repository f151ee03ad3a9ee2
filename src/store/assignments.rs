//! What was drawn before treatment, and who stands behind the numbers.

use super::Reading;
use super::StoreError;
use super::Writing;
use super::ids::AssignmentId;
use super::rows::column;
use super::rows::parsed;
use crate::seal::Salt;
use crate::study::ChildCode;

/// An assignment that was drawn and sealed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct AssignmentRow {
    /// The row.
    pub id: AssignmentId,
    /// Counted from 1; each further one was drawn again.
    pub number: u32,
    /// When it was drawn.
    pub drawn_ms: i64,
    /// The plan as JSON, children by number.
    pub plan: String,
    /// What was drawn as JSON: small numbers, a list for each part of the draw.
    pub drawn: String,
    /// The sealed document, canonical JSON.
    pub document: String,
    /// The seal: SHA-256 of the document, in hex.
    pub seal: String,
    /// What the draw came from.
    pub seed: [u8; 32],
    /// The salt of what the document only commits to.
    pub salt: Salt,
    /// Why it was drawn again; nothing for the first.
    pub why: Option<String>,
}

/// A child of an assignment.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct AssignedChildRow {
    /// Its number in the document.
    pub number: u32,
    /// The code.
    pub code: ChildCode,
    /// The age in months.
    pub age_months: Option<u32>,
    /// How severe.
    pub severity: Option<String>,
    /// The salt of its commitment.
    pub salt: Salt,
}

impl Reading<'_> {
    /// All assignments, oldest first.
    ///
    /// # Errors
    /// [`StoreError`] if the rows cannot be read.
    pub fn assignments(&self) -> Result<Vec<AssignmentRow>, StoreError> {
        self.all(
            "SELECT id, number, drawn_ms, plan, drawn, document, seal, seed, salt, why
             FROM assignment ORDER BY number",
            &[],
            |row| {
                Ok(AssignmentRow {
                    id: column(row, "id")?,
                    number: column(row, "number")?,
                    drawn_ms: column(row, "drawn_ms")?,
                    plan: column(row, "plan")?,
                    drawn: column(row, "drawn")?,
                    document: column(row, "document")?,
                    seal: column(row, "seal")?,
                    seed: column(row, "seed")?,
                    salt: Salt::new(column(row, "salt")?),
                    why: column(row, "why")?,
                })
            },
        )
    }

    /// The children of an assignment, in the order of their numbers.
    ///
    /// # Errors
    /// [`StoreError`] if the rows cannot be read.
    pub fn assigned_children(&self, id: AssignmentId) -> Result<Vec<AssignedChildRow>, StoreError> {
        self.all(
            "SELECT number, code, age_months, severity, salt FROM assigned_child
             WHERE assignment_id = :assignment ORDER BY number",
            &[(":assignment", &id)],
            |row| {
                Ok(AssignedChildRow {
                    number: column(row, "number")?,
                    code: parsed(row, "assigned_child", "code")?,
                    age_months: column(row, "age_months")?,
                    severity: column(row, "severity")?,
                    salt: Salt::new(column(row, "salt")?),
                })
            },
        )
    }
}

impl Writing<'_> {
    /// Adds an assignment with its children; the id in `row` is not looked at.
    ///
    /// # Errors
    /// [`StoreError`] if the number is taken or a row cannot be written.
    pub fn add_assignment(
        &self,
        row: &AssignmentRow,
        children: &[AssignedChildRow],
    ) -> Result<(), StoreError> {
        let id = self.insert(
            "INSERT INTO assignment (number, drawn_ms, plan, drawn, document, seal, seed, salt, why)
             VALUES (:number, :drawn_ms, :plan, :drawn, :document, :seal, :seed, :salt, :why)",
            &[
                (":number", &row.number),
                (":drawn_ms", &row.drawn_ms),
                (":plan", &row.plan),
                (":drawn", &row.drawn),
                (":document", &row.document),
                (":seal", &row.seal),
                (":seed", &row.seed),
                (":salt", row.salt.as_bytes()),
                (":why", &row.why),
            ],
        )?;
        for child in children {
            self.run(
                "INSERT INTO assigned_child (assignment_id, number, code, age_months, severity, salt)
                 VALUES (:assignment, :number, :code, :age, :severity, :salt)",
                &[
                    (":assignment", &id),
                    (":number", &child.number),
                    (":code", &child.code.as_str()),
                    (":age", &child.age_months),
                    (":severity", &child.severity),
                    (":salt", child.salt.as_bytes()),
                ],
            )?;
        }
        Ok(())
    }
}
