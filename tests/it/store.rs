//! The store: what is acknowledged is there, and nothing half-done is.

use std::io::BufRead;
use std::io::BufReader;
use std::process::Command;
use std::process::Stdio;

use fairhearing::store::ConsentRow;
use fairhearing::store::Reading;
use fairhearing::store::Store;
use fairhearing::store::StoreError;
use fairhearing::store::Writing;
use fairhearing::study::Judgement::Correct;
use rusqlite::Connection;

use crate::support::Listener;
use crate::support::Study;

/// Every migration, with rows that are loaded right after it, so that the next one meets them.
const MIGRATIONS: [(&str, &str); 13] = [
    (
        include_str!("../../src/store/migrations/0001_study.sql"),
        include_str!("support/rows_0001.sql"),
    ),
    (
        include_str!("../../src/store/migrations/0002_assignment.sql"),
        include_str!("support/rows_0002.sql"),
    ),
    (
        include_str!("../../src/store/migrations/0003_links.sql"),
        include_str!("support/rows_0003.sql"),
    ),
    (
        include_str!("../../src/store/migrations/0004_course.sql"),
        include_str!("support/rows_0004.sql"),
    ),
    (
        include_str!("../../src/store/migrations/0005_accounts.sql"),
        include_str!("support/rows_0005.sql"),
    ),
    (
        include_str!("../../src/store/migrations/0006_records.sql"),
        include_str!("support/rows_0006.sql"),
    ),
    (
        include_str!("../../src/store/migrations/0007_round_draft.sql"),
        include_str!("support/rows_0007.sql"),
    ),
    (
        include_str!("../../src/store/migrations/0008_plays.sql"),
        include_str!("support/rows_0008.sql"),
    ),
    (
        include_str!("../../src/store/migrations/0009_masked.sql"),
        include_str!("support/rows_0009.sql"),
    ),
    (
        include_str!("../../src/store/migrations/0010_shared_page.sql"),
        include_str!("support/rows_0010.sql"),
    ),
    (
        include_str!("../../src/store/migrations/0011_sound_checks.sql"),
        include_str!("support/rows_0011.sql"),
    ),
    (
        include_str!("../../src/store/migrations/0012_numbers.sql"),
        include_str!("support/rows_0012.sql"),
    ),
    (
        include_str!("../../src/store/migrations/0013_words_of_sitting.sql"),
        include_str!("support/rows_0013.sql"),
    ),
];

#[test]
fn the_file_is_durable_strict_and_dated() {
    let study = Study::with().made();
    let file = Connection::open(study.database()).unwrap();
    let mode: String = file
        .pragma_query_value(None, "journal_mode", |row| row.get(0))
        .unwrap();
    let version: i64 = file
        .pragma_query_value(None, "user_version", |row| row.get(0))
        .unwrap();
    assert_eq!((mode.as_str(), version), ("wal", 13));
    let loose: i64 = file
        .query_row(
            "SELECT count(*) FROM pragma_table_list
             WHERE schema = 'main' AND type = 'table' AND name NOT LIKE 'sqlite%' AND NOT strict",
            [],
            |row| row.get(0),
        )
        .unwrap();
    assert_eq!(loose, 0);
    // 3.51.3 mends a rare corruption of the write-ahead log (SQLite's own release notes).
    assert!(
        rusqlite::version_number() >= 3_051_003,
        "{}",
        rusqlite::version()
    );
}

#[test]
fn a_file_of_a_newer_program_is_refused_and_stays_as_it_is() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("fairhearing.db");
    let file = Connection::open(&path).unwrap();
    file.execute_batch("CREATE TABLE later (x TEXT) STRICT; PRAGMA user_version = 99;")
        .unwrap();
    drop(file);
    let before = std::fs::read(&path).unwrap();
    let refused = Store::open(&path).err().unwrap();
    assert!(
        matches!(refused, StoreError::Newer { found: 99, .. }),
        "{refused}"
    );
    assert_eq!(std::fs::read(&path).unwrap(), before);
    assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 1);
}

#[test]
fn a_migration_that_fails_leaves_everything_as_it_was() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("fairhearing.db");
    let file = Connection::open(&path).unwrap();
    // A table of the first migration is there already, so that its statement fails half-way.
    file.execute_batch("CREATE TABLE judgement (x TEXT);")
        .unwrap();
    assert!(Store::open(&path).is_err());
    let tables: i64 = file
        .query_row("SELECT count(*) FROM sqlite_schema", [], |row| row.get(0))
        .unwrap();
    let version: i64 = file
        .pragma_query_value(None, "user_version", |row| row.get(0))
        .unwrap();
    assert_eq!((tables, version), (1, 0));
}

fn all_consents(reading: &Reading<'_>) -> Result<Vec<ConsentRow>, StoreError> {
    reading.consents()
}

