//! How often the intervals cover, over many worlds: the slow table that the documentation quotes.
//!
//! `calibration [REPLICATES [PANEL…]]`: 1,500 replicates and the panels `9/9 15/15 9/15 9/30` (judgements of a token / listeners)
//! where nothing is said; each with 10, 20 and 50 words, over 15 worlds: 5 spreads of tokens and listeners × 3 of
//! sessions. Eight children, 4 + 4 sessions. Prints for each design the least, mean and greatest coverage over the worlds in
//! percent, and the mean width in points; at the foot the widest Monte-Carlo limits of a cell.

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
    "session .1", "session .5", "session .9", "days .1", "days .5", "days .9", "days .1-.5", "child .1", "child .5",
    "child .9", "child .1-.5", "improved, false",
];
/// Of the cells, that of a false 'improved'.
const FALSE_GAIN: usize = CELLS - 1;

fn main() {
    let mut arguments = std::env::args().skip(1);
    let replicates = arguments.next().map_or(1_500, |n| n.parse().expect("a number of replicates"));
    let mut panels: Vec<(usize, usize)> = arguments.map(|panel| panel_of(&panel)).collect();
    if panels.is_empty() {
        panels = vec![(9, 9), (15, 15), (9, 15), (9, 30)];
    }
    let children = vec![[0.1, 0.1], [0.5, 0.5], [0.9, 0.9], [0.1, 0.5], [0.1, 0.1], [0.5, 0.5], [0.9, 0.9], [0.1, 0.5]];
    println!("{replicates} replicates of every world; least, mean and greatest coverage over 15 worlds (mean width)");
    println!("{:>16} | {}", "words, panel", HEAD.map(|head| format!("{head:>26}")).join(" | "));
    let mut widest: f64 = 0.0;
    for words in [10, 20, 50] {
        for (judgements, listeners) in panels.iter().copied() {
            let worlds: Vec<[Cell; CELLS]> = worlds()
                .into_iter()
                .map(|spread| {
                    let panel = Panel { judgements, listeners };
                    let plan = Plan { spread, panel, words, children: children.clone(), sessions: 4 };
                    cells(&plan, replicates)
                })
                .collect();
            let shown: Vec<String> = (0..CELLS)
                .map(|cell| {
                    let of = |what: fn(&Cell) -> f64| worlds.iter().map(|world| what(&world[cell])).collect::<Vec<f64>>();
                    let shares = of(Cell::share);
                    let least = shares.iter().copied().fold(f64::INFINITY, f64::min);
                    let most = shares.iter().copied().fold(0.0, f64::max);
                    widest = of(Cell::half_width).into_iter().fold(widest, f64::max);
                    let width = if cell == FALSE_GAIN { String::new() } else { format!("({:.1})", mean(&of(Cell::width))) };
                    format!("{least:5.1} {:6.2} {most:5.1} {width:>7}", mean(&shares))
                })
                .collect();
            println!("{words:>2}, {judgements:>2} of {listeners:>2}     | {}", shown.join(" | "));
        }
    }
    println!("Monte-Carlo limits (95%, replicates as the unit): at most ±{widest:.2} points for one world of one design");
}

fn panel_of(argument: &str) -> (usize, usize) {
    let (judgements, listeners) = argument.split_once('/').expect("a panel such as 9/15");
    (judgements.parse().expect("a number of judgements"), listeners.parse().expect("a number of listeners"))
}

fn mean(values: &[f64]) -> f64 {
    values.iter().sum::<f64>() / values.len() as f64
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

/// Intervals of one kind over all replicates of a world. Those of a replicate share its panel, so its share of hits is one
/// observation.
#[derive(Clone, Copy, Default)]
struct Cell {
    replicates: f64,
    hits: f64,
    hits_squared: f64,
    widths: f64,
}

impl Cell {
    /// Percent of intervals that held the truth.
    fn share(&self) -> f64 {
        100.0 * self.hits / self.replicates
    }

    /// Mean width in points.
    fn width(&self) -> f64 {
        100.0 * self.widths / self.replicates
    }

    /// Half the width of the 95% Monte-Carlo limits of the share, in points.
    fn half_width(&self) -> f64 {
        let variance = self.hits_squared / self.replicates - (self.hits / self.replicates).powi(2);
        196.0 * (variance.max(0.0) / self.replicates).sqrt()
    }

    fn and(self, other: Self) -> Self {
        Self {
            replicates: self.replicates + other.replicates,
            hits: self.hits + other.hits,
            hits_squared: self.hits_squared + other.hits_squared,
            widths: self.widths + other.widths,
        }
    }
}

fn cells(plan: &Plan, replicates: u64) -> [Cell; CELLS] {
    let levels = plan.levels();
    (0..replicates)
        .into_par_iter()
        .map(|replicate| {
            let mut rng = ChaCha12Rng::seed_from_u64(2_026);
            rng.set_stream(replicate);
            one_replicate(plan, &plan.simulate(&levels, &mut rng))
        })
        .reduce(|| [Cell::default(); CELLS], |all, one| std::array::from_fn(|cell| all[cell].and(one[cell])))
}

/// Hits, width and trials of each cell in one replicate.
#[derive(Clone, Copy, Default)]
struct Count {
    hits: f64,
    width: f64,
    trials: f64,
}

fn one_replicate(plan: &Plan, round: &Simulated) -> [Cell; CELLS] {
    let intervals = Round::new(&round.judgements, &round.places).expect("a round");
    let mut counts = [Count::default(); CELLS];
    let mut count = |cell: usize, hit: bool, width: f64| {
        counts[cell].hits += f64::from(u8::from(hit));
        counts[cell].width += width;
        counts[cell].trials += 1.0;
    };
    let n = plan.sessions;
    for (child, [before, after]) in plan.children.iter().copied().enumerate() {
        let first = child * 2 * n;
        let from: Vec<usize> = (first..first + n).collect();
        let to: Vec<usize> = (first + n..first + 2 * n).collect();
        for (sessions, accuracy) in [(&from, before), (&to, after)] {
            for session in sessions {
                let found = intervals.session(*session, 0.95).expect("an interval");
                let truth = round.truth[*session];
                count(level(accuracy), (found.low..=found.high).contains(&truth), found.high - found.low);
            }
        }
        let kind = if before < after { 3 } else { level(before) };
        let mean = |set: &[usize]| set.iter().map(|s| round.truth[*s]).sum::<f64>() / n as f64;
        let days = intervals.change(&from, &to, Reading::TheseDays, 0.95).expect("an interval");
        count(3 + kind, (days.low..=days.high).contains(&(mean(&to) - mean(&from))), days.high - days.low);
        let own = intervals.change(&from, &to, Reading::Child, 0.95).expect("an interval");
        count(7 + kind, (own.low..=own.high).contains(&(after - before)), own.high - own.low);
        if kind < 3 {
            let said = verdict(own.difference, [own.low, own.high], own.mdc95, 0.15);
            count(FALSE_GAIN, said == Verdict::Improved, 0.0);
        }
    }
    counts.map(|count| {
        let share = count.hits / count.trials;
        Cell { replicates: 1.0, hits: share, hits_squared: share * share, widths: count.width / count.trials }
    })
}

/// Which of the three accuracies that are simulated.
fn level(accuracy: f64) -> usize {
    [0.1, 0.5, 0.9].iter().position(|level| (level - accuracy).abs() < 1e-9).expect("one of three")
}
