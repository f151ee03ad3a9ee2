//! One builder that makes a whole study: recordings, manifest, settings, plan, a sealed round.

use std::fmt::Write;
use std::path::PathBuf;

use fairhearing::app;
use fairhearing::app::Link;
use fairhearing::app::Now;
use fairhearing::app::OpenLink;
use fairhearing::app::Sealed;
use fairhearing::app::Workspace;
use fairhearing::seal::Event;
use fairhearing::store::EventRow;
use fairhearing::store::JudgementRow;
use fairhearing::store::Reading;
use fairhearing::store::Store;
use fairhearing::store::StoreError;
use tempfile::TempDir;

use super::Labels;
use super::Listener;
use super::words;

/// When every study of the tests is made: 2025-06-02, 08:00 UTC.
pub(crate) const MADE_MS: i64 = 1_748_851_200_000;

/// The words of the studies, their judged letters marked.
const WORDS: &[&str] = &[
    "[s]ail", "[s]and", "bu[s]", "mu[ss]el", "[s]eal", "[s]un", "ice", "hor[s]e", "[s]oup",
    "re[s]t", "ba[s]in", "[s]alt",
];

/// A study in a temporary folder. The folder goes with it.
pub(crate) struct Study {
    /// The open workspace.
    pub(crate) workspace: Workspace,
    /// How it was made.
    pub(crate) with: With,
    /// The round that was sealed, if one was.
    pub(crate) round: Option<Sealed>,
    folder: TempDir,
}

/// What a study is made of. Every number can be set; what is not set is small and sensible.
#[derive(Debug, Clone)]
pub(crate) struct With {
    /// What things are called.
    pub(crate) labels: Labels,
    /// The name of the round.
    pub(crate) round: String,
    children: u32,
    peers: u32,
    sessions: u32,
    words: u32,
    checks: u32,
    practice: u32,
    practice_answers: &'static [&'static str],
    warm_ups: u32,
    examples: u32,
    listeners: u32,
    open: u32,
    link_days: Option<u32>,
    judgements: u32,
    sittings: u32,
    tokens_per_sitting: u32,
    repeats: f64,
    repeat_distance: u32,
    replays: u32,
    may_change: bool,
    show_word: bool,
    give_back_minutes: u32,
    bars: Vec<(u32, u32)>,
    screening: String,
    course: String,
    texts: String,
    targets: u32,
}

impl Study {
    /// Begins a study: two children with two sessions of three words, two listeners.
    pub(crate) fn with() -> With {
        With {
            labels: Labels::plain(),
            round: "spring".to_owned(),
            children: 2,
            peers: 0,
            sessions: 2,
            words: 3,
            checks: 2,
            practice: 1,
            practice_answers: &["correct", "distorted"],
            warm_ups: 1,
            examples: 2,
            listeners: 2,
            open: 0,
            link_days: None,
            judgements: 2,
            sittings: 1,
            tokens_per_sitting: 200,
            repeats: 0.15,
            repeat_distance: 3,
            replays: 2,
            may_change: true,
            show_word: true,
            give_back_minutes: 60,
            bars: Vec::new(),
            screening: "rules = []".to_owned(),
            course: COURSE.to_owned(),
            texts: String::new(),
            targets: 1,
        }
    }

    /// The study's folder.
    pub(crate) fn folder(&self) -> PathBuf {
        self.folder.path().join("study")
    }

    /// The folder that holds the recordings before they are imported.
    pub(crate) fn audio(&self) -> PathBuf {
        self.folder.path().join("audio")
    }

    /// The manifest.
    pub(crate) fn manifest(&self) -> PathBuf {
        self.folder.path().join("manifest.csv")
    }

    /// The plan.
    pub(crate) fn plan(&self) -> PathBuf {
        self.folder.path().join("plan.toml")
    }

    /// The file of the store.
    pub(crate) fn database(&self) -> PathBuf {
        self.folder().join("fairhearing.db")
    }

    /// The store, opened beside the workspace, for tests that look at rows.
    pub(crate) fn store(&self) -> Store {
        Store::open(&self.database()).unwrap()
    }

