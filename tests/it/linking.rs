//! Three rounds heard by three panels: on one scale the truth is found again, and without linking it is not.

use std::collections::BTreeMap;

use fairhearing::stats::interval::HeardSession;
use fairhearing::stats::interval::Judgement;
use fairhearing::stats::interval::Leniency;
use fairhearing::stats::interval::LinkToken;
use fairhearing::stats::interval::Linking;
use fairhearing::stats::interval::Place;
use fairhearing::stats::interval::Placed;
use fairhearing::stats::interval::Reading;
use fairhearing::stats::interval::Round;
use fairhearing::stats::interval::Scale;
use fairhearing::stats::interval::linkings;
use rand::Rng;
use rand::RngExt;
use rand::SeedableRng;
use rand_chacha::ChaCha12Rng;
use rand_distr::Distribution;
use rand_distr::StandardNormal;
use rayon::prelude::*;

/// What is simulated: common practice, no source. Log odds throughout.
const LENIENCY: [f64; 3] = [0.0, 0.9, -0.7];
const LISTENERS: u32 = 9;
const LISTENER_SD: f64 = 0.5;
const TOKEN_SD: f64 = 1.2;
const WORD_SD: f64 = 0.5;
const SESSION_SD: f64 = 0.3;
const WORDS: u32 = 15;
const CHILDREN: u32 = 6;
/// Sessions of each child in each round, and their phase.
const SESSIONS: [(u32, u32); 3] = [(3, 0), (2, 1), (3, 1)];
const SHARE: f64 = 0.15;
const REPLICATES: u64 = 160;

fn normal(rng: &mut impl Rng) -> f64 {
    StandardNormal.sample(rng)
}

fn expit(x: f64) -> f64 {
    1.0 / (1.0 + (-x).exp())
}

/// The mean of expit(μ + σz) over a standard normal z, by the trapezoid rule.
fn expected(mean: f64, sd: f64) -> f64 {
    let steps = 400;
    let (mut sum, mut weights) = (0.0, 0.0);
    for step in 0..=steps {
        let z = -6.0 + 12.0 * f64::from(step) / f64::from(steps);
        let weight = (-z * z / 2.0).exp();
        sum += weight * expit(mean + sd * z);
        weights += weight;
    }
    sum / weights
}

struct Token {
    session: usize,
    word: u32,
    quality: f64,
}

struct Session {
    round: usize,
    child: u32,
    phase: u32,
    level: f64,
    day: f64,
}

/// One study: the sessions with what is true of them, and all as it was heard.
struct Simulated {
    sessions: Vec<Session>,
    tokens: Vec<Token>,
    /// Of each round: token, listener, correct.
    heard: Vec<Vec<(usize, u32, bool)>>,
}

fn simulate(rng: &mut impl Rng) -> Simulated {
    let words: Vec<f64> = (0..WORDS).map(|_| WORD_SD * normal(rng)).collect();
    let (mut sessions, mut tokens, mut heard) = (Vec::new(), Vec::new(), Vec::new());
    let mut shares: Vec<(usize, f64)> = Vec::new();
    let levels: Vec<[f64; 2]> = (0..CHILDREN)
        .map(|child| {
            let start = -1.2 + 0.3 * f64::from(child);
            [start, start + 0.35 * f64::from(child)]
        })
        .collect();
    for (round, (count, phase)) in SESSIONS.into_iter().enumerate() {
        let first_new = tokens.len();
        for child in 0..CHILDREN {
            for _ in 0..count {
                let day = SESSION_SD * normal(rng);
                let level = levels[child as usize][phase as usize];
                for word in 0..WORDS {
                    let quality = level + day + words[word as usize] + TOKEN_SD * normal(rng);
                    tokens.push(Token {
                        session: sessions.len(),
                        word,
                        quality,
                    });
                }
                sessions.push(Session {
                    round,
                    child,
                    phase,
                    level,
                    day,
                });
            }
        }
        let mut played: Vec<usize> = (first_new..tokens.len()).collect();
        let wanted = (SHARE * played.len() as f64).round() as usize;
        // One of each stretch of the earlier tokens, sorted by how they were heard.
        shares.sort_by(|a, b| a.1.total_cmp(&b.1));
        if round > 0 {
            for bin in 0..wanted {
                let (low, high) = (
                    bin * shares.len() / wanted,
                    (bin + 1) * shares.len() / wanted,
                );
                played.push(shares[rng.random_range(low..high)].0);
            }
        }
        let listeners: Vec<f64> = (0..LISTENERS)
            .map(|_| LENIENCY[round] + LISTENER_SD * normal(rng))
            .collect();
        let mut judged = Vec::new();
        for token in played {
            let mut correct = 0.0;
            for (listener, leniency) in (0..).zip(&listeners) {
                let says = rng.random_bool(expit(tokens[token].quality + leniency));
                judged.push((token, listener, says));
                correct += f64::from(u8::from(says));
            }
            if token >= first_new {
                shares.push((token, correct / f64::from(LISTENERS)));
            }
        }
        heard.push(judged);
    }
    Simulated {
        sessions,
        tokens,
        heard,
    }
}

