//! The folders are the architecture, and this test holds it: who may import whom, who may name
//! which outside crate, and what every file must begin with.

use std::fs;
use std::path::{Path, PathBuf};

/// Each module of ours with the modules of ours that it may name.
const MAY_IMPORT: &[(&str, &[&str])] = &[
    ("study", &[]),
    ("stats", &[]),
    ("blinding", &["study"]),
    ("audio", &["study"]),
    ("seal", &["study"]),
    ("store", &["study", "seal"]),
    ("exchange", &["study", "seal"]),
    ("analysis", &["study", "stats"]),
    ("report", &["study", "stats", "analysis"]),
    (
        "app",
        &[
            "study", "blinding", "audio", "seal", "store", "exchange", "analysis",
        ],
    ),
    ("folder", &["study", "report", "app"]),
    ("web", &["study", "report", "app", "folder"]),
    ("cli", &["study", "report", "app", "folder", "web"]),
    ("main", &["cli"]),
];

/// The parts of `web` that may never name each other.
const WEB_PARTS: &[&str] = &["listener", "desk", "clinic"];

/// Who may name the blinding key.
const MAY_NAME_THE_KEY: &[&str] = &["study", "store", "exchange", "app", "analysis"];

/// Outside crates that have one owner (or a few).
const OWNERS: &[(&str, &[&str])] = &[
    ("rusqlite", &["store"]),
    ("axum", &["web"]),
    ("axum_extra", &["web"]),
    ("tower", &["web"]),
    ("tower_http", &["web"]),
    ("clap", &["cli"]),
    ("csv", &["exchange"]),
    ("statrs", &["stats"]),
    ("hashbrown", &["study"]),
    ("askama", &["web", "report"]),
    ("rand", &["blinding", "stats", "analysis", "app"]),
    ("rand_chacha", &["blinding", "stats", "analysis", "app"]),
    ("symphonia", &["audio"]),
    ("aho_corasick", &["app"]),
    ("argon2", &["app"]),
    ("axum_server", &["web"]),
    ("fast_qr", &["web"]),
    ("ebur128", &["audio"]),
    ("rubato", &["audio"]),
    ("resvg", &["report"]),
    ("zip", &["app", "exchange"]),
    ("futures_util", &["web"]),
];

struct Source {
    path: PathBuf,
    module: String,
    part: Option<String>,
    text: String,
}

#[test]
fn every_arrow_between_modules_is_in_the_table() {
    let mut wrong = Vec::new();
    for source in sources() {
        for (number, line) in code_lines(&source.text) {
            if line.contains("crate::{") {
                wrong.push(at(&source, number, "one layer a line, not `crate::{…}`"));
            }
            for named in names_after(line, "crate::").chain(names_after(line, "fairhearing::")) {
                if named == source.module || !is_ours(named) {
                    continue;
                }
                if !allowed(MAY_IMPORT, &source.module, named) {
                    wrong.push(at(&source, number, &format!("may not name `{named}`")));
                }
            }
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn the_parts_of_the_web_do_not_know_each_other() {
    let mut wrong = Vec::new();
    for source in sources().filter(|s| s.module == "web") {
        let Some(part) = source.part.as_deref().filter(|p| WEB_PARTS.contains(p)) else {
            continue;
        };
        for (number, line) in code_lines(&source.text) {
            for other in WEB_PARTS.iter().filter(|other| **other != part) {
                if line.contains(&format!("web::{other}"))
                    || line.contains(&format!("super::{other}"))
                {
                    wrong.push(at(&source, number, &format!("may not name `web::{other}`")));
                }
            }
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn only_the_inner_modules_name_the_blinding_key() {
    let mut wrong = Vec::new();
    for source in sources().filter(|s| !MAY_NAME_THE_KEY.contains(&s.module.as_str())) {
        for (number, line) in code_lines(&source.text) {
            if line.contains("study::key") || line.contains("TokenKey") {
                wrong.push(at(&source, number, "may not name the blinding key"));
            }
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn outside_crates_have_one_owner() {
    let mut wrong = Vec::new();
    for source in sources() {
        for (number, line) in code_lines(&source.text) {
            for (name, owners) in OWNERS {
                if owners.contains(&source.module.as_str()) || !names_crate(line, name) {
                    continue;
                }
                wrong.push(at(
                    &source,
                    number,
                    &format!("`{name}` belongs to {}", owners.join(", ")),
                ));
            }
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn every_file_says_what_it_is_for_and_stays_readable() {
    let mut wrong = Vec::new();
    for source in sources().chain(test_sources()) {
        if !source.text.starts_with("//!") {
            wrong.push(at(&source, 1, "begins with no `//!` line"));
        }
        if source.text.lines().count() > 500 {
            wrong.push(at(&source, 501, "more than 500 lines: split it"));
        }
        let ignored = ["#[", "ignore"].concat();
        if source.text.contains(&ignored) {
            wrong.push(at(&source, 1, "holds an ignored test"));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

fn is_ours(name: &str) -> bool {
    MAY_IMPORT.iter().any(|(module, _)| *module == name)
}

fn allowed(table: &[(&str, &[&str])], module: &str, named: &str) -> bool {
    table
        .iter()
        .any(|(from, to)| *from == module && to.contains(&named))
}

/// The names that follow `prefix` in a line, each up to the next `:`, `;` or other sign.
fn names_after<'a>(line: &'a str, prefix: &'a str) -> impl Iterator<Item = &'a str> {
    line.match_indices(prefix)
        .filter(|(start, _)| !line[..*start].ends_with(|c: char| c.is_alphanumeric() || c == '_'))
        .map(move |(start, _)| {
            let rest = &line[start + prefix.len()..];
            let end = rest
                .find(|c: char| !c.is_alphanumeric() && c != '_')
                .unwrap_or(rest.len());
            &rest[..end]
        })
}

fn names_crate(line: &str, name: &str) -> bool {
    line.match_indices(&format!("{name}::")).any(|(start, _)| {
        !line[..start].ends_with(|c: char| c.is_alphanumeric() || c == '_' || c == ':')
    })
}

fn code_lines(text: &str) -> impl Iterator<Item = (usize, &str)> {
    text.lines()
        .enumerate()
        .map(|(index, line)| (index + 1, line))
        .filter(|(_, line)| !line.trim_start().starts_with("//"))
}

fn at(source: &Source, line: usize, what: &str) -> String {
    format!("{}:{line}: {what}", source.path.display())
}

fn sources() -> impl Iterator<Item = Source> {
    files_under(&root().join("src")).into_iter().map(read)
}

fn test_sources() -> impl Iterator<Item = Source> {
    files_under(&root().join("tests")).into_iter().map(read)
}

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

fn read(path: PathBuf) -> Source {
    let text = fs::read_to_string(&path).expect("a source file is readable UTF-8");
    let inside = path
        .strip_prefix(root().join("src"))
        .unwrap_or(&path)
        .to_path_buf();
    let mut steps = inside
        .iter()
        .map(|step| step.to_string_lossy().replace(".rs", ""));
    let module = steps.next().unwrap_or_default();
    Source {
        module,
        part: steps.next(),
        path,
        text,
    }
}

fn files_under(folder: &Path) -> Vec<PathBuf> {
    let mut found = Vec::new();
    for entry in fs::read_dir(folder).expect("the folder is there").flatten() {
        let path = entry.path();
        if path.is_dir() {
            found.extend(files_under(&path));
        } else if path.extension().is_some_and(|end| end == "rs") {
            found.push(path);
        }
    }
    found.sort();
    found
}
