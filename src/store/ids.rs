//! The numbers by which rows know each other. They mean nothing outside the file.

macro_rules! ids {
    ($($(#[$doc:meta])* $name:ident),+ $(,)?) => {$(
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub struct $name(pub(super) i64);

        impl rusqlite::ToSql for $name {
            fn to_sql(&self) -> rusqlite::Result<rusqlite::types::ToSqlOutput<'_>> {
                self.0.to_sql()
            }
        }

        impl rusqlite::types::FromSql for $name {
            fn column_result(value: rusqlite::types::ValueRef<'_>) -> rusqlite::types::FromSqlResult<Self> {
                i64::column_result(value).map(Self)
            }
        }
    )+};
}

ids! {
    /// An account of the desk.
    AccountId,
    /// An assignment.
    AssignmentId,
    /// A child.
    ChildId,
    /// A recording occasion of a child.
    SessionId,
    /// A token.
    TokenId,
    /// A round.
    RoundId,
    /// A token in a round.
    RoundTokenId,
    /// A listener.
    ListenerId,
    /// A listener in a round.
    EnrolmentId,
    /// A sitting.
    SittingId,
    /// An open link.
    OpenLinkId,
    /// A masked analysis.
    MaskedId,
}
