//! Every page that a listener may meet, in one walk: her way through a sitting, the pages beside it, and where it leads no
//! further.

use fairhearing::app;
use fairhearing::app::Invitation;
use fairhearing::app::Now;
use fairhearing::app::WhichLink;
use fairhearing::study::Judgement::Correct;
use fairhearing::study::RoundName;
use serde_json::json;

use crate::languages::add_language;
use crate::languages::from_right_to_left;
use crate::languages::sentence;
use crate::languages::speak;
use crate::support::Browser;
use crate::support::Server;
use crate::support::Study;
use crate::support::With;

/// The tag of the language that runs from right to left.
pub(crate) const FROM_RIGHT_TO_LEFT: &str = "yi";

/// A study whose plan asks and shows everything that there is.
fn everything() -> With {
    let course = "[practice]\npass = 1.0\ntries = 2\n[rests]\nevery = 4\n[sound_check]\n\
                  headphones = \"record\"\n[questions]\nask = [\"first-language\", \"age\", \
                  \"hearing\", \"experience\", \"acquaintance\"]\n";
    Study::with()
        .words(1)
        .practice(2)
        .open(1)
        .listeners(3)
        .course(course.to_owned())
        .texts("assent = \"You may stop.\"\npayment = \"It stays as agreed.\"\n".to_owned())
}

/// One in which a listener's day is short, and one listener takes all there is.
fn short_of_words() -> With {
    let course = "[practice]\n[rests]\nevery = 0\nwords_a_day = 1\nminutes_a_day = 0\n\
                  [sound_check]\nfirst_sound = \"off\"\n";
    Study::with()
        .practice(0)
        .judgements(1)
        .course(course.to_owned())
}

/// A study of this kind, sealed in a language.
fn spoken(with: With, language: &str) -> Study {
    let mut study = with.imported();
    if language == FROM_RIGHT_TO_LEFT {
        add_language(&study.folder(), language, &from_right_to_left());
    }
    speak(&study, language);
    study.round = Some(study.seal(&study.with).unwrap());
    study
}

/// Goes to every page in a language, and has a look at each. Says what came between the words.
pub(crate) async fn walk_everywhere(
    browser: &Browser,
    language: &str,
    look: impl AsyncFn(&str),
) -> Vec<String> {
    let study = spoken(everything(), language);
    let server = Server::start(&study.folder());
    let link = format!("{}{}", server.address, study.links()[0].path);
    let halts = browser.walk(&link, &look).await;
    browser.client.delete_all_cookies().await.unwrap();
    walk_beside(browser, &study, &server, &look).await;
    walk_where_nothing_is_to_be_heard(browser, language, &look).await;
    halts
}

/// Where there is no word for her: enough for today, nothing left, and a round that is over.
async fn walk_where_nothing_is_to_be_heard(
    browser: &Browser,
    language: &str,
    look: &impl AsyncFn(&str),
) {
    let study = spoken(short_of_words(), language);
    let mut first = study.listener(0);
    first.wait_until_today();
    first.begin();
    first.judge_on(|_| Correct);
    let mut second = study.listener(1);
    second.wait_until_today();
    second.begin();
    let server = Server::start(&study.folder());
    let open = async |number: usize| {
        browser.client.delete_all_cookies().await.unwrap();
        let link = format!("{}{}", server.address, study.links()[number].path);
        browser.go(&link).await;
        browser
            .until("return document.querySelector('h1') !== null")
            .await;
    };
    let shows = async |section: &str| {
        let title = browser.js("return document.title").await;
        assert_eq!(title, json!(sentence(language, section, "title")));
    };
    for (number, section, page) in [
        (0, "today", "enough for today"),
        (1, "nothing_left", "nothing left"),
    ] {
        open(number).await;
        browser.check_sound_if_asked().await;
        shows(section).await;
        look(page).await;
    }
    let round = RoundName::new("spring").unwrap();
    app::close(&study.workspace, &round, Now::read()).unwrap();
    open(1).await;
    shows("round_closed").await;
    look("a round that is over").await;
}

/// The pages beside a sitting: an open link, the way back, withdrawal, and a laptop that is handed round.
async fn walk_beside(browser: &Browser, study: &Study, server: &Server, look: &impl AsyncFn(&str)) {
    let address = |path: &str| format!("{}{path}", server.address);
    browser.go(&address(&study.open_link().path)).await;
    look("an open link").await;
    browser.click("form button").await;
    browser
        .until("return location.pathname === '/listen/way-back'")
        .await;
    look("the way back").await;
    walk_where_no_link_leads(browser, study, server, look).await;
    browser.go(&address("/withdraw")).await;
    look("withdrawal").await;
    browser
        .js("document.getElementById('number').value = 'hello'")
        .await;
    browser.click("[name=sure]").await;
    browser.click("form button").await;
    browser
        .until("return document.getElementById('refused') !== null")
        .await;
    look("a number that is no receipt").await;
    // A browser does not tell one port of a machine from another by its cookies.
    browser.client.delete_all_cookies().await.unwrap();
    let (laptop, codes) = Server::start_for_one_laptop(&study.folder());
    browser.go(&format!("{}/start", laptop.address)).await;
    browser
        .js("document.getElementById('code').value = '222222'")
        .await;
    browser.click("form button").await;
    browser
        .until("return document.getElementById('unknown') !== null")
        .await;
    look("a code that is not known").await;
    browser
        .js(&format!(
            "document.getElementById('code').value = {:?}",
            codes[1]
        ))
        .await;
    browser.click("form button").await;
    browser
        .until("return location.pathname === '/listen'")
        .await;
    look("consent on a laptop that is handed round").await;
    browser.click(".masthead a").await;
    browser
        .until("return document.getElementById('hand') !== null")
        .await;
    look("the hand-over").await;
    browser.click("#hand button").await;
    browser.until("return location.pathname === '/start'").await;
    look("the start").await;
}

/// Links that let nobody in: used up, run out, taken back; and a round that rests.
async fn walk_where_no_link_leads(
    browser: &Browser,
    study: &Study,
    server: &Server,
    look: &impl AsyncFn(&str),
) {
    let round = RoundName::new("spring").unwrap();
    let invite = |now: Now, days| {
        let wanted = Invitation {
            listeners: 1,
            days,
            ..Invitation::default()
        };
        let invited = app::invite(&study.workspace, &round, &wanted, now).unwrap();
        invited.links[0].clone()
    };
    let two_days_ago = Now::at_ms(Now::read().ms() - 2 * 24 * 3_600_000);
    let old = invite(two_days_ago, Some(1));
    let taken_back = invite(Now::read(), None);
    let which = WhichLink::Personal(taken_back.number);
    app::revoke(&study.workspace, &round, which, Now::read()).unwrap();
    let used_up = study.open_link();
    for (page, path) in [
        ("a link that is used up", &used_up.path),
        ("a link that has run out", &old.path),
        ("a link that was taken back", &taken_back.path),
    ] {
        browser.client.delete_all_cookies().await.unwrap();
        browser.go(&format!("{}{path}", server.address)).await;
        browser
            .until("return document.querySelector('h1') !== null")
            .await;
        look(page).await;
    }
    app::pause(&study.workspace, &round, Now::read()).unwrap();
    let fresh = format!("{}{}", server.address, study.links()[2].path);
    browser.go(&fresh).await;
    look("a round that rests").await;
    app::resume(&study.workspace, &round, Now::read()).unwrap();
}
