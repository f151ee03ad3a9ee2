//! Rounds: how each goes on, how it ends, and what an unlocked one shows.

mod close;
mod exports;
mod follow;
mod list;
mod live;
mod pause;
mod results;
mod turn;
mod unlock;

pub(super) use close::close;
pub(super) use close::close_page;
pub(super) use exports::download;
pub(super) use exports::exports;
pub(super) use follow::round;
pub(super) use list::rounds;
pub(super) use live::live;
pub(super) use pause::pause;
pub(super) use pause::resume;
pub(super) use results::results;
pub(super) use unlock::unlock;
pub(super) use unlock::unlock_page;
