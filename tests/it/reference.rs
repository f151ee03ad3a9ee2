//! The reference checks: published worked examples and values of other programs, each with its source and tolerance.

use std::fs;
use std::path::PathBuf;

use fairhearing::stats::agreement::PairTable;
use fairhearing::stats::table::Table;
use fairhearing::study::Labels;
use serde_json::Value;

/// One check of `tests/reference/expected`.
pub(crate) struct Check {
    value: Value,
}

impl Check {
    /// The check `id` of the file `topic`.
    #[track_caller]
    pub(crate) fn read(topic: &str, id: &str) -> Self {
        let text = fs::read_to_string(folder().join("expected").join(topic)).unwrap();
        let checks: Vec<Value> = serde_json::from_str(&text).unwrap();
        let value = checks
            .into_iter()
            .find(|check| check["id"] == id)
            .unwrap_or_else(|| panic!("no check {id} in {topic}"));
        Self { value }
    }

    /// What the source gives at a dotted path of `expected`.
    #[track_caller]
    pub(crate) fn expected(&self, path: &str) -> &Value {
        let found = path.split('.').filter(|step| !step.is_empty()).fold(
            &self.value["expected"],
            |value, step| match step.parse::<usize>() {
                Ok(place) if value.is_array() => &value[place],
                _ => &value[step],
            },
        );
        assert!(
            !found.is_null() || self.value["expected"].is_object(),
            "nothing at {path} of {}",
            self.value["id"]
        );
        found
    }

    /// The number at a dotted path of `expected`.
    #[track_caller]
    pub(crate) fn number(&self, path: &str) -> f64 {
        self.expected(path)
            .as_f64()
            .unwrap_or_else(|| panic!("no number at {path} of {}", self.value["id"]))
    }

    /// The tolerance that the check gives for a path (absolute).
    pub(crate) fn tolerance(&self, path: &str) -> f64 {
        self.value["tolerance_overrides"][path]
            .as_f64()
            .or_else(|| self.value["tolerance"].as_f64())
            .unwrap()
    }

    /// Compares a number of ours with the source's.
    #[track_caller]
    pub(crate) fn holds(&self, path: &str, ours: f64) {
        self.near(path, ours, self.number(path), self.tolerance(path));
    }

    /// Compares both limits of an interval.
    #[track_caller]
    pub(crate) fn holds_interval(&self, path: &str, ours: [f64; 2]) {
        self.holds_interval_of(self.expected(path), path, ours);
    }

    /// Compares both limits with an interval found inside the check.
    #[track_caller]
    pub(crate) fn holds_interval_of(&self, theirs: &Value, path: &str, ours: [f64; 2]) {
        for (index, limit) in ours.into_iter().enumerate() {
            let theirs = theirs[index].as_f64().unwrap();
            self.near(path, limit, theirs, self.tolerance(path));
        }
    }

    /// The rows of the check's data file, header left out, each split at the commas.
    #[track_caller]
    pub(crate) fn rows(&self) -> Vec<Vec<String>> {
        self.text()
            .lines()
            .skip(1)
            .map(|line| line.split(',').map(str::to_owned).collect())
            .collect()
    }

    /// The check's data file.
    #[track_caller]
    pub(crate) fn text(&self) -> String {
        let file = self.value["input"].as_str().unwrap();
        fs::read_to_string(folder().join(file)).unwrap()
    }

    /// The data file's ratings as a table, with the number that each category stands for.
    #[track_caller]
    pub(crate) fn ratings(&self) -> (Table, Vec<f64>) {
        let rows = self.rows();
        let mut values: Vec<f64> = rows.iter().map(|row| row[2].parse().unwrap()).collect();
        values.sort_unstable_by(f64::total_cmp);
        values.dedup();
        let (mut items, mut raters) = (Labels::new(), Labels::new());
        let judgements: Vec<_> = rows
            .iter()
            .map(|row| {
                let value: f64 = row[2].parse().unwrap();
                let category = values.iter().position(|v| *v == value).unwrap();
                (
                    items.number(&row[0]),
                    raters.number(&row[1]),
                    u32::try_from(category).unwrap(),
                )
            })
            .collect();
        let table = Table::new(items.len(), raters.len(), values.len(), &judgements).unwrap();
        (table, values)
    }

    /// A table of counts (`first,second,count`) as the joint answers of two raters.
    #[track_caller]
    pub(crate) fn pair_table(&self) -> PairTable {
        let rows = self.rows();
        let mut labels: Vec<&str> = rows.iter().flat_map(|r| [&*r[0], &*r[1]]).collect();
        labels.sort_unstable();
        labels.dedup();
        let place = |label: &str| labels.iter().position(|l| *l == label).unwrap();
        let mut counts = vec![0.0; labels.len() * labels.len()];
        for row in &rows {
            counts[place(&row[0]) * labels.len() + place(&row[1])] = row[2].parse().unwrap();
        }
        PairTable::new(labels.len(), counts).unwrap()
    }

    #[track_caller]
    fn near(&self, path: &str, ours: f64, theirs: f64, tolerance: f64) {
        assert!(
            (ours - theirs).abs() <= tolerance,
            "{path}: ours {ours}, {} {theirs} (± {tolerance})",
            self.value["source"]
        );
    }
}

fn folder() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("tests/reference")
}
