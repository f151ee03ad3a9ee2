//! Every table of the report has a file beside it that holds the same, and the JSON holds the numbers of the files.

use std::collections::BTreeSet;

use fairhearing::report;
use fairhearing::report::table::Table;
use serde_json::Value;

use crate::support::Element;
use crate::support::elements;
use crate::support::heard_round;

/// Caption, heads and rows of every table on a page.
fn tables_of(page: &str) -> Vec<(String, Vec<String>, Vec<Vec<String>>)> {
    let parsed = elements(page);
    let inside = |of: &Element, name: &'static str| -> Vec<&Element> {
        let place = of.place;
        let all = parsed.iter();
        all.filter(|e| e.name == name && e.within.contains(&place))
            .collect()
    };
    let texts = |cells: Vec<&Element>| cells.iter().map(|e| e.text.clone()).collect::<Vec<_>>();
    let tables = parsed.iter().filter(|e| e.name == "table");
    tables
        .map(|table| {
            let caption = inside(table, "caption")[0].text.clone();
            let head = texts(inside(inside(table, "thead")[0], "th"));
            let rows = inside(inside(table, "tbody")[0], "tr");
            let rows = rows.into_iter().map(|row| {
                let cells = parsed
                    .iter()
                    .filter(|e| e.within.last() == Some(&row.place));
                texts(cells.collect())
            });
            (caption, head, rows.collect())
        })
        .collect()
}

/// Whether a table of a file shows these columns and holds each of these rows.
fn holds(file: &Table, head: &[String], rows: &[Vec<String>]) -> bool {
    let places: Option<Vec<usize>> = head
        .iter()
        .map(|head| file.columns.iter().position(|column| column.head == head))
        .collect();
    places.is_some_and(|places| {
        rows.iter().all(|row| {
            file.rows.iter().any(|kept| {
                let shown = places.iter().map(|place| kept[*place].shown.trim());
                shown.eq(row.iter().map(|cell| cell.trim()))
            })
        })
    })
}

#[test]
fn every_table_on_the_page_is_part_of_a_table_that_is_written_as_a_file() {
    let found = heard_round();
    let files = report::tables::all(&found);
    let page = report::page(&found).unwrap();
    let tables = tables_of(&page);
    assert!(tables.len() > 15, "{}", tables.len());
    for (caption, head, rows) in tables {
        assert!(
            files.iter().any(|file| holds(file, &head, &rows)),
            "no file holds the table “{caption}”: {head:?}"
        );
    }
}

fn numbers(of: &Value, into: &mut BTreeSet<u64>) {
    match of {
        Value::Number(number) => {
            into.extend(number.as_f64().map(f64::to_bits));
        }
        Value::Array(all) => all.iter().for_each(|one| numbers(one, into)),
        Value::Object(all) => all.values().for_each(|one| numbers(one, into)),
        _ => {}
    }
}

#[test]
fn the_estimates_in_the_files_are_in_the_json_to_the_last_digit() {
    let found = heard_round();
    let mut in_json = BTreeSet::new();
    numbers(&serde_json::to_value(&found).unwrap(), &mut in_json);
    let mut compared = 0;
    for table in report::tables::all(&found) {
        if ![
            "sessions",
            "changes",
            "measures",
            "ratios",
            "sensitivity",
            "agreement",
            "cohorts",
        ]
        .contains(&table.name)
        {
            continue;
        }
        for value in table.records().flatten() {
            // A count may be anywhere; an estimate with all its digits is of one thing only.
            let Ok(number) = value.parse::<f64>() else {
                continue;
            };
            if value.len() > 8 {
                assert!(
                    in_json.contains(&number.to_bits()),
                    "{}: {value}",
                    table.name
                );
                compared += 1;
            }
        }
    }
    assert!(compared > 300, "{compared}");
}
