//! Creating the same thing twice.

/// What became of a create with an id that its maker chose.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Creation {
    Created,
    /// The same body was stored under this id before: a repeated send, nothing was done.
    AlreadyThere,
    /// Another body was stored under this id.
    Differs,
}

impl Creation {
    /// What is known of an id before it is inserted; none if it is free.
    pub fn of_known(stored: Option<&[u8]>, ours: &[u8]) -> Option<Self> {
        stored.map(|_| Self::judge(0, stored, ours))
    }

    /// From the rows that `INSERT … ON CONFLICT DO NOTHING` touched, the hash that is stored, and ours.
    pub(crate) fn judge(inserted: u64, stored: Option<&[u8]>, ours: &[u8]) -> Self {
        match (inserted, stored) {
            (1, _) => Self::Created,
            (_, Some(hash)) if hash == ours => Self::AlreadyThere,
            _ => Self::Differs,
        }
    }
}

/// `INSERT … ON CONFLICT (id) DO NOTHING` and the judgement of what was there before.
macro_rules! create {
    ($unit:expr, $id:expr, $hash:expr, $stored:literal, $insert:expr) => {{
        let inserted = $insert.execute($unit.connection()).await?.rows_affected();
        let stored = if inserted == 1 {
            None
        } else {
            sqlx::query_scalar!($stored, $id).fetch_optional($unit.connection()).await?
        };
        crate::Creation::judge(inserted, stored.as_deref(), $hash)
    }};
}
pub(crate) use create;
