//! Import: everything or nothing, and a sentence for everything that is wrong.

use fairhearing::app;
use fairhearing::app::Now;

use crate::sound::fixture;
use crate::sound::float_wav;
use crate::support::Study;
use crate::support::With;
use crate::support::spoken;
use crate::support::wav_16_bit;

fn small() -> With {
    Study::with().children(1).words(2)
}

#[test]
fn importing_the_same_again_adds_nothing() {
    let study = small().made();
    assert_eq!(study.import().unwrap().added, 10);
    let again = study.import().unwrap();
    assert_eq!((again.added, again.known), (0, 10));
}

#[test]
fn cells_that_a_spreadsheet_would_run_and_conditions_with_a_date_are_refused() {
    let study = small().made();
    let manifest = std::fs::read_to_string(study.manifest()).unwrap();
    let mut lines = manifest.lines();
    let mut wrong = format!("{}\n", lines.next().unwrap());
    let first = lines.next().unwrap();
    wrong += &first.replace("word1.wav,C01", "word1.wav,=C01");
    wrong += "\nword2.wav,C02,1,baseline,sun,,cued 12.3.24,,,,,,,\n";
    std::fs::write(study.manifest(), wrong).unwrap();
    check_refused(
        &study,
        &[
            "manifest.csv:2:child",
            "`=C01` begins like a formula of a spreadsheet",
            "manifest.csv:3:condition",
            "`cued 12.3.24` holds a date",
        ],
    );
}

#[test]
fn one_sound_under_two_labels_is_refused() {
    let study = small().made();
    std::fs::write(study.audio().join("word2.wav"), wav_16_bit(&spoken(1))).unwrap();
    check_refused(&study, &["manifest.csv:3:file", "the same as in line 2"]);
}

#[test]
fn every_recording_that_is_none_is_named_with_its_line_and_its_mend_all_at_once() {
    let study = small().made();
    let whole = wav_16_bit(&spoken(3));
    let speech = spoken(5);
    let mut broken = speech.clone();
    broken[100] = f64::NAN;
    let minutes: Vec<f64> = speech.iter().copied().cycle().take(8_000 * 601).collect();
    let bad: [(&str, Vec<u8>, &[&str]); 8] = [
        (
            "word1.wav",
            b"dear diary".to_vec(),
            &["csv:2:file", "not a sound file", "give a WAV"],
        ),
        (
            "word2.wav",
            Vec::new(),
            &["csv:3:file", "the file is empty", "copy it again"],
        ),
        (
            "word3.wav",
            whole[..whole.len() / 2].to_vec(),
            &["csv:4:file", "cut short", "copy it again"],
        ),
        (
            "word4.wav",
            wav_16_bit(&[]),
            &["csv:5:file", "0 seconds", "copy it again"],
        ),
        (
            "word5.wav",
            float_wav(&[&minutes], 8_000),
            &["csv:6:file", "longer than 60 seconds", "cut it"],
        ),
        (
            "word6.wav",
            fixture("six.wav"),
            &["csv:7:file", "6 channels", "export one channel"],
        ),
        (
            "word7.wav",
            float_wav(&[&broken], 48_000),
            &["csv:8:file", "finite number", "export it again"],
        ),
        (
            "word8.wav",
            fixture("refused.opus"),
            &["csv:9:file", "Opus", "export it as WAV or FLAC"],
        ),
    ];
    for (file, content, _) in &bad {
        std::fs::write(study.audio().join(file), content).unwrap();
    }
    let wanted: Vec<&str> = bad.iter().flat_map(|(_, _, said)| *said).copied().collect();
    check_refused(&study, &wanted);
}

