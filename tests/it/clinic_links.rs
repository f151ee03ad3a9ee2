//! A child's page behind a link: without signing in and without sound, until it runs out or is taken back.

use fairhearing::app;
use fairhearing::app::Now;
use fairhearing::app::Opened;
use rusqlite::Connection;

use crate::clinic_child::unlocked;
use crate::program::run;
use crate::support::Desk;
use crate::support::Study;
use crate::support::account;

const MADE_MS: i64 = 1_900_000_000_000;
const DAY_MS: i64 = 86_400_000;

fn share(study: &Study, child: &str, now: Now) -> (u32, String) {
    let child = child.parse().unwrap();
    let (page, secret) = app::share_page(&study.workspace, &child, 14, None, now).unwrap();
    (page.number, secret)
}

fn nothing_is_wrong_with(study: &Study) {
    let findings = app::verify(&study.workspace, &[]).unwrap().findings;
    assert_eq!(findings, Vec::<String>::new());
}

#[test]
fn whoever_has_the_link_sees_the_page_without_sound_and_nobody_else_hears_of_it() {
    let study = unlocked();
    let (_, secret) = share(&study, "C01", Now::read());
    let page = Desk::of(&study).get(&format!("/page/{secret}"), &[]);
    assert_eq!(page.status, 200);
    assert!(page.text.contains("What changed for C01"));
    assert!(page.text.contains("heard as correct"));
    for absent in ["<audio", "href=\"/desk", "C02", "/hear", "<script", &secret] {
        assert!(!page.text.contains(absent), "{absent}");
    }
    assert_eq!(page.header("referrer-policy"), "no-referrer");
    assert_eq!(page.header("cache-control"), "no-store");
    assert_eq!(page.header("x-robots-tag"), "noindex");
    // The one cookie is of this page alone, tells when the visit began, and is gone within the hour.
    let cookie = page.header("set-cookie");
    for part in [
        format!("; Path=/page/{secret}; "),
        "Max-Age=3600; HttpOnly; SameSite=Lax".to_owned(),
    ] {
        assert!(cookie.contains(&part), "{cookie}");
    }
    assert!(cookie.starts_with("visit=1") && !cookie.contains("C01"));
    nothing_is_wrong_with(&study);
}

fn openings(study: &Study) -> Vec<String> {
    let events = study.events().into_iter();
    events
        .filter(|event| event.kind == "shared page opened")
        .map(|event| event.body.as_str().to_owned())
        .collect()
}

#[test]
fn the_log_tells_each_opening_of_a_shared_page_without_its_secret_or_its_child() {
    let study = unlocked();
    account(&study, "Ada", "researcher", &[]);
    share(&study, "C02", Now::read());
    let (number, secret) = share(&study, "C01", Now::read());
    let (_, old) = share(&study, "C01", Now::at_ms(1_600_000_000_000));
    let desk = Desk::of(&study);
    let open = |secret: &str| desk.get(&format!("/page/{secret}"), &[]).status;
    assert_eq!((open(&secret), open(&secret)), (200, 200));
    // What is not shown was not opened.
    assert_eq!((open(&old), open("AAAAAAAAAAAAAAAA")), (410, 404));
    let told = openings(&study);
    assert_eq!(told.len(), 2);
    for body in &told {
        assert!(body.contains(&format!("\"link\":{number}")), "{body}");
        assert!(!body.contains(&secret) && !body.contains("C01"), "{body}");
    }
    nothing_is_wrong_with(&study);
    let cookie = desk.sign_in("Ada");
    let audit = desk.get("/desk/audit", &[("cookie", &cookie)]).text;
    assert!(audit.contains("<td>shared page opened</td>"));
    assert!(audit.contains(&format!("link {number}")) && !audit.contains(&secret));
    app::take_back_page(&study.workspace, number, None, None, Now::read()).unwrap();
    assert_eq!(open(&secret), 410);
    assert_eq!(openings(&study).len(), 2);
    nothing_is_wrong_with(&study);
}

#[test]
fn a_page_that_is_loaded_again_within_the_hour_is_one_opening_of_that_browser() {
    let study = unlocked();
    let (_, secret) = share(&study, "C01", Now::at_ms(MADE_MS));
    let (_, other) = share(&study, "C01", Now::at_ms(MADE_MS));
    let minute = |n: i64| MADE_MS + n * 60_000;
    let open = |secret: &str, visit: Option<&str>, ms: i64| {
        let opened = app::open_shared_page(&study.workspace, secret, visit, Now::at_ms(ms));
        match opened.unwrap() {
            Some(Opened::Page { visit, .. }) => visit,
            _ => panic!("the page is shown"),
        }
    };
    let first = open(&secret, None, minute(0)).expect("a visit begins");
    let counted = |n: usize| assert_eq!(openings(&study).len(), n);
    counted(1);
    // Loaded again by the same browser: shown, and not told again.
    for n in [0, 59] {
        assert_eq!(open(&secret, Some(&first), minute(n)), None);
    }
    counted(1);
    // Another browser, the same one an hour later, and a clock that was set back are told.
    assert!(open(&secret, None, minute(1)).is_some());
    assert!(open(&secret, Some(&first), minute(60)).is_some());
    assert!(open(&secret, Some(&first), minute(-1)).is_some());
    counted(4);
    // What nobody was given hides no opening: a later time, another digest, the visit of another link.
    let (began, digest) = first.split_once('.').unwrap();
    for made_up in [
        format!("{}.{digest}", minute(1)),
        format!("{began}.{}", "0".repeat(64)),
        "x".to_owned(),
    ] {
        assert!(open(&secret, Some(&made_up), minute(2)).is_some());
    }
    assert!(open(&other, Some(&first), minute(2)).is_some());
    counted(8);
    nothing_is_wrong_with(&study);
}

