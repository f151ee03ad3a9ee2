//! Coefficients of agreement against print and other programs; each source stands in the check's file.

use fairhearing::stats::Undefined;
use fairhearing::stats::agreement::*;
use fairhearing::stats::special::StudentT;
use fairhearing::stats::table::Table;
use fairhearing::stats::tally::Tally;

use crate::reference::Check;

const KAPPAS: [&str; 7] = [
    "kappa_fce1969",
    "kappa_cohen1968",
    "kappa_fc1990_balanced",
    "kappa_fc1990_prevalence",
    "kappa_fc1990_symmetric",
    "kappa_fc1990_asymmetric",
    "kappa_gwet_3x3",
];

#[test]
fn cohens_kappa_and_both_its_errors_are_those_of_print() {
    for id in KAPPAS {
        let check = Check::read("01_cohen_kappa.json", id);
        let pair = check.pair_table();
        let sections = check.expected("").as_object().unwrap();
        for name in sections
            .keys()
            .filter(|name| !["indices_2x2", "gwet_handbook"].contains(&name.as_str()))
        {
            let weights: Vec<f64> = check.expected(name)["weights"]
                .as_array()
                .into_iter()
                .flatten()
                .flat_map(|row| row.as_array().unwrap())
                .map(|weight| weight.as_f64().unwrap())
                .collect();
            let kind = if name == "unweighted" {
                PairWeights::Nominal
            } else {
                PairWeights::Given(&weights)
            };
            let kappa = cohen_kappa(&pair, kind).unwrap();
            check.holds(&format!("{name}.n"), kappa.items);
            check.holds(&format!("{name}.po"), kappa.observed);
            check.holds(&format!("{name}.pe"), kappa.expected);
            check.holds(&format!("{name}.kappa"), kappa.estimate);
            check.holds(&format!("{name}.se"), kappa.se);
            check.holds(&format!("{name}.se_null"), kappa.se_null);
            check.holds(&format!("{name}.z_null"), kappa.z);
            check.holds(&format!("{name}.p_null"), kappa.p);
            check.holds_interval(&format!("{name}.ci95"), kappa.interval(0.95).unwrap());
        }
    }
}

#[test]
fn linear_and_quadratic_weights_follow_the_distance_of_values() {
    let check = Check::read("01_cohen_kappa.json", "kappa_fce1969");
    let values = [1.0, 2.0, 3.0];
    let pair = check.pair_table();
    check.holds(
        "linear.kappa",
        cohen_kappa(&pair, PairWeights::Linear(&values))
            .unwrap()
            .estimate,
    );
    check.holds(
        "quadratic.se",
        cohen_kappa(&pair, PairWeights::Quadratic(&values))
            .unwrap()
            .se,
    );
}

#[test]
fn the_indices_of_two_by_two_tables_are_those_of_byrt_and_colleagues() {
    for id in KAPPAS.iter().filter(|id| id.contains("fc1990")) {
        let check = Check::read("01_cohen_kappa.json", id);
        let pair = check.pair_table();
        check.holds(
            "indices_2x2.prevalence_index",
            pair.prevalence_index(0).unwrap(),
        );
        check.holds("indices_2x2.bias_index", pair.bias_index(0).unwrap());
        check.holds("indices_2x2.pabak", pair.pabak().unwrap());
        check.holds("indices_2x2.positive_agreement", pair.specific(0).unwrap());
        check.holds("indices_2x2.negative_agreement", pair.specific(1).unwrap());
    }
}

#[test]
fn two_raters_coefficients_are_those_of_gwets_handbook() {
    for id in KAPPAS
        .iter()
        .filter(|id| id.contains("fc1990") || id.contains("gwet"))
    {
        let check = Check::read("01_cohen_kappa.json", id);
        let table = two_raters(&check);
        let tally = Tally::of(&table);
        // For two raters the handbook divides by n where its form for many raters divides by n − 1.
        let table_form = ((pairs_judged(&table) - 1.0) / pairs_judged(&table)).sqrt();
        for (name, ours) in [
            ("ac1", gwet_ac1(tally.weighted())),
            ("scott_pi", fleiss_kappa(tally.weighted())),
            ("brennan_prediger", brennan_prediger(tally.weighted())),
            ("cohen_kappa", conger_kappa(&table, &tally)),
        ] {
            let ours = ours.unwrap();
            check.holds(&format!("gwet_handbook.{name}.value"), ours.estimate);
            let se = ours.variance.unwrap().sqrt() * table_form;
            check.holds(&format!("gwet_handbook.{name}.se"), se);
        }
        let alpha = krippendorff_alpha(
            tally.weighted(),
            AlphaScale::Nominal,
            &mut Workspace::default(),
        );
        check.holds("gwet_handbook.alpha.value", alpha.unwrap());
    }
}

