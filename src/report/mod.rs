//! The report: findings to tables, charts and pages.
