//! What the children, phases and files of a study are called.

/// The labels of a study; each list is gone through in turn where more are needed.
#[derive(Debug, Clone)]
pub(crate) struct Labels {
    /// The study's name.
    pub(crate) study: String,
    /// Before the number of a child.
    pub(crate) child: String,
    /// The ordinal of the first session.
    pub(crate) first_session: u32,
    /// The phases in their order: at least two.
    pub(crate) phases: Vec<String>,
    /// The cohorts.
    pub(crate) cohorts: Vec<String>,
    /// The conditions, none for no column.
    pub(crate) conditions: Vec<String>,
    /// The days of the sessions.
    pub(crate) dates: Vec<String>,
    /// Before the number of a file.
    pub(crate) file: String,
    /// The target of a token, where the manifest gives one.
    pub(crate) target: Option<String>,
    /// The position of the sound in the word, where the manifest gives one.
    pub(crate) position: Option<String>,
    /// The speaker of check, practice, warm-up and example words.
    pub(crate) speaker: Option<String>,
}

impl Labels {
    /// Labels as a clinic would write them.
    pub(crate) fn plain() -> Self {
        Self {
            study: "Harbour study".to_owned(),
            child: "C0".to_owned(),
            first_session: 1,
            phases: strings(&["baseline", "treatment"]),
            cohorts: strings(&["cued", "free"]),
            conditions: Vec::new(),
            dates: strings(&["2025-01-06", "2025-02-03", "2025-03-03", "2025-04-07"]),
            file: "word".to_owned(),
            target: None,
            position: None,
            speaker: None,
        }
    }

    /// Labels that nothing else can hold by chance: what a listener's browser gets is searched for
    /// them. Twelve signs or more wherever the kind of value allows as many.
    pub(crate) fn markers() -> Self {
        Self {
            study: "ZQXSTUDYNAMEXQZ".to_owned(),
            child: "ZQXCHILDCODEXQZ".to_owned(),
            first_session: 4_071_839_201,
            phases: strings(&["ZQXPHASEFIRSTXQZ", "ZQXPHASESECONDXQZ"]),
            cohorts: strings(&["ZQXCOHORTCUEDXQZ", "ZQXCOHORTFREEXQZ"]),
            conditions: strings(&["ZQXCONDITIONONEXQZ", "ZQXCONDITIONTWOXQZ"]),
            dates: strings(&["1937-11-29", "1938-10-31", "1939-12-27", "1941-11-28"]),
            file: "ZQXFILENAMEXQZ".to_owned(),
            target: Some("ZQXTOKENTARGETXQZ".to_owned()),
            position: Some("ZQXPOSITIONXQZ".to_owned()),
            speaker: Some("ZQXOTHERSPEAKERXQZ".to_owned()),
        }
    }

    /// Every label that a listener must never get, as text.
    pub(crate) fn all(&self) -> Vec<String> {
        let mut all = vec![
            self.study.clone(),
            self.child.clone(),
            self.first_session.to_string(),
            (self.first_session + 1).to_string(),
            self.file.clone(),
        ];
        all.extend(self.phases.iter().cloned());
        all.extend(self.cohorts.iter().cloned());
        all.extend(self.conditions.iter().cloned());
        all.extend(self.dates.iter().cloned());
        all.extend(
            [&self.target, &self.position, &self.speaker]
                .into_iter()
                .flatten()
                .cloned(),
        );
        all
    }

    /// One of a list, gone through in turn.
    pub(crate) fn turn(list: &[String], number: u32) -> &str {
        list.get(number as usize % list.len().max(1))
            .map_or("", String::as_str)
    }
}

fn strings(texts: &[&str]) -> Vec<String> {
    texts.iter().map(|text| (*text).to_owned()).collect()
}

#[test]
fn the_markers_stand_in_the_manifest_and_are_long_wherever_they_may_be() {
    let study = super::Study::with().labels(Labels::markers()).made();
    assert!(study.folder().join("study.toml").exists());
    let manifest = std::fs::read_to_string(study.manifest()).unwrap();
    let settings = study.with.settings();
    for marker in Labels::markers().all() {
        let dated = marker
            .bytes()
            .all(|byte| byte.is_ascii_digit() || byte == b'-');
        assert!(dated || marker.chars().count() >= 12, "{marker}");
        let stands = manifest.contains(&marker) || settings.contains(&marker);
        assert!(
            stands || marker.starts_with("194") || marker.starts_with("193"),
            "{marker}"
        );
    }
}
