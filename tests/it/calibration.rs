//! Do the intervals cover what they say? Rounds whose truth is known are simulated and counted.
//!
//! 9 and 15 judgements a token × 10, 20 and 50 words, complete and incomplete, 8 children, 4 + 4 sessions; accuracies .1, .5, .9.
//! Asked of every cell: at least 92% of 95% intervals cover; of the mean over cells: 92 to 98%. 'Improved' where no gain is
//! true: at most 5% of children, upper Monte-Carlo limit at most 6%. The slower run over more worlds is in the benchmarks.

use std::collections::BTreeMap;

use fairhearing::stats::interval::Judgement;
use fairhearing::stats::interval::Reading;
use fairhearing::stats::interval::Round;
use fairhearing::stats::verdict::Verdict;
use fairhearing::stats::verdict::verdict;
use rand::SeedableRng;
use rand_chacha::ChaCha12Rng;
use rayon::prelude::*;

use crate::simulated_round::Panel;
use crate::simulated_round::Plan;
use crate::simulated_round::Simulated;
use crate::simulated_round::Spread;

/// Replicates of a design, more where a round is smaller: chance should not decide a cell.
fn replicates(words: usize) -> u64 {
    match words {
        ..15 => 1000,
        15..30 => 600,
        _ => 350,
    }
}

/// Hits and trials of one kind of interval.
type Counts = BTreeMap<String, [u32; 2]>;

fn children() -> Vec<[f64; 2]> {
    vec![
        [0.1, 0.1],
        [0.1, 0.1],
        [0.5, 0.5],
        [0.5, 0.5],
        [0.9, 0.9],
        [0.9, 0.9],
        [0.1, 0.5],
        [0.5, 0.9],
    ]
}

fn count(counts: &mut Counts, what: String, hit: bool) {
    let [hits, trials] = counts.entry(what).or_default();
    *hits += u32::from(hit);
    *trials += 1;
}

/// One replicate: every session, both readings of every change, and false improvements.
fn judge(plan: &Plan, round: &Simulated, counts: &mut Counts) {
    let intervals = Round::new(&round.judgements, &round.places).unwrap();
    let n = plan.sessions;
    for (child, accuracy) in plan.children.iter().enumerate() {
        let first = child * 2 * n;
        let (from, to): (Vec<usize>, Vec<usize>) = (
            (first..first + n).collect(),
            (first + n..first + 2 * n).collect(),
        );
        for (sessions, accuracy) in [(&from, accuracy[0]), (&to, accuracy[1])] {
            for session in sessions {
                let interval = intervals.session(*session, 0.95).unwrap();
                let truth = round.truth[*session];
                let hit = interval.low <= truth && truth <= interval.high;
                count(counts, format!("session {accuracy}"), hit);
            }
        }
        let mean =
            |sessions: &[usize]| sessions.iter().map(|s| round.truth[*s]).sum::<f64>() / n as f64;
        let days = intervals
            .change(&from, &to, Reading::TheseDays, 0.95)
            .unwrap();
        let truth = mean(&to) - mean(&from);
        let name = format!("{} to {}", accuracy[0], accuracy[1]);
        count(
            counts,
            format!("these days {name}"),
            days.low <= truth && truth <= days.high,
        );
        let own = intervals.change(&from, &to, Reading::Child, 0.95).unwrap();
        let truth = accuracy[1] - accuracy[0];
        count(
            counts,
            format!("child {name}"),
            own.low <= truth && truth <= own.high,
        );
        if truth.abs() < 1e-9 {
            let said = verdict(own.difference, [own.low, own.high], own.mdc95, 0.15);
            count(
                counts,
                format!("false improved {name}"),
                said == Verdict::Improved,
            );
        }
    }
}

fn simulate(plan: &Plan, seed: u64, replicates: u64, weigh: fn(&mut [Judgement])) -> Counts {
    let levels = plan.levels();
    (0..replicates)
        .into_par_iter()
        .map(|replicate| {
            let mut rng = ChaCha12Rng::seed_from_u64(seed);
            rng.set_stream(replicate);
            let mut round = plan.simulate(&levels, &mut rng);
            weigh(&mut round.judgements);
            let mut counts = Counts::new();
            judge(plan, &round, &mut counts);
            counts
        })
        .reduce(Counts::new, |mut all, one| {
            for (what, [hits, trials]) in one {
                let sum = all.entry(what).or_default();
                sum[0] += hits;
                sum[1] += trials;
            }
            all
        })
}

/// Prints every cell with its Monte-Carlo limits and holds it against what is promised.
fn hold(cells: &[(String, Counts)]) {
    let mut covered: BTreeMap<&str, Vec<f64>> = BTreeMap::new();
    let mut improved = [0, 0];
    let mut wrong = Vec::new();
    for (design, counts) in cells {
        for (what, [hits, trials]) in counts {
            let share = f64::from(*hits) / f64::from(*trials);
            // Sessions of one replicate share a panel, so the binomial limits are somewhat too narrow for them.
            let [low, high] =
                fairhearing::stats::proportion::wilson(f64::from(*hits), f64::from(*trials), 0.95);
            println!(
                "{design}, {what}: {:.1}% ({:.1} to {:.1})",
                share * 100.0,
                low * 100.0,
                high * 100.0
            );
            if what.starts_with("false improved") {
                improved[0] += hits;
                improved[1] += trials;
                if share > 0.05 || high > 0.06 {
                    wrong.push(format!("{design}, {what}: {share}"));
                }
                continue;
            }
            let kind = what.split(' ').next().unwrap();
            covered.entry(kind).or_default().push(share);
            if share < 0.92 {
                wrong.push(format!("{design}, {what}: {share}"));
            }
        }
    }
    for (kind, shares) in covered {
        let mean = shares.iter().sum::<f64>() / shares.len() as f64;
        println!(
            "{kind}: mean {:.2}% over {} cells",
            mean * 100.0,
            shares.len()
        );
        if !(0.92..=0.98).contains(&mean) {
            wrong.push(format!("{kind}: mean {mean}"));
        }
    }
    println!(
        "false improved: {:.2}%",
        100.0 * f64::from(improved[0]) / f64::from(improved[1])
    );
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn intervals_cover_in_every_design_and_improved_is_rarely_false() {
    let panels = [(9, 9), (15, 15), (9, 15), (9, 30)];
    let mut cells = Vec::new();
    for (seed, (judgements, listeners)) in (0..).zip(panels) {
        for words in [10, 20, 50] {
            let plan = Plan {
                spread: Spread::USUAL,
                panel: Panel {
                    judgements,
                    listeners,
                },
                words,
                children: children(),
                sessions: 4,
            };
            let counts = simulate(&plan, 100 * seed + words as u64, replicates(words), |_| {});
            cells.push((
                format!("{words} words, {judgements} of {listeners}"),
                counts,
            ));
        }
    }
    hold(&cells);
}

#[test]
fn intervals_cover_where_listeners_are_weighted() {
    let plan = Plan {
        spread: Spread::USUAL,
        panel: Panel {
            judgements: 9,
            listeners: 15,
        },
        words: 20,
        children: children(),
        sessions: 4,
    };
    let counts = simulate(&plan, 77, replicates(20), |judgements| {
        for judgement in judgements {
            judgement.weight = 1.0 / f64::from(1 + judgement.listener % 4);
        }
    });
    hold(&[("weighted, 20 words, 9 of 15".to_owned(), counts)]);
}