    /// Every judgement in the store.
    #[track_caller]
    pub(crate) fn judgements(&self) -> Vec<JudgementRow> {
        fn all(reading: &Reading<'_>) -> Result<Vec<JudgementRow>, StoreError> {
            reading.judgements()
        }
        self.store().read(all).unwrap()
    }

    /// The log.
    #[track_caller]
    pub(crate) fn events(&self) -> Vec<Event> {
        fn all(reading: &Reading<'_>) -> Result<Vec<EventRow>, StoreError> {
            reading.events()
        }
        let rows = self.store().read(all).unwrap();
        rows.into_iter().map(|row| row.event).collect()
    }

    /// Imports what the manifest names.
    pub(crate) fn import(&self) -> Result<app::Imported, app::AppError> {
        app::import(
            &self.workspace,
            &self.manifest(),
            &self.audio(),
            Now::at_ms(MADE_MS + 1),
            &|_, _| {},
        )
    }

    /// Notes that every child of the manifest may be heard by everybody.
    pub(crate) fn note_consents(&self) {
        let table = self.folder.path().join("consents.csv");
        std::fs::write(&table, self.with.consents()).unwrap();
        app::record_consents(&self.workspace, &table, Now::at_ms(MADE_MS + 1)).unwrap();
    }

    /// Writes a plan and seals it.
    pub(crate) fn seal(&self, with: &With) -> Result<Sealed, app::AppError> {
        std::fs::write(self.plan(), with.plan()).unwrap();
        app::seal_round(&self.workspace, &self.plan(), Now::at_ms(MADE_MS + 2))
    }

    /// The listeners' links of the sealed round.
    #[track_caller]
    pub(crate) fn links(&self) -> &[Link] {
        &self.round.as_ref().expect("the round is sealed").links
    }

    /// The open link of the sealed round.
    #[track_caller]
    pub(crate) fn open_link(&self) -> &OpenLink {
        let round = self.round.as_ref().expect("the round is sealed");
        round.open_link.as_ref().expect("the plan has an open link")
    }

    /// The listener, counted from 0, with her link opened and nothing done yet.
    #[track_caller]
    pub(crate) fn listener(&self, listener: usize) -> Listener {
        Listener::open(&self.workspace, &self.links()[listener])
    }
}

/// The secret in a link's path.
pub(crate) fn secret_of(link: &Link) -> String {
    link.path.trim_start_matches("/l/").to_owned()
}