impl Simulated {
    fn counts(&self, round: usize) -> BTreeMap<usize, [f64; 2]> {
        let mut counts: BTreeMap<usize, [f64; 2]> = BTreeMap::new();
        for (token, _, correct) in &self.heard[round] {
            let [right, judged] = counts.entry(*token).or_default();
            *right += f64::from(u8::from(*correct));
            *judged += 1.0;
        }
        counts
    }

    fn links(&self, bound: f64) -> Vec<Linking> {
        let counts: Vec<_> = (0..3).map(|round| self.counts(round)).collect();
        linkings(&counts.iter().collect::<Vec<_>>(), bound, 0.95)
    }

    fn placed(&self, scale: Scale) -> Placed {
        let mut all = Vec::new();
        for round in 0..3 {
            let own = |token: usize| self.sessions[self.tokens[token].session].round == round;
            let judgements: Vec<Judgement> = self.heard[round]
                .iter()
                .filter(|(token, ..)| own(*token))
                .map(|(token, listener, correct)| Judgement {
                    session: self.tokens[*token].session as u32,
                    token: *token as u32,
                    word: Some(self.tokens[*token].word),
                    listener: *listener,
                    correct: *correct,
                    weight: 1.0,
                })
                .collect();
            let places: Vec<Place> = self
                .sessions
                .iter()
                .map(|s| Place {
                    child: s.child,
                    phase: s.phase,
                })
                .collect();
            let found = Round::new(&judgements, &places).unwrap();
            for (number, session) in self
                .sessions
                .iter()
                .enumerate()
                .filter(|(_, s)| s.round == round)
            {
                all.push(HeardSession {
                    panel: round,
                    child: session.child,
                    phase: session.phase,
                    tokens: f64::from(WORDS),
                    words: (0..WORDS).collect(),
                    interval: found.session(number, 0.95).unwrap(),
                    unshared_error: found.unshared_error(number).unwrap(),
                    components: *found.components(),
                });
            }
        }
        Placed::new(all, scale)
    }
}

/// How many of all sessions and changes hold the truth, and how many changes of nothing are called a rise or a fall.
#[derive(Default, Clone, Copy)]
struct Held {
    sessions: [f64; 2],
    changes: [f64; 2],
    /// Of the child without any change.
    false_change: [f64; 2],
}

impl Held {
    fn plus(self, other: Self) -> Self {
        let sum = |a: [f64; 2], b: [f64; 2]| [a[0] + b[0], a[1] + b[1]];
        Self {
            sessions: sum(self.sessions, other.sessions),
            changes: sum(self.changes, other.changes),
            false_change: sum(self.false_change, other.false_change),
        }
    }
}

fn share([hits, all]: [f64; 2]) -> f64 {
    hits / all
}

impl Held {
    fn said(&self) -> String {
        format!(
            "sessions {:.4}, changes {:.4}, false {:.4}",
            share(self.sessions),
            share(self.changes),
            share(self.false_change),
        )
    }

