//! Defeated interlocks on a phone: recorded before a step needs one, in a red frame until they are off.

use application::interlock_defeat::OpenInterlockDefeat;
use application::see_order::OrderFile;
use application::see_visit::{InterlockDefeat, NewInterlockDefeat, SecondPerson, SeeVisit, VisitFile};
use application::{Caller, Refusal};
use axum::extract::State;
use axum::http::Uri;
use axum::response::Response;
use chrono::TimeDelta;
use domain::id::{InterlockDefeatId, PersonId, WorkOrderId};
use domain::procedure::{LONGEST_DEFEAT_MINUTES, Procedure};
use domain::text::Name;
use domain::time::Timestamp;
use uuid::Uuid;

use super::{procedure, visit_in};
use crate::access::Posted;
use crate::fields::Fields;
use crate::order::moves::invalid;
use crate::page::{PageFault, Shell};
use crate::parts::moves::{Attempt, Input, Move};
use crate::see;
use crate::state::ConsoleState;
use crate::when;

/// An interlock that is defeated now.
pub(crate) struct DefeatView {
    pub text: String,
    /// Its time has run out.
    pub is_over: bool,
    pub remove: String,
}

/// The defeat that is not removed yet; there is one at most.
pub(super) fn open_of(of: &VisitFile) -> Option<DefeatView> {
    let defeat = of.file.defeats.iter().find(|defeat| defeat.removed_at.is_none())?;
    Some(view(&of.file, &format!("/day/{}", of.visit.id), defeat))
}

/// The defeat under which a step may be done now.
pub(super) fn usable(of: &VisitFile) -> Option<InterlockDefeatId> {
    let lasts = |defeat: &&InterlockDefeat| defeat.removed_at.is_none() && defeat.expires_at > of.file.now;
    of.file.defeats.iter().find(lasts).map(|defeat| defeat.id)
}

/// A defeat as it is shown on the page at this address.
pub(crate) fn view(file: &OrderFile, at: &str, defeat: &InterlockDefeat) -> DefeatView {
    let zone = when::zone(file.site.time_zone.as_str());
    let beside = match &defeat.second {
        SecondPerson::Colleague(id) => {
            let known = file.technicians.iter().find(|(person, _)| person == id);
            known.map_or_else(|| wording::say("defeat-colleague"), |(_, name)| name.clone())
        }
        SecondPerson::Contact(_) => wording::say("defeat-contact"),
        SecondPerson::OfKitchen(name) => name.to_string(),
    };
    let until = when::clock(zone, defeat.expires_at, file.now);
    let is_over = defeat.expires_at <= file.now;
    let key = if is_over { "defeat-is-over" } else { "defeat-stands" };
    DefeatView {
        text: wording::say_with(key, &[("until", until.into()), ("beside", beside.into())]),
        is_over,
        remove: format!("{at}/defeats/{}/remove", defeat.id),
    }
}

/// The form that records one before a procedure's step needs it.
pub(super) fn form(of: &VisitFile, procedure: &Procedure, next_id: &dyn Fn() -> Uuid) -> Move {
    let to = format!("/day/{}/defeats", of.visit.id);
    let form = Move::new("defeat", to, wording::say("defeat-record"));
    let form = form.with("id", next_id()).with("procedure", &procedure.key);
    asking(form, &of.file, limit(procedure))
}

/// With who stands by, and for how long.
pub(crate) fn asking(form: Move, file: &OrderFile, limit: u32) -> Move {
    let others = file.technicians.iter().map(|(id, name)| (id.to_string(), name.clone()));
    let others = std::iter::once((String::new(), wording::say("defeat-nobody-of-ours"))).chain(others);
    form.asking(Input::line("second_person", "field-second-person", false))
        .asking(Input::choice("colleague", "field-second-colleague", others))
        .asking(Input::line("minutes", "field-defeat-minutes", true).holding(limit.to_string()))
}

/// How long a procedure lets an interlock be defeated, in minutes.
fn limit(procedure: &Procedure) -> u32 {
    let limits = procedure.defeating_steps().filter_map(|step| step.interlock_defeat.as_ref());
    limits
        .map(|defeat| defeat.time_limit_minutes)
        .min()
        .unwrap_or(LONGEST_DEFEAT_MINUTES)
        .min(LONGEST_DEFEAT_MINUTES)
}

pub(super) async fn open(
    State(state): State<ConsoleState>,
    uri: Uri,
    Posted(caller, fields): Posted,
) -> Result<Response, PageFault> {
    let visit = visit_in(&uri)?;
    let of = state.application.ask(&caller, SeeVisit(visit)).await?;
    let procedure = procedure::find(&of, fields.raw("procedure"))?;
    let done = match defeat(of.file.order.id, limit(procedure), &fields, state.application.now()) {
        Ok(new) => perform(&state, &caller, new).await,
        Err(refusal) => Err(refusal),
    };
    match done {
        Ok(()) => Ok(see(&format!("/day/{visit}/procedures/{}", procedure.key))),
        Err(refusal) if refusal.is_for_the_caller() => {
            let shell = Shell::of(wording::text(procedure.title.as_str()).into_owned(), &caller);
            let attempt = Attempt::refused("defeat", &refusal, fields);
            Ok(procedure::refused(&state, shell, &of, procedure, &attempt))
        }
        Err(refusal) => Err(refusal.into()),
    }
}

async fn perform(state: &ConsoleState, caller: &Caller, new: NewInterlockDefeat) -> Result<(), Refusal> {
    state.application.perform(caller, OpenInterlockDefeat(new)).await.map(|_| ())
}

/// What a form says of a defeat that begins now.
pub(crate) fn defeat(
    work_order: WorkOrderId,
    limit: u32,
    fields: &Fields,
    now: Timestamp,
) -> Result<NewInterlockDefeat, Refusal> {
    let id = fields.parse::<Uuid>("id").and_then(Result::ok);
    let id = id.and_then(|id| InterlockDefeatId::try_from(id).ok());
    let minutes =
        fields.parse::<u32>("minutes").and_then(Result::ok).filter(|minutes| (1..=limit).contains(minutes));
    let minutes = minutes.ok_or_else(|| {
        let detail = wording::say_with("fault-defeat-minutes", &[("limit", i64::from(limit).into())]);
        Refusal::invalid("/minutes", detail)
    })?;
    let colleague = fields.parse::<Uuid>("colleague").and_then(Result::ok);
    let second = match (colleague.and_then(|id| PersonId::try_from(id).ok()), fields.get("second_person")) {
        (Some(colleague), None) => SecondPerson::Colleague(colleague),
        (None, Some(name)) => SecondPerson::OfKitchen(
            Name::new(name).map_err(|error| Refusal::invalid("/second_person", error.to_string()))?,
        ),
        (Some(_), Some(_)) => return Err(invalid("second_person", "fault-two-second-persons")),
        (None, None) => return Err(invalid("second_person", "fault-no-second-person")),
    };
    let ends = Timestamp::new(now.instant() + TimeDelta::minutes(i64::from(minutes)));
    Ok(NewInterlockDefeat {
        id: id.ok_or_else(|| invalid("id", "fault-field-needed"))?,
        work_order,
        second,
        opened_at: Some(now),
        expires_at: ends.map_err(|error| Refusal::Internal(error.to_string()))?,
    })
}
