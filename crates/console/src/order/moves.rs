//! Moves of an order and of what belongs to it: each a use case of the interface's, answered by the order's page.

pub(crate) mod actions;
pub(crate) mod change;
pub(crate) mod defeats;
pub(crate) mod findings;
pub(crate) mod lines;
pub(crate) mod machine;
pub(crate) mod money;
pub(crate) mod notes;
pub(crate) mod visits;
pub(crate) mod waits;

use std::collections::BTreeMap;

use application::work_order::{MoveSaying, MoveWorkOrder};
use application::{Application, Refusal, UseCase};
use axum::extract::State;
use axum::http::Uri;
use axum::response::{IntoResponse, Response};
use chrono_tz::Tz;
use domain::id::{SiteId, WorkOrderId};
use domain::text::{Key, Name, Words};
use domain::time::Timestamp;
use domain::work::{OrderAction, SymptomResult};
use uuid::Uuid;

use super::door::Door;
use super::segment;
use crate::access::Posted;
use crate::fields::Fields;
use crate::page::PageFault;
use crate::parts::moves::Attempt;
use crate::see;
use crate::state::ConsoleState;
use crate::when;

/// The order that a form speaks of, and what it says.
pub(crate) struct Ask<'a> {
    pub application: &'a Application,
    pub order: WorkOrderId,
    pub site: SiteId,
    pub zone: Tz,
    pub uri: &'a Uri,
    pub fields: &'a Fields,
}

/// Carries a move out and shows the page that it was made from: as it stands after it, or with the refusal beside its button.
pub(crate) async fn carry_out<U: UseCase>(
    state: &ConsoleState,
    Posted(caller, fields): Posted,
    uri: &Uri,
    key: &str,
    at: &str,
    use_case: impl FnOnce(&Ask<'_>) -> Result<U, Refusal>,
) -> Response {
    let door = match Door::of(uri) {
        Ok(door) => door,
        Err(fault) => return fault.into_response(),
    };
    let done = match door.order(state, &caller).await {
        Ok(known) => {
            let zone = when::zone(&known.time_zone);
            let ask = Ask {
                application: &state.application,
                order: known.id,
                site: known.site,
                zone,
                uri,
                fields: &fields,
            };
            match use_case(&ask) {
                Ok(use_case) => state.application.perform(&caller, use_case).await.map(|_| ()),
                Err(refusal) => Err(refusal),
            }
        }
        Err(refusal) => return PageFault::from(refusal).into_response(),
    };
    match done {
        Ok(()) => see(&format!("{}#{at}", door.path())),
        Err(refusal @ Refusal::NotFound { .. }) => PageFault::from(refusal).into_response(),
        Err(refusal) if refusal.is_for_the_caller() => {
            let attempt = Attempt::refused(key, &refusal, fields);
            door.refused(state, &caller, &attempt).await
        }
        Err(refusal) => PageFault::from(refusal).into_response(),
    }
}

impl Ask<'_> {
    /// The id in the path at this place.
    pub fn id_in_path<T: TryFrom<Uuid>>(&self, at: usize) -> Result<T, Refusal> {
        let missing = Refusal::NotFound { what: "part of this order" };
        let id = segment(self.uri, at).parse::<Uuid>().ok().and_then(|id| T::try_from(id).ok());
        id.ok_or(missing)
    }

    /// The id in a field.
    pub fn id<T: TryFrom<Uuid>>(&self, name: &str) -> Result<T, Refusal> {
        self.optional_id(name)?.ok_or_else(|| invalid(name, "fault-field-needed"))
    }

    pub fn optional_id<T: TryFrom<Uuid>>(&self, name: &str) -> Result<Option<T>, Refusal> {
        let Some(text) = self.fields.get(name) else { return Ok(None) };
        let id = text.parse::<Uuid>().ok().and_then(|id| T::try_from(id).ok());
        id.map(Some).ok_or_else(|| invalid(name, "fault-field-choice"))
    }

    pub fn version(&self) -> Result<i64, Refusal> {
        self.fields
            .parse("version")
            .and_then(Result::ok)
            .ok_or_else(|| invalid("version", "fault-field-needed"))
    }

    /// A word of a closed list.
    pub fn word<T: std::str::FromStr>(&self, name: &str) -> Result<T, Refusal> {
        self.optional_word(name)?.ok_or_else(|| invalid(name, "fault-field-needed"))
    }

    pub fn optional_word<T: std::str::FromStr>(&self, name: &str) -> Result<Option<T>, Refusal> {
        self.fields.parse(name).transpose().map_err(|_| invalid(name, "fault-field-choice"))
    }

    /// A time in the kitchen's zone.
    pub fn when(&self, name: &str) -> Result<Timestamp, Refusal> {
        let text = self.fields.get(name).ok_or_else(|| invalid(name, "fault-field-needed"))?;
        when::of_field(self.zone, text).ok_or_else(|| invalid(name, "fault-field-time"))
    }

    /// When something happened.
    pub fn happened(&self, name: &str) -> Result<Timestamp, Refusal> {
        Ok(when::in_minute(self.when(name)?, self.application.now()))
    }

    pub fn day(&self, name: &str) -> Result<Option<chrono::NaiveDate>, Refusal> {
        self.fields.parse(name).transpose().map_err(|_| invalid(name, "fault-field-day"))
    }

    pub fn words(&self, name: &str) -> Result<Option<Words>, Refusal> {
        let words = self.fields.get(name).map(Words::new).transpose();
        words.map_err(|error| Refusal::invalid(format!("/{name}"), error.to_string()))
    }

    pub fn name(&self, name: &str) -> Result<Option<Name>, Refusal> {
        let text = self.fields.get(name).map(Name::new).transpose();
        text.map_err(|error| Refusal::invalid(format!("/{name}"), error.to_string()))
    }

    pub fn key(&self, name: &str) -> Result<Option<Key>, Refusal> {
        let key = self.fields.get(name).map(Key::new).transpose();
        key.map_err(|_| invalid(name, "fault-field-choice"))
    }

    pub fn needed_key(&self, name: &str) -> Result<Key, Refusal> {
        self.key(name)?.ok_or_else(|| invalid(name, "fault-field-needed"))
    }

    pub fn needed_words(&self, name: &str) -> Result<Words, Refusal> {
        self.words(name)?.ok_or_else(|| invalid(name, "fault-field-needed"))
    }

    /// The ids in all fields of a name; a field may hold several with spaces between them.
    pub fn ids<T: TryFrom<Uuid>>(&self, name: &str) -> Result<Vec<T>, Refusal> {
        let ids = self.fields.all(name).flat_map(str::split_whitespace).map(|id| {
            let id = id.parse::<Uuid>().ok().and_then(|id| T::try_from(id).ok());
            id.ok_or_else(|| invalid(name, "fault-field-choice"))
        });
        ids.collect()
    }

    /// How many, of what there are not many of.
    pub fn quantity(&self, name: &str, most: u32) -> Result<u32, Refusal> {
        let quantity = self.fields.parse(name).and_then(Result::ok);
        let quantity = quantity.filter(|quantity| (1..=most).contains(quantity));
        quantity.ok_or_else(|| invalid(name, "fault-quantity"))
    }

    /// The word at this place of the path.
    pub fn word_in_path<T: std::str::FromStr>(&self, at: usize) -> Result<T, Refusal> {
        segment(self.uri, at).parse().map_err(|_| Refusal::NotFound { what: "move" })
    }
}

