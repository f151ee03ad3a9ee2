//! `withdraw`: a listener is out of every result from now on.

use serde_json::json;

use super::Common;
use crate::app;
use crate::app::AppError;
use crate::app::Now;
use crate::app::Withdrawal;

/// Withdraw a listener by the receipt that she was given: nothing that she judged stands in any
/// result from now on. It is logged, and the log does not say who it was.
#[derive(clap::Args)]
pub(super) struct Withdraw {
    #[command(flatten)]
    common: Common,
    /// Her receipt.
    #[arg(long, value_name = "RECEIPT")]
    receipt: String,
}

impl Withdraw {
    pub(super) fn run(self) -> Result<(), AppError> {
        let done = app::withdraw_listener(&self.common.open()?, &self.receipt, Now::read())?;
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
}
