//! The people at the desk: their accounts, how they sign in, and what the log tells of it. The log
//! knows an account by a random code alone.

mod commitment;
mod enter;
mod held_off;
mod keep;
mod link;
mod password;
mod person;
mod refuse;

pub use enter::SignIn;
pub use enter::sign_in;
pub use enter::sign_in_without_password;
pub use enter::sign_out;
pub use enter::sign_out_everywhere;
pub use enter::who_is_there;
pub use enter::whose_session;
pub use keep::Account;
pub use keep::Rights;
pub use keep::accounts;
pub use keep::add_account;
pub use keep::change_rights;
pub use keep::remove_account;
pub use link::OneTimeLink;
pub use link::first_account;
pub use link::link_opens;
pub use link::offer_first_link;
pub use link::offer_password_link;
pub use link::set_password_by_link;
pub use password::MOST_LETTERS;
pub use password::NewPassword;
pub use password::change_password;
pub use person::Person;
pub use refuse::Stranger;
pub use refuse::note_refused;
pub use refuse::note_stranger;

pub(super) use commitment::child_row;
pub(super) use commitment::row;
