//! Forms from other sites change nothing, and an old browser's own forms are not taken for one.

use crate::support::Browser;
use crate::support::Proxy;
use crate::support::Remote;
use crate::support::Server;
use crate::support::Study;

/// What a browser without `Sec-Fetch-Site` sends as `Origin` with a form, by the page's referrer policy (the Fetch standard,
/// "append a request `Origin` header").
fn origin_of_a_form(policy: &str, from: &str, to: &str) -> String {
    match policy {
        "no-referrer" => "null".to_owned(),
        "same-origin" if from != to => "null".to_owned(),
        _ => from.to_owned(),
    }
}

#[tokio::test]
async fn a_browser_too_old_to_tell_where_a_form_comes_from_can_still_send_its_own() {
    let study = Study::with().sealed();
    let server = Server::start(&study.folder());
    let mut remote = Remote::new(&server.address);
    remote.get(&study.links()[0].path).await;
    let page = remote.get("/listen").await;
    let policy = page.header("referrer-policy").unwrap().to_owned();
    let kind = ("content-type", "application/x-www-form-urlencoded");
    let agreed = || "version=1&agreed=yes".to_owned();
    for elsewhere in ["https://elsewhere.example", "http://127.0.0.1:1"] {
        for policy in ["no-referrer", "same-origin", "unsafe-url"] {
            let origin = origin_of_a_form(policy, elsewhere, &server.address);
            let headers = [kind, ("origin", origin.as_str())];
            let sent = remote
                .ask("POST", "/listen/consent", &headers, agreed())
                .await;
            assert_eq!(sent.status, 403, "{origin}");
        }
    }
    let own = origin_of_a_form(&policy, &server.address, &server.address);
    let headers = [kind, ("origin", own.as_str())];
    let sent = remote
        .ask("POST", "/listen/consent", &headers, agreed())
        .await;
    assert_eq!(sent.status, 303, "{own}");
}

#[tokio::test]
async fn no_other_site_hears_which_page_was_open() {
    let study = Study::with().sealed();
    let server = Server::start(&study.folder());
    let mut remote = Remote::new(&server.address);
    for path in ["/listen", "/withdraw", "/nowhere"] {
        let page = remote.get(path).await;
        assert_eq!(
            page.header("referrer-policy"),
            Some("same-origin"),
            "{path}"
        );
    }
}

#[tokio::test]
async fn a_real_browser_that_looks_old_agrees() {
    let study = Study::with().sealed();
    let server = Server::start(&study.folder());
    let old = Proxy::before(&server.address).await;
    let browser = Browser::open().await;
    browser
        .go(&format!("{}{}", old.address, study.links()[0].path))
        .await;
    browser.click("[name=agreed]").await;
    browser.click("form button").await;
    browser
        .until("return document.getElementById('play') !== null")
        .await;
    browser.close().await;
}
