//! `verify`: whatever is changed in what was sealed or logged, or in a sound, is found and named.

use std::collections::BTreeMap;
use std::collections::BTreeSet;
use std::path::Path;

use fairhearing::app;
use fairhearing::app::Workspace;
use rusqlite::Connection;
use rusqlite::types::Value;

use crate::lived_in::lived_in;
use crate::support::Labels;
use crate::support::Study;

/// Columns that no seal and no event covers, each with its reason.
const NOT_COVERED: &[(&str, &str)] = &[
    (
        "child.label",
        "a note for the desk alone, of which the log hears nothing",
    ),
    (
        "consent.id",
        "the order in which a child's consents were noted; a test of its own holds it",
    ),
    ("known_answer.id", "a bare number of the file"),
    (
        "copy.id",
        "a bare number of the file; only the order counts",
    ),
    (
        "copy.place",
        "where a copy was put; the log tells only that it was made",
    ),
    (
        "token.id",
        "a bare number of the file; another one leads to no or another token",
    ),
    (
        "sitting.last_ms",
        "a note of when it was last heard of; the judgements carry their own times",
    ),
    (
        "sitting.words",
        "how many words its listener is shown to come; nothing is computed from it",
    ),
    ("judgement.id", "the order of writing; the log holds it"),
    (
        "missing.reason",
        "said of a word without a recording; how many there are is logged",
    ),
    ("missing.word", "as above"),
    ("missing.treated", "as above"),
    ("missing.attempt", "as above"),
    ("missing.session_id", "as above"),
    ("missing.id", "a bare number of the file"),
    ("gate.id", "a bare number of the file"),
    ("shared_page.id", "a bare number of the file"),
    (
        "open_link.id",
        "a bare number of the file; a link by which nobody came hangs on nothing",
    ),
    ("assigned_child.id", "a bare number of the file"),
    ("study.id", "always 1"),
    ("sound_check.id", "a bare number of the file"),
    (
        "sound_check.visit",
        "the cookie of a browser, which is not part of the record",
    ),
    (
        "account.id",
        "a bare number of the file; an account without children hangs on nothing",
    ),
];

/// Tables that hold nothing sealed or logged.
const TABLES_NOT_COVERED: &[(&str, &str)] = &[
    (
        "visit",
        "the cookies of browsers; who holds one is not part of the record",
    ),
    (
        "play",
        "how often a word was played; the judgements, which are covered, tell it",
    ),
    ("account_link", "one-time addresses that are not used yet"),
    (
        "account_session",
        "the cookies of browsers; who signed in is logged",
    ),
    ("sign_in_try", "notes of some minutes, against guessing"),
    (
        "unfinished_erasure",
        "what is still to be done; empty when nothing is",
    ),
];

fn findings(workspace: &Workspace) -> Vec<String> {
    app::verify(workspace, &[]).unwrap().findings
}

/// The file of the store without what guards it.
fn unguarded(study: &Study) -> Connection {
    let file = Connection::open(study.database()).unwrap();
    file.execute_batch(
        "DROP TRIGGER event_is_never_changed; DROP TRIGGER event_is_never_removed;
         PRAGMA foreign_keys = OFF; PRAGMA ignore_check_constraints = ON;",
    )
    .unwrap();
    file
}

fn columns(file: &Connection) -> Vec<(String, String)> {
    let sql = "SELECT tables.name, columns.name FROM pragma_table_list AS tables
               JOIN pragma_table_info(tables.name) AS columns
               WHERE tables.schema = 'main' AND tables.type = 'table'
                 AND tables.name NOT LIKE 'sqlite%'
               ORDER BY tables.name, columns.cid";
    let mut statement = file.prepare(sql).unwrap();
    let rows = statement
        .query_map([], |row| Ok((row.get(0)?, row.get(1)?)))
        .unwrap();
    rows.map(Result::unwrap).collect()
}

