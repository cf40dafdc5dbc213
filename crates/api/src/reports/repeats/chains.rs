use application::repeats::{Chain, KitchenCause, Occurrence};
use chrono::TimeDelta;
use domain::id::{ApplianceId, WorkOrderId};
use domain::text::Key;
use domain::time::Timestamp;
use domain::vocabulary::Position;
use serde::Serialize;
use utoipa::ToSchema;

use crate::schema;

/// Failures of one position of one machine, oldest first.
#[derive(Serialize, ToSchema)]
pub struct FailureChain {
    #[schema(value_type = schema::Id)]
    appliance_id: ApplianceId,
    #[schema(value_type = schema::Key)]
    position: Position,
    #[schema(min_items = 2, max_items = 10_000)]
    links: Vec<ChainLink>,
}

/// One failure of a chain, and what was done about it.
#[derive(Serialize, ToSchema)]
pub struct ChainLink {
    #[schema(value_type = schema::Id)]
    work_order_id: WorkOrderId,
    #[schema(minimum = 1)]
    number: i64,
    #[schema(value_type = schema::Instant)]
    received_at: Timestamp,
    /// Null where it was not verifiably restored.
    #[schema(value_type = Option<schema::Instant>, required)]
    restored_at: Option<Timestamp>,
    /// Since the one before was verifiably restored; null for the first, and where it was not.
    #[schema(required)]
    days_after: Option<f64>,
    #[schema(value_type = Option<schema::Key>, required)]
    cause: Option<Key>,
    /// What was done at the position.
    #[schema(value_type = Vec<schema::Key>, max_items = 1000)]
    actions: Vec<Key>,
    /// Numbers of the parts fitted there.
    #[schema(value_type = Vec<schema::Name>, max_items = 1000)]
    part_numbers: Vec<String>,
    /// Names of those who were there.
    #[schema(value_type = Vec<schema::Name>, max_items = 1000)]
    people: Vec<String>,
}

/// A cause beside the other kitchens'.
#[derive(Serialize, ToSchema)]
pub struct CauseBeside {
    #[schema(value_type = schema::Key)]
    cause: Key,
    /// Faults of this cause here, and machines that had it.
    #[schema(minimum = 0)]
    here: u32,
    #[schema(minimum = 0)]
    machines: usize,
    /// Faults here of which a cause is known.
    #[schema(minimum = 0)]
    of_here: u32,
    #[schema(minimum = 0)]
    elsewhere: u32,
    #[schema(minimum = 0)]
    of_elsewhere: u32,
    /// How likely a difference so large or larger is by chance (Fisher's exact test); null without other kitchens.
    #[schema(required, minimum = 0, maximum = 1)]
    chance: Option<f64>,
    /// The smallest rate of false discoveries at which it would be one (Benjamini and Hochberg).
    #[schema(required, minimum = 0, maximum = 1)]
    q: Option<f64>,
    /// Found twice or more, in a larger share than elsewhere, and q no larger than the list of kitchens allows.
    stands_out: bool,
}

impl From<Chain> for FailureChain {
    fn from(chain: Chain) -> Self {
        let after: Vec<Option<TimeDelta>> = [None].into_iter().chain(chain.between()).collect();
        let links = chain.links.into_iter().zip(after).map(|(link, after)| ChainLink::of(link, after));
        Self { appliance_id: chain.appliance, position: chain.position, links: links.collect() }
    }
}

impl ChainLink {
    fn of(link: Occurrence, after: Option<TimeDelta>) -> Self {
        Self {
            work_order_id: link.work_order,
            number: link.number,
            received_at: link.received_at,
            restored_at: link.restored_at,
            days_after: after.map(|after| after.as_seconds_f64() / 86_400.0),
            cause: link.cause,
            actions: link.actions,
            part_numbers: link.parts,
            people: link.people,
        }
    }
}

impl From<KitchenCause> for CauseBeside {
    fn from(found: KitchenCause) -> Self {
        let standing = found.standing;
        Self {
            cause: standing.count.cause,
            here: standing.count.here,
            machines: found.machines,
            of_here: standing.of_here,
            elsewhere: standing.count.elsewhere,
            of_elsewhere: standing.of_elsewhere,
            chance: standing.chance,
            q: standing.q,
            stands_out: standing.stands_out,
        }
    }
}
