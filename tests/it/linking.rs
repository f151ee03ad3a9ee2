//! Three rounds heard by three panels: on one scale the truth is found again, and without linking it is not.

use fairhearing::stats::interval::Design;
use fairhearing::stats::interval::HeardSession;
use fairhearing::stats::interval::Judgement;
use fairhearing::stats::interval::Leniency;
use fairhearing::stats::interval::LinkToken;
use fairhearing::stats::interval::Place;
use fairhearing::stats::interval::Placed;
use fairhearing::stats::interval::Reading;
use fairhearing::stats::interval::Round;
use fairhearing::stats::interval::Scale;
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
    fn counts(&self, round: usize) -> Vec<[f64; 2]> {
        let mut counts = vec![[0.0, 0.0]; self.tokens.len()];
        for (token, _, correct) in &self.heard[round] {
            counts[*token][0] += f64::from(u8::from(*correct));
            counts[*token][1] += 1.0;
        }
        counts
    }

    fn links(&self) -> Vec<Vec<(usize, Leniency)>> {
        let counts: Vec<_> = (0..3).map(|round| self.counts(round)).collect();
        let pair = |earlier: usize, later: usize| {
            let both = counts[earlier].iter().zip(&counts[later]);
            let shared: Vec<LinkToken> = both
                .filter(|(a, b)| a[1] > 0.0 && b[1] > 0.0)
                .map(|(a, b)| LinkToken {
                    reference: *a,
                    panel: *b,
                })
                .collect();
            Leniency::of(&shared, 0.2, 0.95)
        };
        (0..3)
            .map(|later| {
                (0..later)
                    .map(|earlier| (earlier, pair(earlier, later)))
                    .collect()
            })
            .collect()
    }

    fn placed(&self, scale: Scale) -> Placed {
        Placed::new(self.as_heard(), scale)
    }

    /// Every session as its own panel heard it.
    fn as_heard(&self) -> Vec<HeardSession> {
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
        all
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

#[test]
fn three_panels_of_different_leniency_on_one_scale_give_the_truth_and_without_linking_do_not() {
    let run = |replicate: u64| {
        let study = simulate(&mut ChaCha12Rng::seed_from_u64(replicate));
        let linked = Scale::of(&study.links()).unwrap();
        let unlinked = Scale::of(&[Vec::new()]).unwrap();
        (
            held(&study, &study.placed(linked)),
            held(&study, &study.placed(unlinked)),
        )
    };
    let (linked, unlinked) = (0..REPLICATES).into_par_iter().map(run).reduce(
        || (Held::default(), Held::default()),
        |(a, b), (c, d)| (a.plus(c), b.plus(d)),
    );
    let share = |[hits, all]: [f64; 2]| hits / all;
    let said = format!(
        "linked: sessions {:.4}, changes {:.4}, false {:.4}; unlinked: sessions {:.4}, changes {:.4}, false {:.4}",
        share(linked.sessions),
        share(linked.changes),
        share(linked.false_change),
        share(unlinked.sessions),
        share(unlinked.changes),
        share(unlinked.false_change),
    );
    println!("{said}");
    assert!((0.92..=0.98).contains(&share(linked.sessions)), "{said}");
    assert!((0.92..=0.98).contains(&share(linked.changes)), "{said}");
    // A child who did not change is told so as often as promised: 5%, and 3 standard errors of 160 studies.
    assert!(share(linked.false_change) <= 0.102, "{said}");
    assert!(share(unlinked.sessions) < 0.85, "{said}");
}

/// Two roads to one number: what the forecast says of twice the sessions, and the change over each session twice.
#[test]
fn the_forecast_over_several_rounds_meets_the_change_of_the_design_that_it_is_of() {
    let study = simulate(&mut ChaCha12Rng::seed_from_u64(3));
    let scale = || Scale::of(&study.links()).unwrap();
    let once = study.as_heard();
    let n = once.len();
    let twice: Vec<HeardSession> = once.iter().chain(&once).cloned().collect();
    let (once, twice) = (Placed::new(once, scale()), Placed::new(twice, scale()));
    let side = |phase: u32| -> Vec<usize> {
        let all = study.sessions.iter().enumerate();
        all.filter(|(_, s)| (s.child, s.phase) == (4, phase))
            .map(|(n, _)| n)
            .collect()
    };
    let (from, to) = (side(0), side(1));
    let again = |set: &[usize]| -> Vec<usize> { set.iter().flat_map(|s| [*s, *s + n]).collect() };
    for reading in [Reading::TheseDays, Reading::Child] {
        let outlook = once.outlook(&from, &to, reading, 0.95).unwrap();
        let design = |times: f64| Design {
            listeners: f64::from(LISTENERS),
            words: f64::from(WORDS),
            sessions: [times * from.len() as f64, times * to.len() as f64],
        };
        let forecast = |times: f64| outlook.forecast(design(times)).unwrap();
        let now = once.change(&from, &to, reading, 0.95).unwrap();
        let then = twice
            .change(&again(&from), &again(&to), reading, 0.95)
            .unwrap();
        // Between these recordings the variances are the same on both roads, but each session's own error is measured on
        // one and pooled on the other: within 5%. The spread of days and its degrees of freedom are estimated anew from
        // twice the sessions: within 15%.
        let near = match reading {
            Reading::TheseDays => 0.05,
            Reading::Child => 0.15,
        };
        let scaled = forecast(2.0).mdc95 * now.mdc95 / forecast(1.0).mdc95;
        assert!(
            (scaled / then.mdc95 - 1.0).abs() < near,
            "{scaled} {then:?}"
        );
        let width = (now.high - now.low) * forecast(2.0).half_width / forecast(1.0).half_width;
        let real = then.high - then.low;
        assert!((width / real - 1.0).abs() < near, "{width} {real}");
        // Sessions without end leave the error of linking and nothing else: 1.959964 of its standard errors.
        let endless = forecast(1e12).mdc95;
        assert!(now.linking_error > 0.0);
        assert!(
            (endless / now.linking_error - 1.959_964).abs() < 1e-4,
            "{endless}"
        );
    }
}

#[test]
fn a_panel_is_as_lenient_as_it_was_made_and_the_odds_ratio_is_that_of_a_book() {
    // Two tables with the odds ratio 4 each: (c(m − a)/N) / (a(n − c)/N), worked by hand.
    let token = |a: f64, m: f64, c: f64, n: f64| LinkToken {
        reference: [a, m],
        panel: [c, n],
    };
    let tokens = [token(5.0, 10.0, 8.0, 10.0), token(2.0, 10.0, 5.0, 10.0)];
    let found = Leniency::of(&tokens, 0.5, 0.95);
    assert!((found.shift.unwrap() - 4.0_f64.ln()).abs() < 1e-12);
    assert!((found.difference - 0.3).abs() < 1e-12);
    assert!(!found.enough && found.links == 2);

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
    let found = Leniency::of(&many, 0.05, 0.95);
    let (shift, se) = (found.shift.unwrap(), found.se.unwrap());
    assert!((shift - 0.8).abs() < 4.0 * se && se < 0.05, "{shift} {se}");
    assert!(found.enough);
}

#[test]
fn too_few_links_say_how_many_would_do() {
    let tokens: Vec<LinkToken> = (0..12)
        .map(|n| LinkToken {
            reference: [4.0, 9.0],
            panel: [if n % 2 == 0 { 6.0 } else { 2.0 }, 9.0],
        })
        .collect();
    let found = Leniency::of(&tokens, 0.075, 0.95);
    // 12 differences of ±2/9: sd = (2/9)·√(12/11) = .23211; t(.975, 38) · .23211/√39 = 2.0244 · .03717 = .0752, and of 40
    // 2.0227 · .03670 = .0742 (t from any table).
    assert!((found.ci.unwrap()[1] - 2.2010 * 0.232_112 / 12.0_f64.sqrt()).abs() < 1e-4);
    assert_eq!((found.links_needed, found.enough), (40, false));
}

#[test]
fn links_to_two_panels_place_a_third_together_where_neither_would_alone() {
    let tokens: Vec<LinkToken> = (0..20)
        .map(|n| LinkToken {
            reference: [5.0, 10.0],
            panel: [if n % 2 == 0 { 7.0 } else { 3.0 }, 10.0],
        })
        .collect();
    // 20 differences of ±.2: sd = .2·√(20/19) = .20519; t(.975, 19) · .20519/√20 = 2.0930 · .04588 = .0960. Of both, pooled:
    // sd = .2·√(40/38) = .20520; t(.975, 38) · .20520/√40 = 2.0244 · .03244 = .0657 (t from any table).
    let placed = |half_width: f64, once: &[Vec<LinkToken>]| {
        let mut beside = [Leniency::of(&tokens, half_width, 0.95); 2];
        Leniency::place_together(&mut beside, once, half_width, 0.95);
        beside.map(|leniency| (leniency.enough, leniency.places))
    };
    let both = [tokens.clone(), tokens.clone()];
    assert_eq!(placed(0.0656, &both), [(false, false); 2]);
    assert_eq!(placed(0.0658, &both), [(false, true); 2]);
    assert_eq!(placed(0.0961, &both), [(true, true); 2]);
    // The same tokens heard by both count once.
    let first = [tokens.clone(), Vec::new()];
    assert_eq!(placed(0.0658, &first), [(false, false); 2]);
}
