//! A plan that cannot be met is refused with its value and its bound, before it is sealed.

use std::collections::BTreeSet;

use fairhearing::blinding::Candidate;
use fairhearing::blinding::ListenerPlan;
use fairhearing::blinding::Refusal;
use fairhearing::blinding::RoundDesign;
use fairhearing::blinding::Seed;
use fairhearing::blinding::Supply;
use fairhearing::blinding::allocate;
use fairhearing::blinding::feasible;
use fairhearing::study::PresentationKind;
use proptest::prelude::*;

/// Children with so many tokens each, one stratum a child.
fn tokens(of_child: &[u32]) -> Vec<Candidate> {
    let children = (0..)
        .zip(of_child)
        .flat_map(|(child, n)| (0..*n).map(move |_| child));
    (0..)
        .zip(children)
        .map(|(token, child)| Candidate {
            token,
            stratum: child,
            phase: 0,
            child,
            word: token,
            committed: 0,
            may_hear: true,
        })
        .collect()
}

fn listeners(count: usize, sittings: u32) -> Vec<ListenerPlan> {
    let listener = ListenerPlan {
        sittings,
        barred: BTreeSet::new(),
    };
    vec![listener; count]
}

/// Twenty tokens of each of four children, ten judgements each, sittings of 40: 20 are needed.
#[derive(Debug)]
struct Planned {
    tokens: Vec<Candidate>,
    listeners: Vec<ListenerPlan>,
}

impl Planned {
    fn design(&self) -> RoundDesign<'_> {
        RoundDesign {
            tokens: &self.tokens,
            planned: 10,
            places: 40,
            repeats: 6,
            repeat_distance: 10,
            checks: Supply {
                places: 8,
                tokens: 8,
            },
            warm_ups: Supply::default(),
            practice: Supply::default(),
            listeners: &self.listeners,
        }
    }
}

fn planned() -> Planned {
    Planned {
        tokens: tokens(&[20, 20, 20, 20]),
        listeners: listeners(20, 1),
    }
}

#[track_caller]
fn check(design: &RoundDesign, expected: &[Refusal], words: &[&str]) {
    let refusals = feasible(design);
    assert_eq!(refusals, expected);
    let said: Vec<String> = refusals.iter().map(ToString::to_string).collect();
    for word in words {
        assert!(
            said.iter().any(|sentence| sentence.contains(word)),
            "{said:?}"
        );
    }
}

#[test]
fn a_plan_that_just_fits_is_not_refused() {
    check(&planned().design(), &[], &[]);
}

#[test]
fn one_sitting_too_few_is_refused() {
    let mut plan = planned();
    plan.listeners.pop();
    let refusal = Refusal::FewPlaces {
        places: 760,
        wanted: 800,
    };
    check(
        &plan.design(),
        &[refusal],
        &["760 main places", "800 judgements"],
    );
}

#[test]
fn fewer_listeners_than_judgements_a_token_are_refused_however_often_they_sit() {
    let mut plan = planned();
    plan.listeners = listeners(9, 20);
    let refusal = Refusal::FewListeners {
        child: None,
        listeners: 9,
        planned: 10,
    };
    check(&plan.design(), &[refusal], &["9 listeners are invited"]);
}

#[test]
fn a_child_whom_too_many_may_not_hear_is_refused_without_being_named() {
    let mut plan = planned();
    for listener in plan.listeners.iter_mut().take(11) {
        listener.barred.insert(2);
    }
    let refusal = Refusal::FewListeners {
        child: Some(2),
        listeners: 9,
        planned: 10,
    };
    check(
        &plan.design(),
        &[refusal],
        &["9 listeners may hear one of the children"],
    );
}

/// Ten listeners may hear child 0 alone: they have 400 places and, at 20 tokens once each, use
/// 200. The other ten have 400 for the 600 judgements of the rest.
#[test]
fn places_that_bars_leave_empty_do_not_count() {
    let mut plan = planned();
    for listener in plan.listeners.iter_mut().take(10) {
        listener.barred = BTreeSet::from([1, 2, 3]);
    }
    let refusal = Refusal::FewPlaces {
        places: 600,
        wanted: 800,
    };
    check(&plan.design(), &[refusal], &["600 main places"]);
}

#[test]
fn all_that_is_wrong_is_said_at_once() {
    let plan = planned();
    let design = RoundDesign {
        repeats: 41,
        repeat_distance: 49,
        checks: Supply {
            places: 8,
            tokens: 7,
        },
        ..plan.design()
    };
    let checks = Refusal::FewExtras {
        kind: PresentationKind::Check,
        supply: design.checks,
    };
    let repeats = Refusal::ManyRepeats {
        repeats: 41,
        main: 40,
    };
    let distance = Refusal::DistanceTooLong {
        distance: 49,
        room: 48,
    };
    check(
        &design,
        &[checks, repeats, distance],
        &[
            "8 check tokens, and the study has 7",
            "repeat 41 of its 40",
            "49 places",
            "at most 48",
        ],
    );
}

#[test]
fn nothing_to_hear_and_nobody_to_hear_it_are_refused() {
    let plan = Planned {
        tokens: Vec::new(),
        listeners: Vec::new(),
    };
    let design = RoundDesign {
        repeats: 0,
        ..plan.design()
    };
    let nobody = Refusal::Nothing {
        what: "the number of listeners",
    };
    check(
        &design,
        &[Refusal::NoTokens, nobody],
        &["no token to judge", "listeners is 0"],
    );
}

prop_compose! {
    fn a_plan()(
        of_child in prop::collection::vec(1_u32..8, 1..5), planned in 1_u32..5, places in 1_usize..12,
        people in prop::collection::vec((1_u32..4, prop::collection::btree_set(0_u32..5, 0..3)), 1..7),
    ) -> (Planned, u32, usize) {
        let listeners = people.into_iter().map(|(sittings, barred)| ListenerPlan { sittings, barred }).collect();
        (Planned { tokens: tokens(&of_child), listeners }, planned, places)
    }
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::with_cases(400) })]

    /// Sittings are really dealt, turn by turn: what can be heard in full was never refused.
    #[test]
    fn a_round_that_listeners_can_finish_is_never_refused(
        (plan, planned, places) in a_plan(), seed in any::<[u8; 32]>(),
    ) {
        let mut committed = vec![0; plan.tokens.len()];
        let mut dealt = vec![BTreeSet::new(); plan.listeners.len()];
        let seed = Seed::new(seed);
        for turn in 0..3 {
            for (number, listener) in plan.listeners.iter().enumerate().filter(|(_, l)| l.sittings > turn) {
                let seen: Vec<Candidate> = plan.tokens.iter().map(|token| Candidate {
                    committed: committed[token.token as usize],
                    may_hear: !dealt[number].contains(&token.token) && !listener.barred.contains(&token.child),
                    ..*token
                }).collect();
                let mut chance = seed.sitting(u64::from(turn) << 32 | number as u64);
                for token in allocate(&seen, places, planned, &mut chance) {
                    committed[token as usize] += 1;
                    dealt[number].insert(token);
                }
            }
        }
        let supply = Supply::default();
        let design = RoundDesign {
            planned, places, repeats: 0, checks: supply, ..plan.design()
        };
        let refusals = feasible(&design);
        if committed.iter().all(|count| *count == planned) {
            prop_assert_eq!(&refusals, &[]);
        }
        if let [Refusal::FewPlaces { places, .. }] = refusals[..] {
            prop_assert!(u64::from(committed.iter().sum::<u32>()) <= places);
        }
    }
}
