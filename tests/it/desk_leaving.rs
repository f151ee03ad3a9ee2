//! A child or a listener leaves by the desk: shown first, done once it is meant, told to the family.

use std::sync::atomic::AtomicBool;
use std::sync::atomic::Ordering;

use fairhearing::app;
use fairhearing::app::Now;
use fairhearing::study::ChildCode;
use fairhearing::study::Judgement::Correct;

use crate::support::Desk;
use crate::support::Study;
use crate::support::account;
use crate::support::listen;

const LATER: Now = Now::at_ms(1_749_000_000_000);

fn code(text: &str) -> ChildCode {
    ChildCode::new(text).unwrap()
}

fn with_ada(study: &Study) -> (String, Desk, String) {
    let code = account(study, "Ada", "researcher", &[]);
    let desk = Desk::of(study);
    let cookie = desk.sign_in("Ada");
    (code, desk, cookie)
}

fn children(study: &Study) -> Vec<String> {
    let children = app::children(&study.workspace).unwrap();
    children
        .iter()
        .map(|child| child.code.to_string())
        .collect()
}

fn nothing_is_wrong_with(study: &Study) {
    let findings = app::verify(&study.workspace, &[]).unwrap().findings;
    assert_eq!(findings, Vec::<String>::new());
}

#[test]
fn a_child_is_erased_only_when_it_is_meant_and_the_family_gets_a_page() {
    let study = Study::with().sealed();
    let (ada, desk, cookie) = with_ada(&study);
    let signed_in = [("cookie", cookie.as_str())];
    listen(&study.workspace, &study.links()[0], |_| Correct);
    let first = children(&study)[0].clone();
    let page = format!("/desk/children/{first}/withdraw");
    let shown = desk.get(&page, &signed_in);
    let there = app::preview_withdrawal(&study.workspace, &code(&first)).unwrap();
    assert_eq!(shown.status, 200);
    assert!(
        shown
            .text
            .contains(&format!("{} recordings", there.recordings))
    );
    assert!(shown.text.contains("in round spring (open)"));
    for (form, why) in [
        (format!("how=erase&code={first}"), "tick the line"),
        (format!("sure=yes&code={first}"), "choose what is to become"),
        (
            "how=erase&sure=yes&code=other".to_owned(),
            "not the code of this child",
        ),
    ] {
        let refused = desk.post(&page, &form, &signed_in);
        assert_eq!(refused.status, 422, "{form}");
        assert!(refused.text.contains(why), "{form}: {}", refused.text);
        assert!(children(&study).contains(&first));
    }
    let done = desk.post(
        &page,
        &format!("how=erase&sure=yes&code={first}"),
        &signed_in,
    );
    assert_eq!(done.status, 303, "{}", done.text);
    assert!(!children(&study).contains(&first));
    let at = done.header("location").to_owned();
    let told = desk.get(&at, &signed_in).text;
    assert!(told.contains("The child is erased"));
    let family = desk.get(&format!("{at}/family"), &signed_in);
    assert!(family.text.contains("Your child has left the study"));
    assert!(
        family
            .text
            .contains(&format!("{} recordings", there.recordings))
    );
    assert!(family.header("content-security-policy").contains("sha256-"));
    for page in [&told, &family.text] {
        assert!(!page.contains(&first), "the page names the child");
    }
    let event = study
        .events()
        .into_iter()
        .rev()
        .find(|event| event.kind == "child erased");
    assert!(event.unwrap().body.as_str().contains(&ada));
    // Nobody else sees what was done, and no page of her is left.
    account(&study, "Bea", "researcher", &[]);
    let other = desk.sign_in("Bea");
    assert_eq!(desk.get(&at, &[("cookie", &other)]).status, 404);
    assert_eq!(desk.get(&page, &signed_in).status, 404);
    nothing_is_wrong_with(&study);
}

