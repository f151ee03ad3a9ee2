//! Ratings: one row a judgement, read alike by every command.

use std::io::Read;

use super::sheet::Notes;
use super::sheet::Sheet;
use crate::study::PresentationKind;
use crate::study::Problem;
use crate::study::Problems;
use crate::study::Rating;
use crate::study::Ratings;

/// Reads judgements: `item,rater,value`, or `token`, `listener`, `judgement` for them; optional
/// `presentation` (absent: main), `order`, `rt_ms` and `replays`.
///
/// An empty value is a missing judgement and makes no row. Item, rater and kind of presentation are the
/// key: the same key twice is a problem that names both lines, except for repeats, where each counts.
///
/// # Errors
/// All that is wrong, each with its line, its column and how to mend it.
pub fn read_ratings(name: &str, source: impl Read) -> Result<Ratings, Problems> {
    let mut sheet = Sheet::open(name, source)?;
    let item = sheet.required(&["item", "token"]);
    let rater = sheet.required(&["rater", "listener"]);
    let value = sheet.required(&["value", "judgement"]);
    let kind = sheet.column(&["presentation"]);
    let order = sheet.column(&["order"]);
    let rt_ms = sheet.column(&["rt_ms"]);
    let replays = sheet.column(&["replays"]);

    let mut ratings = Ratings::default();
    let mut keys = Vec::new();
    sheet.read_rows(|row, notes| {
        let named_item = row.text(Some(item));
        let named_rater = row.text(Some(rater));
        let (Some(named_item), Some(named_rater)) = (named_item, named_rater) else {
            for (column, cell) in [("item", named_item), ("rater", named_rater)] {
                if cell.is_none() {
                    notes.say(column, "is empty", "name it, or delete the row");
                }
            }
            return;
        };
        let Some(kind) = kind_of(row.text(kind), notes) else {
            return;
        };
        let order = whole(row.text(order), "order", notes);
        let rt_ms = duration(row.text(rt_ms), notes);
        let replays = whole(row.text(replays), "replays", notes);
        let item = ratings.items.number(named_item);
        let rater = ratings.raters.number(named_rater);
        let Some(value) = row.text(Some(value)) else {
            ratings.missing += 1;
            return;
        };
        let value = ratings.values.number(value);
        if kind != PresentationKind::Repeat {
            keys.push((item, rater, kind, row.line));
        }
        ratings.rows.push(Rating {
            item,
            rater,
            value,
            kind,
            order,
            rt_ms,
            replays: replays.map(|count| u16::try_from(count).unwrap_or(u16::MAX)),
        });
    })?;
    refuse_double_keys(name, &ratings, keys)?;
    Ok(ratings)
}

fn kind_of(raw: Option<&str>, notes: &mut Notes<'_>) -> Option<PresentationKind> {
    let Some(raw) = raw else {
        return Some(PresentationKind::Main);
    };
    raw.parse()
        .map_err(|refusal: crate::study::Invalid| {
            notes.say("presentation", refusal.what, refusal.mend);
        })
        .ok()
}

fn whole(raw: Option<&str>, column: &str, notes: &mut Notes<'_>) -> Option<u32> {
    let raw = raw?;
    raw.parse()
        .map_err(|_| {
            notes.say(
                column,
                format!("`{raw}` is no whole number"),
                "write a whole number from 0 up, or leave it empty",
            );
        })
        .ok()
}

#[expect(
    clippy::cast_possible_truncation,
    reason = "a response time needs no more than seven digits"
)]
fn duration(raw: Option<&str>, notes: &mut Notes<'_>) -> Option<f32> {
    let raw = raw?;
    match raw.parse::<f64>() {
        Ok(ms) if ms.is_finite() => Some(ms as f32),
        _ => {
            notes.say(
                "rt_ms",
                format!("`{raw}` is no time in milliseconds"),
                super::sheet::number_mend(raw),
            );
            None
        }
    }
}

fn refuse_double_keys(
    name: &str,
    ratings: &Ratings,
    mut keys: Vec<(u32, u32, PresentationKind, u64)>,
) -> Result<(), Problems> {
    // Rows mostly come item by item: a stable sort finds that, and the few of each item are soon in order.
    keys.sort_by_key(|key| key.0);
    for item in keys.chunk_by_mut(|a, b| a.0 == b.0) {
        item.sort_unstable();
    }
    let mut twice: Vec<_> = keys
        .windows(2)
        .filter_map(|pair| match pair {
            [a, b] if (a.0, a.1, a.2) == (b.0, b.1, b.2) => Some((b.3, a.3, *b)),
            _ => None,
        })
        .collect();
    twice.sort_unstable();
    let mut found = Problems::default();
    for (line, first, (item, rater, kind, _)) in twice.iter().take(50) {
        let (item, rater) = (ratings.items.name(*item), ratings.raters.name(*rater));
        found.push(
            Problem::new(
                name,
                format!("`{item}` was already judged by `{rater}` as {kind} in line {first}"),
                "delete one of the two, or mark the second `repeat` in a column `presentation`",
            )
            .at_line(*line),
        );
    }
    if twice.len() > 50 {
        found.push(Problem::new(
            name,
            format!(
                "has {} more rows with a key that was there before",
                twice.len() - 50
            ),
            "mend the ones above first",
        ));
    }
    found.or(())
}
