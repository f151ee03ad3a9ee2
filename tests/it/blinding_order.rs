//! The order of a sitting: fair to every phase, and no voice or word twice running.

use std::collections::BTreeMap;
use std::collections::BTreeSet;

use fairhearing::blinding::Candidate;
use fairhearing::blinding::Extra;
use fairhearing::blinding::OrderError;
use fairhearing::blinding::Seed;
use fairhearing::blinding::SittingDesign;
use fairhearing::blinding::Slot;
use fairhearing::blinding::order;
use fairhearing::study::PresentationKind;
use proptest::prelude::*;

pub(crate) fn candidate(token: u32, child: u32, session: u32, phase: u32, word: u32) -> Candidate {
    Candidate {
        token,
        stratum: child * 100 + session,
        phase,
        child,
        word,
        committed: 0,
        may_hear: true,
    }
}

/// Every child says the same words in every session; two sessions make a phase.
pub(crate) fn study(children: u32, sessions: u32, words: u32) -> Vec<Candidate> {
    let mut tokens = Vec::new();
    for child in 0..children {
        for session in 0..sessions {
            for word in 0..words {
                let token = u32::try_from(tokens.len()).unwrap();
                tokens.push(candidate(token, child, session, session / 2, word));
            }
        }
    }
    tokens
}

pub(crate) fn extras(first: u32, count: u32) -> Vec<Extra> {
    (first..first + count)
        .map(|token| Extra {
            token,
            child: Some(token),
            word: Some(token),
        })
        .collect()
}

pub(crate) fn design(repeats: usize, repeat_distance: usize) -> SittingDesign {
    SittingDesign {
        repeats,
        repeat_distance,
    }
}

pub(crate) fn ordered(
    main: &[Candidate],
    checks: &[Extra],
    warm_ups: &[Extra],
    practice: &[Extra],
    design: SittingDesign,
    seed: u64,
) -> Vec<Slot> {
    let mut chance = Seed::new([9; 32]).sitting(seed);
    order(main, checks, warm_ups, practice, &design, &mut chance).unwrap()
}

/// Who speaks which word, for every token of a sitting.
pub(crate) type Voices = BTreeMap<u32, (Option<u32>, Option<u32>)>;

pub(crate) fn voices(main: &[Candidate], extras: &[&[Extra]]) -> Voices {
    let main = main
        .iter()
        .map(|c| (c.token, (Some(c.child), Some(c.word))));
    let extras = extras.iter().flat_map(|list| list.iter());
    main.chain(extras.map(|e| (e.token, (e.child, e.word))))
        .collect()
}

fn clash(voices: &Voices, a: u32, b: u32) -> usize {
    let (a, b) = (voices[&a], voices[&b]);
    usize::from(a.0.is_some() && a.0 == b.0) + usize::from(a.1.is_some() && a.1 == b.1)
}

/// Clashes from the first place after practice on, with the last practice token before it.
pub(crate) fn clashes(slots: &[Slot], voices: &Voices) -> usize {
    slots
        .windows(2)
        .filter(|two| two[1].kind != PresentationKind::Practice)
        .map(|two| clash(voices, two[0].token, two[1].token))
        .sum()
}

fn tokens_of(slots: &[Slot], kind: PresentationKind) -> Vec<u32> {
    let of_kind = slots.iter().filter(|slot| slot.kind == kind);
    of_kind.map(|slot| slot.token).collect()
}

/// The shortest distance between a token and its repeat.
fn shortest_distance(slots: &[Slot]) -> Option<usize> {
    let repeats = slots
        .iter()
        .enumerate()
        .filter(|(_, slot)| slot.kind == PresentationKind::Repeat);
    repeats
        .map(|(at, slot)| {
            let main = Slot {
                kind: PresentationKind::Main,
                token: slot.token,
            };
            at.checked_sub(slots.iter().position(|s| *s == main).unwrap())
                .unwrap()
        })
        .min()
}

#[test]
fn a_sitting_of_any_usual_size_has_no_voice_and_no_word_twice_running() {
    for (children, sessions, words) in [
        (3, 1, 2),
        (2, 2, 3),
        (3, 2, 4),
        (4, 6, 2),
        (6, 6, 3),
        (4, 10, 5),
        (5, 8, 5),
    ] {
        let main = study(children, sessions, words);
        let (checks, warm_ups, practice) = (extras(900, 4), extras(920, 4), extras(940, 4));
        let distance = (main.len() / 3).min(10);
        for seed in 0..20 {
            let slots = ordered(
                &main,
                &checks,
                &warm_ups,
                &practice,
                design(main.len() / 7, distance),
                seed,
            );
            let voices = voices(&main, &[&checks, &warm_ups, &practice]);
            assert_eq!(
                clashes(&slots, &voices),
                0,
                "{} tokens, seed {seed}",
                main.len()
            );
            assert_eq!(
                tokens_of(&slots, PresentationKind::Repeat).len(),
                main.len() / 7
            );
            assert!(shortest_distance(&slots).is_none_or(|d| d >= distance));
        }
    }
}

