//! `withdraw`: a child, or a listener, is taken out of the study.

use std::path::Path;
use std::path::PathBuf;

use serde_json::json;

use super::Common;
use crate::app;
use crate::app::AppError;
use crate::app::Erased;
use crate::app::Now;
use crate::app::Preview;
use crate::app::Withdrawal;
use crate::report;
use crate::report::FamilyReceipt;
use crate::report::text::counted;
use crate::study::ChildCode;
use crate::study::ListenerCode;

/// Take a child or a listener out of the study. A child is put out of use or erased; without `--yes`
/// it is only said what would go. A listener withdraws by her receipt: nothing that she judged stands
/// in any result from now on. Or she is erased by her code. It is logged, and the log does not say
/// who it was.
#[derive(clap::Args)]
#[group(id = "who", required = true, multiple = false, args = ["child", "receipt", "listener"])]
pub(super) struct Withdraw {
    #[command(flatten)]
    common: Common,
    /// The child's code.
    #[arg(long, value_name = "CODE")]
    child: Option<ChildCode>,
    /// The receipt that a listener was given: she withdraws.
    #[arg(long, value_name = "RECEIPT", conflicts_with_all = ["how", "yes"])]
    receipt: Option<String>,
    /// A listener's code; she can only be erased.
    #[arg(long, value_name = "CODE")]
    listener: Option<ListenerCode>,
    /// stop: kept, and in no result. erase: recordings and judgements are gone for good.
    #[arg(long, value_name = "HOW", required_unless_present = "receipt")]
    how: Option<How>,
    /// Do it.
    #[arg(long)]
    yes: bool,
    /// Where to put a page for the family that says what was done. It names nobody.
    #[arg(long, value_name = "HTML", requires = "child")]
    page: Option<PathBuf>,
}

#[derive(Clone, Copy, PartialEq, Eq, clap::ValueEnum)]
enum How {
    Stop,
    Erase,
}

impl Withdraw {
    pub(super) fn run(self) -> Result<(), AppError> {
        let how = self.how.unwrap_or(How::Stop);
        self.check_place_of_page()?;
        match (&self.child, &self.listener, &self.receipt) {
            (Some(child), ..) if !self.yes => self.preview(child, how),
            (Some(child), ..) if how == How::Stop => self.stop(child),
            (Some(child), ..) => self.erase(child),
            (None, Some(listener), _) => self.erase_listener(listener, how),
            (None, None, Some(receipt)) => self.withdraw(receipt),
            (None, None, None) => Err(AppError::refused(
                "nobody is named",
                "name a child with --child, or a listener by --receipt or --listener",
            )),
        }
    }

    /// What cannot be written afterwards is refused before anything is done that cannot be taken back.
    fn check_place_of_page(&self) -> Result<(), AppError> {
        let Some(page) = &self.page else {
            return Ok(());
        };
        let folder = page.parent().unwrap_or(Path::new(""));
        if folder == Path::new("") || (folder.is_dir() && !page.is_dir()) {
            return Ok(());
        }
        Err(AppError::refused(
            format!("no page can be written to {}", page.display()),
            "name a file in a folder that is there; nothing was done",
        ))
    }

    fn preview(&self, child: &ChildCode, how: How) -> Result<(), AppError> {
        let preview = app::preview_withdrawal(&self.common.open()?, child)?;
        self.common.say(&preview, |preview| match how {
            How::Stop => format!(
                "{}\nAll of it is kept and is in no result. Nothing was done yet: add --yes.\n",
                what_there_is(preview)
            ),
            How::Erase => format!(
                "{}{}\nErased is erased: nobody can bring it back. Nothing was done yet: add --yes.\n",
                what_there_is(preview),
                what_else(preview)
            ),
        })
    }

    fn stop(&self, child: &ChildCode) -> Result<(), AppError> {
        let workspace = self.common.open()?;
        let now = Now::read();
        let receipt = app::stop_using_child(&workspace, child, now)?;
        self.write_page(&FamilyReceipt::stopped(now.ms(), &receipt))?;
        self.common.say(&json!({"receipt": receipt}), |_| {
            format!("{child} is out of use: kept, and in no result.\nreceipt  {receipt}\n")
        })
    }

