//! The pages on which nothing is to be judged now: why, and the ways on from them.

use askama::Template;

use crate::app::listening::Visit;
use crate::web::Frame;
use crate::web::texts::Texts;

/// A page on which nothing is to be judged now.
#[derive(Template)]
#[template(path = "listener/stop.html")]
pub(super) struct Stop<'a> {
    frame: Frame,
    title: &'a str,
    sentence: &'a str,
    /// The address and the label of the way on.
    back: Option<(&'static str, &'a str)>,
    /// The label of the way to the closing questions.
    enough: Option<&'a str>,
}

impl<'a> Stop<'a> {
    /// She stops for today.
    pub(super) fn later(frame: Frame, texts: &'a Texts) -> Self {
        let later = &texts.later;
        let sentence = here(&frame, &later.lead, &later.lead_here);
        Self::new(frame, &later.title, sentence).back("/listen", &later.go_on)
    }

    /// The plan stops her for today.
    pub(super) fn today(frame: Frame, texts: &'a Texts, visit: &Visit) -> Self {
        let today = &texts.today;
        let sentence = here(&frame, &today.lead, &today.lead_here);
        Self::new(frame, &today.title, sentence).enough(texts, visit)
    }

    /// A check of her sound, which the plan requires, leaves her out.
    pub(super) fn left_out(frame: Frame, texts: &'a Texts, visit: &Visit) -> Self {
        let left_out = &texts.left_out;
        let sentence = here(&frame, &left_out.lead, &left_out.lead_here);
        Self::new(frame, &left_out.title, sentence)
            .back("/listen/check-again", &left_out.again)
            .enough(texts, visit)
    }

    /// The round rests.
    pub(super) fn paused(frame: Frame, texts: &'a Texts, visit: &Visit) -> Self {
        let paused = &texts.paused;
        let sentence = here(&frame, &paused.lead, &paused.lead_here);
        Self::new(frame, &paused.title, sentence)
            .back("/listen", &paused.again)
            .enough(texts, visit)
    }

    /// The round is over, and she judged nothing in it.
    pub(super) const fn round_closed(frame: Frame, texts: &'a Texts) -> Self {
        let closed = &texts.round_closed;
        Self::new(frame, closed.title.as_str(), closed.lead.as_str())
    }

    const fn new(frame: Frame, title: &'a str, sentence: &'a str) -> Self {
        Self {
            frame,
            title,
            sentence,
            back: None,
            enough: None,
        }
    }

    fn back(self, address: &'static str, label: &'a str) -> Self {
        let back = Some((address, label));
        Self { back, ..self }
    }

    /// With a way to the closing questions, where she may leave it at what she judged.
    fn enough(self, texts: &'a Texts, visit: &Visit) -> Self {
        let label = texts.judge.enough.as_str();
        let enough = visit.may_finish.then_some(label);
        Self { enough, ..self }
    }
}

/// A sentence for whoever has a link and a device of her own, or for whoever sits at one laptop that
/// is handed round.
pub(super) fn here<'a>(frame: &Frame, own: &'a str, handed: &'a str) -> &'a str {
    if frame.hand_over.is_some() {
        handed
    } else {
        own
    }
}
