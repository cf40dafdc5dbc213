//! What was read is kept: once, however often the form is sent.

use application::Refusal;
use application::see_visit::{SeeVisit, VisitFile};
use application::test_run::{RecordTestRuns, Recorded};
use axum::extract::State;
use axum::http::{HeaderMap, Uri, header};
use axum::response::{AppendHeaders, IntoResponse, Response};
use domain::evidence::{Phase, TestRun};
use domain::id::TestRunId;
use domain::work::{OrderKind, OrderState};
use uuid::Uuid;

use super::answers::{Answers, Faults};
use super::device::Device;
use super::{defeats, procedure, visit_in};
use crate::access::Posted;
use crate::order::segment;
use crate::page::{PageFault, Shell};
use crate::see;
use crate::state::ConsoleState;

pub(super) async fn record(
    State(state): State<ConsoleState>,
    uri: Uri,
    headers: HeaderMap,
    Posted(caller, fields): Posted,
) -> Result<Response, PageFault> {
    let visit = visit_in(&uri)?;
    let of = state.application.ask(&caller, SeeVisit(visit)).await?;
    let procedure = procedure::find(&of, segment(&uri, 4))?;
    let shell = Shell::of(wording::text(procedure.title.as_str()).into_owned(), &caller);
    let refused = |faults: &Faults| procedure::steps_refused(shell.clone(), &of, procedure, &fields, faults);
    let answers = Answers::of(procedure, of.file.model.as_deref(), &fields);
    let mut faults = answers.faults.clone();
    // A version that is newer than the form asks for other things.
    if fields.parse::<u32>("version").and_then(Result::ok) != Some(procedure.version) {
        faults.add("", wording::say("procedure-changed"));
    }
    let id = fields.parse::<Uuid>("id").and_then(Result::ok).and_then(|id| TestRunId::try_from(id).ok());
    if id.is_none() {
        faults.add("", wording::say("run-without-id"));
    }
    let new_device = || format!("browser-{}", state.application.next_id());
    let (Some(id), Some(device), Some(appliance)) =
        (id, Device::of(&headers, new_device), of.file.appliance.as_ref())
    else {
        return Ok(refused(&faults));
    };
    if !faults.is_empty() {
        return Ok(refused(&faults));
    }
    let now = state.application.now();
    let run = TestRun {
        id,
        appliance: appliance.id,
        work_order: Some(of.file.order.id),
        visit: Some(visit),
        procedure: procedure.id(),
        phase: phase(&of),
        epoch: 0,
        device_id: device.id(),
        sequence: now.instant().timestamp_micros().unsigned_abs(),
        taken_at: now,
        conditions: answers.conditions,
        readings: answers.readings,
        not_tested: answers.not_tested,
        interlock_defeat: procedure.defeating_steps().next().and_then(|_| defeats::usable(&of)),
        supersedes: None,
        retraction_reason: None,
    };
    let kept = of.runs.iter().find(|kept| kept.id == id);
    let is_kept_already = kept.is_some_and(|kept| says_the_same(kept, &run));
    if !is_kept_already {
        let readings = run.readings.clone();
        let record = RecordTestRuns {
            versions: state.application.versions().clone(),
            runs: vec![run],
            clock_correction_microseconds: 0,
        };
        let mut faults = Faults::default();
        match state.application.perform(&caller, record).await?.into_iter().next() {
            Some(Recorded::Created(_) | Recorded::AlreadyThere(_)) => {}
            Some(Recorded::Invalid(found)) => faults = Faults::of_run(&found, &readings),
            Some(Recorded::IdTaken) => faults.add("", wording::say("run-sent-already")),
            Some(Recorded::ClockToSet(detail)) => faults.add("", detail),
            None => return Err(Refusal::Internal("a run of which nothing became".to_owned()).into()),
        }
        if !faults.is_empty() {
            return Ok(refused(&faults));
        }
    }
    let cookie = device.cookie().map(|cookie| (header::SET_COOKIE, cookie));
    Ok((AppendHeaders(cookie), see(&format!("/day/{visit}/runs/{id}"))).into_response())
}

/// Whether a form that was sent again says what is kept: the moment of sending is not part of it.
fn says_the_same(kept: &TestRun, sent: &TestRun) -> bool {
    kept.procedure == sent.procedure
        && kept.appliance == sent.appliance
        && kept.readings.len() == sent.readings.len()
        && sent.readings.iter().all(|reading| kept.reading(&reading.step) == Some(reading))
        && kept.not_tested == sent.not_tested
        && kept.conditions == sent.conditions
}

/// When in the course of the job something is read now.
pub(super) fn phase(of: &VisitFile) -> Phase {
    let order = &of.file.order;
    let is_changed = of.file.verdicts.as_ref().is_ok_and(|verdicts| verdicts.current_epoch > 0);
    match (order.state, is_changed) {
        (OrderState::RepairedUnproven | OrderState::Proven, _) => Phase::AfterRepair,
        (_, true) => Phase::DuringRepair,
        (_, false) if order.kind == OrderKind::Corrective => Phase::BeforeRepair,
        (_, false) => Phase::Baseline,
    }
}