    fn erase(&self, child: &ChildCode) -> Result<(), AppError> {
        let workspace = self.common.open()?;
        let now = Now::read();
        let erased = app::erase_child(&workspace, child, now)?;
        let copies = erased.copies.iter();
        let copies: Vec<_> = copies
            .map(|copy| (copy.kind.clone(), copy.made.clone()))
            .collect();
        self.write_page(&FamilyReceipt::erased(
            now.ms(),
            erased.recordings,
            copies,
            &erased.receipt,
        ))?;
        self.common.say(&erased, said)
    }

    fn erase_listener(&self, listener: &ListenerCode, how: How) -> Result<(), AppError> {
        if how == How::Stop {
            return Err(AppError::refused(
                "a listener is not taken out of use by her code",
                "her receipt does that, on her own page or with --receipt; to erase her, say --how erase",
            ));
        }
        if !self.yes {
            return self.common.say(&json!({"listener": listener}), |_| {
                format!(
                    "{listener} with all her sittings and judgements would go for good.\n\
                     Nothing was done yet: add --yes.\n"
                )
            });
        }
        let erased = app::erase_listener(&self.common.open()?, listener, Now::read())?;
        self.common.say(&erased, said)
    }

    fn withdraw(&self, receipt: &str) -> Result<(), AppError> {
        let done = app::withdraw_listener(&self.common.open()?, receipt, Now::read())?;
        let receipt = match done {
            Withdrawal::Done { receipt } => receipt,
            Withdrawal::Before => {
                return Err(AppError::refused(
                    "this listener withdrew before",
                    "there is nothing left to do",
                ));
            }
            Withdrawal::Mistyped => {
                return Err(AppError::refused(
                    "this is no receipt",
                    "look for a sign that is missing or mistyped",
                ));
            }
            Withdrawal::Unknown => {
                return Err(AppError::refused(
                    "no listener of this study was given that receipt",
                    "check that it is the receipt of this study, all of it",
                ));
            }
        };
        self.common
            .say(&json!({"withdrawn": true, "receipt": receipt}), |_| {
                format!(
                    "The listener is out of every result. Write reports and exports anew: those \
                     written before still hold what she said.\nreceipt  {receipt}\n"
                )
            })
    }

    fn write_page(&self, receipt: &FamilyReceipt) -> Result<(), AppError> {
        let Some(path) = &self.page else {
            return Ok(());
        };
        let page = report::family_receipt(receipt)
            .map_err(|error| AppError::Unreadable(error.to_string()))?;
        app::write_file(path, page.as_bytes())
    }
}

fn what_there_is(preview: &Preview) -> String {
    let mut lines = vec![format!(
        "{}, {} of them for checks, practice or examples; {}; {}.",
        counted(preview.recordings, "recording"),
        preview.helpers,
        counted(preview.missing, "row") + " without a recording",
        counted(preview.consents, "record") + " of a consent",
    )];
    for heard in &preview.rounds {
        lines.push(format!(
            "Round {} ({}): {}, {}.",
            heard.round,
            heard.state,
            counted(heard.words, "word"),
            counted(heard.judgements, "judgement"),
        ));
    }
    lines.join("\n")
}

fn what_else(preview: &Preview) -> String {
    let copies: Vec<_> = preview
        .copies
        .iter()
        .map(|copy| format!("{} of {} at {}", copy.kind, copy.made, copy.place))
        .collect();
    list(
        "\nFiles in the study's folder that go too:",
        &preview.removed_files,
    ) + &list(
        "\nTables there that lose the child's rows:",
        &preview.changed_files,
    ) + &list(
        "\nFiles there that name the child and are yours to mend:",
        &preview.left_files,
    ) + &list(
        "\nCopies out of reach, to be destroyed by whoever has them:",
        &copies,
    )
}

fn said(erased: &Erased) -> String {
    let copies: Vec<_> = erased
        .copies
        .iter()
        .map(|copy| format!("{} of {} at {}", copy.kind, copy.made, copy.place))
        .collect();
    format!(
        "Erased: {}, {}, {} beside them.{}{}\n\
         Worn parts of a disk may keep traces until they are written over; nothing reads them as files.\n\
         receipt  {}\n",
        counted(erased.recordings, "recording"),
        counted(erased.judgements, "judgement"),
        counted(erased.files, "file"),
        list(
            "\nFiles that name the child and are yours to mend:",
            &erased.left_files
        ),
        list(
            "\nCopies out of reach, to be destroyed by whoever has them:",
            &copies
        ),
        erased.receipt,
    )
}

fn list(head: &str, lines: &[String]) -> String {
    if lines.is_empty() {
        return String::new();
    }
    format!("{head}\n  {}", lines.join("\n  "))
}
