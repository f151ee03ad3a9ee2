//! The seal: canonical form, hash, salted commitment, chained log. Pure.
