//! Laws of agreement: what must not change a coefficient, and two roads to one number.

use fairhearing::stats::Undefined;
use fairhearing::stats::agreement::*;
use fairhearing::stats::table::Table;
use fairhearing::stats::tally::Tally;
use proptest::prelude::*;

const ITEMS: u32 = 10;
const RATERS: u32 = 6;
const CATEGORIES: u32 = 3;

type Cells = Vec<(u32, u32, u32)>;

fn cells() -> impl Strategy<Value = Cells> {
    proptest::collection::btree_map((0..ITEMS, 0..RATERS), 0..CATEGORIES, 2..50)
        .prop_map(|cells| cells.into_iter().map(|((i, r), c)| (i, r, c)).collect())
}

fn complete() -> impl Strategy<Value = Cells> {
    proptest::collection::vec(0..CATEGORIES, (ITEMS * RATERS) as usize).prop_map(|values| {
        (0..)
            .zip(values)
            .map(|(place, c)| (place / RATERS, place % RATERS, c))
            .collect()
    })
}

fn table(cells: &Cells) -> Table {
    Table::new(ITEMS as usize, RATERS as usize, CATEGORIES as usize, cells).unwrap()
}

fn nominal(cells: &Cells) -> Vec<Result<f64, Undefined>> {
    let table = table(cells);
    let tally = Tally::of(&table);
    let whole = tally.weighted();
    vec![
        percent_agreement(whole).map(|found| found.estimate),
        fleiss_kappa(whole).map(|found| found.estimate),
        gwet_ac1(whole).map(|found| found.estimate),
        gwet_ac1(whole).map(|found| found.variance.unwrap_or(0.0)),
        brennan_prediger(whole).map(|found| found.estimate),
        conger_kappa(&table, &tally).map(|found| found.estimate),
        conger_kappa(&table, &tally).map(|found| found.variance.unwrap_or(0.0)),
        krippendorff_alpha(whole, AlphaScale::Nominal, &mut Workspace::default()),
    ]
}

fn same(ours: &[Result<f64, Undefined>], theirs: &[Result<f64, Undefined>]) -> bool {
    ours.iter().zip(theirs).all(|pair| match pair {
        (Ok(a), Ok(b)) => (a - b).abs() < 1e-9,
        (a, b) => a == b,
    })
}

