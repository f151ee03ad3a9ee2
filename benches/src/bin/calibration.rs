//! How often the intervals cover, over many worlds: the slow table that the documentation quotes.
//!
//! `calibration [REPLICATES]` (1,500 where nothing is said): 5 spreads of tokens and listeners × 3 of sessions × 4 panels × 3
//! probes; prints the least, mean and greatest coverage of each design over the 15 worlds.

use fairhearing::stats::interval::Reading;
use fairhearing::stats::interval::Round;
use fairhearing::stats::verdict::Verdict;
use fairhearing::stats::verdict::verdict;
use rand::SeedableRng;
use rand_chacha::ChaCha12Rng;
use rayon::prelude::*;

#[expect(dead_code, reason = "the test suite uses more of it")]
#[path = "../../../tests/it/simulated_round.rs"]
mod simulated_round;

use simulated_round::Panel;
use simulated_round::Plan;
use simulated_round::Simulated;
use simulated_round::Spread;

/// Sessions at .1, .5, .9; these days and child for .1, .5, .9 held and .1 to .5; false 'improved'.
const CELLS: usize = 3 + 4 + 4 + 1;
const HEAD: [&str; CELLS] = [
    "S .1", "S .5", "S .9", "F .1", "F .5", "F .9", "F .1-.5", "R .1", "R .5", "R .9", "R .1-.5", "false +",
];

fn main() {
    let replicates = std::env::args().nth(1).and_then(|n| n.parse().ok()).unwrap_or(1_500);
    let children = vec![[0.1, 0.1], [0.5, 0.5], [0.9, 0.9], [0.1, 0.5], [0.1, 0.1], [0.5, 0.5], [0.9, 0.9], [0.1, 0.5]];
    println!("{:>14} | {}", "design", HEAD.map(|h| format!("{h:>19}")).join(" | "));
    for words in [10, 20, 50] {
        for (judgements, listeners) in [(9, 9), (15, 15), (9, 15), (9, 30)] {
            let worlds: Vec<[f64; CELLS]> = worlds()
                .into_iter()
                .map(|spread| {
                    let panel = Panel { judgements, listeners };
                    let plan = Plan { spread, panel, words, children: children.clone(), sessions: 4 };
                    coverage(&plan, replicates)
                })
                .collect();
            let cells: Vec<String> = (0..CELLS)
                .map(|cell| {
                    let shares: Vec<f64> = worlds.iter().map(|world| world[cell] * 100.0).collect();
                    let least = shares.iter().copied().fold(f64::INFINITY, f64::min);
                    let most = shares.iter().copied().fold(0.0, f64::max);
                    let mean = shares.iter().sum::<f64>() / shares.len() as f64;
                    format!("{least:5.1} {mean:6.2} {most:6.1}")
                })
                .collect();
            println!("{words:>2} x {judgements:>2} of {listeners:>2} | {}", cells.join(" | "));
        }
    }
}

fn worlds() -> Vec<Spread> {
    let inside = [(0.6, 1.0, 0.3), (2.0, 0.4, 0.0), (2.0, 1.0, 0.3), (0.6, 0.4, 0.0), (1.2, 0.7, 0.3)];
    let with_day = |session: f64| {
        inside.map(|(token, listener, listener_session)| Spread {
            token,
            word: 0.5,
            listener,
            listener_session,
            session,
        })
    };
    [0.0, 0.3, 0.6].into_iter().flat_map(with_day).collect()
}

fn coverage(plan: &Plan, replicates: u64) -> [f64; CELLS] {
    let levels = plan.levels();
    let sums = (0..replicates)
        .into_par_iter()
        .map(|replicate| {
            let mut rng = ChaCha12Rng::seed_from_u64(2_026);
            rng.set_stream(replicate);
            hits(plan, &plan.simulate(&levels, &mut rng))
        })
        .reduce(
            || [[0.0; 2]; CELLS],
            |mut all, one| {
                for (sum, [hits, trials]) in all.iter_mut().zip(one) {
                    sum[0] += hits;
                    sum[1] += trials;
                }
                all
            },
        );
    sums.map(|[hits, trials]| hits / trials)
}

fn hits(plan: &Plan, round: &Simulated) -> [[f64; 2]; CELLS] {
    let intervals = Round::new(&round.judgements, &round.places).expect("a round");
    let mut counts = [[0.0; 2]; CELLS];
    let mut count = |cell: usize, hit: bool| {
        counts[cell][0] += f64::from(u8::from(hit));
        counts[cell][1] += 1.0;
    };
    let n = plan.sessions;
    for (child, [before, after]) in plan.children.iter().copied().enumerate() {
        let first = child * 2 * n;
        let from: Vec<usize> = (first..first + n).collect();
        let to: Vec<usize> = (first + n..first + 2 * n).collect();
        for (sessions, accuracy) in [(&from, before), (&to, after)] {
            let cell = [0.1, 0.5, 0.9].iter().position(|a| (a - accuracy).abs() < 1e-9);
            for session in sessions {
                let found = intervals.session(*session, 0.95).expect("an interval");
                let truth = round.truth[*session];
                count(cell.expect("one of three"), (found.low..=found.high).contains(&truth));
            }
        }
        let kind = if before < after { 3 } else { [0.1, 0.5, 0.9].iter().position(|a| *a == before).expect("one of three") };
        let mean = |set: &[usize]| set.iter().map(|s| round.truth[*s]).sum::<f64>() / n as f64;
        let days = intervals.change(&from, &to, Reading::TheseDays, 0.95).expect("an interval");
        count(3 + kind, (days.low..=days.high).contains(&(mean(&to) - mean(&from))));
        let own = intervals.change(&from, &to, Reading::Child, 0.95).expect("an interval");
        count(7 + kind, (own.low..=own.high).contains(&(after - before)));
        if kind < 3 {
            let said = verdict(own.difference, [own.low, own.high], own.mdc95, 0.15);
            count(11, said == Verdict::Improved);
        }
    }
    counts
}
