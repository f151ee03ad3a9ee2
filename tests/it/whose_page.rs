//! Two listeners at one browser: the forms on a page of the first do nothing in the name of the second.

use crate::support::Remote;
use crate::support::Server;
use crate::support::Study;

const COURSE: &str = "
[practice]
pass = 0.0
[rests]
every = 3
minutes_a_day = 0
[questions]
ask = [\"hearing\"]
";

/// What each form sends.
const FORMS: [(&str, &str); 6] = [
    ("/listen/consent", "version=1&agreed=yes"),
    ("/listen/questions", "hearing=not-said"),
    ("/listen/sound-check", "device=built-in&heard=yes"),
    ("/listen/begin", "part=1"),
    ("/listen/go-on", ""),
    ("/listen/closing", ""),
];

/// The address to which the form of the page is sent, and what it sends.
fn form_of(page: &str) -> (String, &'static str) {
    let action = page.split(" action=\"").nth(1).unwrap();
    let action = action.split('"').next().unwrap();
    let (address, whose) = action.split_once('?').unwrap();
    assert!(whose.starts_with("whose="), "{action}");
    let (_, sent) = FORMS.iter().find(|(form, _)| *form == address).unwrap();
    (action.to_owned(), sent)
}

async fn judge_all_ahead(remote: &mut Remote) {
    while let Some(id) = remote.ahead().await.first() {
        assert_eq!(remote.judge(id, "correct").await.status, 200);
    }
}

#[tokio::test]
async fn a_form_of_a_page_from_before_does_nothing_for_whoever_came_in_since() {
    let study = Study::with().course(COURSE.to_owned()).sealed();
    let server = Server::start(&study.folder());
    let [mut hers, mut another] = [0, 1].map(|_| Remote::new(&server.address));
    hers.get(&study.links()[0].path).await;
    another.get(&study.links()[1].path).await;

    let mut forms = Vec::new();
    loop {
        let page = hers.get("/listen").await.text();
        if page.contains("class=\"receipt\"") {
            break;
        }
        if page.contains("id=\"sitting\"") {
            judge_all_ahead(&mut hers).await;
            judge_all_ahead(&mut another).await;
            continue;
        }
        let (action, sent) = form_of(&page);
        let before = another.get("/listen").await.text();
        let stale = another.post(&action, sent).await;
        assert_eq!(stale.status, 401, "{action}");
        assert!(stale.text().contains("Please open your link once more"));
        assert_eq!(another.get("/listen").await.text(), before, "{action}");

        assert_eq!(hers.post(&action, sent).await.status, 303, "{action}");
        let (own, sent) = form_of(&before);
        assert_eq!(another.post(&own, sent).await.status, 303, "{own}");
        forms.push(action.split('?').next().unwrap().to_owned());
    }
    forms.dedup();
    let all: Vec<_> = FORMS.iter().map(|(form, _)| (*form).to_owned()).collect();
    assert_eq!(forms, all);
}
