//! A listener who does what a browser would do, by calling the acts.

use fairhearing::app::Link;
use fairhearing::app::Now;
use fairhearing::app::Workspace;
use fairhearing::app::listening;
use fairhearing::app::listening::Answered;
use fairhearing::app::listening::Assent;
use fairhearing::app::listening::ClosingAnswers;
use fairhearing::app::listening::ListeningError;
use fairhearing::app::listening::Recorded;
use fairhearing::app::listening::SoundCheck;
use fairhearing::app::listening::Stage;
use fairhearing::study::Judgement;
use fairhearing::study::Place;
use fairhearing::study::PresentationId;
use fairhearing::study::Presented;
use fairhearing::study::SetAside;

use super::study::MADE_MS;
use super::study::secret_of;

/// A listener with a browser of her own and a clock that goes on by two seconds an act.
#[derive(Clone)]
pub(crate) struct Listener {
    workspace: Workspace,
    /// What her browser keeps.
    pub(crate) cookie: String,
    now_ms: i64,
}

impl Listener {
    /// Opens her link; she has done nothing yet.
    #[track_caller]
    pub(crate) fn open(workspace: &Workspace, link: &Link) -> Self {
        Self::open_secret(workspace, &secret_of(link))
    }

    /// The same, by the secret in her link.
    #[track_caller]
    pub(crate) fn open_secret(workspace: &Workspace, secret: &str) -> Self {
        let now_ms = MADE_MS + 60_000;
        let opened = listening::open_link(workspace, secret, Now::at_ms(now_ms)).unwrap();
        Self {
            workspace: workspace.clone(),
            cookie: opened.cookie,
            now_ms,
        }
    }

    /// The same listener, with the same browser and clock, in a copy of the study.
    pub(crate) fn elsewhere(&self, workspace: &Workspace) -> Self {
        Self {
            workspace: workspace.clone(),
            ..self.clone()
        }
    }

    /// Lets time pass until ten minutes before the clock of this machine: a server sees her acts as those of today.
    pub(crate) fn wait_until_today(&mut self) {
        self.now_ms = Now::read().ms() - 600_000;
    }

    /// Lets time pass.
    pub(crate) fn wait_minutes(&mut self, minutes: i64) {
        self.now_ms += minutes * 60_000;
    }

    /// What her clock shows; an act takes two seconds.
    pub(crate) fn now(&mut self) -> Now {
        self.now_ms += 2_000;
        Now::at_ms(self.now_ms)
    }

    /// The step that comes now.
    #[track_caller]
    pub(crate) fn stage(&mut self) -> Stage {
        let now = self.now();
        listening::visit(&self.workspace, &self.cookie, now)
            .unwrap()
            .stage
    }

    /// Agrees, checks the sound and reads what to judge: the sitting is drawn.
    #[track_caller]
    pub(crate) fn begin(&mut self) {
        let now = self.now();
        listening::agree(&self.workspace, &self.cookie, "1", Some(Assent::Adult), now).unwrap();
        self.answer_questions();
        self.check_sound();
        let now = self.now();
        listening::begin(&self.workspace, &self.cookie, 1, now).unwrap();
    }

    /// Checks the sound of this browser.
    #[track_caller]
    pub(crate) fn check_sound(&mut self) {
        let check = SoundCheck {
            device: "headphones".to_owned(),
            heard: true,
            level_db: None,
            first_sound: None,
            headphones: None,
        };
        let now = self.now();
        listening::record_sound_check(&self.workspace, &self.cookie, &check, now).unwrap();
    }

    /// Would rather not say anything of herself, where the plan asks.
    #[track_caller]
    pub(crate) fn answer_questions(&mut self) {
        let now = self.now();
        let visit = listening::visit(&self.workspace, &self.cookie, now).unwrap();
        let asked = visit.questions.asked();
        let answers = asked
            .iter()
            .map(|(name, _)| ((*name).to_owned(), "not-said".to_owned()))
            .collect();
        if !asked.is_empty() {
            listening::answer(&self.workspace, &self.cookie, answers, now).unwrap();
        }
    }

