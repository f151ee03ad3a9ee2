//! `account`: the people at the desk, from the machine itself. No password passes through a command: an address that is
//! good once sets it.

use serde_json::json;

use super::Common;
use crate::app::AppError;
use crate::app::Now;
use crate::app::accounts;
use crate::app::accounts::Rights;
use crate::study::AccountName;
use crate::study::ChildCode;
use crate::study::Role;

/// Accounts of the desk: add, list, reset a lost password, change a role, remove.
#[derive(clap::Args)]
pub(super) struct Account {
    #[command(subcommand)]
    what: What,
}

#[derive(clap::Subcommand)]
enum What {
    Add(Add),
    List(List),
    Reset(Reset),
    Role(ChangeRole),
    Remove(Remove),
}

/// Make an account; prints an address that sets its password, once, within a day.
#[derive(clap::Args)]
struct Add {
    #[command(flatten)]
    common: Common,
    /// The name under which the person signs in.
    name: AccountName,
    #[command(flatten)]
    rights: RightsArguments,
    #[command(flatten)]
    desk: DeskAddress,
}

/// List the accounts.
#[derive(clap::Args)]
struct List {
    #[command(flatten)]
    common: Common,
}

/// Print an address that sets a new password, once, within a day. The old one stays until then.
#[derive(clap::Args)]
struct Reset {
    #[command(flatten)]
    common: Common,
    /// The name of the account.
    name: AccountName,
    #[command(flatten)]
    desk: DeskAddress,
}

/// Give an account another role, or other children.
#[derive(clap::Args)]
struct ChangeRole {
    #[command(flatten)]
    common: Common,
    /// The name of the account.
    name: AccountName,
    #[command(flatten)]
    rights: RightsArguments,
}

/// Remove an account; whoever is signed in with it is out.
#[derive(clap::Args)]
struct Remove {
    #[command(flatten)]
    common: Common,
    /// The name of the account.
    name: AccountName,
}

#[derive(clap::Args)]
struct RightsArguments {
    /// What the person may do: researcher (everything), preparer (recordings and tokens), clinician (reads of named
    /// children).
    #[arg(long)]
    role: Role,
    /// A child of whom a clinician may read; may be given several times.
    #[arg(long, value_name = "CODE")]
    child: Vec<ChildCode>,
}

#[derive(clap::Args)]
struct DeskAddress {
    /// The address that `serve` prints for the desk on this machine.
    #[arg(long, value_name = "URL", default_value = "http://127.0.0.1:8484")]
    desk: String,
}

impl Account {
    pub(super) fn run(self) -> Result<(), AppError> {
        match self.what {
            What::Add(command) => command.run(),
            What::List(command) => command.run(),
            What::Reset(command) => command.run(),
            What::Role(command) => command.run(),
            What::Remove(command) => command.run(),
        }
    }
}

impl Add {
    fn run(self) -> Result<(), AppError> {
        let workspace = self.common.open()?;
        let rights = self.rights.checked()?;
        let account = accounts::add_account(&workspace, &self.name, rights, None, Now::read())?;
        let secret = accounts::offer_password_link(&workspace, &self.name, None, Now::read())?;
        let url = self.desk.of(&secret);
        let said = json!({ "account": account.code, "role": account.role, "url": url });
        self.common.say(&said, |_| {
            format!(
                "Made the account {} ({}).\nOnce, within a day, this address sets its password:\n{url}\n",
                self.name, account.role
            )
        })
    }
}

impl List {
    fn run(self) -> Result<(), AppError> {
        let all = accounts::accounts(&self.common.open()?)?;
        self.common.say(&json!({ "accounts": all }), |_| {
            let lines: Vec<String> = all.iter().map(line).collect();
            if lines.is_empty() {
                "No account yet: `fairhearing serve` prints an address that makes the first one.\n"
                    .to_owned()
            } else {
                format!("{}\n", lines.join("\n"))
            }
        })
    }
}

impl Reset {
    fn run(self) -> Result<(), AppError> {
        let secret =
            accounts::offer_password_link(&self.common.open()?, &self.name, None, Now::read())?;
        let url = self.desk.of(&secret);
        self.common.say(&json!({ "url": url }), |_| {
            format!(
                "Once, within a day, this address sets a new password for {}:\n{url}\n\
                 It answers while `fairhearing serve` runs.\n",
                self.name
            )
        })
    }
}

impl ChangeRole {
    fn run(self) -> Result<(), AppError> {
        let workspace = self.common.open()?;
        let rights = self.rights.checked()?;
        let account = accounts::change_rights(&workspace, &self.name, rights, None, Now::read())?;
        self.common
            .say(&account, |account| format!("{}\n", line(account)))
    }
}

impl Remove {
    fn run(self) -> Result<(), AppError> {
        accounts::remove_account(&self.common.open()?, &self.name, None, Now::read())?;
        self.common.say(&json!({ "removed": true }), |_| {
            format!("Removed the account {}.\n", self.name)
        })
    }
}

impl RightsArguments {
    fn checked(self) -> Result<Rights, AppError> {
        Rights::new(self.role, self.child.into_iter().collect())
    }
}

impl DeskAddress {
    fn of(&self, secret: &str) -> String {
        format!("{}/desk/password/{secret}", self.desk.trim_end_matches('/'))
    }
}

/// "Ada  clinician of C01, C02  A-…", with what is missing.
fn line(account: &accounts::Account) -> String {
    let children: Vec<&str> = account.children.iter().map(ChildCode::as_str).collect();
    let of = if children.is_empty() {
        String::new()
    } else {
        format!(" of {}", children.join(", "))
    };
    let password = if account.has_password {
        ""
    } else {
        "  no password yet"
    };
    format!(
        "{}  {}{of}  {}{password}",
        account.name, account.role, account.code
    )
}