#[test]
fn a_file_that_is_not_there_and_one_that_lies_outside_are_named() {
    let study = small().made();
    std::fs::remove_file(study.audio().join("word1.wav")).unwrap();
    edit(&study, |manifest| {
        manifest.replace("word2.wav", "../word2.wav")
    });
    check_refused(
        &study,
        &[
            "csv:2:file",
            "check the name",
            "csv:3:file",
            "leads out of the folder",
        ],
    );
    let study = small().made();
    edit(&study, |manifest| {
        manifest.replace("word2.wav", "/etc/hosts")
    });
    check_refused(&study, &["csv:3:file", "leads out of the folder"]);
}

#[test]
fn a_manifest_that_is_wrong_is_said_by_line_and_column() {
    let cases: [(&str, &str, &[&str]); 7] = [
        (
            ",baseline,",
            ",basline,",
            &[
                "csv:2:phase",
                "`basline` is no phase",
                "baseline, treatment",
            ],
        ),
        (
            "word2.wav",
            "word1.wav",
            &["csv:3:file", "line 2 names the same file"],
        ),
        (
            "1,baseline,[s]and",
            "1,baseline,[s]ail",
            &["csv:3", "line 2 has the same child", "attempt"],
        ),
        (
            "[s]and,cued",
            "[s]and,free",
            &["csv:3:cohort", "another cohort"],
        ),
        (
            "[s]and,cued",
            "[s]and,odd",
            &["csv:3:cohort", "`odd` is no cohort", "cued, free"],
        ),
        ("[s]and", "[s and", &["csv:3:word", "never closes"]),
        (
            "check,correct",
            "check,",
            &["answer", "a check word needs one clear answer"],
        ),
    ];
    for (from, to, said) in cases {
        let study = small().made();
        edit(&study, |manifest| manifest.replacen(from, to, 1));
        check_refused(&study, said);
    }
}

#[test]
fn a_manifest_divided_by_semicolons_or_tabs_is_read_as_one_divided_by_commas() {
    for separator in [";", "\t"] {
        let study = small().made();
        edit(&study, |manifest| manifest.replace(',', separator));
        assert_eq!(study.import().unwrap().added, 10);
    }
}

#[test]
fn a_folder_of_recordings_that_is_not_there_is_one_problem_and_a_long_name_is_cut() {
    let study = small().made();
    edit(&study, |manifest| {
        manifest.replacen("word1.wav", &"x".repeat(70_000), 1)
    });
    let said = study.import().unwrap_err().to_string();
    assert!(
        said.starts_with(&study.manifest().display().to_string()) && said.len() < 2_000,
        "{said}"
    );
    std::fs::remove_dir_all(study.audio()).unwrap();
    let said = study.import().unwrap_err().to_string();
    assert_eq!(said.lines().count(), 1, "{said}");
    assert!(said.contains("is no folder; name with --audio"), "{said}");
}

#[test]
fn an_import_tells_what_to_listen_to_who_is_new_and_that_somebody_was_erased() {
    let study = small().made();
    // A recorder that ran out of range: the crests are cut flat.
    let clipped: Vec<f64> = spoken(1)
        .iter()
        .map(|s| (s * 30.0).clamp(-1.0, 1.0))
        .collect();
    std::fs::write(study.audio().join("word1.wav"), wav_16_bit(&clipped)).unwrap();
    let imported = study.import().unwrap();
    let first = &imported.remarked[0];
    assert_eq!(first.file, "word1.wav");
    assert!(
        first
            .remarks
            .iter()
            .any(|remark| remark.starts_with("clipped")),
        "{first:?}"
    );
    assert_eq!(imported.new_children, ["C01".parse().unwrap()]);
    assert_eq!(imported.erased_before, 0);
    let again = study.import().unwrap();
    assert!(again.remarked.is_empty() && again.new_children.is_empty());
    app::erase_child(
        &study.workspace,
        &"C01".parse().unwrap(),
        Now::at_ms(1_748_851_300_000),
    )
    .unwrap();
    let back = study.import().unwrap();
    assert_eq!(back.new_children, ["C01".parse().unwrap()]);
    assert_eq!(back.erased_before, 1);
}