/// Every row's name and value of a column: of a table without row numbers by its first column.
fn cells(file: &Connection, table: &str, column: &str) -> Vec<(Value, Value)> {
    let key = key_of(table);
    let mut statement = file
        .prepare(&format!("SELECT {key}, {column} FROM {table}"))
        .unwrap();
    let rows = statement
        .query_map([], |row| Ok((row.get(0)?, row.get(1)?)))
        .unwrap();
    rows.map(Result::unwrap).collect()
}

fn key_of(table: &str) -> &'static str {
    match table {
        "presentation" => "id",
        "bar" => "listener_id",
        "account_child" => "account_id",
        "visit" => "cookie_sha256",
        "gone" => "item",
        "unfinished_erasure" => "path",
        _ => "rowid",
    }
}

/// The value with its last bit, byte or sign changed; something where there was nothing.
fn changed(value: &Value) -> Value {
    match value {
        Value::Null => Value::Integer(1),
        Value::Integer(number) => Value::Integer(number ^ 1),
        Value::Real(number) => Value::Real(f64::from_bits(number.to_bits() ^ 1)),
        Value::Blob(bytes) => {
            let mut bytes = bytes.clone();
            *bytes.last_mut().unwrap() ^= 1;
            Value::Blob(bytes)
        }
        Value::Text(text) => {
            let mut text = text.clone();
            let last = text.pop().unwrap_or('a');
            text.push(char::from(u8::try_from(last).unwrap_or(b'a') ^ 1));
            Value::Text(text)
        }
    }
}

#[test]
fn a_study_that_was_lived_in_is_as_it_was_written() {
    let study = lived_in();
    let verified = app::verify(&study.workspace, &[]).unwrap();
    assert_eq!(verified.findings, Vec::<String>::new());
    assert_eq!(verified.judgements, study.judgements().len());
    assert_eq!(verified.rounds, 1);
}

#[test]
fn one_changed_value_in_any_sealed_or_logged_column_is_found() {
    let study = lived_in();
    let file = unguarded(&study);
    let excused: BTreeSet<_> = NOT_COVERED.iter().map(|(column, _)| *column).collect();
    let excused_tables: BTreeSet<_> = TABLES_NOT_COVERED.iter().map(|(table, _)| *table).collect();
    let mut unfound = BTreeMap::new();
    for (table, column) in columns(&file) {
        let named = format!("{table}.{column}");
        if excused.contains(named.as_str()) || excused_tables.contains(table.as_str()) {
            continue;
        }
        let cells = cells(&file, &table, &column);
        let step = cells.len().div_ceil(3).max(1);
        for (key, value) in cells.into_iter().step_by(step) {
            let sql = format!(
                "UPDATE {table} SET {column} = ?1 WHERE {} = ?2",
                key_of(&table)
            );
            let own_key = column == key_of(&table)
                || (key_of(&table) == "rowid" && is_rowid(&table, &column));
            let changed = changed(&value);
            let after = if own_key {
                changed.clone()
            } else {
                key.clone()
            };
            // A value that the type or a unique index refuses cannot be smuggled in.
            if file.execute(&sql, (&changed, &key)).is_err() {
                continue;
            }
            if findings(&study.workspace).is_empty() {
                unfound.insert(named.clone(), format!("{value:?} to {changed:?}"));
            }
            file.execute(&sql, (&value, &after)).unwrap();
        }
    }
    assert_eq!(unfound, BTreeMap::new());
    assert_eq!(
        findings(&study.workspace),
        Vec::<String>::new(),
        "all was put back"
    );
}

fn is_rowid(table: &str, column: &str) -> bool {
    column == "id"
        || (table == "event" && column == "seq")
        || (["prepared", "single_judge"].contains(&table) && column == "token_id")
}

