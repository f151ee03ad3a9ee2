//! `demo`: the whole job on sample audio with a simulated panel.

mod browser;
mod listener;

use std::net::SocketAddr;
use std::path::Path;
use std::path::PathBuf;

use rayon::prelude::*;

use super::progress;
use super::server;
use crate::app;
use crate::app::Again;
use crate::app::AppError;
use crate::app::Now;
use crate::app::Sealed;
use crate::app::Workspace;
use crate::app::demo::Samples;
use crate::app::demo::SimulatedPanel;
use crate::folder;
use crate::report;
use crate::study::RoundName;
use crate::web::Demonstration;
use crate::web::Reached;

/// Run the whole job on sample audio: a sealed draw, import, three rounds over a term judged by simulated panels
/// through the real pages, results on one scale; then serve them, with a further round to try by hand.
#[derive(clap::Args)]
pub(super) struct Demo {
    /// The folder of the demonstration's study; it must hold none yet.
    #[arg(long, value_name = "DIR")]
    workspace: Option<PathBuf>,
    /// End after the report instead of serving.
    #[arg(long)]
    no_serve: bool,
    /// Where to serve; port 0 takes a free one.
    #[arg(long, value_name = "ADDR:PORT", default_value = "127.0.0.1:0")]
    listen: SocketAddr,
}

impl Demo {
    pub(super) fn run(self) -> Result<(), AppError> {
        let started = Now::read();
        let folder = self
            .workspace
            .clone()
            .unwrap_or_else(|| fresh_folder(started));
        say("Everything here is invented: sample words made by a program, listeners simulated.");
        let (workspace, samples) = app::demo::make_study(&folder, started)?;
        let assigned = app::assign(&workspace, &samples.draw(), Again::No, Now::read())?;
        say(&report::sheet::text(&assigned.sheet));
        samples.treat_as_drawn(&assigned)?;
        import(&workspace, &samples)?;
        let secret = app::one_time_secret();
        let account = app::demo::researcher(&workspace, Now::read())?;
        let demonstration = Demonstration::new(&secret, account);
        let running = server::start(
            &workspace,
            self.listen,
            None,
            Reached::default(),
            Some(demonstration),
        )?;
        let last = judge_the_term(&workspace, &samples, running.address())?;
        write_report(&workspace, &last, &folder.join("report"))?;
        if self.no_serve {
            return running.stop();
        }
        let open = app::seal_round(&workspace, &samples.open_plan(), Now::read())?;
        let link = open
            .links
            .first()
            .map(|link| link.path.clone())
            .unwrap_or_default();
        say(&format!(
            "\nLook at it (end with Ctrl-C):\n  the results       {}{}\n  listen yourself   {}{link}\n",
            running.address(),
            Demonstration::path(&secret),
            running.address(),
        ));
        running.until_stopped()
    }
}

fn fresh_folder(now: Now) -> PathBuf {
    std::env::temp_dir().join(format!("fairhearing-demo-{}", now.ms()))
}

fn import(workspace: &Workspace, samples: &Samples) -> Result<(), AppError> {
    let bar = progress::preparing();
    let imported = app::import(
        workspace,
        &samples.manifest(),
        samples.audio(),
        Now::read(),
        &|done, of| {
            progress::show(&bar, done, of);
        },
    );
    bar.finish_and_clear();
    say(&format!("Imported and prepared {} words.", imported?.added));
    let noted = app::record_consents(workspace, &samples.consents(), Now::read())?;
    say(&format!("Noted {noted} consents."));
    Ok(())
}

/// Three rounds over a term, each judged by a panel of its own, closed and unlocked; the name of the last.
fn judge_the_term(
    workspace: &Workspace,
    samples: &Samples,
    server: &str,
) -> Result<RoundName, AppError> {
    let panel = SimulatedPanel::of(workspace, samples)?;
    let judge = |(number, plan): (usize, &PathBuf)| {
        let sealed = app::seal_round(workspace, plan, Now::read())?;
        say(&format!("Sealed round {}: {}", sealed.round, sealed.seal));
        let judged = rate(&panel, number, &sealed, server)?;
        say(&format!(
            "A simulated panel of {} gave {judged} judgements through the listener's page.",
            sealed.links.len()
        ));
        app::close(workspace, &sealed.round, Now::read())?;
        app::unlock(workspace, &sealed.round, Now::read())?;
        Ok(sealed.round)
    };
    let [first, second, third] = samples.term()?;
    judge((0, &first))?;
    judge((1, &second))?;
    judge((2, &third))
}

/// Every simulated listener opens her link and judges; they do so side by side.
fn rate(
    panel: &SimulatedPanel,
    round: usize,
    sealed: &Sealed,
    server: &str,
) -> Result<usize, AppError> {
    let version = &sealed.consent_version;
    let ears = |number| panel.listener(round, number);
    sealed
        .links
        .par_iter()
        .map(|link| listener::sit(server, &link.path, version, ears(link.number)))
        .try_reduce(|| 0, |one, other| Ok(one + other))
}

/// Says what a round shows, and writes its report.
fn write_report(workspace: &Workspace, round: &RoundName, out: &Path) -> Result<(), AppError> {
    let unlocked = app::unlocked(workspace, round)?;
    let findings = app::findings(workspace, &unlocked)?;
    say(&report::text::round(&findings.round));
    app::write_folder(out, &folder::report(&findings)?)?;
    app::note_report(workspace, out, Now::read())?;
    say(&format!(
        "The report lies in {}",
        out.join("report.html").display()
    ));
    Ok(())
}

fn say(text: &str) {
    super::output::say(text);
}