    /// Goes on from whatever stands before the next word.
    #[track_caller]
    pub(crate) fn go_on(&mut self) {
        let now = self.now();
        listening::go_on(&self.workspace, &self.cookie, now).unwrap();
    }

    /// Reads again what to judge: the next sitting is drawn.
    #[track_caller]
    pub(crate) fn begin_again(&mut self) {
        self.begin_told_of(1);
    }

    /// The same, having read of that part.
    #[track_caller]
    pub(crate) fn begin_told_of(&mut self, part: u32) {
        let now = self.now();
        listening::begin(&self.workspace, &self.cookie, part, now).unwrap();
    }

    /// The current presentation and those that may be loaded ahead.
    #[track_caller]
    pub(crate) fn ahead(&mut self) -> Vec<Presented> {
        let now = self.now();
        listening::ahead(&self.workspace, &self.cookie, now).unwrap()
    }

    /// The current presentation, if the sitting is not done.
    #[track_caller]
    pub(crate) fn current(&mut self) -> Option<Presented> {
        self.ahead().into_iter().next()
    }

    /// Judges the first time, with a response time and no replay.
    #[track_caller]
    pub(crate) fn judge(&mut self, id: PresentationId, answer: Judgement) -> Recorded {
        self.try_judge(id, answered(answer, 1)).unwrap()
    }

    /// Sends an answer.
    pub(crate) fn try_judge(
        &mut self,
        id: PresentationId,
        answered: Answered,
    ) -> Result<Recorded, ListeningError> {
        let now = self.now();
        listening::judge(&self.workspace, &self.cookie, id, answered, now)
    }

    /// Sets a word aside.
    pub(crate) fn try_set_aside(
        &mut self,
        id: PresentationId,
        reason: SetAside,
    ) -> Result<Place, ListeningError> {
        let now = self.now();
        listening::set_aside(&self.workspace, &self.cookie, id, reason, now)
    }

    /// Tells that a word was cut short while it first sounded.
    pub(crate) fn try_void(&mut self, id: PresentationId) -> Result<Place, ListeningError> {
        let now = self.now();
        listening::void(&self.workspace, &self.cookie, id, now)
    }

    /// Judges whatever comes up to the next halt or the end.
    #[track_caller]
    pub(crate) fn judge_on(&mut self, mut answer: impl FnMut(&Presented) -> Judgement) -> usize {
        let mut judged = 0;
        while let Some(presented) = self.current() {
            let answer = answer(&presented);
            self.judge(presented.id, answer);
            judged += 1;
        }
        judged
    }

    /// Judges whatever comes and goes on after every halt, until nothing comes.
    #[track_caller]
    pub(crate) fn judge_all(&mut self, mut answer: impl FnMut(&Presented) -> Judgement) {
        while self.judge_on(&mut answer) > 0 {
            self.go_on();
        }
    }

    /// Gives the closing answers and takes the receipt.
    #[track_caller]
    pub(crate) fn finish(&mut self) -> String {
        let now = self.now();
        listening::finish(
            &self.workspace,
            &self.cookie,
            &ClosingAnswers::default(),
            now,
        )
        .unwrap()
    }
}

/// An answer with a response time and no replay.
pub(crate) fn answered(answer: Judgement, revision: u32) -> Answered {
    Answered {
        answer,
        revision,
        rt_ms: Some(640),
        rt_grain_ms: Some(5),
        replays: 0,
    }
}

/// Plays a whole sitting from the link to the receipt, which is returned.
#[track_caller]
pub(crate) fn listen(
    workspace: &Workspace,
    link: &Link,
    answer: impl FnMut(&Presented) -> Judgement,
) -> String {
    let mut listener = Listener::open(workspace, link);
    listener.begin();
    listener.judge_all(answer);
    listener.finish()
}
