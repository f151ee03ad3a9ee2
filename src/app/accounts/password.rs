//! Passwords: what is asked of a new one, and how one is kept and known again. Argon2id (RFC 9106)
//! with the parameters that its crate names by default: 19 MiB, two passes, one lane.

use std::sync::LazyLock;

use argon2::Argon2;
use argon2::PasswordHasher;
use argon2::PasswordVerifier;

use super::enter;
use super::keep;
use crate::app::AppError;
use crate::app::Now;
use crate::app::Workspace;
use crate::app::secret;
use crate::store::AccountRow;
use crate::study::AccountName;
use crate::study::Invalid;

/// The fewest letters of a password (ours; NIST SP 800-63B asks for 8, and for 15 where nothing else is asked).
const FEWEST_LETTERS: usize = 12;

/// The most: enough for any sentence, too few to keep the machine busy.
pub const MOST_LETTERS: usize = 256;

/// The fewest different letters (ours): `aaaaaaaaaaaa` is no password.
const FEWEST_DIFFERENT: usize = 5;

/// A password that may be taken.
pub struct NewPassword(String);

impl NewPassword {
    /// Checks a new password for the account of that name.
    ///
    /// # Errors
    /// [`Invalid`] if it is too short, too long, nearly one letter, or the name itself.
    pub fn new(raw: &str, name: &AccountName) -> Result<Self, Invalid> {
        let letters = raw.chars().count();
        if !(FEWEST_LETTERS..=MOST_LETTERS).contains(&letters) {
            return Err(Invalid::new(
                format!("the password has {letters} characters"),
                format!(
                    "take {FEWEST_LETTERS} to {MOST_LETTERS}; four or five words are easy to keep in mind"
                ),
            ));
        }
        let mut different: Vec<char> = raw.to_lowercase().chars().collect();
        different.sort_unstable();
        different.dedup();
        let is_the_name = raw.to_lowercase().contains(&name.as_str().to_lowercase())
            && letters < FEWEST_LETTERS + name.as_str().chars().count();
        if different.len() < FEWEST_DIFFERENT || is_the_name {
            return Err(Invalid::new(
                "the password is easy to guess",
                "take four or five words that nobody connects with you",
            ));
        }
        Ok(Self(raw.to_owned()))
    }

    /// The hash that is kept of it.
    pub(super) fn hash(&self) -> Result<String, AppError> {
        hash(&self.0)
    }
}

/// Changes the password of whoever is signed in and ends her other sessions. Says whether the old one was right.
///
/// # Errors
/// [`AppError::Refused`] if there is no such account; [`AppError::Store`] if it cannot be written.
pub fn change_password(
    workspace: &Workspace,
    code: &str,
    old: &str,
    new: &NewPassword,
    kept_session: &str,
    now: Now,
) -> Result<bool, AppError> {
    let account = workspace
        .store()
        .read(|reading| keep::coded(reading, code))?;
    if !is_right(&account, old) {
        return Ok(false);
    }
    let hash = new.hash()?;
    let kept = secret::digest_of(kept_session);
    workspace.store().write(move |writing| {
        let mut account = keep::coded(writing, account.code.as_str())?;
        account.password = Some(hash);
        let by = account.code.to_string();
        keep::change(writing, account.clone(), "password", Some(&by), now)?;
        let session = writing.session_of_account(&kept)?;
        enter::end_everywhere(writing, &account, &by, now)?;
        if let Some(session) = session {
            writing.begin_session_of_account(&kept, session.account, now.ms())?;
        }
        Ok(true)
    })
}

/// Whether this is the account's password.
pub(super) fn is_right(account: &AccountRow, password: &str) -> bool {
    let kept = account.password.as_deref();
    // An account without a password takes as long as one with a wrong one.
    let hash = kept.unwrap_or(NOBODYS.as_str());
    verify(password, hash) && kept.is_some()
}

/// Takes as long as a wrong password does, where no account has the name.
pub(super) fn spend_the_time(password: &str) {
    // Its answer is of no account.
    let _ = verify(password, NOBODYS.as_str());
}

fn verify(password: &str, hash: &str) -> bool {
    password.chars().count() <= MOST_LETTERS
        && Argon2::default()
            .verify_password(password.as_bytes(), hash)
            .is_ok()
}

fn hash(password: &str) -> Result<String, AppError> {
    Argon2::default()
        .hash_password_with_salt(password.as_bytes(), secret::salt().as_bytes())
        .map(|hash| hash.to_string())
        .map_err(|error| AppError::Unreadable(format!("no hash of the password: {error}")))
}

/// The hash of a password that nobody knows.
static NOBODYS: LazyLock<String> =
    LazyLock::new(|| hash(&secret::token()).unwrap_or_else(|_| String::new()));

#[cfg(test)]
mod tests {
    use super::*;

    fn refused(raw: &str) -> bool {
        NewPassword::new(raw, &AccountName::new("Ada").unwrap()).is_err()
    }

    #[test]
    fn a_password_is_long_and_not_one_letter_or_the_name() {
        assert!(refused("short"));
        assert!(refused("abababababababab"));
        assert!(refused("ada123456789"));
        assert!(refused(&"a1b2c".repeat(60)));
        assert!(!refused("harbour wall at noon"));
    }

    #[test]
    fn a_hash_knows_its_password_and_is_argon2id() {
        let kept = hash("harbour wall at noon").unwrap();
        assert!(kept.starts_with("$argon2id$v=19$"), "{kept}");
        assert!(verify("harbour wall at noon", &kept));
        assert!(!verify("harbour wall at nooN", &kept));
        assert_ne!(kept, hash("harbour wall at noon").unwrap(), "a salt each");
    }
}
