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
    let mut lines = Vec::new();
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
        lines.push(row.line);
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
    refuse_double_keys(name, &ratings, &lines)?;
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

fn refuse_double_keys(name: &str, ratings: &Ratings, lines: &[u64]) -> Result<(), Problems> {
    let mut twice = rows_with_a_key_again(ratings);
    twice.sort_unstable();
    let line = |row: u32| lines.get(row as usize).copied().unwrap_or(0);
    let mut found = Problems::default();
    for &(again, before) in twice.iter().take(50) {
        let Some(row) = ratings.rows.get(again as usize) else {
            continue;
        };
        let (item, rater) = (ratings.items.name(row.item), ratings.raters.name(row.rater));
        let (kind, first) = (row.kind, line(before));
        found.push(
            Problem::new(
                name,
                format!("`{item}` was already judged by `{rater}` as {kind} in line {first}"),
                "delete one of the two, or mark the second `repeat` in a column `presentation`",
            )
            .at_line(line(again)),
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

/// The places of the rows whose item, rater and kind were there before, each with the place of the row before it.
fn rows_with_a_key_again(ratings: &Ratings) -> Vec<(u32, u32)> {
    let mut by_item: Vec<(u32, u32)> = (0..)
        .zip(&ratings.rows)
        .filter(|(_, row)| row.kind != PresentationKind::Repeat)
        .map(|(place, row)| (row.item, place))
        .collect();
    by_item.sort_unstable();
    // Item by item, one mark for each rater and kind tells what was there before.
    let kinds = PresentationKind::ALL.len();
    let mut marks: Vec<Option<(u32, u32)>> = vec![None; ratings.raters.len() * kinds];
    let mut again = Vec::new();
    for (item, place) in by_item {
        let row = ratings.rows.get(place as usize);
        let mark =
            row.and_then(|row| marks.get_mut(row.rater as usize * kinds + row.kind as usize));
        let Some(mark) = mark else { continue };
        match mark.replace((item, place)) {
            Some((before, first)) if before == item => again.push((place, first)),
            _ => {}
        }
    }
    again
}
