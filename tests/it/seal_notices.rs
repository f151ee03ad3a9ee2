//! What staff are told before a seal that nothing stands in the way of: examples that do not show all,
//! and words that do not last for every sitting.

use fairhearing::app;
use fairhearing::app::planning;

use crate::support::Remote;
use crate::support::Server;
use crate::support::Study;

#[test]
fn examples_that_do_not_show_what_lies_between_are_told_at_the_plan_and_at_the_seal() {
    let study = Study::with().imported();
    std::fs::write(study.plan(), study.with.plan()).unwrap();
    let (_, planned) = planning::forecast_file(&study.workspace, &study.plan()).unwrap();
    let told = "Among the examples of the s sound there is not one on which listeners were divided";
    let sealed = study.seal(&study.with).unwrap();
    for notices in [&planned.notices, &sealed.notices] {
        assert_eq!(notices.len(), 1, "{notices:?}");
        assert!(notices[0].starts_with(told), "{notices:?}");
    }
    assert_eq!(planned.problems, Vec::<String>::new());
}

#[test]
fn each_sound_is_to_have_examples_of_its_own() {
    let course = "[practice]\npass = 0.0\n[[targets]]\ntarget = \"s\"\nname = \"the s sound\"\n\
                  instruction = \"Judge the s.\"\n[[targets]]\ntarget = \"r\"\nname = \"the r sound\"\n\
                  instruction = \"Judge the r.\"\n";
    // Two examples in all, and both of the first sound.
    let study = Study::with()
        .words(6)
        .targets(2)
        .practice(0)
        .warm_ups(0)
        .checks(0)
        .repeats(0.0)
        .course(course.to_owned())
        .imported();
    let notices = study.seal(&study.with).unwrap().notices;
    assert_eq!(notices.len(), 2, "{notices:?}");
    assert!(
        notices[1].starts_with(
            "Among the examples of the r sound there is not a clear correct one, nor a clear \
             distorted one, nor one on which listeners were divided"
        ),
        "{notices:?}"
    );
}

#[tokio::test]
async fn an_example_on_which_listeners_were_divided_is_shown_with_its_sentence() {
    let study = Study::with().examples(3).made();
    let manifest = std::fs::read_to_string(study.manifest()).unwrap();
    let mut rows: Vec<String> = manifest.lines().map(str::to_owned).collect();
    let last = rows.last_mut().unwrap();
    *last = last.replace(",example,correct,", ",example,divided,");
    assert!(last.contains("divided"), "{last}");
    std::fs::write(study.manifest(), rows.join("\n")).unwrap();
    study.import().unwrap();
    study.note_consents();
    let sealed = study.seal(&study.with).unwrap();
    assert_eq!(sealed.notices, Vec::<String>::new());
    let server = Server::start(&study.folder());
    let mut remote = Remote::new(&server.address);
    remote.get(&sealed.links[0].path).await;
    remote.post("/listen/consent", "version=1&agreed=yes").await;
    remote.check_sound().await;
    let page = remote.get("/listen").await.text();
    assert_eq!(
        page.matches("listeners were divided: either answer is fair")
            .count(),
        1,
        "{page}"
    );
    assert_eq!(page.matches("heard as “").count(), 2, "{page}");
}

#[test]
fn checks_that_do_not_last_for_every_sitting_are_told() {
    let study = Study::with()
        .sittings(2)
        .tokens_per_sitting(6)
        .checks(2)
        .warm_ups(0)
        .imported();
    let notices = study.seal(&study.with).unwrap().notices;
    let told = "A listener may do 2 sittings with 2 check words each, and hears none of them twice: \
                the study has 2 of 4";
    assert!(
        notices.iter().any(|notice| notice.starts_with(told)),
        "{notices:?}"
    );
    let verified = app::verify(&study.workspace, &[]).unwrap();
    assert_eq!(verified.findings, Vec::<String>::new());
}
