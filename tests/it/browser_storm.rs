//! A whole sitting in a browser while the network is cut, the server killed and the page loaded
//! anew, again and again: every answer that was acknowledged is kept once, and in order.

use fairhearing::store::PresentationState;
use fairhearing::study::Judgement;
use fairhearing::study::PresentationKind;
use serde_json::json;

use crate::support::Browser;
use crate::support::Server;
use crate::support::Study;
use crate::support::key;

/// What comes between.
#[derive(Debug, Clone, Copy)]
enum Trouble {
    /// The server is killed before the answer, and started after it.
    ServerDies,
    /// The same, and the page is left before the server is back.
    ServerDiesAndPageIsLeft,
    /// The browser is cut off before the answer, and connected after it.
    NetworkIsCut,
    /// The page is loaded anew before it can hear that the answer was saved.
    Reload,
    /// The page is loaded anew while the word sounds, which cuts the word short.
    ReloadWhileItSounds,
    /// The server is killed and started while the word sounds.
    ServerDiesWhileItSounds,
    /// The server is killed just after the answer: before it came, as it is written, or before it is acknowledged.
    ServerDiesAtTheAnswer,
    /// The browser is cut off just after the answer.
    NetworkIsCutAtTheAnswer,
}

const TROUBLES: [Trouble; 8] = [
    Trouble::ServerDies,
    Trouble::ServerDiesAndPageIsLeft,
    Trouble::NetworkIsCut,
    Trouble::Reload,
    Trouble::ReloadWhileItSounds,
    Trouble::ServerDiesWhileItSounds,
    Trouble::ServerDiesAtTheAnswer,
    Trouble::NetworkIsCutAtTheAnswer,
];

/// `FAIRHEARING_TROUBLES` sets how often there is trouble (usually 6 times), `FAIRHEARING_SEED` where.
#[tokio::test]
async fn trouble_at_random_places_loses_nothing_and_doubles_nothing() {
    let told = |name: &str, usual: u64| {
        std::env::var(name).map_or(usual, |number| number.parse().unwrap())
    };
    let troubles = told("FAIRHEARING_TROUBLES", 6);
    let mut storm = Storm::begin(troubles, told("FAIRHEARING_SEED", 20_250_602)).await;
    let mut met = 0;
    while storm.is_going_on().await {
        let trouble = storm.next_trouble();
        storm.go_through(trouble).await;
        met += 1;
    }
    assert!(met >= troubles, "{met} troubles");
    storm.end().await;
}

/// A rest after every third word.
const COURSE: &str = "[practice]\npass = 0.0\n[rests]\nevery = 3\nminutes_a_day = 0\n\
                      [sound_check]\nfirst_sound = \"off\"\n";

struct Storm {
    study: Study,
    server: Server,
    browser: Browser,
    chance: u64,
    /// Whether she pressed the right one of the two, for each answer that was acknowledged.
    acknowledged: Vec<bool>,
}

impl Storm {
    /// As many scored words as troubles, at least.
    async fn begin(troubles: u64, seed: u64) -> Self {
        let study = Study::with()
            .words(u32::try_from(troubles).unwrap().div_ceil(4).max(2))
            .practice(0)
            .warm_ups(1)
            .checks(1)
            .repeats(0.2)
            .repeat_distance(2)
            .course(COURSE.to_owned())
            .give_back_minutes(600)
            .sealed();
        let server = Server::start(&study.folder());
        let browser = Browser::open().await;
        let link = format!("{}{}", server.address, study.links()[0].path);
        browser.begin_by_keyboard(&link).await;
        Self {
            study,
            server,
            browser,
            chance: seed,
            acknowledged: Vec::new(),
        }
    }

