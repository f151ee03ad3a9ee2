//! `child`: the study's children by code.

use super::Common;
use crate::app;
use crate::app::AppError;
use crate::app::Child;
use crate::app::Now;
use crate::report::text::columns;
use crate::study::ChildCode;
use crate::study::ChildLabel;

/// The study's children by code: list them, add one, give one a label for the desk alone.
#[derive(clap::Args)]
pub(super) struct Children {
    #[command(subcommand)]
    act: Act,
}

#[derive(clap::Subcommand)]
enum Act {
    List(List),
    Add(Add),
    Label(Label),
}

/// List the children with what is noted of them, and what staff should see to.
#[derive(clap::Args)]
struct List {
    #[command(flatten)]
    common: Common,
}

/// Add a child of whom nothing was recorded yet.
#[derive(clap::Args)]
struct Add {
    #[command(flatten)]
    common: Common,
    /// Her code: never a name or a birth date.
    #[arg(value_name = "CODE")]
    child: ChildCode,
    /// What the desk calls her. It never leaves the desk: no export, log, report or listener has it.
    #[arg(long, value_name = "TEXT")]
    label: Option<ChildLabel>,
}

/// Give a child a label for the desk alone; without one, take it away.
#[derive(clap::Args)]
struct Label {
    #[command(flatten)]
    common: Common,
    /// Her code.
    #[arg(value_name = "CODE")]
    child: ChildCode,
    /// What the desk calls her.
    #[arg(value_name = "TEXT")]
    text: Option<ChildLabel>,
}

impl Children {
    pub(super) fn run(self) -> Result<(), AppError> {
        match self.act {
            Act::List(list) => list.run(),
            Act::Add(add) => {
                app::add_child(&add.common.open()?, &add.child, add.label.as_ref())?;
                let said = serde_json::json!({"child": add.child});
                add.common.say(&said, |_| format!("Added {}.\n", add.child))
            }
            Act::Label(label) => {
                app::label_child(&label.common.open()?, &label.child, label.text.as_ref())?;
                let said = serde_json::json!({"child": label.child});
                label
                    .common
                    .say(&said, |_| "Noted, for the desk alone.\n".to_owned())
            }
        }
    }
}

impl List {
    fn run(self) -> Result<(), AppError> {
        #[derive(serde::Serialize)]
        struct Listed {
            children: Vec<Child>,
            notices: Vec<String>,
        }
        let workspace = self.common.open()?;
        let listed = Listed {
            children: app::children(&workspace)?,
            notices: app::notices(&workspace, Now::read())?,
        };
        self.common.say(&listed, |listed| {
            let mut text = table(&listed.children);
            for notice in &listed.notices {
                text.push_str(notice);
                text.push('\n');
            }
            text
        })
    }
}

fn table(children: &[Child]) -> String {
    let head = [
        "child",
        "label",
        "consent",
        "given",
        "scope",
        "assent",
        "keep until",
        "",
    ];
    let mut rows = vec![head.map(str::to_owned).to_vec()];
    for child in children {
        let consent = child.consent.as_ref();
        let cell = |text: Option<String>| text.unwrap_or_default();
        rows.push(vec![
            child.code.to_string(),
            cell(child.label.as_ref().map(ToString::to_string)),
            cell(consent.map(|consent| consent.version.to_string())),
            cell(consent.map(|consent| consent.given_on.to_string())),
            cell(consent.map(|consent| consent.scopes.to_string())),
            cell(consent.map(|consent| consent.assent.to_string())),
            cell(
                consent
                    .and_then(|consent| consent.keep_until)
                    .map(|date| date.to_string()),
            ),
            if child.stopped {
                "out of use".to_owned()
            } else {
                String::new()
            },
        ]);
    }
    columns(&rows)
}
