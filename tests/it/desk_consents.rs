//! What families agreed to, noted at the desk; what is lacking is said there and nowhere else.

use fairhearing::app;
use fairhearing::app::Now;
use fairhearing::study::ChildCode;

use crate::support::Desk;
use crate::support::Study;
use crate::support::account;

#[test]
fn a_consent_is_noted_at_the_desk_and_what_is_lacking_is_said() {
    let study = Study::with().imported();
    let ada = account(&study, "Ada", "researcher", &[]);
    account(&study, "Pia", "preparer", &[]);
    let desk = Desk::of(&study);
    let cookie = desk.sign_in("Ada");
    let signed_in = [("cookie", cookie.as_str())];
    let form = "code=N07&label=the+tall+one";
    assert_eq!(desk.post("/desk/consents", form, &signed_in).status, 303);
    let twice = desk.post("/desk/consents", form, &signed_in);
    assert_eq!(twice.status, 422);
    assert!(twice.text.contains("already"));
    let front = desk.get("/desk", &signed_in).text;
    assert!(front.contains("No consent is noted"), "{front}");
    assert!(front.contains("/desk/children/N07/consent"));
    let preparer = desk.sign_in("Pia");
    let hers = desk.get("/desk", &[("cookie", &preparer)]).text;
    assert!(!hers.contains("No consent is noted") && !hers.contains("tall"));

    let page = "/desk/children/N07/consent";
    let wrong = desk.post(page, "version=&given_on=yesterday&assent=given", &signed_in);
    assert_eq!(wrong.status, 422);
    for said in ["the version of the consent is empty", "This is no day"] {
        assert!(wrong.text.contains(said), "{said}");
    }
    let backwards = "version=2&given_on=2026-01-09&keep_until=2025-01-09&assent=given&scope=remote";
    let refused = desk.post(page, backwards, &signed_in);
    assert_eq!(refused.status, 422);
    assert!(
        refused.text.contains("before it was given"),
        "{}",
        refused.text
    );

    let good =
        "version=2&given_on=2024-01-09&keep_until=2025-01-09&assent=given&scope=remote&scope=staff";
    assert_eq!(desk.post(page, good, &signed_in).status, 303);
    let noted = app::children(&study.workspace).unwrap();
    let noted = noted
        .iter()
        .find(|child| child.code == ChildCode::new("N07").unwrap())
        .unwrap();
    let consent = noted.consent.as_ref().unwrap();
    assert_eq!(consent.scopes.to_string(), "staff remote");
    assert_eq!(consent.keep_until.unwrap().to_string(), "2025-01-09");
    assert_eq!(noted.label.as_ref().unwrap().as_str(), "the tall one");
    let front = desk.get("/desk", &signed_in).text;
    assert!(front.contains("may be kept is past"), "{front}");
    let shown = desk.get(page, &signed_in).text;
    assert!(shown.contains("value=\"remote\" checked") && shown.contains("value=\"2024-01-09\""));
    assert!(!shown.contains("value=\"research\" checked"));

    let relabelled = desk.post("/desk/children/N07/label", "label=", &signed_in);
    assert_eq!(relabelled.status, 303);
    assert!(
        !desk
            .get("/desk/consents", &signed_in)
            .text
            .contains("the tall one")
    );
    let event = study
        .events()
        .into_iter()
        .rev()
        .find(|event| event.kind == "consents noted");
    let body = event.unwrap().body;
    assert!(body.as_str().contains(&ada) && !body.as_str().contains("N07"));
    let findings = app::verify(&study.workspace, &[]).unwrap().findings;
    assert_eq!(findings, Vec::<String>::new());
}

#[test]
fn what_an_open_round_plays_cannot_be_forbidden_at_the_desk() {
    let study = Study::with().sealed();
    account(&study, "Ada", "researcher", &[]);
    let desk = Desk::of(&study);
    let cookie = desk.sign_in("Ada");
    let signed_in = [("cookie", cookie.as_str())];
    let child = app::consented(&study.workspace, Now::read()).unwrap()[0]
        .child
        .code
        .clone();
    let page = format!("/desk/children/{child}/consent");
    let narrower = "version=3&given_on=2025-03-09&assent=refused";
    let refused = desk.post(&page, narrower, &signed_in);
    assert_eq!(refused.status, 422);
    assert!(
        refused.text.contains("round spring is open and plays"),
        "{}",
        refused.text
    );
}