#[test]
fn a_file_that_is_no_manifest_is_said_to_be_none() {
    type Spoil<'a> = &'a dyn Fn(String) -> Vec<u8>;
    let cases: [(Spoil, &[&str]); 5] = [
        (
            &|m| m.replace("phase", "stage").into_bytes(),
            &["csv:1", "no column `phase`"],
        ),
        (
            &|m| m.lines().next().unwrap().as_bytes().to_vec(),
            &["manifest.csv", "has a header and no row"],
        ),
        (
            &|m| {
                m.replace("[s]and", "[s]\u{e4}nd")
                    .chars()
                    .map(|c| u8::try_from(c).unwrap())
                    .collect()
            },
            &["csv:3", "not in UTF-8"],
        ),
        (
            // As a spreadsheet saves "Unicode text": UTF-16 with its byte-order mark.
            &|m| {
                let units = "\u{feff}".encode_utf16().chain(m.encode_utf16());
                units.flat_map(u16::to_le_bytes).collect()
            },
            &["is not in UTF-8", "save the file as CSV in UTF-8"],
        ),
        (&|_| Vec::new(), &["is empty"]),
    ];
    for (spoil, said) in cases {
        let study = small().made();
        let manifest = std::fs::read_to_string(study.manifest()).unwrap();
        std::fs::write(study.manifest(), spoil(manifest)).unwrap();
        check_refused(&study, said);
    }
}

#[test]
fn a_later_import_that_contradicts_an_earlier_one_is_refused_whole() {
    let study = small().imported();
    std::fs::write(study.audio().join("late1.wav"), wav_16_bit(&spoken(31))).unwrap();
    std::fs::write(study.audio().join("late2.wav"), wav_16_bit(&spoken(32))).unwrap();
    let header = std::fs::read_to_string(study.manifest()).unwrap();
    let header = header.lines().next().unwrap();
    let rows = "late1.wav,C01,1,treatment,ice,free,,2025-01-06,,,,,,\n\
                late2.wav,C01,3,treatment,ice,free,,,,,,,,\n";
    std::fs::write(study.manifest(), format!("{header}\n{rows}")).unwrap();
    let before = stored(&study);
    let said = study.import().unwrap_err().to_string();
    assert!(
        said.contains("csv:2:phase: an earlier import says otherwise"),
        "{said}"
    );
    assert!(
        said.contains("csv:3:cohort: an earlier import says otherwise"),
        "{said}"
    );
    assert_eq!(stored(&study), before);
}

#[test]
fn words_are_never_brought_to_two_levels() {
    let study = small().imported();
    let settings = format!("{}level_lufs = -23.0\n", study.with.settings());
    std::fs::write(study.folder().join("study.toml"), settings).unwrap();
    let said = study.import().unwrap_err().to_string();
    assert!(said.contains("write `level_lufs = -27` again"), "{said}");
}

fn edit(study: &Study, change: impl Fn(String) -> String) {
    let manifest = std::fs::read_to_string(study.manifest()).unwrap();
    let changed = change(manifest.clone());
    assert_ne!(changed, manifest);
    std::fs::write(study.manifest(), changed).unwrap();
}

/// Events in the log, and files in the study's folders.
fn stored(study: &Study) -> (usize, usize) {
    let files = ["originals", "prepared"].map(|folder| {
        std::fs::read_dir(study.folder().join(folder))
            .unwrap()
            .count()
    });
    (study.events().len(), files.iter().sum())
}

/// Every sentence is there, and nothing was imported.
#[track_caller]
fn check_refused(study: &Study, wanted: &[&str]) {
    let refused = study.import().unwrap_err();
    let said = refused.to_string();
    assert!(refused.is_the_askers(), "{said}");
    for part in wanted {
        assert!(said.contains(part), "`{part}` is not in:\n{said}");
    }
    assert_eq!(stored(study), (1, 0), "something was left behind");
}
