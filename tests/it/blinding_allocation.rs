//! Listeners start, stop, vanish, return late and come again in any order: the places stay fair.

use std::collections::BTreeMap;
use std::collections::BTreeSet;

use fairhearing::blinding::Candidate;
use fairhearing::blinding::Seed;
use fairhearing::blinding::allocate;
use proptest::prelude::*;

#[derive(Debug, Clone)]
struct Token {
    stratum: u32,
    child: u32,
    kept: u32,
    reserved: u32,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Place {
    Reserved,
    Returned,
    Judged,
    Dropped,
}

struct Sitting {
    listener: usize,
    places: Vec<(usize, Place)>,
}

#[derive(Default)]
struct Listener {
    /// Tokens ever dealt to her: a place that went back may still be judged late.
    dealt: BTreeSet<usize>,
    barred: BTreeSet<u32>,
}

struct Round {
    tokens: Vec<Token>,
    listeners: Vec<Listener>,
    sittings: Vec<Sitting>,
    planned: u32,
    places: usize,
    seed: Seed,
    something_was_given_back: bool,
}

/// What a listener does next; numbers are taken modulo what there is.
#[derive(Debug, Clone)]
enum Act {
    Begin(usize),
    Judge(usize, usize),
    Idle(usize),
    KnowsTheVoice(usize, u32),
}

impl Round {
    fn candidates(&self, listener: usize) -> Vec<Candidate> {
        let listener = &self.listeners[listener];
        self.tokens
            .iter()
            .enumerate()
            .map(|(token, t)| Candidate {
                token: u32::try_from(token).unwrap(),
                stratum: t.stratum,
                phase: t.stratum % 3,
                child: t.child,
                word: 0,
                committed: t.kept + t.reserved,
                may_hear: !listener.dealt.contains(&token) && !listener.barred.contains(&t.child),
            })
            .collect()
    }

    fn begin(&mut self, listener: usize) -> usize {
        let before = self.candidates(listener);
        let mut chance = self.seed.sitting(self.sittings.len() as u64);
        let chosen = allocate(&before, self.places, self.planned, &mut chance);
        self.check_choice(&before, &chosen);
        let mut places = Vec::new();
        for token in &chosen {
            let token = usize::try_from(*token).unwrap();
            self.tokens[token].reserved += 1;
            assert!(self.listeners[listener].dealt.insert(token), "dealt twice");
            places.push((token, Place::Reserved));
        }
        if !self.something_was_given_back {
            for (stratum, (least, most)) in self.extremes() {
                assert!(most - least <= 1, "stratum {stratum}: {least} to {most}");
            }
        }
        self.sittings.push(Sitting { listener, places });
        chosen.len()
    }

    /// The rules as the design states them, looked at from outside.
    fn check_choice(&self, before: &[Candidate], chosen: &[u32]) {
        assert!(chosen.len() <= self.places);
        let is_chosen = |c: &&Candidate| chosen.contains(&c.token);
        for taken in before.iter().filter(is_chosen) {
            assert!(taken.may_hear && taken.committed < self.planned);
            for left in before.iter().filter(|c| !is_chosen(c)) {
                assert!(
                    left.stratum != taken.stratum
                        || !left.may_hear
                        || left.committed >= taken.committed,
                    "a place went to {taken:?} while {left:?} has fewer"
                );
            }
        }
        if chosen.len() == self.places {
            return;
        }
        // Places stay empty only where every token left would lie two ahead of one of its stratum.
        for left in before.iter().filter(|c| !is_chosen(c)) {
            let behind = before.iter().any(|c| {
                let now = c.committed + u32::from(is_chosen(&c));
                c.stratum == left.stratum && now < left.committed
            });
            assert!(
                !left.may_hear || left.committed >= self.planned || behind,
                "{left:?} was left out of a sitting with room"
            );
        }
    }

    fn extremes(&self) -> BTreeMap<u32, (u32, u32)> {
        let mut extremes = BTreeMap::new();
        for token in &self.tokens {
            let now = token.kept + token.reserved;
            let (least, most) = extremes.entry(token.stratum).or_insert((now, now));
            *least = now.min(*least);
            *most = now.max(*most);
        }
        extremes
    }

    /// Judges the next places of a sitting, late ones too.
    fn judge(&mut self, sitting: usize, n_places: usize) {
        let places = self.sittings[sitting].places.iter_mut();
        for (token, place) in places
            .filter(|(_, place)| matches!(place, Place::Reserved | Place::Returned))
            .take(n_places)
        {
            if *place == Place::Reserved {
                self.tokens[*token].reserved -= 1;
            }
            self.tokens[*token].kept += 1;
            *place = Place::Judged;
        }
    }

    fn idle(&mut self, sitting: usize) {
        for (token, place) in &mut self.sittings[sitting].places {
            if *place == Place::Reserved {
                self.tokens[*token].reserved -= 1;
                self.something_was_given_back = true;
                *place = Place::Returned;
            }
        }
    }