#[test]
fn a_row_that_was_removed_is_found() {
    let study = lived_in();
    let receipt = app::verify(&study.workspace, &[]).unwrap().receipt;
    let file = unguarded(&study);
    for table in [
        "study",
        "child",
        "session",
        "token",
        "prepared",
        "missing",
        "round",
        "round_token",
        "listener",
        "bar",
        "open_link",
        "enrolment",
        "sitting",
        "presentation",
        "judgement",
        "sound_check",
        "account",
        "gate",
        "consent",
        "known_answer",
        "single_judge",
        "copy",
        "gone",
        "event",
        "assignment",
        "assigned_child",
        "shared_page",
    ] {
        for order in ["ASC", "DESC"] {
            let key = key_of(table);
            let wanted =
                format!("WHERE {key} = (SELECT {key} FROM {table} ORDER BY 1 {order} LIMIT 1)");
            let rows = rows(&file, table, &wanted);
            file.execute(&format!("DELETE FROM {table} {wanted}"), [])
                .unwrap();
            let found = app::verify(&study.workspace, std::slice::from_ref(&receipt)).unwrap();
            assert!(
                !found.findings.is_empty() || table == "missing",
                "{table} {order}"
            );
            for row in rows {
                insert(&file, table, row);
            }
        }
    }
    assert_eq!(findings(&study.workspace), Vec::<String>::new());
}

#[test]
fn a_row_that_was_added_is_found() {
    let study = lived_in();
    let file = unguarded(&study);
    for (table, fresh) in [
        ("child", &["id", "code"] as &[&str]),
        ("token", &["id", "samples_sha256"]),
        ("round", &["id", "name"]),
        ("listener", &["id", "code"]),
        ("open_link", &["id", "number", "link_sha256"]),
        ("sitting", &["id", "number"]),
        ("presentation", &["id", "place"]),
        ("judgement", &["id", "revision"]),
        ("sound_check", &["id", "number"]),
        ("account", &["id", "code", "name"]),
        ("consent", &["id"]),
        ("known_answer", &["id", "judge"]),
        ("copy", &["id"]),
        ("gone", &["item"]),
        ("event", &["seq"]),
        ("assignment", &["id", "number"]),
        ("assigned_child", &["id", "number", "code"]),
        ("shared_page", &["id", "secret_sha256"]),
    ] {
        let columns: Vec<_> = columns(&file)
            .into_iter()
            .filter(|(t, _)| t == table)
            .collect();
        let last = format!("ORDER BY {} DESC LIMIT 1", key_of(table));
        let mut row = rows(&file, table, &last).remove(0);
        for (place, _) in columns
            .iter()
            .enumerate()
            .filter(|(_, (_, c))| fresh.contains(&c.as_str()))
        {
            row[place] = match &row[place] {
                Value::Integer(number) => Value::Integer(number + 1_000),
                Value::Text(text) => Value::Text(format!("{text}x")),
                other => changed(other),
            };
        }
        let key = row[0].clone();
        insert(&file, table, row);
        // A child without sessions takes no part in anything.
        assert!(
            !findings(&study.workspace).is_empty() || table == "child",
            "{table}"
        );
        let first = &columns[0].1;
        file.execute(&format!("DELETE FROM {table} WHERE {first} = ?1"), [key])
            .unwrap();
    }
    assert_eq!(findings(&study.workspace), Vec::<String>::new());
}

#[test]
fn a_shortened_log_is_found_by_a_later_receipt_alone() {
    let study = Study::with().sealed();
    let sheet = study.round.as_ref().unwrap().receipt.clone();
    let mut listener = study.listener(0);
    listener.begin();
    let later = app::verify(&study.workspace, std::slice::from_ref(&sheet)).unwrap();
    assert_eq!(later.findings, Vec::<String>::new());
    let file = unguarded(&study);
    // Whoever shortens the log takes care to remove what it told as well.
    file.execute_batch(
        "DELETE FROM event WHERE seq > 5; DELETE FROM presentation; DELETE FROM sitting;
         UPDATE enrolment SET opened_ms = NULL, consented_ms = NULL, consent_version = NULL,
                instructed_ms = NULL;
         DELETE FROM sound_check;
         UPDATE round SET last_stream = 0;",
    )
    .unwrap();
    assert_eq!(study.events().last().unwrap().kind, "link opened");
    file.execute_batch("DELETE FROM event WHERE seq > 4")
        .unwrap();
    assert_eq!(findings(&study.workspace), Vec::<String>::new());
    let held = app::verify(&study.workspace, &[sheet, later.receipt]).unwrap();
    assert_eq!(held.findings.len(), 1, "{:?}", held.findings);
    assert!(
        held.findings[0].contains("the end is missing"),
        "{:?}",
        held.findings
    );
}