#[test]
fn fleiss_kappa_is_that_of_1971_with_the_error_of_1979() {
    for id in ["fleiss1971", "fleiss_10x5_14raters"] {
        let check = Check::read("02_fleiss_kappa.json", id);
        let table = counted_items(&check);
        let tally = Tally::of(&table);
        let kappa = fleiss_kappa(tally.weighted()).unwrap();
        check.holds("P_bar", kappa.observed);
        check.holds("P_e", kappa.expected);
        check.holds("kappa", kappa.estimate);
        check.holds("subject_sampling_se_gwet", kappa.variance.unwrap().sqrt());
        check.holds_interval("subject_sampling_ci95_gwet", t_interval(&kappa));
        let null = fleiss_null_error(tally.weighted()).unwrap();
        check.holds("se_null_1979", null.se);
        check.holds("z_1979", null.z);
        check.holds("p_value", null.p);
        let theirs = check.expected("per_category.kappa").as_array().unwrap();
        for (category, theirs) in (0..).zip(theirs) {
            let ours = fleiss_kappa_of_category(tally.weighted(), category).unwrap();
            assert!(
                (ours - theirs.as_f64().unwrap()).abs() < check.tolerance(""),
                "{category}"
            );
        }
    }
}

#[test]
fn krippendorffs_alpha_is_that_of_his_working_paper_and_of_hayes() {
    for id in [
        "alpha_k2011_binary",
        "alpha_k2011_nominal",
        "alpha_k2011_missing",
        "alpha_sparse_binary",
        "alpha_hk2007",
    ] {
        let check = Check::read("03_krippendorff_alpha.json", id);
        let (table, values) = check.ratings();
        let tally = Tally::of(&table);
        for name in check.expected("alpha").as_object().unwrap().keys() {
            let scale = match name.as_str() {
                "nominal" => AlphaScale::Nominal,
                "ordinal" => AlphaScale::Ordinal,
                "interval" => AlphaScale::Interval(&values),
                _ => continue,
            };
            let ours = krippendorff_alpha(tally.weighted(), scale, &mut Workspace::default());
            check.holds(&format!("alpha.{name}"), ours.unwrap());
        }
    }
}

#[test]
fn alpha_over_resampled_items_spreads_as_in_another_program() {
    for id in ["alpha_k2011_missing", "alpha_hk2007"] {
        let check = Check::read("03_krippendorff_alpha.json", id);
        let (table, _) = check.ratings();
        let values = resampled_alphas(&Tally::of(&table), AlphaScale::Nominal, 4000, 1);
        let at = |share: f64| values[(share * (values.len() - 1) as f64).round() as usize];
        // Monte Carlo and percentile rule: .03, as the check's note says
        let theirs = check.expected("unit_bootstrap_ci95_nominal");
        for (ours, theirs) in [(at(0.025), &theirs[0]), (at(0.975), &theirs[1])] {
            assert!(
                (ours - theirs.as_f64().unwrap()).abs() < 0.03,
                "{id}: {ours}, {theirs}"
            );
        }
    }
}

