//! `consent`: what families agreed to.

use std::path::PathBuf;

use serde_json::json;

use super::Common;
use crate::app;
use crate::app::AppError;
use crate::app::Now;
use crate::report::text::counted;
use crate::study::Assent;
use crate::study::ChildCode;
use crate::study::Consent as Agreed;
use crate::study::ConsentVersion;
use crate::study::Scope;

/// Note what families agreed to: of one child, or of all in a file.
#[derive(clap::Args)]
pub(super) struct Consent {
    #[command(subcommand)]
    act: Act,
}

#[derive(clap::Subcommand)]
enum Act {
    Note(Note),
    Import(Import),
}

/// Note one consent; it takes the place of what was noted before.
#[derive(clap::Args)]
struct Note {
    #[command(flatten)]
    common: Common,
    /// The child's code.
    #[arg(value_name = "CODE")]
    child: ChildCode,
    /// The version of the text that was agreed to.
    #[arg(long, value_name = "TEXT")]
    version: ConsentVersion,
    /// The day of the signature.
    #[arg(long, value_name = "YYYY-MM-DD")]
    date: jiff::civil::Date,
    /// Who may hear the child: staff, research, remote (lay listeners elsewhere), example. May be
    /// repeated; none at all takes the consent back.
    #[arg(long = "scope", value_name = "SCOPE")]
    scopes: Vec<Scope>,
    /// What the child says of it: given, refused, not-asked.
    #[arg(long, value_name = "ASSENT")]
    assent: Assent,
    /// Until when the recordings may be kept.
    #[arg(long, value_name = "YYYY-MM-DD")]
    keep_until: Option<jiff::civil::Date>,
}

/// Note the consents in a CSV, all or none: child, version, date, scope, assent and, where known,
/// `keep_until`. Several scopes stand in one cell with spaces between them.
#[derive(clap::Args)]
struct Import {
    #[command(flatten)]
    common: Common,
    /// The table.
    #[arg(value_name = "CSV")]
    file: PathBuf,
}

impl Consent {
    pub(super) fn run(self) -> Result<(), AppError> {
        match self.act {
            Act::Note(note) => note.run(),
            Act::Import(import) => {
                let noted =
                    app::record_consents(&import.common.open()?, &import.file, Now::read())?;
                import.common.say(&json!({"noted": noted}), |_| {
                    format!(
                        "Noted {}; what was noted already stays as it is.\n",
                        counted(noted, "consent")
                    )
                })
            }
        }
    }
}

impl Note {
    fn run(self) -> Result<(), AppError> {
        let consent = Agreed {
            version: self.version,
            given_on: self.date,
            scopes: self.scopes.into_iter().collect(),
            assent: self.assent,
            keep_until: self.keep_until,
        };
        app::record_consent(&self.common.open()?, &self.child, &consent, Now::read())?;
        let said = json!({"child": self.child, "consent": consent});
        self.common
            .say(&said, |_| format!("Noted for {}.\n", self.child))
    }
}
