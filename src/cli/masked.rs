//! `masked`: the masked visual analysis of a closed round.

use std::path::PathBuf;

use super::Common;
use crate::app;
use crate::app::AppError;
use crate::app::MaskedState;
use crate::app::Now;
use crate::folder;
use crate::report::number::counted;
use crate::study::AccountName;
use crate::study::GraphMark;
use crate::study::RoundName;

/// Judge unnamed graphs of a closed round before it is unlocked: where did a change begin?
#[derive(clap::Args)]
pub(super) struct Masked {
    #[command(subcommand)]
    what: What,
}

#[derive(clap::Subcommand)]
enum What {
    /// Begin: draw the order of the graphs. It is logged: graphs show levels over sessions, without saying whose.
    Begin {
        #[command(flatten)]
        of: Of,
        /// The researcher who judges, by the name of her account.
        #[arg(long, value_name = "NAME")]
        analyst: AccountName,
        /// Say that she neither recorded nor treated these children, and has seen no result of theirs.
        #[arg(long)]
        blind: bool,
    },
    /// Write the graphs and a table to fill in.
    Graphs {
        #[command(flatten)]
        of: Of,
        /// The folder, empty or not there yet.
        #[arg(long, value_name = "DIR")]
        out: PathBuf,
    },
    /// Take what was seen from the table that `graphs` wrote. May be repeated until it is finished.
    Mark {
        #[command(flatten)]
        of: Of,
        /// Columns `graph,before,sure`: a point or `none`, and certain, probable or guess. A row without both is left out.
        #[arg(long, value_name = "FILE")]
        marks: PathBuf,
    },
    /// Finish: the marks stand from then on.
    Finish {
        #[command(flatten)]
        of: Of,
    },
    /// Say how far it is. Nothing of it tells a level.
    Show {
        #[command(flatten)]
        of: Of,
    },
}

/// Which round.
#[derive(clap::Args)]
struct Of {
    #[command(flatten)]
    common: Common,
    /// The round.
    #[arg(long, value_name = "NAME")]
    round: RoundName,
}

impl Masked {
    pub(super) fn run(self) -> Result<(), AppError> {
        match self.what {
            What::Begin { of, analyst, blind } => begin(&of, &analyst, blind),
            What::Graphs { of, out } => graphs(&of, &out),
            What::Mark { of, marks } => {
                let workspace = of.common.open()?;
                let marks: Vec<GraphMark> = app::read_masked_marks(&marks)?;
                let state = app::mark_masked(&workspace, &of.round, &marks, None, Now::read())?;
                say(&of, &state)
            }
            What::Finish { of } => {
                let state = app::finish_masked(&of.common.open()?, &of.round, None, Now::read())?;
                say(&of, &state)
            }
            What::Show { of } => {
                let state = app::masked_state(&of.common.open()?, &of.round)?;
                say(&of, &state)
            }
        }
    }
}

fn begin(of: &Of, analyst: &AccountName, blind: bool) -> Result<(), AppError> {
    let workspace = of.common.open()?;
    if !blind {
        return Err(AppError::refused(
            format!("it is not said that {analyst} is blind to these children"),
            "whoever recorded or treated them, or has seen a result of theirs, cannot be: choose somebody who can, and add \
             --blind",
        ));
    }
    let accounts = app::accounts::accounts(&workspace)?;
    let found = accounts.iter().find(|account| account.name == *analyst);
    let account = found.ok_or_else(|| {
        AppError::refused(
            format!("there is no account with the name {analyst}"),
            "`fairhearing account list` tells which there are",
        )
    })?;
    let code = account.code.to_string();
    let state = app::begin_masked(&workspace, &of.round, &code, None, Now::read())?;
    say(of, &state)
}

fn graphs(of: &Of, out: &std::path::Path) -> Result<(), AppError> {
    let workspace = of.common.open()?;
    let state = app::masked_state(&workspace, &of.round)?;
    let analyst = state.begun.as_ref().map(|begun| begun.analyst.clone());
    let graphs = app::masked_graphs(&workspace, &of.round, &analyst.unwrap_or_default())?;
    app::write_folder(out, &folder::masked_graphs(&state, &graphs))?;
    app::note_export(&workspace, out, Now::read())?;
    of.common.say(&state, |_| {
        format!(
            "{} written to {}. Fill in marks.csv, then: fairhearing masked mark --round {:?} --marks {}\n",
            counted(graphs.len(), "graph"),
            out.display(),
            of.round.as_str(),
            out.join("marks.csv").display(),
        )
    })
}

fn say(of: &Of, state: &MaskedState) -> Result<(), AppError> {
    of.common.say(state, |state| match &state.begun {
        None => format!("No masked analysis of round {} was begun.\n", state.round),
        Some(begun) => {
            let end = if begun.finished {
                "It is finished: the round can be unlocked."
            } else {
                "It is not finished."
            };
            format!(
                "Masked analysis of round {}: {} of {} marked. {end}\n",
                state.round,
                begun.marked,
                counted(begun.graphs, "graph"),
            )
        }
    })
}
