//! Typed identifiers: UUID version 7 (RFC 9562, 5.7), made by whoever creates the row, so that a
//! phone without signal can name a reading once and send it as often as it needs to.

use serde::{Deserialize, Serialize};
use uuid::Uuid;

/// Why a text or a UUID is no identifier.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("an id is a UUID version 7 in lower-case hexadecimal, such as 01890a5d-ac96-774b-bcce-b302099a8057")]
pub struct InvalidId;

/// `Ok` if the UUID is of version 7 and of the RFC 9562 variant.
pub fn require_version_7(uuid: Uuid) -> Result<Uuid, InvalidId> {
    let is_version_7 = uuid.get_version_num() == 7 && uuid.get_variant() == uuid::Variant::RFC4122;
    if is_version_7 { Ok(uuid) } else { Err(InvalidId) }
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
                require_version_7(uuid).map(Self)
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
    fn version_7_is_taken_and_version_4_refused() {
        assert!("01890a5d-ac96-774b-bcce-b302099a8057".parse::<CustomerId>().is_ok());
        assert_eq!("d1b3f0a8-4c0e-4f5a-9d2b-0c7e1a2b3c4d".parse::<CustomerId>(), Err(InvalidId));
        assert_eq!("kitchen".parse::<CustomerId>(), Err(InvalidId));
    }
}