#[test]
fn a_browser_that_keeps_its_cookie_is_told_once_over_http_and_not_past_the_end_of_the_link() {
    let study = unlocked();
    let (number, secret) = share(&study, "C01", Now::read());
    let desk = Desk::of(&study);
    let path = format!("/page/{secret}");
    let first = desk.get(&path, &[]);
    let cookie = first.header("set-cookie").split(';').next().unwrap();
    for _ in 0..2 {
        let again = desk.get(&path, &[("cookie", cookie)]);
        assert_eq!((again.status, again.header("set-cookie")), (200, ""));
        assert_eq!(again.text, first.text);
    }
    assert_eq!(openings(&study).len(), 1);
    app::take_back_page(&study.workspace, number, None, None, Now::read()).unwrap();
    assert_eq!(desk.get(&path, &[("cookie", cookie)]).status, 410);
    nothing_is_wrong_with(&study);
}

#[test]
fn a_link_runs_out_to_the_millisecond_and_says_so() {
    let study = unlocked();
    let (_, secret) = share(&study, "C01", Now::at_ms(MADE_MS));
    let opened =
        |ms: i64| app::open_shared_page(&study.workspace, &secret, None, Now::at_ms(ms)).unwrap();
    let last = MADE_MS + 14 * DAY_MS;
    assert!(matches!(opened(last - 1), Some(Opened::Page { .. })));
    assert!(matches!(opened(last), Some(Opened::RanOut)));
    let (_, old) = share(&study, "C01", Now::at_ms(1_600_000_000_000));
    let page = Desk::of(&study).get(&format!("/page/{old}"), &[]);
    assert_eq!(page.status, 410);
    assert!(page.text.contains("This link has run out"));
    assert!(!page.text.contains("C01"));
}

#[test]
fn a_link_that_was_taken_back_shows_nothing_and_only_once_is_it_taken_back() {
    let study = unlocked();
    let (number, secret) = share(&study, "C01", Now::read());
    let other = "C02".parse().unwrap();
    let take = |child| app::take_back_page(&study.workspace, number, child, None, Now::read());
    assert!(take(Some(&other)).is_err());
    take(None).unwrap();
    assert!(take(None).is_err());
    let page = Desk::of(&study).get(&format!("/page/{secret}"), &[]);
    assert_eq!(page.status, 410);
    assert!(page.text.contains("This link was taken back"));
    assert!(!page.text.contains("C01"));
    nothing_is_wrong_with(&study);
}

#[test]
fn nobody_guesses_a_link() {
    let study = unlocked();
    let (_, secret) = share(&study, "C01", Now::read());
    // 32 signs of 32 kinds: 160 bits.
    assert_eq!(secret.len(), 32);
    assert!(
        secret
            .bytes()
            .all(|sign| sign.is_ascii_lowercase() || sign.is_ascii_digit())
    );
    let mut secrets: Vec<String> = (0..50)
        .map(|_| share(&study, "C01", Now::read()).1)
        .collect();
    secrets.sort();
    secrets.dedup();
    assert_eq!(secrets.len(), 50);
    let desk = Desk::of(&study);
    let unknown = desk.get("/page/unknown", &[]);
    let last = if secret.ends_with('0') { "1" } else { "0" };
    let file = Connection::open(study.database()).unwrap();
    let kept: String = file
        .query_row("SELECT secret_sha256 FROM shared_page LIMIT 1", [], |row| {
            row.get(0)
        })
        .unwrap();
    for wrong in [
        format!("{}{last}", &secret[..31]),
        secret[..31].to_owned(),
        secret.to_uppercase(),
        format!("{secret}%20"),
        "1".to_owned(),
        kept.clone(),
    ] {
        let page = desk.get(&format!("/page/{wrong}"), &[]);
        assert_eq!((page.status, &page.text), (404, &unknown.text), "{wrong}");
    }
    assert_ne!(kept, secret);
    for suffix in ["", "-wal"] {
        let path = format!("{}{suffix}", study.database().display());
        let bytes = std::fs::read(path).unwrap_or_default();
        let found = bytes.windows(32).any(|part| part == secret.as_bytes());
        assert!(!found, "the secret is in the store{suffix}");
    }
}