    #[track_caller]
    fn is_true(&self, said: &str) {
        assert!((0.92..=0.98).contains(&share(self.sessions)), "{said}");
        assert!((0.92..=0.98).contains(&share(self.changes)), "{said}");
        // A child who did not change is told so as often as promised: 5%, and 3 standard errors of 160 studies.
        assert!(share(self.false_change) <= 0.102, "{said}");
    }
}

fn held(study: &Simulated, placed: &Placed) -> Held {
    let mut held = Held::default();
    let count = |slot: &mut [f64; 2], hit: bool| {
        slot[0] += f64::from(u8::from(hit));
        slot[1] += 1.0;
    };
    let within = (TOKEN_SD * TOKEN_SD + WORD_SD * WORD_SD + LISTENER_SD * LISTENER_SD).sqrt();
    for (number, session) in study.sessions.iter().enumerate() {
        let found = placed.session(number, 0.95).unwrap();
        let truth = expected(session.level + session.day, within);
        count(
            &mut held.sessions,
            (found.low..=found.high).contains(&truth),
        );
    }
    let of_days = within.hypot(SESSION_SD);
    for child in 0..CHILDREN {
        let side = |phase: u32| -> Vec<usize> {
            let all = study.sessions.iter().enumerate();
            all.filter(|(_, s)| (s.child, s.phase) == (child, phase))
                .map(|(n, _)| n)
                .collect()
        };
        let (from, to) = (side(0), side(1));
        let found = placed.change(&from, &to, Reading::Child, 0.95).unwrap();
        let level = |set: &[usize]| expected(study.sessions[set[0]].level, of_days);
        let truth = level(&to) - level(&from);
        count(&mut held.changes, (found.low..=found.high).contains(&truth));
        if child == 0 {
            count(&mut held.false_change, found.low > 0.0 || found.high < 0.0);
        }
    }
    held
}

/// All studies, linked as far as the links tell it and unlinked, with the number of those that were placed and of those
/// among them whose last panel has too few links to either of the others, and enough to both together.
fn over_studies(bound: f64) -> (Held, Held, usize, usize) {
    let run = |replicate: u64| {
        let study = simulate(&mut ChaCha12Rng::seed_from_u64(replicate));
        let links = study.links(bound);
        let unlinked = Scale::of(&[]).unwrap();
        let unlinked = held(&study, &study.placed(unlinked));
        let Some(linked) = Scale::of(&links) else {
            return (Held::default(), unlinked, 0, 0);
        };
        let alone = |(other, leniency): &(usize, Leniency)| {
            Linking::of(vec![(*other, *leniency)], bound, 0.95).enough
        };
        let together = !links[2].beside.iter().any(alone);
        let linked = held(&study, &study.placed(linked));
        (linked, unlinked, 1, usize::from(together))
    };
    (0..REPLICATES).into_par_iter().map(run).reduce(
        || (Held::default(), Held::default(), 0, 0),
        |(a, b, c, d), (e, f, g, h)| (a.plus(e), b.plus(f), c + g, d + h),
    )
}

#[test]
fn three_panels_of_different_leniency_on_one_scale_give_the_truth_and_without_linking_do_not() {
    let (linked, unlinked, placed, _) = over_studies(0.2);
    let said = format!(
        "linked: {}; unlinked: {}; {placed} placed",
        linked.said(),
        unlinked.said()
    );
    println!("{said}");
    assert_eq!(placed, REPLICATES as usize, "{said}");
    linked.is_true(&said);
    assert!(share(unlinked.sessions) < 0.85, "{said}");
}

#[test]
fn links_to_two_panels_that_are_enough_together_give_the_truth_too() {
    let (linked, _, placed, together) = over_studies(0.085);
    let said = format!(
        "{}; {placed} placed, {together} of them by both panels together",
        linked.said()
    );
    println!("{said}");
    assert!(together > 20, "{said}");
    linked.is_true(&said);
}

