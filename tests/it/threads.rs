//! Results do not depend on how many threads computed them: law 'the same input gives the same bytes' (our own promise).

use std::fmt::Write;

use fairhearing::analysis;
use fairhearing::analysis::AgreementOptions;
use fairhearing::analysis::OutcomeOptions;
use fairhearing::analysis::PrecisionOptions;
use fairhearing::analysis::ScaleKind;
use fairhearing::exchange::read_ratings;
use fairhearing::exchange::read_tokens;
use fairhearing::study::Ratings;
use fairhearing::study::TokenTable;
use rand::SeedableRng;
use rand_chacha::ChaCha12Rng;

use crate::simulated_round::Panel;
use crate::simulated_round::Plan;
use crate::simulated_round::Spread;

/// Two children, 2 × 3 sessions of 12 words, 5 judgements of each token among 8 listeners.
fn simulated() -> (Ratings, TokenTable) {
    let plan = Plan {
        spread: Spread::USUAL,
        panel: Panel {
            judgements: 5,
            listeners: 8,
        },
        words: 12,
        children: vec![[0.3, 0.7], [0.5, 0.5]],
        sessions: 3,
    };
    let round = plan.simulate(&plan.levels(), &mut ChaCha12Rng::seed_from_u64(5));
    let mut ratings = String::from("token,listener,judgement\n");
    let mut tokens = String::from("token,child,session,phase,word\n");
    let mut before = None;
    for judgement in &round.judgements {
        let (token, word) = (judgement.token, judgement.word.unwrap());
        if before != Some(token) {
            let place = round.places[judgement.session as usize];
            let (child, number) = (place.child, judgement.session % 6 + 1);
            let phase = ["baseline", "treatment"][place.phase as usize];
            writeln!(tokens, "t{token},C{child},{number},{phase},w{word}").unwrap();
        }
        before = Some(token);
        let answer = u8::from(judgement.correct);
        writeln!(ratings, "t{token},L{},{answer}", judgement.listener).unwrap();
    }
    (
        read_ratings("ratings", ratings.as_bytes()).unwrap(),
        read_tokens("tokens", tokens.as_bytes()).unwrap(),
    )
}

/// What `work` writes as JSON on one thread and on two.
#[track_caller]
fn same_on_one_and_two_threads(work: impl Fn(&Ratings, &TokenTable) -> String + Sync) {
    let (ratings, tokens) = simulated();
    let [one, two] = [1, 2].map(|threads| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads);
        pool.build().unwrap().install(|| work(&ratings, &tokens))
    });
    assert!(one.len() > 1000, "too little to compare: {one}");
    assert_eq!(one, two);
}

#[test]
fn an_outcome_is_the_same_on_any_number_of_threads() {
    same_on_one_and_two_threads(|ratings, tokens| {
        let found = analysis::outcome(ratings, tokens, None, &OutcomeOptions::default()).unwrap();
        serde_json::to_string(&found).unwrap()
    });
}

#[test]
fn agreement_with_resampled_limits_is_the_same_on_any_number_of_threads() {
    same_on_one_and_two_threads(|ratings, tokens| {
        let options = AgreementOptions {
            scale: ScaleKind::Nominal,
            categories: None,
            confidence: 0.95,
            replicates: 200,
            seed: 1,
        };
        let found = analysis::agreement(ratings, Some(tokens), &options).unwrap();
        serde_json::to_string(&found).unwrap()
    });
}

#[test]
fn precision_is_the_same_on_any_number_of_threads() {
    same_on_one_and_two_threads(|ratings, tokens| {
        let found = analysis::precision(ratings, tokens, &PrecisionOptions::default()).unwrap();
        serde_json::to_string(&found).unwrap()
    });
}
