//! Known answers at the desk: each account judges alone, differences are shown, and two agree or a third settles.

use fairhearing::app;
use fairhearing::app::Standing;

use crate::support::Desk;
use crate::support::Study;
use crate::support::account;

const HOME: &str = "/desk/recordings/answers";

/// The word that a page asks about.
fn asked(page: &str) -> Option<String> {
    let judge = page.split("<h2>Judge for yourself</h2>").nth(1)?;
    let judge = judge.split("</section>").next()?;
    let value = judge.split("name=\"word\" value=\"").nth(1)?;
    value.split('"').next().map(str::to_owned)
}

fn disputed(study: &Study) -> Vec<String> {
    let words = app::known_words(&study.workspace).unwrap().into_iter();
    words
        .filter(|word| word.standing == Standing::Disputed)
        .map(|word| word.sha256)
        .collect()
}

fn nothing_is_wrong_with(study: &Study) {
    let findings = app::verify(&study.workspace, &[]).unwrap().findings;
    assert_eq!(findings, Vec::<String>::new());
}

/// Answers every word that is left as correct; gives how many there were.
fn answer_all(desk: &Desk, signed_in: &[(&str, &str)]) -> usize {
    let mut answered = 0;
    while let Some(word) = asked(&desk.get(HOME, signed_in).text) {
        let form = format!("word={word}&answer=correct");
        assert_eq!(desk.post(HOME, &form, signed_in).status, 303);
        answered += 1;
    }
    answered
}

#[test]
fn each_account_judges_alone_and_who_heard_otherwise_says_so_after_listening_together() {
    let study = Study::with().imported();
    account(&study, "Ada", "researcher", &[]);
    account(&study, "Pia", "preparer", &[]);
    let desk = Desk::of(&study);
    let (ada, preparer) = (desk.sign_in("Ada"), desk.sign_in("Pia"));
    let (ada, preparer) = ([("cookie", ada.as_str())], [("cookie", preparer.as_str())]);
    let all = app::known_words(&study.workspace).unwrap();
    let distorted = all
        .iter()
        .filter(|word| word.answers[0].1.to_string() != "correct")
        .count();
    assert!(distorted > 0 && all.len() > distorted);

    let before = desk.get(HOME, &preparer).text;
    assert!(!before.contains("as imported") && !before.contains("settle\""));
    let first = asked(&before).unwrap();
    assert_eq!(answer_all(&desk, &preparer), all.len());
    let twice = desk.post(HOME, &format!("word={first}&answer=correct"), &preparer);
    assert_eq!(twice.status, 422);
    assert!(twice.text.contains("you have answered this word already"));
    assert_eq!(disputed(&study).len(), distorted);
    let shown = desk.get(HOME, &preparer).text;
    assert_eq!(
        shown.matches("you differ: it does not count").count(),
        distorted
    );
    assert!(shown.contains("as imported: distorted, Pia: correct"));
    // Who has not answered sees nothing of what others said.
    let hers = desk.get(HOME, &ada).text;
    assert!(!hers.contains("Pia") && !hers.contains("you differ"));

    // Two of them are not more right than one: each speaks for herself alone, and only after listening together.
    let change = format!("{HOME}/change");
    let settle = format!("{HOME}/settle");
    let words = disputed(&study);
    for word in &words {
        let form = format!("word={word}&answer=distorted");
        assert_eq!(desk.post(&change, &form, &preparer).status, 422);
        let meant = format!("{form}&sure=yes");
        // Who has not answered it has nothing to change, and who is one of two cannot settle it.
        assert_eq!(desk.post(&change, &meant, &ada).status, 422);
        let alone = desk.post(&settle, &format!("{meant}&because=mistake"), &preparer);
        assert_eq!(alone.status, 422);
        assert!(
            alone.text.contains("you are one of the two who differ"),
            "{}",
            alone.text
        );
        let as_before = format!("word={word}&answer=correct&sure=yes");
        assert_eq!(desk.post(&change, &as_before, &preparer).status, 422);
        assert_eq!(disputed(&study).len(), words.len());
    }
    for word in &words {
        let meant = format!("word={word}&answer=distorted&sure=yes");
        assert_eq!(desk.post(&change, &meant, &preparer).status, 303);
    }
    assert!(disputed(&study).is_empty(), "now both say the same");
    nothing_is_wrong_with(&study);
}

#[test]
fn a_third_settles_what_two_heard_differently_and_says_why() {
    let study = Study::with().imported();
    account(&study, "Pia", "preparer", &[]);
    let third = account(&study, "Ada", "researcher", &[]);
    let desk = Desk::of(&study);
    let (ada, preparer) = (desk.sign_in("Ada"), desk.sign_in("Pia"));
    let (ada, preparer) = ([("cookie", ada.as_str())], [("cookie", preparer.as_str())]);
    answer_all(&desk, &preparer);
    let words = disputed(&study);
    let settle = format!("{HOME}/settle");
    let form = |word: &str, because: &str| {
        format!("word={word}&answer=correct&sure=yes&because={because}")
    };
    // She has not answered it for herself.
    let early = desk.post(&settle, &form(&words[0], "other-sound"), &ada);
    assert_eq!(early.status, 422);
    answer_all(&desk, &ada);
    assert_eq!(
        disputed(&study).len(),
        words.len(),
        "three, and one differs"
    );
    let shown = desk.get(HOME, &ada).text;
    assert!(shown.contains("Settle it between the other two"));
    for word in &words {
        for refused in ["", "because+I+say+so"] {
            assert_eq!(desk.post(&settle, &form(word, refused), &ada).status, 422);
        }
        let done = desk.post(&settle, &form(word, "other-sound"), &ada);
        assert_eq!(done.status, 303, "{}", done.text);
    }
    assert!(disputed(&study).is_empty());
    let events = study.events();
    let settled: Vec<_> = events
        .iter()
        .filter(|event| event.kind == "known answer settled")
        .map(|event| event.body.as_str())
        .collect();
    assert_eq!(settled.len(), words.len());
    assert!(
        settled
            .iter()
            .all(|body| body.contains(&third) && body.contains("other-sound")),
        "{settled:?}"
    );
    nothing_is_wrong_with(&study);
}

#[test]
fn one_person_is_enough_only_with_a_reason_and_the_page_counts_what_is_needed() {
    let study = Study::with().imported();
    account(&study, "Ada", "researcher", &[]);
    let desk = Desk::of(&study);
    let ada = desk.sign_in("Ada");
    let signed_in = [("cookie", ada.as_str())];
    let single = format!("{HOME}/single");
    assert_eq!(desk.post(&single, "reason=++", &signed_in).status, 422);
    let reason = "reason=nobody+else+knows+the+dialect";
    assert_eq!(desk.post(&single, reason, &signed_in).status, 303);
    let words = app::known_words(&study.workspace).unwrap();
    let because = Standing::ByOneBecause("nobody else knows the dialect".to_owned());
    assert!(words.iter().all(|word| word.standing == because));
    assert_eq!(desk.post(&single, reason, &signed_in).status, 422);
    let of = |use_: &str| {
        let used = words.iter().filter(|word| word.use_.to_string() == use_);
        used.count()
    };
    let page = desk.get(
        &format!("{HOME}?checks=20&practice=0&sittings=2"),
        &signed_in,
    );
    let still = 40 - of("check");
    assert!(page.text.contains("<td class=\"number\">40</td>"));
    assert!(
        page.text.contains(&format!("<strong>{still}</strong>")),
        "{still}"
    );
    nothing_is_wrong_with(&study);
}
