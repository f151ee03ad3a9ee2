//! What somebody new meets at the command line: every message says what, and what to do next.

use crate::program::run;
use crate::support::Study;

fn arg(path: &std::path::Path) -> &str {
    path.to_str().unwrap()
}

#[test]
fn a_new_study_in_a_folder_with_a_blank_says_what_to_type_next() {
    let place = tempfile::tempdir().unwrap();
    let folder = place.path().join("my study");
    let made = run(&["new", arg(&folder)], "");
    assert_eq!(made.status, 0, "{}", made.err);
    let quoted = format!("serve --workspace \"{}\"", folder.display());
    assert!(made.out.contains(&quoted), "{}", made.out);
}

#[test]
fn the_list_of_commands_goes_as_a_study_goes() {
    let help = run(&["--help"], "").out;
    let place = |command: &str| help.find(&format!("\n  {command} ")).unwrap();
    let order = [
        "new", "import", "consent", "seal", "serve", "close", "unlock", "report", "verify",
    ];
    assert!(order.map(place).is_sorted(), "{help}");
}

#[test]
fn a_file_that_is_not_there_and_an_address_in_use_are_said_in_plain_words() {
    let study = Study::with().made();
    let folder = study.folder();
    let import = run(
        &[
            "import",
            "--workspace",
            arg(&folder),
            "--manifest",
            "not-there.csv",
            "--audio",
            arg(&study.audio()),
        ],
        "",
    );
    assert_eq!(
        import.err,
        "cannot read not-there.csv: it is not there; check how it is written\n"
    );
    let taken = std::net::TcpListener::bind("127.0.0.1:0").unwrap();
    let address = taken.local_addr().unwrap().to_string();
    let serve = ["serve", "--workspace", arg(&folder), "--listen", &address];
    let refused = run(&serve, "");
    assert_eq!(refused.status, 1);
    assert!(
        refused
            .err
            .contains("another program listens there already"),
        "{}",
        refused.err
    );
    let secured = ["--tls-cert", "not-there.pem", "--tls-key", "not-there.key"];
    let refused = run(&[&serve[..], &secured[..]].concat(), "");
    assert!(
        refused
            .err
            .starts_with("cannot read not-there.pem: it is not there"),
        "{}",
        refused.err
    );
}

#[test]
fn links_that_only_this_machine_opens_say_so() {
    let study = Study::with().imported();
    study.note_consents();
    let (folder, plan) = (study.folder(), study.plan());
    std::fs::write(&plan, study.with.plan()).unwrap();
    let seal = ["seal", "--workspace", arg(&folder), "--plan", arg(&plan)];
    let sealed = run(&seal, "");
    assert_eq!(sealed.status, 0, "{}", sealed.err);
    assert!(
        sealed.out.contains("open on this machine alone"),
        "{}",
        sealed.out
    );
    let elsewhere = [
        "invite",
        "--workspace",
        arg(&folder),
        "--round",
        &study.with.round,
        "--listeners",
        "1",
        "--public-url",
        "https://ears.example",
    ];
    let invited = run(&elsewhere, "");
    assert_eq!(invited.status, 0, "{}", invited.err);
    assert!(
        !invited.out.contains("this machine alone"),
        "{}",
        invited.out
    );
    let nobody = run(&elsewhere[..5], "");
    for how in ["--listeners", "--open"] {
        assert!(nobody.refusal().contains(how), "{}", nobody.err);
    }
}

#[test]
fn a_round_closed_early_says_what_it_lacks() {
    let study = Study::with()
        .children(1)
        .sessions(2)
        .words(3)
        .judgements(2)
        .sealed();
    let folder = study.folder();
    let close = [
        "close",
        "--workspace",
        arg(&folder),
        "--round",
        &study.with.round,
    ];
    let closed = run(&close, "");
    assert_eq!(closed.status, 0, "{}", closed.err);
    assert!(
        closed
            .out
            .contains("6 words have fewer judgements than the plan wanted; 12 are missing"),
        "{}",
        closed.out
    );
}

#[test]
fn nobody_is_erased_whose_page_could_not_be_written() {
    let study = Study::with().imported();
    let folder = study.folder();
    let page = folder.join("not-there").join("page.html");
    let erase = [
        "withdraw",
        "--workspace",
        arg(&folder),
        "--child",
        "C01",
        "--how",
        "erase",
        "--yes",
        "--page",
        arg(&page),
    ];
    assert!(run(&erase, "").refusal().contains("nothing was done"));
    let listed = run(&["child", "list", "--workspace", arg(&folder)], "").out;
    assert!(listed.contains("C01"), "{listed}");
    let nobody = run(&["withdraw", "--workspace", arg(&folder)], "");
    for who in ["--child", "--receipt", "--listener"] {
        assert!(nobody.refusal().contains(who), "{}", nobody.err);
    }
}