#[test]
fn what_is_no_receipt_is_refused_and_a_mistyped_sign_is_found() {
    let study = Study::with().sealed();
    let receipt = study.round.as_ref().unwrap().receipt.clone();
    let digit = receipt.chars().next().unwrap();
    let other = if digit == '1' { "2" } else { "1" };
    for text in ["", "hello", &receipt.replacen(digit, other, 1)] {
        let refused = app::verify(&study.workspace, &[text.to_owned()]).unwrap_err();
        assert!(refused.is_the_askers(), "{refused}");
    }
}

#[test]
fn no_finding_names_a_child() {
    let study = Study::with().labels(Labels::markers()).sealed();
    let mut listener = study.listener(0);
    listener.begin();
    let file = unguarded(&study);
    file.execute_batch(
        "UPDATE child SET peer = 1; UPDATE token SET attempt = 2; UPDATE round SET salt = zeroblob(16);
         UPDATE presentation SET place = place + 100; DELETE FROM session WHERE id = 1;
         UPDATE event SET body = '{}' WHERE kind = 'places reserved';",
    )
    .unwrap();
    let found = findings(&study.workspace).join("\n");
    assert!(!found.is_empty());
    let labels = study.with.labels.clone();
    for marker in [
        labels.child,
        labels.file,
        labels.phases[0].clone(),
        labels.cohorts[0].clone(),
    ] {
        assert!(!found.contains(&marker), "{found}");
    }
}

/// The values of rows of a table, column by column.
fn rows(file: &Connection, table: &str, wanted: &str) -> Vec<Vec<Value>> {
    let mut statement = file
        .prepare(&format!("SELECT * FROM {table} {wanted}"))
        .unwrap();
    let n_columns = statement.column_count();
    let rows = statement
        .query_map([], |row| (0..n_columns).map(|i| row.get(i)).collect())
        .unwrap();
    rows.map(Result::unwrap).collect()
}

fn insert(file: &Connection, table: &str, row: Vec<Value>) {
    let marks = vec!["?"; row.len()].join(", ");
    file.execute(
        &format!("INSERT INTO {table} VALUES ({marks})"),
        rusqlite::params_from_iter(row),
    )
    .unwrap();
}

#[test]
fn one_changed_byte_in_any_sound_is_found_and_its_file_named() {
    let study = Study::with().children(1).sealed();
    for folder in ["originals", "prepared"] {
        for entry in std::fs::read_dir(study.folder().join(folder)).unwrap() {
            let path = entry.unwrap().path();
            let whole = std::fs::read(&path).unwrap();
            for place in [0, whole.len() / 2, whole.len() - 1] {
                let mut bytes = whole.clone();
                bytes[place] ^= 1;
                std::fs::write(&path, &bytes).unwrap();
                check_named(&study, &path);
            }
            std::fs::remove_file(&path).unwrap();
            check_named(&study, &path);
            std::fs::write(&path, &whole).unwrap();
        }
    }
    assert_eq!(findings(&study.workspace), Vec::<String>::new());
}

#[track_caller]
fn check_named(study: &Study, path: &Path) {
    let found = findings(&study.workspace);
    assert_eq!(found.len(), 1, "{found:?}");
    assert!(found[0].contains(&path.display().to_string()), "{found:?}");
}
