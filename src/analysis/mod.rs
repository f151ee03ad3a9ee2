//! Analysis: judgements to tables to findings.
