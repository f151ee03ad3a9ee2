//! What must not be found in a study's folder once its first child is erased.

use std::collections::BTreeSet;
use std::path::Path;
use std::path::PathBuf;

use fairhearing::store::Reading;
use fairhearing::store::StoreError;
use fairhearing::store::TokenRow;

use super::Study;

/// The label of the child who is erased.
pub(crate) const LABEL: &str = "ZQXLABELOFACHILDXQZ";

/// Every file under a folder with its bytes.
pub(crate) fn files_under(folder: &Path) -> Vec<(PathBuf, Vec<u8>)> {
    let mut files = Vec::new();
    for entry in std::fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            files.extend(files_under(&path));
        } else {
            let bytes = std::fs::read(&path).unwrap();
            files.push((path, bytes));
        }
    }
    files
}

/// What must not be found after the first child is erased: texts, digests and pieces of sound.
pub(crate) fn traces(study: &Study) -> Vec<(String, Vec<u8>)> {
    let mut traces = vec![
        ("code".to_owned(), study.with.child(0).into_bytes()),
        ("label".to_owned(), LABEL.as_bytes().to_vec()),
    ];
    // The first six recordings are hers: two sessions of three words.
    let store = study.store();
    let tokens = store.read(all_tokens).unwrap();
    for (number, token) in (1..=6).zip(tokens) {
        let file = format!("{}{number}.wav", study.with.labels.file);
        assert_eq!(token.key.file.as_ref(), Some(&file));
        let recording = std::fs::read(study.audio().join(&file)).unwrap();
        let prepared = format!("prepared/{}.wav", token.prepared.sha256);
        let prepared = std::fs::read(study.folder().join(prepared)).unwrap();
        traces.push((format!("name {number}"), file.into_bytes()));
        traces.push((
            format!("digest {number}"),
            token.original_sha256.into_bytes(),
        ));
        traces.push((
            format!("samples {number}"),
            token.samples_sha256.into_bytes(),
        ));
        traces.push((
            format!("played {number}"),
            token.prepared.sha256.into_bytes(),
        ));
        // A stretch of speech, not of silence, which every recording would share.
        for (what, sound) in [("recording", recording), ("prepared", prepared)] {
            let middle = sound.len() / 2;
            traces.push((
                format!("{what} {number}"),
                sound[middle..middle + 64].to_vec(),
            ));
        }
    }
    traces
}

fn all_tokens(reading: &Reading<'_>) -> Result<Vec<TokenRow>, StoreError> {
    reading.tokens()
}

pub(crate) fn found(folder: &Path, traces: &[(String, Vec<u8>)]) -> BTreeSet<String> {
    let mut found = BTreeSet::new();
    for (path, bytes) in files_under(folder) {
        for (what, wanted) in traces {
            if bytes.windows(wanted.len()).any(|here| here == wanted) {
                found.insert(format!("{what} in {}", path.display()));
            }
            if path
                .to_string_lossy()
                .contains(&*String::from_utf8_lossy(wanted))
            {
                found.insert(format!("{what} is the name of {}", path.display()));
            }
        }
    }
    found
}
