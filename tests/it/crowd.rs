//! Three hundred listeners at once on one round, over HTTP.

use std::collections::BTreeMap;
use std::collections::BTreeSet;

use crate::support::Remote;
use crate::support::Server;
use crate::support::Study;

const LISTENERS: u32 = 300;
const PLACES: u32 = 8;

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn three_hundred_at_once_lose_nothing_and_keep_the_rule() {
    let study = Study::with()
        .children(2)
        .sessions(2)
        .words(6)
        .checks(1)
        .practice(0)
        .warm_ups(0)
        .examples(1)
        .repeats(0.0)
        .tokens_per_sitting(PLACES)
        .listeners(LISTENERS)
        .judgements(LISTENERS * PLACES / 24)
        .sealed();
    let server = Server::start(&study.folder());
    let crowd: Vec<_> = (0..)
        .zip(study.links())
        .map(|(number, link)| {
            let (address, link) = (server.address.clone(), link.path.clone());
            tokio::spawn(async move { sit(number, &address, &link).await })
        })
        .collect();
    let mut acknowledged = BTreeMap::new();
    for listener in crowd {
        for (id, answer) in listener.await.unwrap() {
            assert_eq!(
                acknowledged.insert(id, answer),
                None,
                "an id was given twice"
            );
        }
    }

    let kept = study.judgements();
    let stored: BTreeMap<_, _> = kept
        .iter()
        .map(|row| (row.presentation.to_string(), row.answer.as_str()))
        .collect();
    assert_eq!(kept.len(), stored.len(), "a judgement was kept twice");
    assert_eq!(stored, acknowledged);

    let (tokens, standings) = study
        .store()
        .read(|reading| {
            let round = reading.rounds()?[0].id;
            let anybody = reading.enrolments(round)?[0].listener;
            Ok::<_, fairhearing::store::StoreError>((
                reading.round_tokens(round)?,
                reading.standings(round, anybody)?,
            ))
        })
        .unwrap();
    let mut strata: BTreeMap<u32, BTreeSet<u32>> = BTreeMap::new();
    for token in &tokens {
        let (Some(stratum), Some(standing)) = (
            token.stratum,
            standings.iter().find(|one| one.token == token.id),
        ) else {
            continue;
        };
        strata
            .entry(stratum)
            .or_default()
            .insert(standing.committed);
    }
    assert_eq!(strata.len(), 4);
    for (stratum, counts) in strata {
        let (least, most) = (counts.first().unwrap(), counts.last().unwrap());
        assert!(most - least <= 1, "stratum {stratum}: {counts:?}");
    }
}

/// One listener: every tenth leaves half-way, every tenth sends everything twice.
async fn sit(number: u32, address: &str, link: &str) -> Vec<(String, &'static str)> {
    let mut remote = Remote::new(address);
    remote.begin(link).await;
    let mut acknowledged = Vec::new();
    loop {
        let ahead = remote.ahead().await;
        if ahead.is_empty() || (number % 10 == 3 && acknowledged.len() >= 4) {
            return acknowledged;
        }
        for id in ahead {
            let answer = ["correct", "distorted"][(number as usize + acknowledged.len()) % 2];
            for _ in 0..=u32::from(number % 10 == 7) {
                let received = remote.judge(&id, answer).await;
                assert_eq!(received.status, 200, "{}", received.text());
            }
            acknowledged.push((id, answer));
        }
    }
}