    fn below(&mut self, n: u64) -> u64 {
        self.chance = self
            .chance
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1);
        (self.chance >> 33) % n
    }

    fn next_trouble(&mut self) -> Trouble {
        TROUBLES[usize::try_from(self.below(TROUBLES.len() as u64)).unwrap()]
    }

    async fn is_going_on(&self) -> bool {
        // While a page gives way to the next there is none.
        let is_there = async |css: &str| {
            let found = format!(
                "return document.readyState === 'complete' && document.querySelector('{css}') !== null"
            );
            self.browser.js(&found).await == json!(true)
        };
        let rest = "[action^=\"/listen/go-on\"] button";
        loop {
            self.browser
                .until("return document.readyState === 'complete'")
                .await;
            if is_there(rest).await {
                self.browser.click(rest).await;
                self.browser
                    .until("return document.querySelector('#sitting, [action^=\"/listen/closing\"]') !== null")
                    .await;
            }
            if is_there("#sitting").await {
                return true;
            }
            if is_there("[action^=\"/listen/closing\"]").await {
                return false;
            }
            // The page went on while the server was gone: she loads it again.
            self.browser
                .go(&format!("{}/listen", self.server.address))
                .await;
        }
    }

    async fn go_through(&mut self, trouble: Trouble) {
        let heard = match trouble {
            Trouble::ReloadWhileItSounds => return self.reload_while_it_sounds().await,
            Trouble::ServerDiesWhileItSounds => {
                self.browser.press(key::SPACE).await;
                self.server.kill();
                self.restart();
                self.browser.hear_out().await
            }
            _ => self.browser.hear().await,
        };
        if !heard {
            return;
        }
        match trouble {
            Trouble::ServerDies | Trouble::ServerDiesAndPageIsLeft => self.server.kill(),
            Trouble::NetworkIsCut => self.browser.set_offline(true).await,
            _ => {}
        }
        let right = self.below(2) == 1;
        self.browser
            .press(if right { key::RIGHT } else { key::LEFT })
            .await;
        match trouble {
            Trouble::ServerDies => self.restart(),
            Trouble::ServerDiesAndPageIsLeft => {
                self.browser.go("about:blank").await;
                self.restart();
                let page = format!("{}/listen", self.server.address);
                self.browser.go(&page).await;
            }
            Trouble::NetworkIsCut => self.browser.set_offline(false).await,
            Trouble::ServerDiesAtTheAnswer => {
                self.wait_a_little(60).await;
                self.server.kill();
                self.restart();
            }
            Trouble::NetworkIsCutAtTheAnswer => {
                self.wait_a_little(60).await;
                self.browser.set_offline(true).await;
                self.wait_a_little(900).await;
                self.browser.set_offline(false).await;
            }
            Trouble::Reload => self.browser.client.refresh().await.unwrap(),
            _ => {}
        }
        self.all_saved().await;
        self.acknowledged.push(right);
        assert_eq!(
            self.study.judgements().len(),
            self.acknowledged.len(),
            "{trouble:?}"
        );
    }

    async fn reload_while_it_sounds(&mut self) {
        self.browser.press(key::SPACE).await;
        self.wait_a_little(900).await;
        self.browser.client.refresh().await.unwrap();
        self.all_saved().await;
    }

    async fn wait_a_little(&mut self, most_ms: u64) {
        let wait = self.below(most_ms);
        tokio::time::sleep(std::time::Duration::from_millis(wait)).await;
    }

    fn restart(&mut self) {
        let host = self.server.host().to_owned();
        self.server = Server::start_on(&self.study.folder(), &host);
    }

    async fn all_saved(&self) {
        let lost =
            "const kept = document.querySelector('#sitting [data-kept=saved], #unsent > span');
            const lost = document.readyState === 'complete' && kept === null;";
        let saved = "kept?.hidden === (document.getElementById('sitting') === null)";
        self.browser
            .until(&format!("{lost} return lost || {saved}"))
            .await;
        if self.browser.js(&format!("{lost} return lost")).await == json!(true) {
            // The page went on while the server was gone: she loads it again.
            let page = format!("{}/listen", self.server.address);
            self.browser.go(&page).await;
            self.browser.until(&format!("{lost} return {saved}")).await;
        }
    }

    async fn end(self) {
        self.browser.close().await;
        let places = self
            .study
            .store()
            .read(|reading| {
                let listener = reading.enrolments(reading.rounds()?[0].id)?[0].id;
                reading.presentations_of(reading.sittings_of(listener)?[0].id)
            })
            .unwrap();
        let heard: Vec<_> = places
            .iter()
            .filter(|place| place.kind != PresentationKind::Example)
            // What was cut short came back, and its repeat is not asked for.
            .filter(|place| place.state != PresentationState::Dropped)
            .map(|place| place.id)
            .collect();
        let kept = self.study.judgements();
        let judged: Vec<_> = kept.iter().map(|row| row.presentation).collect();
        assert_eq!(judged, heard, "each word once, and in order");
        let answers: Vec<_> = kept.iter().map(|row| row.answer).collect();
        let left = match (answers[0], self.acknowledged[0]) {
            (answer, false) => answer,
            (Judgement::Correct, true) => Judgement::Distorted,
            (Judgement::Distorted, true) => Judgement::Correct,
        };
        let pressed_left: Vec<_> = answers.iter().map(|answer| *answer == left).collect();
        let acknowledged: Vec<_> = self.acknowledged.iter().map(|right| !right).collect();
        assert_eq!(pressed_left, acknowledged);
        let verified = fairhearing::app::verify(&self.study.workspace, &[]).unwrap();
        assert_eq!(verified.findings, Vec::<String>::new());
    }
}