macro_rules! settable {
    ($($(#[$doc:meta])* $field:ident: $kind:ty),+ $(,)?) => {$(
        $(#[$doc])*
        #[must_use]
        pub(crate) fn $field(mut self, $field: $kind) -> Self {
            self.$field = $field;
            self
        }
    )+};
}

impl With {
    settable! {
        /// What things are called.
        labels: Labels,
        /// Children under treatment.
        children: u32,
        /// Children with typical speech.
        peers: u32,
        /// Sessions a child; the first half in the first phase, the rest in the second.
        sessions: u32,
        /// Words a session.
        words: u32,
        /// Check words, in the manifest and in each sitting.
        checks: u32,
        /// Practice words, in the manifest and in each sitting.
        practice: u32,
        /// The known answers of practice words, gone through in turn.
        practice_answers: &'static [&'static str],
        /// Warm-up words, in the manifest and in each sitting.
        warm_ups: u32,
        /// Example words; those of a speaker who is judged have none.
        examples: u32,
        /// Listeners invited.
        listeners: u32,
        /// Listeners who may come by an open link.
        open: u32,
        /// Days in which a link must be used for the first time.
        link_days: Option<u32>,
        /// Judgements a token.
        judgements: u32,
        /// Sittings that a listener may do.
        sittings: u32,
        /// Main places in a sitting.
        tokens_per_sitting: u32,
        /// The share of repeats.
        repeats: f64,
        /// Places between a token and its repeat.
        repeat_distance: u32,
        /// Replays of a word.
        replays: u32,
        /// Whether an answer may be changed.
        may_change: bool,
        /// Whether the word is shown.
        show_word: bool,
        /// Idle minutes after which places go back.
        give_back_minutes: u32,
        /// The content of the plan's `[screening]`.
        screening: String,
        /// The plan's sections on practice, rests, sound check, questions and targets.
        course: String,
        /// More lines of the plan's `[texts]`.
        texts: String,
        /// Targets (`s`, `r`, …): the words of the manifest take them in turn.
        targets: u32,
    }

    /// The name of the round.
    #[must_use]
    pub(crate) fn round(mut self, name: &str) -> Self {
        name.clone_into(&mut self.round);
        self
    }

    /// Bars a listener (her link's number, from 1) from a child (counted from 0).
    #[must_use]
    pub(crate) fn bar(mut self, listener: u32, child: u32) -> Self {
        self.bars.push((listener, child));
        self
    }

    /// Makes the folder, the recordings, the manifest and the settings; nothing is imported yet.
    pub(crate) fn made(self) -> Study {
        let folder = tempfile::tempdir().unwrap();
        let workspace = Workspace::make(&folder.path().join("study"), Now::at_ms(MADE_MS)).unwrap();
        let study = Study {
            workspace,
            with: self,
            round: None,
            folder,
        };
        std::fs::create_dir(study.audio()).unwrap();
        std::fs::write(study.folder().join("study.toml"), study.with.settings()).unwrap();
        let mut manifest = HEADER.to_owned();
        for (number, row) in (1..).zip(study.with.rows()) {
            let file = format!("{}{number}.wav", study.with.labels.file);
            let word = words::wav_16_bit(&words::spoken(number));
            std::fs::write(study.audio().join(&file), word).unwrap();
            writeln!(manifest, "{file},{row}").unwrap();
        }
        std::fs::write(study.manifest(), manifest).unwrap();
        study
    }

    /// The same, imported.
    pub(crate) fn imported(self) -> Study {
        let study = self.made();
        study.import().unwrap();
        study.note_consents();
        study
    }

    /// The same, with a sealed, open round.
    pub(crate) fn sealed(self) -> Study {
        let mut study = self.imported();
        study.round = Some(study.seal(&study.with).unwrap());
        study
    }

    /// The code of a child, counted from 0; peers come after the children.
    pub(crate) fn child(&self, number: u32) -> String {
        format!("{}{}", self.labels.child, number + 1)
    }

    /// The content of `study.toml`.
    pub(crate) fn settings(&self) -> String {
        let labels = &self.labels;
        format!(
            "name = {:?}\ntarget = \"the s sound\"\nphases = {:?}\ncohorts = {:?}\n",
            labels.study, labels.phases, labels.cohorts
        )
    }

    /// The consents of all children and speakers, as a table.
    fn consents(&self) -> String {
        let mut children: Vec<_> = (0..self.children + self.peers)
            .map(|child| self.child(child))
            .collect();
        let others = self.checks + self.practice + self.warm_ups + self.examples;
        let speaker = self.labels.speaker.clone().filter(|_| others > 0);
        children.extend(speaker.filter(|speaker| !children.contains(speaker)));
        let mut table = "child,version,date,scope,assent,keep_until\n".to_owned();
        for child in children {
            writeln!(table, "{child},2,2025-01-05,remote research example,given,").unwrap();
        }
        table
    }

    /// The rows of the manifest without their file.
    fn rows(&self) -> Vec<String> {
        let mut rows = Vec::new();
        for child in 0..self.children + self.peers {
            for session in 0..self.sessions {
                for word in 0..self.words {
                    rows.push(self.scored_row(child, session, word));
                }
            }
        }
        let both: &[&str] = &["correct", "distorted"];
        for (use_, count, answers) in [
            ("check", self.checks, both),
            ("practice", self.practice, self.practice_answers),
            ("warm-up", self.warm_ups, &[""]),
            ("example", self.examples, both),
        ] {
            for number in 0..count {
                let answer = answers[number as usize % answers.len()];
                let judged = |code: &str| (0..self.children).any(|n| self.child(n) == code);
                let fits = |code: &&str| use_ != "example" || !judged(code);
                let speaker = self.labels.speaker.as_deref().filter(fits);
                let speaker = speaker.unwrap_or_default();
                let word = word(number + 5);
                // Each target has words of both answers.
                let target = if self.targets > 1 {
                    self.target(number / 2)
                } else {
                    ""
                };
                rows.push(format!("{speaker},,,{word},,,,{target},,,{use_},{answer},"));
            }
        }
        rows
    }

    /// The target of a word, where the labels or several targets give one.
    fn target(&self, number: u32) -> &str {
        match &self.labels.target {
            Some(target) => target,
            None if self.targets > 1 => TARGETS[(number % self.targets) as usize],
            None => "",
        }
    }

    fn scored_row(&self, child: u32, session: u32, number: u32) -> String {
        let labels = &self.labels;
        let second_half = u32::from(session * 2 >= self.sessions);
        let peer = child >= self.children;
        format!(
            "{},{},{},{},{},{},{},{},{},{},{},,{}",
            self.child(child),
            labels.first_session + session,
            Labels::turn(&labels.phases, second_half),
            word(number),
            if peer {
                ""
            } else {
                Labels::turn(&labels.cohorts, child)
            },
            Labels::turn(&labels.conditions, session),
            Labels::turn(&labels.dates, session),
            self.target(number),
            labels.position.as_deref().unwrap_or_default(),
            if number.is_multiple_of(2) {
                "yes"
            } else {
                "no"
            },
            if peer { "peer" } else { "scored" },
            ["1", "0"][(number + session) as usize % 2],
        )
    }

    /// The content of the plan.
    pub(crate) fn plan(&self) -> String {
        let [from, to, ..] = self.labels.phases.as_slice() else {
            panic!("a study of the tests has two phases");
        };
        let mut bars = String::new();
        for (listener, child) in &self.bars {
            writeln!(
                bars,
                "[[listeners.bars]]\nlistener = {listener}\nchild = {:?}",
                self.child(*child)
            )
            .unwrap();
        }
        let mut links = String::new();
        if self.open > 0 {
            writeln!(links, "open = {}", self.open).unwrap();
        }
        if let Some(days) = self.link_days {
            writeln!(links, "link_days = {days}").unwrap();
        }
        format!(
            "round = {:?}\n\
             [listeners]\ninvited = {}\njudgements_per_token = {}\nsittings = {}\n{links}{bars}\
             [sitting]\ntokens = {}\nrepeats = {:?}\nrepeat_distance = {}\nchecks = {}\n\
             practice = {}\nwarm_up = {}\nreplays = {}\nmay_change = {}\nshow_word = {}\n\
             give_back_minutes = {}\n\
             [contrast]\nfrom = {from:?}\nto = {to:?}\n\
             [screening]\n{}\n\
             [analysis]\nseed = 7\n{}\
             [texts]\nconsent_version = \"1\"\nconsent = \"I listen of my own will.\"\n\
             instruction = \"Judge the s sound alone.\"\n{}",
            self.round,
            self.listeners,
            self.judgements,
            self.sittings,
            self.tokens_per_sitting,
            self.repeats,
            self.repeat_distance,
            self.checks,
            self.practice,
            self.warm_ups,
            self.replays,
            self.may_change,
            self.show_word,
            self.give_back_minutes,
            self.screening,
            self.course,
            self.texts,
        )
    }
}

/// Nothing between the words: the practice need not be passed, and there are no rests.
const COURSE: &str = "[practice]\npass = 0.0\n[rests]\nevery = 0\nminutes_a_day = 0\n\
                      [sound_check]\nfirst_sound = \"off\"\n";

/// What the targets of a study are called.
const TARGETS: [&str; 3] = ["s", "r", "l"];

const HEADER: &str = "file,child,session,phase,word,cohort,condition,date,target,position,treated,\
                      use,answer,clinician_score\n";

fn word(number: u32) -> String {
    let (turn, place) = (number as usize / WORDS.len(), number as usize % WORDS.len());
    format!("{}{}", WORDS[place], "o".repeat(turn))
}