/// Alpha as it is written: every ordered pair of judgements of a unit, with weight 1/(m − 1).
fn alpha_by_pairs(cells: &Cells, distance: impl Fn(u32, u32, &[f64]) -> f64) -> f64 {
    let units: Vec<Vec<u32>> = (0..ITEMS)
        .map(|item| {
            cells
                .iter()
                .filter(|c| c.0 == item)
                .map(|c| c.2)
                .collect::<Vec<u32>>()
        })
        .filter(|unit| unit.len() > 1)
        .collect();
    let all: Vec<u32> = units.iter().flatten().copied().collect();
    let margins: Vec<f64> = (0..CATEGORIES)
        .map(|c| all.iter().filter(|v| **v == c).count() as f64)
        .collect();
    let n = all.len() as f64;
    let mut observed = 0.0;
    for unit in &units {
        for (i, a) in unit.iter().enumerate() {
            for (j, b) in unit.iter().enumerate() {
                if i != j {
                    observed += distance(*a, *b, &margins) / (unit.len() as f64 - 1.0);
                }
            }
        }
    }
    let mut expected = 0.0;
    for (i, a) in all.iter().enumerate() {
        for (j, b) in all.iter().enumerate() {
            if i != j {
                expected += distance(*a, *b, &margins);
            }
        }
    }
    1.0 - (observed / n) / (expected / (n * (n - 1.0)))
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn swapping_listeners_changes_nothing(cells in cells(), turn in 1..RATERS) {
        let swapped: Cells = cells.iter().map(|&(i, r, c)| (i, (r + turn) % RATERS, c)).collect();
        prop_assert!(same(&nominal(&cells), &nominal(&swapped)));
    }

    #[test]
    fn relabelling_categories_changes_nothing(cells in cells(), turn in 1..CATEGORIES) {
        let relabelled: Cells = cells.iter().map(|&(i, r, c)| (i, r, (c + turn) % CATEGORIES)).collect();
        prop_assert!(same(&nominal(&cells), &nominal(&relabelled)));
    }

    #[test]
    fn the_order_of_items_changes_nothing(cells in cells()) {
        let turned: Cells = cells.iter().map(|&(i, r, c)| (ITEMS - 1 - i, r, c)).collect();
        prop_assert!(same(&nominal(&cells), &nominal(&turned)));
        let alphas = |cells: &Cells| resampled_alphas(&Tally::of(&table(cells)), AlphaScale::Nominal, 50, 7);
        prop_assert_eq!(alphas(&cells), alphas(&turned));
    }

    #[test]
    fn alpha_by_moments_is_alpha_by_pairs(cells in cells()) {
        let values = [0.5, 2.0, 7.0];
        let tally = Tally::of(&table(&cells));
        let roads = [
            (AlphaScale::Nominal, alpha_by_pairs(&cells, |a, b, _| f64::from(u8::from(a != b)))),
            (AlphaScale::Interval(&values), alpha_by_pairs(&cells, |a, b, _| (values[a as usize] - values[b as usize]).powi(2))),
            (AlphaScale::Ordinal, alpha_by_pairs(&cells, |a, b, margins| {
                let (low, high) = (a.min(b) as usize, a.max(b) as usize);
                let between: f64 = margins[low..=high].iter().sum();
                (between - f64::midpoint(margins[low], margins[high])).powi(2)
            })),
        ];
        for (scale, by_pairs) in roads {
            match krippendorff_alpha(tally.weighted(), scale, &mut Workspace::default()) {
                Ok(ours) => prop_assert!((ours - by_pairs).abs() < 1e-9, "{ours} {by_pairs}"),
                Err(_) => prop_assert!(!by_pairs.is_finite()),
            }
        }
    }

    #[test]
    fn leaving_a_rater_out_of_the_tally_is_leaving_her_out_of_the_table(cells in cells(), rater in 0..RATERS) {
        let whole = table(&cells);
        let tally = Tally::of(&whole);
        let mut weights = Vec::new();
        tally.take_away(&whole.by_rater()[rater as usize], &mut weights);
        let without: Cells = cells.iter().copied().filter(|c| c.1 != rater).collect();
        let direct = Tally::of(&table(&without));
        for (ours, theirs) in [
            (fleiss_kappa(tally.with_weights(&weights)), fleiss_kappa(direct.weighted())),
            (gwet_ac1(tally.with_weights(&weights)), gwet_ac1(direct.weighted())),
        ] {
            prop_assert!(same(&[ours.map(|o| o.estimate)], &[theirs.map(|t| t.estimate)]));
        }
    }

    #[test]
    fn conger_of_two_raters_is_cohen_and_mean_pairwise_kappa_lies_near(cells in complete()) {
        let two: Cells = cells.into_iter().filter(|c| c.1 < 2).collect();
        let table = Table::new(ITEMS as usize, 2, CATEGORIES as usize, &two).unwrap();
        let cohen = pair_tables(&table, |_, _, pair| cohen_kappa(pair, PairWeights::Nominal));
        let conger = conger_kappa(&table, &Tally::of(&table));
        match (&cohen[0], &conger) {
            (Ok(cohen), Ok(conger)) => prop_assert!((cohen.estimate - conger.estimate).abs() < 1e-9),
            (a, b) => prop_assert!(a.is_err() && b.is_err()),
        }
    }

    #[test]
    fn weighted_kappa_of_two_categories_is_plain_kappa(counts in proptest::collection::vec(0_u32..30, 4)) {
        let pair = PairTable::new(2, counts.into_iter().map(f64::from).collect()).unwrap();
        let plain = cohen_kappa(&pair, PairWeights::Nominal);
        let values = [0.0, 1.0];
        for weights in [PairWeights::Linear(&values), PairWeights::Quadratic(&values)] {
            match (plain, cohen_kappa(&pair, weights)) {
                (Ok(a), Ok(b)) => prop_assert!((a.estimate - b.estimate).abs() < 1e-12 && (a.se - b.se).abs() < 1e-9),
                (a, b) => prop_assert_eq!(a, b),
            }
        }
    }

    #[test]
    fn adding_a_constant_to_all_numbers_changes_no_intraclass_correlation(cells in complete(), shift in -1e6..1e6_f64) {
        let table = table(&cells);
        let plain = IccTable::of(&table, &[1.0, 2.0, 4.0]);
        let moved = IccTable::of(&table, &[1.0 + shift, 2.0 + shift, 4.0 + shift]);
        for form in IccForm::ALL {
            let of = |squares: &Result<IccTable, Undefined>| squares.and_then(|s| s.form(form, 0.95)).map(|f| f.estimate);
            if let (Ok(a), Ok(b)) = (of(&plain), of(&moved)) {
                prop_assert!((a - b).abs() < 1e-6 * a.abs().max(1.0));
            }
        }
    }

    #[test]
    fn the_more_confidence_the_wider(cells in complete()) {
        let squares = IccTable::of(&table(&cells), &[0.0, 1.0, 2.0]);
        if let Ok(Ok(([a, b], [c, d]))) = squares.map(|s| {
            Ok::<_, Undefined>((s.form(IccForm::FixedSingle, 0.9)?.interval, s.form(IccForm::FixedSingle, 0.99)?.interval))
        }) {
            prop_assert!(c <= a && b <= d);
        }
    }
}