#[test]
fn gwets_family_is_that_of_his_handbook_with_gaps_and_many_raters() {
    for id in [
        "gwet_raw4raters",
        "gwet_psych15",
        "gwet_binary_high_prevalence",
    ] {
        let check = Check::read("04_gwet_ac1_brennan_prediger.json", id);
        let (table, _) = check.ratings();
        let tally = Tally::of(&table);
        let mut all = vec![
            ("ac1", gwet_ac1(tally.weighted())),
            ("fleiss_kappa", fleiss_kappa(tally.weighted())),
            ("brennan_prediger", brennan_prediger(tally.weighted())),
        ];
        if id != "gwet_psych15" {
            // there only counts are known and the raters are a filler
            all.push(("conger_kappa", conger_kappa(&table, &tally)));
        }
        for (name, ours) in all {
            let ours = ours.unwrap();
            check.holds(&format!("{name}.value"), ours.estimate);
            check.holds(&format!("{name}.pa"), ours.observed);
            check.holds(&format!("{name}.pe"), ours.expected);
            check.holds(&format!("{name}.se"), ours.variance.unwrap().sqrt());
            check.holds_interval(&format!("{name}.ci95"), t_interval(&ours));
        }
        let alpha = krippendorff_alpha(
            tally.weighted(),
            AlphaScale::Nominal,
            &mut Workspace::default(),
        );
        check.holds("alpha.value", alpha.unwrap());
    }
}

#[test]
fn the_six_intraclass_correlations_are_those_of_shrout_and_fleiss() {
    for id in [
        "icc_sf1979",
        "icc_wine",
        "icc_binary_brennan1",
        "icc_negative",
        "icc_dental",
    ] {
        let check = Check::read("05_icc.json", id);
        let (table, values) = check.ratings();
        let squares = IccTable::of(&table, &values).unwrap();
        check.holds("BMS", squares.between);
        check.holds("JMS", squares.raters);
        check.holds("WMS", squares.within);
        check.holds("EMS", squares.residual);
        check.holds("satterthwaite_df_icc2", squares.satterthwaite_df());
        for form in IccForm::ALL {
            let name = form.description().split(':').next().unwrap();
            let ours = squares.form(form, 0.95).unwrap();
            check.holds(&format!("forms.{name}.icc"), ours.estimate);
            check.holds_interval(&format!("forms.{name}.ci95"), ours.interval);
            check.holds(&format!("forms.{name}.F"), ours.f);
            check.holds(&format!("forms.{name}.df1"), ours.df1);
            check.holds(&format!("forms.{name}.df2"), ours.df2);
            check.holds(&format!("forms.{name}.p"), ours.p);
            let together =
                squares.forms(0.95)[IccForm::ALL.iter().position(|f| *f == form).unwrap()].unwrap();
            check.holds(&format!("forms.{name}.icc"), together.estimate);
            check.holds_interval(&format!("forms.{name}.ci95"), together.interval);
        }
    }
}

#[test]
fn mcnemars_test_is_that_of_agresti_in_all_its_forms() {
    for id in ["mcnemar_approval", "mcnemar_small"] {
        let check = Check::read("08_mcnemar_cochran.json", id);
        let test = mcnemar(check.number("b") as u32, check.number("c") as u32).unwrap();
        check.holds("chi2_uncorrected", test.chi2);
        check.holds("chi2_edwards", test.chi2_edwards);
        check.holds("p_uncorrected", test.p);
        check.holds("p_edwards", test.p_edwards);
        check.holds("p_exact", test.p_exact);
        check.holds("p_mid", test.p_mid);
        let (b, c) = check.pair_table().discordant(0).unwrap();
        assert_eq!((b, c), (check.number("b"), check.number("c")));
    }
}

#[test]
fn cochrans_q_is_that_of_other_programs() {
    for id in ["cochran_energetic", "cochran_hand"] {
        let check = Check::read("08_mcnemar_cochran.json", id);
        let q = cochran_q(&check.ratings().0).unwrap();
        check.holds("Q", q.q);
        check.holds("df", q.df);
        check.holds("p", q.p);
    }
}

