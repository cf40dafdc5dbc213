//! What is said at intake about earlier calls for the same machine.

use std::collections::BTreeSet;

use super::OrderKind;
use crate::id::WorkOrderId;
use crate::text::Key;
use crate::time::Timestamp;

/// A call within this many days of an earlier corrective order of the same machine is flagged as a
/// repeat (the longest of the customary windows of 7, 30 and 90 days; common practice, no source).
pub const REPEAT_WITHIN_DAYS: i64 = 90;

/// An earlier order of a machine.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct EarlierOrder {
    pub id: WorkOrderId,
    pub kind: OrderKind,
    pub received_at: Timestamp,
    pub ended_at: Option<Timestamp>,
    pub symptoms: BTreeSet<Key>,
}

/// An earlier order that a call repeats.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RepeatCall {
    pub earlier: WorkOrderId,
    /// Whole days from its end to this call.
    pub days_since: i64,
    pub same_symptoms: BTreeSet<Key>,
}

/// Which earlier corrective orders of the same machine are still open when a call comes: the call may be about the same thing,
/// however old they are, and then is no repeat.
pub fn possible_duplicates_of(called_at: Timestamp, earlier: &[EarlierOrder]) -> Vec<WorkOrderId> {
    let is_open = |order: &&EarlierOrder| {
        order.kind == OrderKind::Corrective && order.received_at <= called_at && order.ended_at.is_none()
    };
    earlier.iter().filter(is_open).map(|order| order.id).collect()
}

/// Which ended corrective orders of the same machine a call at `called_at` repeats, newest first.
/// Whose fault that is, nobody says here: a repeat is counted, a callback is a person's judgement.
pub fn repeats_of(
    called_at: Timestamp,
    symptoms: &BTreeSet<Key>,
    earlier: &[EarlierOrder],
) -> Vec<RepeatCall> {
    let mut repeats: Vec<RepeatCall> = earlier
        .iter()
        .filter(|order| order.kind == OrderKind::Corrective && order.received_at < called_at)
        .filter_map(|order| {
            let since = order.ended_at?;
            Some(RepeatCall {
                earlier: order.id,
                days_since: (called_at.instant() - since.instant()).num_days().max(0),
                same_symptoms: order.symptoms.intersection(symptoms).cloned().collect(),
            })
        })
        .filter(|repeat| repeat.days_since <= REPEAT_WITHIN_DAYS)
        .collect();
    repeats.sort_by_key(|repeat| repeat.days_since);
    repeats
}

#[cfg(test)]
mod tests {
    use super::*;

    fn order(kind: OrderKind, received: &str, ended: Option<&str>, symptoms: &[&str]) -> EarlierOrder {
        EarlierOrder {
            id: "01890a5d-ac96-774b-bcce-b302099a8057".parse().unwrap(),
            kind,
            received_at: received.parse().unwrap(),
            ended_at: ended.map(|time| time.parse().unwrap()),
            symptoms: symptoms.iter().map(|key| Key::new(*key).unwrap()).collect(),
        }
    }

    #[test]
    fn a_repeat_counts_from_the_end_of_a_corrective_order_of_the_last_ninety_days() {
        let called_at = "2026-06-01T12:00:00Z".parse().unwrap();
        let symptoms = [Key::new("does_not_clean").unwrap()].into();
        let earlier = [
            order(OrderKind::Corrective, "2026-02-01T08:00:00Z", Some("2026-03-10T12:00:00Z"), &["noisy"]),
            order(
                OrderKind::Corrective,
                "2026-05-10T08:00:00Z",
                Some("2026-05-20T08:00:00Z"),
                &["does_not_clean", "noisy"],
            ),
            order(OrderKind::Corrective, "2026-01-01T08:00:00Z", Some("2026-03-02T12:00:00Z"), &[]),
            order(OrderKind::Planned, "2026-05-20T08:00:00Z", None, &[]),
            order(OrderKind::Corrective, "2026-06-01T12:00:00Z", None, &["does_not_clean"]),
        ];
        let repeats = repeats_of(called_at, &symptoms, &earlier);
        let days: Vec<_> = repeats.iter().map(|repeat| repeat.days_since).collect();
        assert_eq!(days, [12, 83], "91 days ago, planned work and this call itself are no repeats");
        assert_eq!(repeats[0].same_symptoms, symptoms);
        assert!(repeats[1].same_symptoms.is_empty());
    }

    #[test]
    fn an_open_order_however_old_is_a_possible_duplicate_and_no_repeat() {
        let called_at = "2026-06-01T12:00:00Z".parse().unwrap();
        let earlier = [
            order(OrderKind::Corrective, "2025-01-01T08:00:00Z", None, &["noisy"]),
            order(OrderKind::Corrective, "2026-05-20T08:00:00Z", Some("2026-05-21T08:00:00Z"), &["noisy"]),
            order(OrderKind::Planned, "2026-05-20T08:00:00Z", None, &[]),
        ];
        assert_eq!(possible_duplicates_of(called_at, &earlier).len(), 1);
        assert_eq!(repeats_of(called_at, &BTreeSet::new(), &earlier[..1]), []);
    }
}
