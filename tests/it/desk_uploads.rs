//! What an upload is refused for: names that lead elsewhere, archives that are none, too much, formulas.

use crate::desk_import::small;
use crate::desk_import::stored;
use crate::desk_import::text_of;
use crate::desk_import::zipped;
use crate::support::Page;
use crate::support::Staff;
use crate::support::spoken;
use crate::support::wav_16_bit;

#[track_caller]
fn refused(answer: &Page, said: &str) {
    assert_eq!(answer.status, 422, "{}", answer.text());
    let text = answer.text();
    assert!(text.contains(said), "`{said}` is not in {text}");
}

#[test]
fn names_that_lead_elsewhere_are_refused_wherever_they_come_from() {
    let study = small().made();
    let desk = Staff::of(&study);
    let import = desk.begin_import();
    let files = format!("{import}/files");
    let wav = wav_16_bit(&spoken(1));
    for name in [
        "../../evil.wav",
        "/etc/evil.wav",
        "a/../../evil.wav",
        "..\\evil.wav",
        "C:\\evil.wav",
    ] {
        refused(
            &desk.send_files(&files, &[(name, &wav)]),
            "leads out of its folder",
        );
        let archive = zipped(&[(name, &wav), ("good.wav", &wav)]);
        refused(
            &desk.send_files(&files, &[("a.zip", &archive)]),
            "leads out of its folder",
        );
    }
    let part = format!("{import}/part?name=..%2F..%2Fevil.wav&offset=0&total=3");
    let answer = desk.put(&part, b"RIF", &[]);
    assert_eq!(answer.status, 422);
    assert!(
        answer.text().contains("leads out of its folder"),
        "{}",
        answer.text()
    );
    assert_eq!(
        desk.get(&format!("{import}/held")).text(),
        "[]",
        "nothing of an archive stays"
    );
    for id in ["..", "%2e%2e%2f..", "0123456789abcdefghijklmnopqrstuv", "x"] {
        assert_eq!(desk.get(&format!("/desk/import/{id}")).status, 404, "{id}");
    }
}

#[test]
fn bombs_links_and_archives_in_archives_are_refused_and_leave_nothing() {
    let study = small().made();
    let desk = Staff::of(&study);
    let import = desk.begin_import();
    let files = format!("{import}/files");
    let zeros = vec![0_u8; 120_000_000];
    let bomb = zipped(&[("silence.wav", &zeros)]);
    assert!(bomb.len() < 200_000, "the bomb has {} bytes", bomb.len());
    refused(
        &desk.send_files(&files, &[("bomb.zip", &bomb)]),
        "far more than recordings do",
    );
    // The same, saying of itself that it is small: bytes 22 to 25 of the local header and 24 to 27 of the central one.
    let mut liar = bomb;
    let size = u32::try_from(zeros.len()).unwrap().to_le_bytes();
    let places: Vec<usize> = (0..liar.len() - 4)
        .filter(|at| liar[*at..*at + 4] == size)
        .collect();
    assert_eq!(places.len(), 2);
    for at in places {
        liar[at..at + 4].copy_from_slice(&1000_u32.to_le_bytes());
    }
    let answer = desk.send_files(&files, &[("liar.zip", &liar)]);
    assert_eq!(answer.status, 422, "{}", answer.text());
    let inner = zipped(&[("a.wav", b"x")]);
    let nested = zipped(&[("inner.zip", &inner)]);
    refused(
        &desk.send_files(&files, &[("nested.zip", &nested)]),
        "an archive in an archive",
    );
    refused(
        &desk.send_files(&files, &[("link.zip", &with_link())]),
        "a link to another file",
    );
    refused(
        &desk.send_files(&files, &[("text.zip", b"no archive")]),
        "no ZIP archive",
    );
    assert_eq!(desk.get(&format!("{import}/held")).text(), "[]");
    let left = std::fs::read_dir(study.folder().join("staging"))
        .unwrap()
        .next()
        .unwrap()
        .unwrap();
    let inside = std::fs::read_dir(left.path()).unwrap().count();
    assert_eq!(
        inside, 2,
        "the folder of files and the time of its beginning"
    );
}

