//! What a panel says of an item: the share of 'positive', the majority, and the latent class.

mod classes;
mod dawid_skene;
mod weight;

pub use classes::guard_against_swapped_classes;
pub use dawid_skene::Config;
pub use dawid_skene::LatentClass;
pub use dawid_skene::dawid_skene;
pub use dawid_skene::dawid_skene_from_shares;
pub use weight::quality_weight;