#[test]
fn a_clinician_makes_and_takes_back_links_of_her_own_children_alone() {
    let study = unlocked();
    let code = account(&study, "Clara", "clinician", &["C02"]);
    let desk = Desk::of(&study);
    let cookie = desk.sign_in("Clara");
    let signed_in = [("cookie", cookie.as_str())];
    let made = desk.post("/desk/children/C02/links", "days=3", &signed_in);
    assert_eq!(made.status, 200);
    let address = made.text.split("/page/").nth(1).unwrap();
    let secret = &address[..32];
    assert_eq!(desk.get(&format!("/page/{secret}"), &[]).status, 200);
    assert!(
        !desk
            .get("/desk/children/C02/links", &signed_in)
            .text
            .contains(secret)
    );
    for (path, form) in [
        ("/desk/children/C01/links", "days=3"),
        ("/desk/children/C99/links", "days=3"),
        ("/desk/children/C01/links/1/revoke", ""),
    ] {
        assert_eq!(desk.post(path, form, &signed_in).status, 404, "{path}");
    }
    for wrong in ["days=0", "days=91", "days=soon", ""] {
        let refused = desk.post("/desk/children/C02/links", wrong, &signed_in);
        assert_eq!(refused.status, 422, "{wrong}");
    }
    let back = desk.post("/desk/children/C02/links/1/revoke", "", &signed_in);
    assert_eq!(
        (back.status, back.header("location")),
        (303, "/desk/children/C02/links")
    );
    assert_eq!(desk.get(&format!("/page/{secret}"), &[]).status, 410);
    let events = study.events();
    for kind in ["page shared", "shared page taken back"] {
        let told: Vec<_> = events.iter().filter(|event| event.kind == kind).collect();
        assert_eq!(told.len(), 1, "{kind}");
        assert!(told[0].body.as_str().contains(&code));
        assert!(!told[0].body.as_str().contains("C02"));
    }
    account(&study, "Ada", "researcher", &[]);
    let ada = desk.sign_in("Ada");
    let audit = desk
        .get("/desk/audit?kind=page%20shared", &[("cookie", &ada)])
        .text;
    assert!(audit.contains("Clara"));
    nothing_is_wrong_with(&study);
}

#[test]
fn verify_finds_a_page_that_no_event_tells_of_and_erasing_takes_all_links() {
    let study = unlocked();
    let (_, secret) = share(&study, "C01", Now::read());
    let (number, _) = share(&study, "C01", Now::read());
    app::take_back_page(&study.workspace, number, None, None, Now::read()).unwrap();
    nothing_is_wrong_with(&study);
    let file = Connection::open(study.database()).unwrap();
    let change = |sql: &str| file.execute(sql, []).unwrap();
    let wrong = || {
        !app::verify(&study.workspace, &[])
            .unwrap()
            .findings
            .is_empty()
    };
    change("UPDATE shared_page SET revoked_ms = NULL WHERE revoked_ms IS NOT NULL");
    assert!(wrong());
    change("UPDATE shared_page SET expires_ms = expires_ms + 1 WHERE id = 1");
    assert!(wrong());
    drop(file);
    let study = unlocked();
    let (_, other) = share(&study, "C01", Now::read());
    app::erase_child(&study.workspace, &"C01".parse().unwrap(), Now::read()).unwrap();
    for gone in [&secret, &other] {
        let opened = app::open_shared_page(&study.workspace, gone, None, Now::read()).unwrap();
        assert!(opened.is_none());
    }
    nothing_is_wrong_with(&study);
}

#[test]
fn the_commands_share_list_and_take_back() {
    let study = unlocked();
    let folder = study.folder().display().to_string();
    let with = |args: &[&str]| {
        let mut all = args.to_vec();
        all.extend(["--workspace", &folder, "--json"]);
        run(&all, "").json()
    };
    let made = with(&[
        "page",
        "share",
        "C01",
        "--days",
        "2",
        "--address",
        "https://rating.example/",
    ]);
    let url = made["url"].as_str().unwrap();
    let secret = url.strip_prefix("https://rating.example/page/").unwrap();
    assert!(matches!(
        app::open_shared_page(&study.workspace, secret, None, Now::read()).unwrap(),
        Some(Opened::Page { .. })
    ));
    let listed = with(&["page", "list"]);
    assert_eq!(listed["pages"][0]["child"], "C01");
    let lasts = |field: &str| listed["pages"][0][field].as_i64().unwrap();
    assert_eq!(lasts("expires_ms") - lasts("made_ms"), 2 * DAY_MS);
    assert_eq!(
        with(&["page", "list", "--child", "C02"])["pages"],
        serde_json::json!([])
    );
    assert!(with(&["page", "take-back", "1"])["revoked_ms"].is_i64());
    let refused = run(&["page", "take-back", "9", "--workspace", &folder], "");
    assert_eq!(refused.status, 2);
}