/// There is room for the repeats of all tokens, wherever chance has put the last one.
#[test]
fn every_token_may_be_heard_again_where_the_distance_leaves_room() {
    let main: Vec<Candidate> = [(0, 0, 0), (1, 1, 0), (0, 5, 1), (2, 0, 0), (3, 5, 0)]
        .into_iter()
        .zip(0..)
        .map(|((child, word, phase), token)| candidate(token, child, phase, phase, word))
        .collect();
    for distance in 1..=main.len() {
        for seed in 0..400 {
            let slots = ordered(&main, &[], &[], &[], design(main.len(), distance), seed);
            let repeats = tokens_of(&slots, PresentationKind::Repeat);
            assert_eq!(
                repeats.len(),
                main.len(),
                "distance {distance}, seed {seed}"
            );
            assert!(shortest_distance(&slots).is_some_and(|d| d >= distance));
        }
    }
}

/// One child speaks every second word: only one pattern of voices avoids a clash.
#[test]
fn a_child_with_half_of_the_tokens_is_still_kept_apart() {
    for n_pairs in [3, 10, 30, 60] {
        let main: Vec<Candidate> = (0..2 * n_pairs)
            .map(|t| {
                candidate(
                    t,
                    if t % 2 == 0 { 0 } else { 1 + t % 5 },
                    t % 4,
                    t % 2,
                    t / 2 % 7,
                )
            })
            .collect();
        for seed in 0..5 {
            let slots = ordered(&main, &[], &[], &[], design(0, 1), seed);
            assert_eq!(
                clashes(&slots, &voices(&main, &[])),
                0,
                "{n_pairs} pairs, seed {seed}"
            );
        }
    }
}

/// In a study of one child every voice follows itself; the words still change.
#[test]
fn where_voices_must_clash_words_do_not() {
    let main = study(1, 8, 6);
    let slots = ordered(&main, &[], &[], &[], design(0, 1), 1);
    assert_eq!(clashes(&slots, &voices(&main, &[])), main.len() - 1);
}

#[test]
fn a_token_named_twice_is_refused() {
    let main = [candidate(1, 0, 0, 0, 0), candidate(1, 0, 0, 0, 0)];
    let mut chance = Seed::new([9; 32]).sitting(1);
    let refused = order(&main, &[], &[], &[], &design(0, 1), &mut chance);
    assert_eq!(refused, Err(OrderError::TokenTwice { token: 1 }));
    let refused = order(
        &main[..1],
        &extras(1, 1),
        &[],
        &[],
        &design(0, 1),
        &mut chance,
    );
    assert_eq!(refused, Err(OrderError::TokenTwice { token: 1 }));
}

#[test]
fn the_order_of_the_lists_handed_in_plays_no_part() {
    let main = study(4, 4, 3);
    let mut turned = main.clone();
    turned.reverse();
    assert_eq!(
        ordered(&main, &[], &[], &[], design(4, 5), 1),
        ordered(&turned, &[], &[], &[], design(4, 5), 1)
    );
}

#[test]
fn an_empty_sitting_is_empty() {
    assert_eq!(ordered(&[], &[], &[], &[], design(5, 3), 1), []);
}

/// The fewest clashes of any order with these repeats, by going through all of them: the plain
/// definition, without any of the program's shortcuts.
struct EveryOrder<'a> {
    voices: &'a Voices,
    distance: usize,
    best: usize,
}

impl EveryOrder<'_> {
    fn search(&mut self, row: &mut Vec<Slot>, open: &mut Vec<Slot>, repeats: usize, cost: usize) {
        if cost >= self.best {
            return;
        }
        if open.is_empty() && repeats == 0 {
            self.best = cost;
            return;
        }
        let warm = open
            .iter()
            .any(|slot| slot.kind == PresentationKind::WarmUp);
        for index in 0..open.len() {
            if (open[index].kind == PresentationKind::WarmUp) == warm {
                let slot = open.remove(index);
                self.go_on(row, slot, open, repeats, cost);
                open.insert(index, slot);
            }
        }
        let again: Vec<Slot> = (0..row.len())
            .filter(|first| repeats > 0 && first + self.distance <= row.len())
            .map(|first| row[first])
            .filter(|slot| slot.kind == PresentationKind::Main)
            .filter(|slot| row.iter().filter(|s| s.token == slot.token).count() == 1)
            .collect();
        for slot in again {
            let kind = PresentationKind::Repeat;
            self.go_on(row, Slot { kind, ..slot }, open, repeats - 1, cost);
        }
    }

    fn go_on(
        &mut self,
        row: &mut Vec<Slot>,
        slot: Slot,
        open: &mut Vec<Slot>,
        repeats: usize,
        cost: usize,
    ) {
        let more = row
            .last()
            .map_or(0, |last| clash(self.voices, last.token, slot.token));
        row.push(slot);
        self.search(row, open, repeats, cost + more);
        row.pop();
    }
}

