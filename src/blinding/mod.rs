//! Blinding: allocation and order. Pure, seeded, frozen by tests; strata are bare numbers here.
