//! `seal`: seals a plan and opens its round.

use std::path::PathBuf;

use serde_json::Value;
use serde_json::json;

use super::Common;
use super::links::Shown;
use crate::app;
use crate::app::AppError;
use crate::app::Now;
use crate::app::planning;
use crate::app::planning::Planned;
use crate::report;

/// Seal a plan and open its round; prints its name, its seal and its listeners' links.
#[derive(clap::Args)]
pub(super) struct Seal {
    #[command(flatten)]
    common: Common,
    /// The plan of the round.
    #[arg(long, value_name = "TOML")]
    plan: PathBuf,
    /// Say what the plan costs and can show, and what stands in its way; seal nothing.
    #[arg(long)]
    preview: bool,
    #[command(flatten)]
    shown: Shown,
}

impl Seal {
    pub(super) fn run(self) -> Result<(), AppError> {
        let workspace = self.common.open()?;
        if self.preview {
            let (plan, planned) = planning::forecast_file(&workspace, &self.plan)?;
            return self.common.say(&in_fields(&planned), |_| {
                let told = report::text::planned(&plan, &planned.problems, &planned.forecast);
                told + &below(&planned.notices)
            });
        }
        let sealed = app::seal_round(&workspace, &self.plan, Now::read())?;
        let links = self.shown.text(&sealed.links, sealed.open_link.as_ref());
        let mut said = json!({
            "round": sealed.round,
            "seal": sealed.seal,
            "receipt": sealed.receipt,
            "links": self.shown.links(&sealed.links),
            "known_answers": sealed.known_answers,
            "notices": sealed.notices,
        });
        if let (Some(open_link), Some(fields)) = (&sealed.open_link, said.as_object_mut()) {
            let told = self.shown.open_link(Some(open_link));
            fields.insert("open_link".to_owned(), told);
        }
        self.common.say(&said, |_| {
            format!(
                "Round {} is sealed and open.\nseal     {}\nreceipt  {}\n\
                 Deposit both elsewhere: they prove later that nothing was changed.\n\
                 Known answers: {}.\n{links}{}",
                sealed.round,
                sealed.seal,
                sealed.receipt,
                report::text::known_answers(sealed.known_answers),
                below(&sealed.notices),
            )
        })
    }
}

/// What staff should see to, below all else.
fn below(notices: &[String]) -> String {
    let notices = notices.iter();
    notices.fold(String::new(), |text, notice| text + "\n" + notice + "\n")
}

/// A forecast as the command writes it.
fn in_fields(planned: &Planned) -> Value {
    let forecast = &planned.forecast;
    json!({
        "problems": planned.problems,
        "notices": planned.notices,
        "children": forecast.children,
        "sessions": forecast.sessions,
        "tokens": forecast.tokens,
        "judgements": forecast.judgements,
        "sittings": forecast.sittings,
        "listeners": forecast.listeners,
        "minutes": forecast.minutes,
        "hours": forecast.hours,
        "session_half_width": forecast.session.map(|session| session.half_width),
        "mdc95": forecast.mdc95,
        "links": forecast.linking.map(|linking| json!({
            "links": linking.links,
            "links_needed": linking.links_needed,
            "share_needed": linking.share_needed,
            "enough": linking.enough(),
            "sentence": linking.sentence(),
        })),
        "seen_in": planned.basis.seen_in,
    })
}