prop_compose! {
    fn a_small_sitting()(
        main in prop::collection::vec((0_u32..3, 0_u32..3, 0_u32..2), 1..7),
        checks in prop::collection::vec((prop::option::of(0_u32..3), prop::option::of(0_u32..3)), 0..2),
        warm_ups in prop::collection::vec((prop::option::of(0_u32..3), prop::option::of(0_u32..3)), 0..2),
        repeats in 0_usize..2, distance in 1_usize..5, seed in any::<u64>(),
    ) -> (Vec<Candidate>, Vec<Extra>, Vec<Extra>, SittingDesign, u64) {
        let main: Vec<_> = (0..).zip(main).map(|(t, (child, word, phase))| candidate(t, child, phase, phase, word)).collect();
        let extras = |first: u32, list: Vec<(Option<u32>, Option<u32>)>| -> Vec<Extra> {
            (first..).zip(list).map(|(token, (child, word))| Extra { token, child, word }).collect()
        };
        (main, extras(50, checks), extras(60, warm_ups), design(repeats, distance), seed)
    }
}

prop_compose! {
    fn a_sitting()(
        main in prop::collection::vec((0_u32..5, 0_u32..4, 0_u32..6), 0..60),
        checks in 0_u32..6, warm_ups in 0_u32..4, practice in 0_u32..4,
        repeats in 0_usize..12, distance in 0_usize..25, seed in any::<u64>(),
    ) -> (Vec<Candidate>, [Vec<Extra>; 3], SittingDesign, u64) {
        let main = (0..).zip(main).map(|(t, (child, session, word))| candidate(t, child, session, session / 2, word));
        (main.collect(), [extras(900, checks), extras(920, warm_ups), extras(940, practice)], design(repeats, distance), seed)
    }
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::with_cases(300) })]

    #[test]
    fn no_order_of_a_small_sitting_clashes_less(
        (main, checks, warm_ups, design, seed) in a_small_sitting(),
    ) {
        let practice = [Extra { token: 70, child: Some(0), word: None }];
        let slots = ordered(&main, &checks, &warm_ups, &practice, design, seed);
        let voices = voices(&main, &[&checks, &warm_ups, &practice]);
        let cost = clashes(&slots, &voices);
        let n_repeats = tokens_of(&slots, PresentationKind::Repeat).len();
        let mut open: Vec<Slot> = slots.iter().copied().skip(1)
            .filter(|slot| slot.kind != PresentationKind::Repeat).collect();
        let mut every = EveryOrder { voices: &voices, distance: design.repeat_distance, best: cost + 1 };
        let mut row = slots[..1].to_vec();
        every.search(&mut row, &mut open, n_repeats, 0);
        prop_assert_eq!(cost, every.best);
    }

    #[test]
    fn everything_is_played_once_repeats_twice_and_far_apart(
        (main, [checks, warm_ups, practice], design, seed) in a_sitting(),
    ) {
        let slots = ordered(&main, &checks, &warm_ups, &practice, design, seed);
        let sorted = |kind| { let mut t = tokens_of(&slots, kind); t.sort_unstable(); t };
        let listed = |list: &[Extra]| list.iter().map(|e| e.token).collect::<Vec<_>>();
        prop_assert_eq!(sorted(PresentationKind::Main), main.iter().map(|c| c.token).collect::<Vec<_>>());
        prop_assert_eq!(sorted(PresentationKind::Check), listed(&checks));
        prop_assert_eq!(sorted(PresentationKind::WarmUp), listed(&warm_ups));
        prop_assert_eq!(tokens_of(&slots, PresentationKind::Practice), listed(&practice));

        let rank = |slot: &Slot| match slot.kind {
            PresentationKind::Practice => 0,
            PresentationKind::WarmUp => 1,
            _ => 2,
        };
        prop_assert!(slots.iter().map(rank).is_sorted());

        let repeats = tokens_of(&slots, PresentationKind::Repeat);
        let room = main.len() + checks.len() >= design.repeat_distance;
        let wanted = if room { design.repeats.min(main.len()) } else { 0 };
        prop_assert_eq!(repeats.len(), wanted);
        prop_assert_eq!(repeats.iter().collect::<BTreeSet<_>>().len(), wanted);
        prop_assert!(shortest_distance(&slots).is_none_or(|d| d >= design.repeat_distance));
    }
}
