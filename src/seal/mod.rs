//! Canonical form, hash and chained log: what was fixed before listening can be shown to be so
//! afterwards. Pure: salts and times are arguments.
//!
//! A document or an event becomes [`Canonical`] text once, is stored as that text, and is hashed as
//! stored, so that one flipped byte anywhere shows. What could identify somebody enters as a
//! [`commit`]ment: without its salt it says nothing, and when salt and row are gone the chain still
//! verifies. Every event is [`link`]ed to the one before; the [`Head`] leaves the machine in
//! receipts and exports, so that a shortened log shows too.

mod canonical;
mod chain;
mod digest;
mod receipt;

pub use canonical::Canonical;
pub use canonical::CanonicalError;
pub use chain::Chain;
pub use chain::ChainBreak;
pub use chain::Event;
pub use chain::Head;
pub use chain::link;
pub use chain::verify_chain;
pub use digest::Digest;
pub use digest::DigestError;
pub use digest::Salt;
pub use digest::commit;
pub use digest::seal_of;
pub use receipt::ReceiptError;
pub use receipt::ReceiptHead;
