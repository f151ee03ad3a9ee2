//! `demo`: the whole job on sample audio with a simulated panel.

mod browser;
mod listener;

use std::net::SocketAddr;
use std::path::PathBuf;

use rayon::prelude::*;

use super::progress;
use super::server;
use crate::app;
use crate::app::AppError;
use crate::app::Now;
use crate::app::Sealed;
use crate::app::Workspace;
use crate::app::demo::Samples;
use crate::app::demo::SimulatedPanel;
use crate::folder;
use crate::report;
use crate::web::Demonstration;
use crate::web::Reached;

/// Run the whole job on sample audio: import, a sealed round judged by a simulated panel through
/// the real pages, results; then serve them, with a second round to try by hand.
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
        import(&workspace, &samples)?;
        let sealed = app::seal_round(&workspace, &samples.plan(), Now::read())?;
        say(&format!("Sealed round {}: {}", sealed.round, sealed.seal));
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
        let judged = rate(&workspace, &samples, &sealed, running.address())?;
        say(&format!(
            "A simulated panel of {} gave {judged} judgements through the listener's page.",
            sealed.links.len()
        ));
        app::close(&workspace, &sealed.round, Now::read())?;
        app::unlock(&workspace, &sealed.round, Now::read())?;
        let unlocked = app::unlocked(&workspace, &sealed.round)?;
        let findings = app::findings(&workspace, &unlocked)?;
        say(&report::text::round(&findings.round));
        let out = folder.join("report");
        app::write_folder(&out, &folder::report(&findings)?)?;
        app::note_report(&workspace, &out, Now::read())?;
        say(&format!(
            "The report lies in {}",
            out.join("report.html").display()
        ));
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

/// Every simulated listener opens her link and judges; they do so side by side.
fn rate(
    workspace: &Workspace,
    samples: &Samples,
    sealed: &Sealed,
    server: &str,
) -> Result<usize, AppError> {
    let panel = SimulatedPanel::of(workspace, samples)?;
    let version = &sealed.consent_version;
    sealed
        .links
        .par_iter()
        .map(|link| listener::sit(server, &link.path, version, panel.listener(link.number)))
        .try_reduce(|| 0, |one, other| Ok(one + other))
}

fn say(text: &str) {
    super::output::say(text);
}
