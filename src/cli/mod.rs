//! The command line: raw arguments become checked options before anything runs.

mod account;
mod agreement;
mod assign;
mod backup;
mod child;
mod common;
mod consensus;
mod consent;
mod demo;
mod exclude;
mod explain;
mod import;
mod known_answers;
mod links;
mod listeners;
mod masked;
mod new;
mod outcome;
mod output;
mod page;
mod papers;
mod precision;
mod prepare;
mod progress;
mod results;
mod round;
mod seal;
mod series;
mod serve;
mod server;
mod verify;
mod withdraw;

use std::ffi::OsString;
use std::process::ExitCode;

use clap::Parser;
use clap::Subcommand;

use crate::app::AppError;

use common::Common;

/// Blind judgements of children's speech sounds, and what they prove.
#[derive(Parser)]
#[command(name = "fairhearing", version, about, after_help = AFTER_HELP)]
struct Arguments {
    #[command(subcommand)]
    command: Command,
}

/// What stands below the list of commands.
const AFTER_HELP: &str = "\
A study goes from `new` to `verify`, in the order of this list; `serve` opens pages on which all of it can be done in a \
browser. `demo` shows the whole job on sample audio. The last seven commands need no study.";

/// One variant a command, in the order in which a study needs them; each is a file of its own with its arguments and
/// its `run`.
#[derive(Subcommand)]
enum Command {
    New(new::New),
    Child(child::Children),
    Assign(assign::Assign),
    Import(import::Import),
    Consent(consent::Consent),
    KnownAnswers(known_answers::KnownAnswers),
    Exclude(exclude::Exclude),
    Include(exclude::Include),
    Papers(papers::Papers),
    Seal(seal::Seal),
    Serve(serve::Serve),
    Account(account::Account),
    Invite(links::Invite),
    Revoke(links::Revoke),
    Pause(links::Pause),
    Resume(links::Resume),
    Close(round::Close),
    Masked(masked::Masked),
    Unlock(round::Unlock),
    Explain(explain::Explain),
    Report(results::Report),
    Export(results::Export),
    Page(page::Page),
    Withdraw(withdraw::Withdraw),
    Verify(verify::Verify),
    Backup(backup::Backup),
    Restore(backup::Restore),
    Demo(demo::Demo),
    Prepare(prepare::Prepare),
    Agreement(agreement::Agreement),
    Consensus(consensus::Consensus),
    Listeners(listeners::Listeners),
    Outcome(outcome::Outcome),
    Series(series::Series),
    Precision(precision::Precision),
}

/// Runs one command. 0: done; 1: the work failed; 2: the input or the arguments are wrong.
pub fn run(args: impl IntoIterator<Item = OsString>) -> ExitCode {
    let arguments = match Arguments::try_parse_from(args) {
        Ok(arguments) => arguments,
        Err(refusal) => {
            // A refusal is printed where clap wants it; a closed pipe is no error.
            let _ = refusal.print();
            return ExitCode::from(if refusal.use_stderr() { 2 } else { 0 });
        }
    };
    match dispatch(arguments.command) {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            eprintln!("{error}");
            ExitCode::from(if error.is_the_askers() { 2 } else { 1 })
        }
    }
}

fn dispatch(command: Command) -> Result<(), AppError> {
    match command {
        Command::Agreement(command) => command.run(),
        Command::Assign(command) => command.run(),
        Command::Child(command) => command.run(),
        Command::Consensus(command) => command.run(),
        Command::Consent(command) => command.run(),
        Command::Listeners(command) => command.run(),
        Command::New(command) => command.run(),
        Command::Import(command) => command.run(),
        Command::Outcome(command) => command.run(),
        Command::Precision(command) => command.run(),
        Command::Prepare(command) => command.run(),
        Command::Series(command) => command.run(),
        Command::Seal(command) => command.run(),
        Command::Invite(command) => command.run(),
        Command::Revoke(command) => command.run(),
        Command::Pause(command) => command.run(),
        Command::Resume(command) => command.run(),
        Command::Close(command) => command.run(),
        Command::Unlock(command) => command.run(),
        Command::Masked(command) => command.run(),
        Command::Explain(command) => command.run(),
        Command::Exclude(command) => command.run(),
        Command::Include(command) => command.run(),
        Command::KnownAnswers(command) => command.run(),
        Command::Serve(command) => command.run(),
        Command::Export(command) => command.run(),
        Command::Report(command) => command.run(),
        Command::Demo(command) => command.run(),
        Command::Withdraw(command) => command.run(),
        Command::Backup(command) => command.run(),
        Command::Restore(command) => command.run(),
        Command::Verify(command) => command.run(),
        Command::Account(command) => command.run(),
        Command::Page(command) => command.run(),
        Command::Papers(command) => command.run(),
    }
}
