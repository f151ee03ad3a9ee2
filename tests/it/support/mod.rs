//! What tests of acts share: a whole study in a temporary folder, and listeners who sit through it.

mod browser;
mod desk;
mod devtools;
mod engine;
mod labels;
mod listener;
mod page;
mod proxy;
mod remote;
mod server;
mod study;
mod traces;
mod walk;
mod words;

pub(crate) use browser::Browser;
pub(crate) use browser::key;
pub(crate) use desk::Answer;
pub(crate) use desk::Desk;
pub(crate) use desk::PASSWORD;
pub(crate) use desk::account;
pub(crate) use engine::Engine;
mod heard;
mod markup;

pub(crate) use heard::findings;
pub(crate) use heard::heard_round;
pub(crate) use heard::record;
pub(crate) use labels::Labels;
pub(crate) use listener::Listener;
pub(crate) use listener::answered;
pub(crate) use listener::listen;
pub(crate) use markup::Element;
pub(crate) use markup::elements;
pub(crate) use proxy::Proxy;
pub(crate) use remote::Received;
pub(crate) use remote::Remote;
pub(crate) use remote::sent;
pub(crate) use server::Server;
pub(crate) use study::Study;
pub(crate) use study::With;
pub(crate) use traces::LABEL;
pub(crate) use traces::files_under;
pub(crate) use traces::found;
pub(crate) use traces::traces;
pub(crate) use words::spoken;
pub(crate) use words::wav_16_bit;