#[test]
fn a_panel_is_as_lenient_as_it_was_made_and_the_odds_ratio_is_that_of_a_book() {
    // Two tables with the odds ratio 4 each: (c(m − a)/N) / (a(n − c)/N), worked by hand.
    let token = |a: f64, m: f64, c: f64, n: f64| LinkToken {
        reference: [a, m],
        panel: [c, n],
    };
    let tokens = [token(5.0, 10.0, 8.0, 10.0), token(2.0, 10.0, 5.0, 10.0)];
    let found = Leniency::of(&tokens, 0.95);
    assert!((found.shift.unwrap() - 4.0_f64.ln()).abs() < 1e-12);
    assert!((found.difference - 0.3).abs() < 1e-12);
    assert_eq!(found.links, 2);
    assert!(!Linking::of(vec![(0, found)], 0.5, 0.95).enough);

    let mut rng = ChaCha12Rng::seed_from_u64(9);
    let many: Vec<LinkToken> = (0..4_000)
        .map(|_| {
            let quality = 2.0 * normal(&mut rng);
            let mut heard = |leniency: f64| {
                let correct = (0..9)
                    .filter(|_| rng.random_bool(expit(quality + leniency)))
                    .count();
                [correct as f64, 9.0]
            };
            let reference = heard(0.0);
            LinkToken {
                reference,
                panel: heard(0.8),
            }
        })
        .collect();
    let found = Leniency::of(&many, 0.95);
    let (shift, se) = (found.shift.unwrap(), found.se.unwrap());
    assert!((shift - 0.8).abs() < 4.0 * se && se < 0.05, "{shift} {se}");
    assert!(Linking::of(vec![(0, found)], 0.05, 0.95).enough);
}

#[test]
fn too_few_links_say_how_many_would_do() {
    let tokens: Vec<LinkToken> = (0..12)
        .map(|n| LinkToken {
            reference: [4.0, 9.0],
            panel: [if n % 2 == 0 { 6.0 } else { 2.0 }, 9.0],
        })
        .collect();
    let found = Leniency::of(&tokens, 0.95);
    // 12 differences of ±2/9: sd = (2/9)·√(12/11) = .23211; t(.975, 38) · .23211/√39 = 2.0244 · .03717 = .0752, and of 40
    // 2.0227 · .03670 = .0742 (t from any table).
    assert!((found.ci.unwrap()[1] - 2.2010 * 0.232_112 / 12.0_f64.sqrt()).abs() < 1e-4);
    let linking = Linking::of(vec![(0, found)], 0.075, 0.95);
    assert_eq!((linking.links_needed, linking.enough), (40, false));
}

#[test]
fn links_to_two_panels_count_together_and_a_token_that_three_panels_heard_counts_once() {
    // To each of two panels 12 tokens whose differences are ±2/9 about none and about 3/9: the spread is .23211 within each,
    // t(.975, 37) · .23211/√39 = 2.0262 · .03717 = .0753, of 40 it is 2.0244 · .03670 = .0743 (t from any table).
    let panel = |number: usize, more: f64| -> BTreeMap<usize, [f64; 2]> {
        (0..12)
            .map(|n| (100 * number + n, [4.0 - more, 9.0]))
            .collect()
    };
    let (first, second) = (panel(1, 0.0), panel(2, 3.0));
    let said = |n: usize| if n.is_multiple_of(2) { 6.0 } else { 2.0 };
    let mut third: BTreeMap<usize, [f64; 2]> = first
        .keys()
        .chain(second.keys())
        .map(|token| (*token, [said(*token), 9.0]))
        .collect();
    let found = linkings(&[&first, &second, &third], 0.075, 0.95);
    assert_eq!((found[2].links, found[2].links_needed), (24, 40));
    assert!(!found[2].enough && linkings(&[&first, &second, &third], 0.1, 0.95)[2].enough);
    // By one panel 12 tokens would not do there: t(.975, 11) · .23211/√12 = 2.2010 · .06700 = .147.
    assert!(!linkings(&[&first, &third], 0.1, 0.95)[1].enough);

    // The second panel hears the first one's tokens as well: they link the third to the first alone.
    let mut both = second.clone();
    both.extend(&first);
    third.insert(999, [1.0, 9.0]);
    let found = linkings(&[&first, &both, &third], 0.075, 0.95);
    let links: Vec<_> = found[2]
        .beside
        .iter()
        .map(|(at, l)| (*at, l.links))
        .collect();
    assert_eq!(links, [(0, 12), (1, 12)]);
}