#[test]
fn every_migration_meets_a_lived_in_study() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("fairhearing.db");
    let file = Connection::open(&path).unwrap();
    file.execute_batch("PRAGMA foreign_keys = ON").unwrap();
    for (number, (migration, rows)) in (1..).zip(MIGRATIONS) {
        file.execute_batch(migration).unwrap();
        file.pragma_update(None, "user_version", number).unwrap();
        file.execute_batch(rows).unwrap();
    }
    let store = Store::open(&path).unwrap();
    let consents = store.read(all_consents).unwrap();
    let scopes: Vec<_> = consents
        .iter()
        .map(|row| (row.code.to_string(), row.consent.scopes.to_string()))
        .collect();
    let held = |scopes: &str| ("C01".to_owned(), scopes.to_owned());
    assert_eq!(scopes, [held("remote"), held("research remote")]);
    let (tokens, judgements, broken) = store
        .read(|reading| {
            Ok::<_, StoreError>((
                reading.tokens()?.len(),
                reading.judgements()?.len(),
                reading.integrity()?,
            ))
        })
        .unwrap();
    assert_eq!((tokens, judgements, broken), (3, 2, Vec::new()));
}

#[test]
fn a_job_that_fails_leaves_nothing_and_one_that_panics_stops_nobody_else() {
    let study = Study::with().made();
    let store = study.store();
    let note = |writing: &Writing<'_>| {
        writing.append_event(1, "note", fairhearing::seal::Canonical::stored("{}"))
    };
    let failed = store.write(move |writing| {
        note(writing)?;
        Err::<(), _>(StoreError::Closing)
    });
    assert_eq!(failed, Err(StoreError::Closing));
    let panicked = store.write(move |writing| -> Result<(), StoreError> {
        note(writing)?;
        panic!("a job of the test that panics");
    });
    assert_eq!(panicked, Err(StoreError::Closing));
    assert_eq!(study.events().len(), 1);
    store.write(note).unwrap();
    assert_eq!(study.events().len(), 2);
}

#[test]
fn a_store_that_another_program_holds_says_so_and_takes_no_harm() {
    let study = Study::with().made();
    let store = study.store();
    let mut file = Connection::open(study.database()).unwrap();
    let held = file
        .transaction_with_behavior(rusqlite::TransactionBehavior::Immediate)
        .unwrap();
    let refused = store
        .write(|writing| {
            writing.append_event(1, "note", fairhearing::seal::Canonical::stored("{}"))
        })
        .unwrap_err();
    assert!(matches!(refused, StoreError::Unwritable(_)), "{refused}");
    assert!(refused.to_string().contains("try again"), "{refused}");
    drop(held);
    assert_eq!(study.events().len(), 1);
}

/// The variable that makes the test program itself the one that is killed.
const VICTIM: &str = "FAIRHEARING_TEST_VICTIM";

/// Judges without end in the study whose folder, link and all stand in the variable; prints each
/// judgement once it is acknowledged. Does nothing where the variable is not set.
#[test]
fn victim_of_the_kill() {
    let Ok(told) = std::env::var(VICTIM) else {
        return;
    };
    let (folder, secrets) = told.split_once('|').unwrap();
    let workspace = fairhearing::app::Workspace::open(folder.as_ref()).unwrap();
    std::thread::scope(|threads| {
        for secret in secrets.split(',') {
            let workspace = &workspace;
            threads.spawn(move || {
                let mut listener = Listener::open_secret(workspace, secret);
                listener.begin();
                while let Some(presented) = listener.current() {
                    listener.judge(presented.id, Correct);
                    println!("kept {}", presented.id);
                }
            });
        }
    });
    println!("done");
}

#[test]
fn every_acknowledged_judgement_survives_a_kill() {
    for round in 0..4_u64 {
        let study = Study::with()
            .children(3)
            .sessions(3)
            .words(6)
            .listeners(4)
            .sealed();
        let secrets: Vec<_> = study
            .links()
            .iter()
            .map(|link| link.path.trim_start_matches("/l/").to_owned())
            .collect();
        let told = format!("{}|{}", study.folder().display(), secrets.join(","));
        let mut victim = Command::new(std::env::current_exe().unwrap())
            .args(["--exact", "store::victim_of_the_kill", "--nocapture"])
            .env(VICTIM, told)
            .stdout(Stdio::piped())
            .spawn()
            .unwrap();
        let wanted = 5 + 17 * usize::try_from(round).unwrap();
        let mut acknowledged = Vec::new();
        let mut lines = BufReader::new(victim.stdout.take().unwrap()).lines();
        while acknowledged.len() < wanted
            && let Some(line) = lines.next()
        {
            let line = line.unwrap();
            acknowledged.extend(line.split_once("kept ").map(|(_, id)| id.trim().to_owned()));
        }
        // On Unix this is SIGKILL: nothing in the program can answer it.
        victim.kill().unwrap();
        victim.wait().unwrap();
        acknowledged.extend(lines.map_while(Result::ok).filter_map(|line| {
            let (_, id) = line.split_once("kept ")?;
            (id.trim().len() == 26).then(|| id.trim().to_owned())
        }));
        assert!(
            acknowledged.len() >= wanted,
            "{} of {wanted}",
            acknowledged.len()
        );
        let kept = study.judgements();
        for id in &acknowledged {
            let times = kept
                .iter()
                .filter(|row| row.presentation.to_string() == *id)
                .count();
            assert_eq!(times, 1, "{id} of round {round}");
        }
        let verified = fairhearing::app::verify(&study.workspace, &[]).unwrap();
        assert_eq!(verified.findings, Vec::<String>::new());
    }
}