#[test]
fn what_does_not_exist_is_undefined_and_never_a_number() {
    let (table, _) = Check::read("00_edge_cases.json", "edge_one_category").ratings();
    // the data show one category; the scale is declared to have two
    let declared = with_categories(&table, 2);
    let tally = Tally::of(&declared);
    assert_eq!(percent_agreement(tally.weighted()).unwrap().estimate, 1.0);
    assert_eq!(fleiss_kappa(tally.weighted()), Err(Undefined::OneCategory));
    let alpha = krippendorff_alpha(
        tally.weighted(),
        AlphaScale::Nominal,
        &mut Workspace::default(),
    );
    assert_eq!(alpha, Err(Undefined::OneCategory));
    assert_eq!(
        IccTable::of(&declared, &[0.0, 1.0]),
        Err(Undefined::NoVariance)
    );
    assert_eq!(conger_kappa(&declared, &tally), Err(Undefined::OneCategory));
    let kappas = pair_tables(&declared, |_, _, pair| {
        cohen_kappa(pair, PairWeights::Nominal)
    });
    assert!(
        !kappas.is_empty()
            && kappas
                .iter()
                .all(|kappa| *kappa == Err(Undefined::OneCategory))
    );
    let check = Check::read("00_edge_cases.json", "edge_one_category");
    check.holds(
        "ac1_if_scale_has_2_categories",
        gwet_ac1(tally.weighted()).unwrap().estimate,
    );
    check.holds(
        "brennan_prediger_if_scale_has_2_categories",
        brennan_prediger(tally.weighted()).unwrap().estimate,
    );
    assert_eq!(
        gwet_ac1(Tally::of(&table).weighted()),
        Err(Undefined::OneCategoryScale)
    );

    let unused = Check::read("00_edge_cases.json", "edge_unused_category");
    unused.holds(
        "pe_bp_q2",
        brennan_prediger(tally.weighted()).unwrap().expected,
    );
    unused.holds("pe_ac1_q2", gwet_ac1(tally.weighted()).unwrap().expected);
    let three = Tally::of(&with_categories(&table, 3));
    unused.holds(
        "pe_bp_q3",
        brennan_prediger(three.weighted()).unwrap().expected,
    );

    let (lonely, _) = Check::read("00_edge_cases.json", "edge_no_pairs").ratings();
    let tally = Tally::of(&lonely);
    assert_eq!(percent_agreement(tally.weighted()), Err(Undefined::NoPairs));
    assert_eq!(fleiss_kappa(tally.weighted()), Err(Undefined::NoPairs));
    assert_eq!(gwet_ac1(tally.weighted()), Err(Undefined::NoPairs));
    let alpha = krippendorff_alpha(
        tally.weighted(),
        AlphaScale::Nominal,
        &mut Workspace::default(),
    );
    assert_eq!(alpha, Err(Undefined::NoPairs));
}

fn pairs_judged(table: &Table) -> f64 {
    table.n_items() as f64
}

fn t_interval(ours: &ChanceCorrected) -> [f64; 2] {
    let t = StudentT::new(ours.items - 1.0).unwrap().quantile(0.975);
    let half = t * ours.variance.unwrap().sqrt();
    [ours.estimate - half, (ours.estimate + half).min(1.0)]
}

fn with_categories(table: &Table, n_categories: usize) -> Table {
    let judgements: Vec<_> = (0..)
        .zip(table.items())
        .flat_map(|(item, cells)| {
            cells
                .iter()
                .map(move |cell| (item, cell.rater, cell.category))
        })
        .collect();
    Table::new(table.n_items(), table.n_raters(), n_categories, &judgements).unwrap()
}

/// A table of counts of two raters, spread out item by item.
fn two_raters(check: &Check) -> Table {
    let pair = check.pair_table();
    let q = pair.n_categories();
    let mut judgements = Vec::new();
    let mut item = 0;
    for (row, column) in (0..q).flat_map(|row| (0..q).map(move |column| (row, column))) {
        for _ in 0..(pair.share(row, column) * pair.items()).round() as usize {
            judgements.push((item, 0, row as u32));
            judgements.push((item, 1, column as u32));
            item += 1;
        }
    }
    Table::new(item as usize, 2, q, &judgements).unwrap()
}

/// Items given as counts (`item,category,count`), with raters numbered within each.
fn counted_items(check: &Check) -> Table {
    let mut judgements = Vec::new();
    let mut used = std::collections::HashMap::new();
    for row in check.rows() {
        let numbers: Vec<u32> = row.iter().map(|cell| cell.parse().unwrap()).collect();
        for _ in 0..numbers[2] {
            let rater = used.entry(numbers[0]).or_insert(0);
            judgements.push((numbers[0] - 1, *rater, numbers[1] - 1));
            *rater += 1;
        }
    }
    let size =
        |of: fn(&(u32, u32, u32)) -> u32| judgements.iter().map(of).max().unwrap() as usize + 1;
    Table::new(size(|j| j.0), size(|j| j.1), size(|j| j.2), &judgements).unwrap()
}
