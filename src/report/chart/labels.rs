//! Labels that would lie on each other are moved apart.

/// Room that a line of text takes.
const LINE: f64 = 15.0;

/// A rough width of a text in 12 px, on the wide side.
pub(super) fn width(text: &str) -> f64 {
    text.chars().count() as f64 * 6.8
}

/// Moves ordinates apart so that no two are nearer than a line, as little as possible, all between `top` and `bottom`;
/// the order of what is given stays the order of what is returned.
pub(super) fn apart(wanted: &[f64], top: f64, bottom: f64) -> Vec<f64> {
    let mut order: Vec<usize> = (0..wanted.len()).collect();
    let want = |place: usize| wanted.get(place).copied().unwrap_or(top);
    order.sort_by(|a, b| want(*a).total_cmp(&want(*b)));
    let mut sorted: Vec<f64> = Vec::with_capacity(order.len());
    for place in &order {
        let above = sorted.last().map_or(top, |above| above + LINE);
        sorted.push(want(*place).max(above));
    }
    let mut limit = bottom;
    for y in sorted.iter_mut().rev() {
        *y = y.min(limit);
        limit = *y - LINE;
    }
    let mut placed = vec![top; wanted.len()];
    for (place, y) in order.into_iter().zip(sorted) {
        if let Some(slot) = placed.get_mut(place) {
            *slot = y;
        }
    }
    placed
}

/// The row of each span's label, so that labels of neighbours do not touch: `(middle, width)` in, rows from 0 out.
pub(super) fn rows(spans: &[(f64, f64)]) -> Vec<usize> {
    let mut ends: Vec<f64> = Vec::new();
    spans
        .iter()
        .map(|(middle, width)| {
            let (start, end) = (middle - width / 2.0, middle + width / 2.0);
            let row = ends.iter().position(|taken| taken + 6.0 <= start);
            if let Some(row) = row {
                if let Some(taken) = ends.get_mut(row) {
                    *taken = end;
                }
                row
            } else {
                ends.push(end);
                ends.len() - 1
            }
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn labels_never_lie_on_each_other_and_keep_their_order() {
        let placed = apart(&[50.0, 48.0, 49.0, 200.0], 0.0, 205.0);
        let mut sorted = placed.clone();
        sorted.sort_by(f64::total_cmp);
        assert!(sorted.windows(2).all(|two| two[1] - two[0] >= LINE - 1e-9));
        assert!(placed[1] < placed[2] && placed[2] < placed[0] && placed[0] < placed[3]);
    }

    #[test]
    fn neighbours_that_touch_take_another_row() {
        assert_eq!(rows(&[(10.0, 20.0), (25.0, 20.0), (60.0, 20.0)]), [0, 1, 0]);
    }
}