#[test]
fn a_child_is_put_out_of_use_first_and_erased_later() {
    let study = Study::with().sealed();
    let (ada, desk, cookie) = with_ada(&study);
    let signed_in = [("cookie", cookie.as_str())];
    let first = children(&study)[0].clone();
    let page = format!("/desk/children/{first}/withdraw");
    let done = desk.post(
        &page,
        &format!("how=stop&sure=yes&code={first}"),
        &signed_in,
    );
    assert_eq!(done.status, 303, "{}", done.text);
    let told = desk.get(done.header("location"), &signed_in).text;
    assert!(told.contains("The child is out of use"));
    let event = study
        .events()
        .into_iter()
        .rev()
        .find(|event| event.kind == "child out of use");
    assert!(event.unwrap().body.as_str().contains(&ada));
    let again = desk.get(&page, &signed_in).text;
    assert!(!again.contains("value=\"stop\"") && again.contains("value=\"erase\""));
    let done = desk.post(
        &page,
        &format!("how=erase&sure=yes&code={first}"),
        &signed_in,
    );
    assert_eq!(done.status, 303, "{}", done.text);
    nothing_is_wrong_with(&study);
}

#[test]
fn a_listener_leaves_by_her_receipt_and_is_erased_by_her_code() {
    let study = Study::with().sealed();
    let (ada, desk, cookie) = with_ada(&study);
    let signed_in = [("cookie", cookie.as_str())];
    listen(&study.workspace, &study.links()[0], |_| Correct);
    let listener = study.links()[0].listener.clone();
    let mistyped = desk.post(
        "/desk/listeners/withdraw",
        "receipt=abc&sure=yes",
        &signed_in,
    );
    assert_eq!(mistyped.status, 422);
    assert!(mistyped.text.contains("This is no receipt"));
    let shown = desk.get(
        &format!("/desk/listeners/withdraw?listener={listener}"),
        &signed_in,
    );
    let there = app::preview_listener(&study.workspace, &listener).unwrap();
    assert!(there.judgements > 0);
    assert!(
        shown
            .text
            .contains(&format!("{} judgements", there.judgements))
    );
    let unknown = desk.get("/desk/listeners/withdraw?listener=nobody", &signed_in);
    assert_eq!(unknown.status, 422);
    let form = format!("listener={listener}");
    assert_eq!(
        desk.post("/desk/listeners/erase", &form, &signed_in).status,
        422
    );
    assert_eq!(study.judgements().len(), there.judgements);
    let done = desk.post(
        "/desk/listeners/erase",
        &format!("{form}&sure=yes"),
        &signed_in,
    );
    assert_eq!(done.status, 303, "{}", done.text);
    assert_eq!(study.judgements().len(), 0);
    let at = done.header("location").to_owned();
    assert!(
        desk.get(&at, &signed_in)
            .text
            .contains("The listener is erased")
    );
    assert_eq!(desk.get(&format!("{at}/family"), &signed_in).status, 404);
    let event = study
        .events()
        .into_iter()
        .rev()
        .find(|event| event.kind == "listener erased");
    assert!(event.unwrap().body.as_str().contains(&ada));
    nothing_is_wrong_with(&study);
}

#[test]
fn a_child_who_is_erased_while_an_import_runs_does_not_come_back() {
    let study = Study::with().imported();
    let first = code(&children(&study)[0]);
    let erased = AtomicBool::new(false);
    let told = |_: usize, _: usize| {
        if !erased.swap(true, Ordering::SeqCst) {
            app::erase_child(&study.workspace, &first, LATER).unwrap();
        }
    };
    let (manifest, audio) = (study.manifest(), study.audio());
    let refused = app::import(&study.workspace, &manifest, &audio, LATER, &told);
    let refused = refused.unwrap_err().to_string();
    assert!(refused.contains("a child was erased while"), "{refused}");
    assert!(erased.load(Ordering::SeqCst));
    assert!(!children(&study).contains(&first.to_string()));
    nothing_is_wrong_with(&study);
}
