//! `known-answers`: what check and practice words are, said by two people.

use std::path::PathBuf;

use serde_json::json;

use super::Common;
use crate::app;
use crate::app::AppError;
use crate::app::KnownWord;
use crate::app::NeededWords;
use crate::app::Now;
use crate::app::Standing;
use crate::report::text::columns;
use crate::study::JudgeCode;
use crate::study::KnownAnswer;

/// What check and practice words are, said by two people: list, answer, accept one person's word,
/// count what a plan still needs.
#[derive(clap::Args)]
pub(super) struct KnownAnswers {
    #[command(subcommand)]
    act: Act,
}

#[derive(clap::Subcommand)]
enum Act {
    List(List),
    Todo(Todo),
    Say(Say),
    Single(Single),
    Needed(Needed),
}

/// List what everybody says. Not for somebody who is still to answer: see `todo`.
#[derive(clap::Args)]
struct List {
    #[command(flatten)]
    common: Common,
}

/// List the words that a judge has not answered, without what others said.
#[derive(clap::Args)]
struct Todo {
    #[command(flatten)]
    common: Common,
    /// The judge: an account's name, or a free code.
    #[arg(long, value_name = "CODE")]
    judge: JudgeCode,
}

/// Note what a judge says of a word; it takes the place of what the same judge said before.
#[derive(clap::Args)]
struct Say {
    #[command(flatten)]
    common: Common,
    /// The recording as the manifest named it, or the SHA-256 of its prepared sound.
    #[arg(value_name = "FILE")]
    word: String,
    /// The judge: an account's name, or a free code; `manifest` corrects what was imported.
    #[arg(long, value_name = "CODE")]
    judge: JudgeCode,
    /// correct, distorted or, for practice alone, divided.
    #[arg(long, value_name = "ANSWER")]
    answer: KnownAnswer,
}

/// Let one person's answer count, for a reason.
#[derive(clap::Args)]
struct Single {
    #[command(flatten)]
    common: Common,
    /// The recordings, as the manifest named them.
    #[arg(value_name = "FILE", required = true)]
    words: Vec<String>,
    /// Why no second person could be asked.
    #[arg(long, value_name = "TEXT")]
    reason: String,
}

/// Count the check and practice words that a plan still needs.
#[derive(clap::Args)]
struct Needed {
    #[command(flatten)]
    common: Common,
    /// The plan.
    #[arg(long, value_name = "TOML")]
    plan: PathBuf,
}

impl KnownAnswers {
    pub(super) fn run(self) -> Result<(), AppError> {
        match self.act {
            Act::List(list) => {
                let words = app::known_words(&list.common.open()?)?;
                list.common.say(&json!({"words": words}), |_| table(&words))
            }
            Act::Todo(todo) => {
                let words = app::unanswered(&todo.common.open()?, &todo.judge)?;
                todo.common.say(&json!({"words": words}), |_| {
                    let rows = words.iter();
                    let rows = rows.map(|row| vec![row.word.clone(), row.sha256.clone()]);
                    columns(&rows.collect::<Vec<_>>())
                })
            }
            Act::Say(say) => {
                let workspace = say.common.open()?;
                app::answer(&workspace, &say.word, &say.judge, say.answer, Now::read())?;
                let said = json!({"judge": say.judge, "answer": say.answer});
                say.common.say(&said, |_| "Noted.\n".to_owned())
            }
            Act::Single(single) => {
                let workspace = single.common.open()?;
                app::accept_single_judge(&workspace, &single.words, &single.reason, Now::read())?;
                let said = json!({"words": single.words});
                single
                    .common
                    .say(&said, |_| "Noted with its reason.\n".to_owned())
            }
            Act::Needed(needed) => {
                let counts = app::needed_words(&needed.common.open()?, &needed.plan)?;
                needed
                    .common
                    .say(&json!({"needed": counts}), |_| counted(&counts))
            }
        }
    }
}

fn table(words: &[KnownWord]) -> String {
    let head = ["file", "use", "answers", "standing"];
    let mut rows = vec![head.map(str::to_owned).to_vec()];
    for word in words {
        let answers: Vec<_> = word
            .answers
            .iter()
            .map(|(judge, answer)| format!("{judge}: {answer}"))
            .collect();
        rows.push(vec![
            word.file.clone(),
            word.use_.to_string(),
            answers.join(", "),
            match &word.standing {
                Standing::Agreed => "agreed".to_owned(),
                Standing::ByOne => "by one person".to_owned(),
                Standing::ByOneBecause(reason) => format!("by one person: {reason}"),
                Standing::Disputed => "disputed: it does not count".to_owned(),
            },
        ]);
    }
    columns(&rows)
}

fn counted(counts: &[NeededWords]) -> String {
    let head = [
        "use",
        "wanted",
        "by two",
        "by one",
        "disputed",
        "still needed",
    ];
    let mut rows = vec![head.map(str::to_owned).to_vec()];
    for row in counts {
        rows.push(vec![
            row.use_.to_string(),
            row.wanted.to_string(),
            row.by_two.to_string(),
            row.by_one.to_string(),
            row.disputed.to_string(),
            row.still_needed.to_string(),
        ]);
    }
    format!(
        "{}They may come from anybody whose consent holds the scope `example`, and from speakers of no study.\n\
         Where no second judge can be had, note why with `known-answers single`: every report says so.\n",
        columns(&rows)
    )
}