#[test]
fn parts_that_are_too_large_and_posts_from_other_sites_are_refused() {
    let study = small().made();
    let desk = Staff::of(&study);
    let import = desk.begin_import();
    // A part may have 5 MiB with what is around it: this one says 60 million bytes and sends a little more than may be.
    let answer = desk.put_and_stop(
        &format!("{import}/part?name=a.wav&offset=0&total=60000000"),
        60_000_000,
        &vec![0_u8; 5_300_000],
    );
    assert!(answer.starts_with("HTTP/1.1 413"), "{answer}");
    let word = format!("{import}/part?name=a.wav&offset=0&total=9000000000");
    let answer = desk.put(&word, b"RIFF", &[]);
    assert!(
        answer.text().contains("too large for a recording"),
        "{}",
        answer.text()
    );
    let elsewhere = [
        ("origin", "https://elsewhere.example"),
        ("sec-fetch-site", "cross-site"),
    ];
    for path in [
        &format!("{import}/run"),
        &format!("{import}/discard"),
        "/desk/import",
    ] {
        assert_eq!(desk.post_with(path, &[], &elsewhere).status, 403, "{path}");
    }
    let part = format!("{import}/part?name=a.wav&offset=0&total=3");
    assert_eq!(desk.put(&part, b"RIF", &elsewhere).status, 403);
    assert_eq!(desk.get(&format!("{import}/held")).text(), "[]");
}

#[test]
fn cells_that_begin_like_a_formula_are_refused_until_they_are_mended() {
    let study = small().made();
    let desk = Staff::of(&study);
    let import = desk.begin_import();
    let wav = wav_16_bit(&spoken(7));
    let rows = "file,child,session,phase,word,elicitation,clinician_score\n\
                a.wav,=C01,1,baseline,[s]ail,named,-1\n\
                ,@C01,1,baseline,[s]and,named,\n";
    let files: &[(&str, &[u8])] = &[("a.wav", &wav), ("m.csv", rows.as_bytes())];
    desk.send_files(&format!("{import}/files"), files);
    let page = text_of(&desk.get(&import).text());
    for cell in ["=C01", "@C01"] {
        let said = format!("`{cell}` begins like a formula of a spreadsheet");
        assert!(page.contains(&said), "{page}");
    }
    assert!(!page.contains("`-1` begins"), "a number is no formula");
    assert!(
        desk.run_import(&import).contains("Nothing was imported"),
        "a formula keeps all of it waiting"
    );
    assert_eq!(stored(&study), (0, 0, 1));
    desk.post(&format!("{import}/rows/2"), &[("child", "C01")]);
    desk.post(&format!("{import}/rows/3/remove"), &[]);
    let page = text_of(&desk.get(&import).text());
    assert!(!page.contains("begins like a formula"), "{page}");
}

#[test]
fn what_is_refused_of_an_upload_is_in_the_log_without_its_name() {
    let study = small().made();
    let desk = Staff::of(&study);
    let import = desk.begin_import();
    let wav = wav_16_bit(&spoken(1));
    desk.send_files(&format!("{import}/files"), &[("../anna.wav", &wav)]);
    let part = format!("{import}/part?name=..%2Fanna.wav&offset=0&total=3");
    assert_eq!(desk.put(&part, b"RIF", &[]).status, 422);
    let far = format!(
        "{import}/part?name=a.wav&offset={}&total={}",
        u64::MAX,
        u64::MAX
    );
    assert_eq!(
        desk.put(&far, b"RIF", &[]).text(),
        r#"{"held":0,"whole":false}"#
    );
    let told: Vec<_> = study
        .events()
        .into_iter()
        .filter(|event| event.kind == "upload refused")
        .collect();
    assert_eq!(told.len(), 2);
    for event in told {
        assert!(
            !event.body.as_str().contains("anna"),
            "{}",
            event.body.as_str()
        );
    }
}

/// An archive that holds a link.
fn with_link() -> Vec<u8> {
    let mut zip = zip::ZipWriter::new(std::io::Cursor::new(Vec::new()));
    let how = zip::write::SimpleFileOptions::default();
    zip.add_symlink("a.wav", "/etc/passwd", how).unwrap();
    zip.finish().unwrap().into_inner()
}
