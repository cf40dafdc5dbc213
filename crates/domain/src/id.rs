//! Typed identifiers: UUIDs (RFC 9562), made by whoever creates the row, so that a phone without signal can name a
//! reading once and send it as often as it needs to. What is made here is of version 7, which lies in the order of its
//! making; what others make may be of any version.

use serde::{Deserialize, Serialize};
use uuid::Uuid;

/// Why a text or a UUID is no identifier.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("an id is a UUID (RFC 9562) in lower-case hexadecimal, such as 01890a5d-ac96-774b-bcce-b302099a8057")]
pub struct InvalidId;

/// `Ok` if the UUID is of the variant and of a version of RFC 9562: neither nil nor max, which name nothing.
fn require_rfc_9562(uuid: Uuid) -> Result<Uuid, InvalidId> {
    let is_named = matches!(uuid.get_version_num(), 1..=8) && uuid.get_variant() == uuid::Variant::RFC4122;
    if is_named { Ok(uuid) } else { Err(InvalidId) }
}

macro_rules! typed_ids {
    ($($(#[$doc:meta])* $name:ident;)+) => {$(
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
        #[serde(try_from = "Uuid", into = "Uuid")]
        pub struct $name(Uuid);

        impl $name {
            pub fn uuid(self) -> Uuid {
                self.0
            }
        }

        impl TryFrom<Uuid> for $name {
            type Error = InvalidId;

            fn try_from(uuid: Uuid) -> Result<Self, InvalidId> {
                require_rfc_9562(uuid).map(Self)
            }
        }

        impl From<$name> for Uuid {
            fn from(id: $name) -> Self {
                id.0
            }
        }

        impl std::str::FromStr for $name {
            type Err = InvalidId;

            fn from_str(text: &str) -> Result<Self, InvalidId> {
                text.parse::<Uuid>().map_err(|_| InvalidId)?.try_into()
            }
        }

        impl std::fmt::Display for $name {
            fn fmt(&self, formatter: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                self.0.fmt(formatter)
            }
        }
    )+};
}

typed_ids! {
    /// A company or institution that runs kitchens.
    CustomerId;
    /// A part of the service company with its own territory.
    BranchId;
    /// Somebody to reach at a customer or a site.
    ContactId;
    /// One kitchen.
    SiteId;
    /// One set of water values of a site.
    SiteWaterId;
    /// One machine in a kitchen.
    ApplianceId;
    /// One part as fitted in one machine.
    FittedPartId;
    /// Somebody of the service company, or a program acting for it.
    PersonId;
    TokenId;
    /// One call of a customer.
    CallId;
    /// One answer that was had by ringing back.
    CallAnswerId;
    WorkOrderId;
    /// One wrong unit that was put right.
    MachineCorrectionId;
    VisitId;
    TestRunId;
    FindingId;
    /// One action taken on a position, which begins a new epoch of evidence.
    ActionTakenId;
    PartId;
    PartLineId;
    QuoteId;
    ApprovalId;
    WaitingId;
    InterlockDefeatId;
    /// A stop of a machine's use, until somebody releases it.
    StopId;
    WaiverId;
    NoteId;
    /// A van or a depot.
    StoreId;
    PartMovementId;
    /// One learning from what was read, and the knowledge version that it makes.
    KnowledgeVersionId;
    /// One entry that takes a reading out of the references, or back in.
    KnownGoodRemovalId;
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_version_is_taken_and_what_names_nothing_refused() {
        // RFC 9562, appendix A and B: an example of each version.
        for named in [
            "c232ab00-9414-11ec-b3c8-9f6bdeced846",
            "5df41881-3aed-3515-88a7-2f4a814cf09e",
            "919108f7-52d1-4320-9bac-f847db4148a8",
            "2ed6657d-e927-568b-95e1-2665a8aea6a2",
            "1ec9414c-232a-6b00-b3c8-9f6bdeced846",
            "017f22e2-79b0-7cc3-98c4-dc0c0c07398f",
            "2489e9ad-2ee2-8e00-8ec9-32d5f69181c0",
        ] {
            assert!(named.parse::<CustomerId>().is_ok(), "{named}");
        }
        for nothing in [Uuid::nil().to_string(), Uuid::max().to_string(), "kitchen".to_owned()] {
            assert_eq!(nothing.parse::<CustomerId>(), Err(InvalidId));
        }
    }
}
