use domain::text::{Key, Name};
use domain::time::Timestamp;
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};

use crate::schema;

/// What a list of the catalogue says of an entry; the entry itself is read by its key.
#[derive(Serialize, ToSchema)]
pub struct CatalogueSummary {
    #[schema(value_type = schema::Key)]
    pub key: Key,
    /// The newest.
    #[schema(minimum = 1)]
    pub version: u32,
    #[schema(value_type = schema::Name)]
    pub title: Name,
    /// Comes with the service; the others are the company's own.
    pub built_in: bool,
    #[schema(value_type = schema::Instant)]
    pub created_at: Timestamp,
}

/// The newest version of each key.
#[derive(Serialize, ToSchema)]
pub struct CatalogueList {
    #[schema(max_items = 10_000)]
    pub items: Vec<CatalogueSummary>,
}

#[derive(Debug, Clone, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(deny_unknown_fields)]
pub struct CatalogueQuery {
    /// Part of the key or the title.
    #[param(min_length = 1, max_length = 200, nullable = false)]
    pub search: Option<String>,
}