/// Something that is wrong with a field.
pub(crate) fn invalid(name: &str, key: &str) -> Refusal {
    Refusal::invalid(format!("/{name}"), wording::say(key))
}

pub(crate) async fn move_order(State(state): State<ConsoleState>, uri: Uri, posted: Posted) -> Response {
    let key = segment(&uri, 4).to_owned();
    carry_out(&state, posted, &uri, &key, "order-axis", |ask| {
        let action: OrderAction = ask.word_in_path(4)?;
        let saying = MoveSaying {
            restored_at: match action {
                OrderAction::ReportRepaired => Some(ask.happened("restored_at")?),
                _ => None,
            },
            symptoms: symptoms(ask.fields)?,
            outcome: ask.optional_word("outcome")?,
            appliance_state: ask.optional_word("appliance_state")?,
            signed_off_by: ask.optional_id("signed_off_by")?,
            why: ask.words("why")?.map(|why| why.to_string()),
        };
        let versions = ask.application.versions().clone();
        Ok(MoveWorkOrder { versions, id: ask.order, expected_version: ask.version()?, action, saying })
    })
    .await
}

/// What became of each symptom, from fields named after them.
fn symptoms(fields: &Fields) -> Result<BTreeMap<Key, SymptomResult>, Refusal> {
    let tried =
        fields.pairs().iter().filter_map(|(name, result)| Some((name.strip_prefix("symptom:")?, result)));
    tried
        .map(|(symptom, result)| {
            let unknown = || invalid("symptoms", "fault-field-choice");
            Ok((Key::new(symptom).map_err(|_| unknown())?, result.parse().map_err(|_| unknown())?))
        })
        .collect()
}
