//! The web: HTTP and nothing else.
