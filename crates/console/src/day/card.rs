//! Where somebody is sent, as far as a small screen has room for: the machine, the way there, what was said, what to heed.

use application::Caller;
use application::see_order::OrderFile;
use application::visit::Visit;
use domain::danger::Danger;
use domain::work::VisitState;

use crate::order::{axes, complaint, model, said};
use crate::parts::moves::{Attempt, Move};
use crate::when;

pub(super) struct CardView {
    pub number: i64,
    pub to: String,
    pub when: String,
    pub state: String,
    pub kitchen: String,
    pub place: String,
    /// What one has to know of the kitchen before one comes.
    pub facts: Vec<String>,
    pub machine: String,
    pub model: String,
    pub complaint: String,
    pub urgency: String,
    pub words: Option<(String, String)>,
    pub repeats: Vec<String>,
    /// Who can be rung: name, number as it is shown, number as it is dialled.
    pub ring: Option<(String, String, String)>,
    pub stops: Vec<String>,
    pub dangers: Vec<String>,
    pub cautions: Vec<String>,
    pub moves: Vec<Move>,
}

impl CardView {
    pub fn of(file: &OrderFile, visit: &Visit, caller: &Caller, attempt: &Attempt) -> Self {
        let zone = when::zone(file.site.time_zone.as_str());
        let at = format!("/day/{}", visit.id);
        let state = visit.times.state();
        let (key, since) = match state {
            VisitState::ToCome => ("card-to-come", visit.times.planned_at),
            VisitState::OnTheWay => {
                ("card-on-the-way", visit.times.set_out_at.unwrap_or(visit.times.planned_at))
            }
            VisitState::OnSite => ("card-on-site", visit.times.arrived_at.unwrap_or(visit.times.planned_at)),
            VisitState::Left | VisitState::Missed | VisitState::CalledOff => {
                ("card-over", visit.times.left_at.unwrap_or(visit.times.planned_at))
            }
        };
        let since = when::clock(zone, since, file.now);
        let call = file.call.as_ref();
        let cautions = call.into_iter().flat_map(|intake| &intake.precautions);
        let cautions = cautions.map(|of| crate::parts::caution(*of));
        let said = said(file);
        let maker = axes::Maker { at: at.clone(), file, caller, zone, attempt, next_id: &uuid::Uuid::nil };
        let steps = if caller.require("act_on_visit").is_ok() { maker.steps(visit) } else { Vec::new() };
        Self {
            number: file.order.number,
            when: when::clock(zone, visit.times.planned_at, file.now),
            state: wording::say_with(key, &[("at", since.into())]),
            kitchen: file.site.name.to_string(),
            place: file.site.place.to_string(),
            facts: axes::notes::facts(&file.site),
            machine: file.appliance.as_ref().map_or_else(
                || wording::say("machine-not-known"),
                |appliance| appliance.position_label.to_string(),
            ),
            model: model(file),
            complaint: complaint(file),
            urgency: wording::term("urgency", file.order.urgency.word()).into_owned(),
            repeats: said.as_ref().map(|said| said.repeats.clone()).unwrap_or_default(),
            words: said.map(|said| (said.words, said.by)),
            ring: ring(file),
            stops: axes::open_stops(file),
            dangers: call
                .into_iter()
                .flat_map(|intake| &intake.call.dangers)
                .map(|danger: &Danger| wording::term("danger", danger.word()).into_owned())
                .collect(),
            cautions: cautions.collect(),
            moves: own_first(steps, &visit.id.to_string(), attempt),
            to: at,
        }
    }
}

/// The steps of a visit as he says them; the one that comes next stands out.
fn own_first(steps: Vec<Move>, visit: &str, attempt: &Attempt) -> Vec<Move> {
    let mut steps: Vec<Move> =
        steps.into_iter().map(|step| said_by_him(step, visit).after(attempt)).collect();
    if let Some(next) = steps.first_mut() {
        next.is_main = true;
    }
    steps
}

fn said_by_him(mut step: Move, visit: &str) -> Move {
    step.label = match step.key.strip_suffix(visit) {
        Some("set_out-") => wording::say("step-set-out"),
        Some("arrive-") => wording::say("step-arrive"),
        Some("leave-") => wording::say("step-leave"),
        Some("miss-") => wording::say("step-miss"),
        Some("call_off-") => wording::say("step-call-off"),
        _ => step.label,
    };
    step
}

fn ring(file: &OrderFile) -> Option<(String, String, String)> {
    let contact = file.contact.as_ref()?;
    let phone = contact.phone.as_ref()?.to_string();
    let dialled: String = phone.chars().filter(|letter| letter.is_ascii_digit() || *letter == '+').collect();
    let name = contact.name.as_ref().map(ToString::to_string).unwrap_or_default();
    Some((name, phone, dialled)).filter(|(_, _, dialled)| !dialled.is_empty())
}