    fn knows_the_voice(&mut self, listener: usize, child: u32) {
        self.listeners[listener].barred.insert(child);
        for sitting in self.sittings.iter_mut().filter(|s| s.listener == listener) {
            for (token, place) in &mut sitting.places {
                if *place == Place::Reserved && self.tokens[*token].child == child {
                    self.tokens[*token].reserved -= 1;
                    self.something_was_given_back = true;
                    *place = Place::Dropped;
                }
            }
        }
    }

    fn act(&mut self, act: &Act) {
        match act {
            Act::Begin(listener) => {
                self.begin(listener % self.listeners.len());
            }
            Act::Judge(sitting, n) if !self.sittings.is_empty() => {
                self.judge(sitting % self.sittings.len(), *n);
            }
            Act::Idle(sitting) if !self.sittings.is_empty() => {
                self.idle(sitting % self.sittings.len());
            }
            Act::KnowsTheVoice(listener, child) => {
                self.knows_the_voice(listener % self.listeners.len(), *child);
            }
            _ => {}
        }
    }

    /// Everybody finishes; then new listeners come until nothing is left to hear.
    fn finish(&mut self) {
        for sitting in 0..self.sittings.len() {
            self.judge(sitting, usize::MAX);
        }
        for _ in 0..500 {
            if self.tokens.iter().all(|token| token.kept >= self.planned) {
                break;
            }
            self.listeners.push(Listener::default());
            let dealt = self.begin(self.listeners.len() - 1);
            assert!(
                dealt > 0,
                "a fresh listener gets nothing and tokens are short"
            );
            self.judge(self.sittings.len() - 1, usize::MAX);
        }
    }
}

prop_compose! {
    fn a_round()(
        strata in prop::collection::vec((1_usize..7, 0_u32..4), 1..7),
        planned in 1_u32..6, places in 1_usize..14, seed in any::<[u8; 32]>(),
        barred in prop::collection::vec(prop::collection::btree_set(0_u32..4, 0..3), 1..9),
    ) -> Round {
        let tokens = (0..).zip(strata).flat_map(|(stratum, (size, child))| {
            std::iter::repeat_n(Token { stratum, child, kept: 0, reserved: 0 }, size)
        }).collect();
        let listeners = barred.into_iter().map(|barred| Listener { barred, ..Listener::default() });
        Round {
            tokens, listeners: listeners.collect(), sittings: Vec::new(), planned, places,
            seed: Seed::new(seed), something_was_given_back: false,
        }
    }
}

impl std::fmt::Debug for Round {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(
            f,
            "{:?}, planned {}, places {}",
            self.tokens, self.planned, self.places
        )
    }
}

fn an_act() -> impl Strategy<Value = Act> {
    prop_oneof![
        4 => any::<usize>().prop_map(Act::Begin),
        4 => (any::<usize>(), 1_usize..9).prop_map(|(sitting, n)| Act::Judge(sitting, n)),
        1 => any::<usize>().prop_map(Act::Idle),
        1 => (any::<usize>(), 0_u32..4).prop_map(|(l, child)| Act::KnowsTheVoice(l, child)),
    ]
}

/// Acts that give nothing back.
fn a_steady_act() -> impl Strategy<Value = Act> {
    prop_oneof![
        any::<usize>().prop_map(Act::Begin),
        (any::<usize>(), 1_usize..9).prop_map(|(sitting, n)| Act::Judge(sitting, n)),
    ]
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::with_cases(400) })]

    #[test]
    fn whatever_listeners_do_places_stay_fair_and_every_token_is_heard(
        mut round in a_round(), acts in prop::collection::vec(an_act(), 0..60),
    ) {
        for act in &acts {
            round.act(act);
        }
        round.finish();
        for token in &round.tokens {
            prop_assert!(token.kept >= round.planned);
        }
    }

    #[test]
    fn while_nothing_is_given_back_no_token_is_two_ahead_and_none_is_heard_too_often(
        mut round in a_round(), acts in prop::collection::vec(a_steady_act(), 0..60),
    ) {
        for act in &acts {
            round.act(act);
        }
        round.finish();
        prop_assert!(!round.something_was_given_back);
        for token in &round.tokens {
            prop_assert_eq!(token.kept, round.planned);
        }
    }
}

/// Three hundred listeners of 40 places on 200 tokens: the plan holds to the judgement.
#[test]
fn three_hundred_listeners_at_once_share_a_round_evenly() {
    let tokens = (0..200)
        .map(|token| Token {
            stratum: token / 10,
            child: token / 50,
            kept: 0,
            reserved: 0,
        })
        .collect();
    let mut round = Round {
        tokens,
        listeners: (0..300).map(|_| Listener::default()).collect(),
        sittings: Vec::new(),
        planned: 60,
        places: 40,
        seed: Seed::new([7; 32]),
        something_was_given_back: false,
    };
    for listener in 0..300 {
        assert_eq!(round.begin(listener), 40);
        // Twenty strata of equal size, 40 places: every sitting hears two of each.
        let heard = &round.sittings[listener].places;
        for stratum in 0..20 {
            let here = heard
                .iter()
                .filter(|(t, _)| round.tokens[*t].stratum == stratum);
            assert_eq!(here.count(), 2);
        }
    }
    assert!(round.tokens.iter().all(|token| token.reserved == 60));
    let late = Listener::default();
    round.listeners.push(late);
    assert_eq!(round.begin(300), 0);
}
