//! Backups by the desk: made while the page is left, checked file by file, restored by command.

use std::time::Duration;
use std::time::Instant;

use fairhearing::app;

use crate::support::Desk;
use crate::support::Study;
use crate::support::account;

/// The page once nothing goes on any more.
fn ended(desk: &Desk, signed_in: &[(&str, &str)]) -> String {
    let begun = Instant::now();
    loop {
        let page = desk.get("/desk/backup", signed_in).text;
        if !page.contains("Under way") {
            return page;
        }
        assert!(begun.elapsed() < Duration::from_mins(2), "{page}");
        std::thread::sleep(Duration::from_millis(50));
    }
}

#[test]
fn a_backup_is_made_at_the_desk_checked_there_and_restored() {
    let study = Study::with().sealed();
    let ada = account(&study, "Ada", "researcher", &[]);
    let desk = Desk::of(&study);
    let cookie = desk.sign_in("Ada");
    let signed_in = [("cookie", cookie.as_str())];
    let elsewhere = tempfile::tempdir().unwrap();
    let to = elsewhere.path().join("copy");
    let named = |field: &str| format!("{field}={}", to.display());
    let relative = desk.post("/desk/backup", "to=copy", &signed_in);
    assert_eq!(relative.status, 422);
    assert!(relative.text.contains("Write the whole path"));
    assert_eq!(
        desk.post("/desk/backup", &named("to"), &signed_in).status,
        303
    );
    let page = ended(&desk, &signed_in);
    assert!(
        page.contains("Backed up.") && to.join("SHA256SUMS").is_file(),
        "{page}"
    );
    assert!(page.contains(&to.display().to_string()));
    let event = study
        .events()
        .into_iter()
        .rev()
        .find(|event| event.kind == "copy made");
    assert!(event.unwrap().body.as_str().contains(&ada));
    desk.post("/desk/backup", &named("to"), &signed_in);
    assert!(ended(&desk, &signed_in).contains("is there already"));

    desk.post("/desk/backup/check", &named("from"), &signed_in);
    assert!(ended(&desk, &signed_in).contains("each is as it was listed"));
    app::restore(&to, &elsewhere.path().join("again")).unwrap();
    std::fs::write(to.join("study.toml"), "name = \"another\"").unwrap();
    desk.post("/desk/backup/check", &named("from"), &signed_in);
    assert!(ended(&desk, &signed_in).contains("is not as it was backed up"));
}
