//! A visit is told by its times, not by a state that somebody sets.

use super::{Missing, Situation, VisitAction, VisitResult};
use crate::time::Timestamp;

/// The times of a visit.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct VisitTimes {
    pub planned_at: Timestamp,
    pub set_out_at: Option<Timestamp>,
    pub arrived_at: Option<Timestamp>,
    pub left_at: Option<Timestamp>,
    pub missed_at: Option<Timestamp>,
    pub called_off_at: Option<Timestamp>,
    /// Set with `left_at`.
    pub result: Option<VisitResult>,
}

/// What its times say of a visit.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum VisitState {
    ToCome,
    OnTheWay,
    OnSite,
    Left,
    Missed,
    CalledOff,
}

impl VisitState {
    pub const fn is_open(self) -> bool {
        matches!(self, Self::ToCome | Self::OnTheWay | Self::OnSite)
    }

    const fn words(self) -> &'static str {
        match self {
            Self::ToCome => "still to come",
            Self::OnTheWay => "on the way",
            Self::OnSite => "on site",
            Self::Left => "over",
            Self::Missed => "missed",
            Self::CalledOff => "called off",
        }
    }
}

#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum VisitError {
    #[error("the visit is {}; {action} is not possible then", state.words())]
    NotNow { state: VisitState, action: VisitAction },
    #[error("must not lie before {earlier}, when the visit's last step was taken")]
    BeforeTheLastStep { earlier: Timestamp },
    #[error("say what the visit came to (result)")]
    ResultMissing,
    #[error("only leave has a result")]
    ResultWithoutLeaving,
}

impl VisitTimes {
    pub const fn planned(planned_at: Timestamp) -> Self {
        Self {
            planned_at,
            set_out_at: None,
            arrived_at: None,
            left_at: None,
            missed_at: None,
            called_off_at: None,
            result: None,
        }
    }

    pub const fn state(&self) -> VisitState {
        match self {
            Self { left_at: Some(_), .. } => VisitState::Left,
            Self { called_off_at: Some(_), .. } => VisitState::CalledOff,
            Self { missed_at: Some(_), .. } => VisitState::Missed,
            Self { arrived_at: Some(_), .. } => VisitState::OnSite,
            Self { set_out_at: Some(_), .. } => VisitState::OnTheWay,
            _ => VisitState::ToCome,
        }
    }

    /// Whether a step may be taken now, its time and result aside. Setting out may be left out: what
    /// counts is who was there when.
    pub const fn allows(&self, action: VisitAction) -> bool {
        use VisitState::{OnSite, OnTheWay, ToCome};
        match action {
            VisitAction::SetOut => matches!(self.state(), ToCome),
            VisitAction::Arrive | VisitAction::Miss | VisitAction::CallOff => {
                matches!(self.state(), ToCome | OnTheWay)
            }
            VisitAction::Leave => matches!(self.state(), OnSite),
        }
    }
}

/// The visit's times after a step at `at`.
pub fn act(
    visit: &VisitTimes,
    action: VisitAction,
    at: Timestamp,
    result: Option<VisitResult>,
) -> Result<VisitTimes, VisitError> {
    if !visit.allows(action) {
        return Err(VisitError::NotNow { state: visit.state(), action });
    }
    if let Some(earlier) = visit.arrived_at.or(visit.set_out_at).filter(|earlier| at < *earlier) {
        return Err(VisitError::BeforeTheLastStep { earlier });
    }
    if action == VisitAction::Leave && result.is_none() {
        return Err(VisitError::ResultMissing);
    }
    if action != VisitAction::Leave && result.is_some() {
        return Err(VisitError::ResultWithoutLeaving);
    }
    let mut after = *visit;
    match action {
        VisitAction::SetOut => after.set_out_at = Some(at),
        VisitAction::Arrive => after.arrived_at = Some(at),
        VisitAction::Leave => (after.left_at, after.result) = (Some(at), result),
        VisitAction::Miss => after.missed_at = Some(at),
        VisitAction::CallOff => after.called_off_at = Some(at),
    }
    Ok(after)
}

impl Situation {
    /// What keeps a visit from being booked. One at a time: two people on one visit are one visit. A
    /// return visit is booked when every part is set aside.
    pub fn missing_for_visit(&self) -> Vec<Missing> {
        let mut missing = Vec::new();
        if self.state.has_ended() {
            missing.push(Missing::Ended);
            return missing;
        }
        if self.open_visit().is_some() {
            missing.push(Missing::OneVisitAtATime);
        }
        let lines = self.lines_not_set_aside();
        if self.attended() && !lines.is_empty() {
            missing.push(Missing::PartsSetAside { lines });
        }
        missing
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(minute: u32) -> Timestamp {
        format!("2026-03-02T10:{minute:02}:00Z").parse().unwrap()
    }

    #[test]
    fn every_step_is_taken_or_refused_by_what_the_times_say() {
        use VisitAction::{Arrive, CallOff, Leave, Miss, SetOut};
        let to_come = VisitTimes::planned(at(0));
        let on_the_way = VisitTimes { set_out_at: Some(at(1)), ..to_come };
        let on_site = VisitTimes { arrived_at: Some(at(2)), ..on_the_way };
        let left = VisitTimes { left_at: Some(at(3)), result: Some(VisitResult::Diagnosed), ..on_site };
        let missed = VisitTimes { missed_at: Some(at(1)), ..to_come };
        let called_off = VisitTimes { called_off_at: Some(at(1)), ..to_come };
        let table: [(VisitTimes, VisitState, &[VisitAction]); 6] = [
            (to_come, VisitState::ToCome, &[SetOut, Arrive, Miss, CallOff]),
            (on_the_way, VisitState::OnTheWay, &[Arrive, Miss, CallOff]),
            (on_site, VisitState::OnSite, &[Leave]),
            (left, VisitState::Left, &[]),
            (missed, VisitState::Missed, &[]),
            (called_off, VisitState::CalledOff, &[]),
        ];
        for (visit, state, allowed) in table {
            assert_eq!(visit.state(), state);
            for &action in VisitAction::ALL {
                let result = (action == Leave).then_some(VisitResult::Diagnosed);
                let after = act(&visit, action, at(30), result);
                assert_eq!(after.is_ok(), allowed.contains(&action), "{state:?} {action}");
                assert!(after.is_ok() || after == Err(VisitError::NotNow { state, action }));
            }
        }
    }

    #[test]
    fn times_go_forward_and_leaving_has_a_result() {
        let on_site = VisitTimes { arrived_at: Some(at(10)), ..VisitTimes::planned(at(0)) };
        let error = act(&on_site, VisitAction::Leave, at(9), Some(VisitResult::Repaired));
        assert_eq!(error, Err(VisitError::BeforeTheLastStep { earlier: at(10) }));
        assert_eq!(act(&on_site, VisitAction::Leave, at(11), None), Err(VisitError::ResultMissing));
        let to_come = VisitTimes::planned(at(0));
        let error = act(&to_come, VisitAction::Arrive, at(1), Some(VisitResult::Repaired));
        assert_eq!(error, Err(VisitError::ResultWithoutLeaving));
    }
}
