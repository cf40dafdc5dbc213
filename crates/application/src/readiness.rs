//! Whether requests can be served.

use std::time::Duration;

use store::StoreError;
use store::database::Schema;

use crate::Application;

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Readiness {
    Ready {
        /// The newest migration that the database has.
        schema_version: i64,
    },
    /// Migrations are still to be carried out.
    SchemaBehind,
    /// All connections are in use.
    Busy,
    Unreachable,
    /// The database answers, and refuses the sign-in or the name.
    Refused,
}

/// So long the database may take to say where it stands.
const PATIENCE: Duration = Duration::from_secs(2);

impl Application {
    /// A supervisor is told the kind of trouble; the log has the database's own words.
    pub async fn readiness(&self) -> Readiness {
        match tokio::time::timeout(PATIENCE, self.database().schema()).await {
            Ok(Ok(Schema::Ready { version })) => Readiness::Ready { schema_version: version },
            Ok(Ok(Schema::Behind { .. })) => Readiness::SchemaBehind,
            Ok(Err(_)) | Err(_) => why_unreachable(self.database().connection_refusal().await),
        }
    }
}

fn why_unreachable(refusal: Option<StoreError>) -> Readiness {
    let Some(error) = refusal else {
        tracing::warn!("all connections to the database are in use");
        return Readiness::Busy;
    };
    tracing::error!(reasons = error.reasons(), "the database is not ready");
    match error {
        StoreError::Unavailable(_) => Readiness::Unreachable,
        _ => Readiness::Refused,
    }
}
