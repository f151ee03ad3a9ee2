//! What the log commits to of an account: its row, under a salt that lies beside it.

use serde_json::json;

use crate::app::AppError;
use crate::app::log;
use crate::seal;
use crate::seal::Digest;
use crate::seal::Salt;
use crate::store::AccountRow;
use crate::study::AccountCode;
use crate::study::ChildCode;

/// The commitment to an account's row.
pub(in crate::app) fn row(account: &AccountRow) -> Result<Digest, AppError> {
    let value = json!({
        "account": account.code,
        "name": account.name,
        "role": account.role,
        "password": account.password,
        "made_ms": account.made_ms,
    });
    Ok(seal::commit(&account.salt, &log::canonical(&value)?))
}

/// The commitment to a child that an account may read of.
pub(in crate::app) fn child_row(
    account: &AccountCode,
    child: &ChildCode,
    salt: &Salt,
) -> Result<Digest, AppError> {
    let value = json!({ "account": account, "child": child });
    Ok(seal::commit(salt, &log::canonical(&value)?))
}
