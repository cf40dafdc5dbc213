use std::collections::BTreeSet;

use super::*;
use crate::time::Timestamp;
use crate::work::{LineStanding, PartLineState, Proof, VisitTimes};

fn at(minute: u32) -> Timestamp {
    format!("2026-03-02T10:{minute:02}:00Z").parse().unwrap()
}

fn keys(keys: &[&str]) -> BTreeSet<Key> {
    keys.iter().map(|key| Key::new(*key).unwrap()).collect()
}

fn line(state: PartLineState) -> LineStanding {
    LineStanding { part: "dosing tube (DT-2)".to_owned(), state, lacks_action: false }
}

/// An order in this state for which everything else is there.
fn complete(state: OrderState) -> Situation {
    let to_come = VisitTimes::planned(at(0));
    let arrived = VisitTimes { arrived_at: Some(at(1)), ..to_come };
    let left = VisitTimes { left_at: Some(at(9)), ..arrived };
    Situation {
        kind: OrderKind::Corrective,
        state,
        appliance: Some(ApplianceState::Down),
        symptoms: 1,
        visits: match state {
            OrderState::Assessed => vec![to_come],
            OrderState::Received => vec![],
            _ => vec![left],
        },
        has_restoration_time: true,
        machine_changed: true,
        stopgaps: vec![],
        part_lines: vec![line(PartLineState::Fitted), line(PartLineState::Withdrawn)],
        open_interlock_defeats: vec![],
        proof: Proof { full_cycle_passed: true, ..Proof::default() },
        waived: BTreeSet::new(),
    }
}

fn every_move() -> Vec<OrderMove> {
    let mut moves = vec![
        OrderMove::Assess,
        OrderMove::Plan,
        OrderMove::StartRepair,
        OrderMove::ReportRepaired,
        OrderMove::ResumeRepair,
        OrderMove::Prove,
        OrderMove::Cancel,
    ];
    moves.extend(Outcome::ALL.iter().map(|&outcome| OrderMove::Close { outcome, leaves: None }));
    moves
}

#[test]
fn every_state_and_move_when_nothing_else_is_missing() {
    use OrderMove as M;
    use OrderState as S;
    let close = |outcome| M::Close { outcome, leaves: None };
    let table: [(OrderState, Vec<OrderMove>); 8] = [
        (
            S::Received,
            vec![
                M::Assess,
                M::Cancel,
                close(Outcome::SolvedByPhone),
                close(Outcome::Referred),
                close(Outcome::Declined),
            ],
        ),
        // A visit is still to come here, so that only planning is free of it.
        (S::Assessed, vec![M::Plan]),
        (
            S::Planned,
            vec![
                M::StartRepair,
                M::Cancel,
                close(Outcome::NoFaultFound),
                close(Outcome::ExplainedUse),
                close(Outcome::Referred),
                close(Outcome::Declined),
            ],
        ),
        (
            S::UnderRepair,
            vec![
                M::ReportRepaired,
                close(Outcome::TemporaryFix),
                close(Outcome::NoFaultFound),
                close(Outcome::ExplainedUse),
                close(Outcome::Referred),
                close(Outcome::Declined),
            ],
        ),
        (S::RepairedUnproven, vec![M::ResumeRepair, M::Prove, close(Outcome::TemporaryFix)]),
        (S::Proven, vec![M::ResumeRepair, close(Outcome::Repaired), close(Outcome::TemporaryFix)]),
        (S::Closed, vec![]),
        (S::Cancelled, vec![]),
    ];
    assert_eq!(table.len(), OrderState::ALL.len());
    for (state, allowed) in table {
        let situation = complete(state);
        for order_move in every_move() {
            let missing = check(&situation, order_move);
            assert_eq!(
                missing.is_empty(),
                allowed.contains(&order_move),
                "{state} {order_move:?} {missing:?}"
            );
            assert!(!state.has_ended() || missing == [Missing::Ended], "{state} {order_move:?}");
        }
        for outcome in open_outcomes(state) {
            assert!(may_end(outcome).contains(&state));
        }
    }
}

#[test]
fn assessed_without_a_visit_ends_like_received() {
    let situation = Situation { visits: vec![], ..complete(OrderState::Assessed) };
    assert_eq!(check(&situation, OrderMove::Cancel), []);
    assert_eq!(check(&situation, OrderMove::Close { outcome: Outcome::SolvedByPhone, leaves: None }), []);
    assert_eq!(check(&situation, OrderMove::Plan), [Missing::Visit]);
}

#[test]
#[expect(clippy::too_many_lines, reason = "one table")]
fn every_guard_alone() {
    use OrderState as S;
    let close = |outcome| OrderMove::Close { outcome, leaves: None };
    let visit = VisitTimes::planned(at(0));
    let called_off = VisitTimes { called_off_at: Some(at(1)), ..visit };
    let fill_time = Key::new("fill_time").unwrap();
    let of = |failed: &[&str], taken: &[&str], failing: &[&str]| Proof {
        failed_before: keys(failed),
        taken_after: keys(taken),
        failing_after: keys(failing),
        full_cycle_passed: true,
        ..Proof::default()
    };
    let cases: Vec<(&str, Situation, OrderMove, Vec<Missing>)> = vec![
        (
            "a corrective order without a symptom",
            Situation { symptoms: 0, ..complete(S::Received) },
            OrderMove::Assess,
            vec![Missing::Symptom],
        ),
        (
            "planned work has no symptoms",
            Situation { symptoms: 0, kind: OrderKind::Planned, ..complete(S::Received) },
            OrderMove::Assess,
            vec![],
        ),
        (
            "a visit called off is no visit",
            Situation { visits: vec![called_off], ..complete(S::Assessed) },
            OrderMove::Plan,
            vec![Missing::Visit],
        ),
        (
            "nobody there, and which machine is unknown",
            Situation { visits: vec![visit], appliance: None, ..complete(S::Planned) },
            OrderMove::StartRepair,
            vec![Missing::Appliance, Missing::Arrival],
        ),
        (
            "nothing was done",
            Situation { machine_changed: false, ..complete(S::UnderRepair) },
            OrderMove::ReportRepaired,
            vec![Missing::ChangeOfMachine],
        ),
        (
            "a part fitted without an action",
            Situation {
                part_lines: vec![LineStanding { lacks_action: true, ..line(PartLineState::Fitted) }],
                ..complete(S::UnderRepair)
            },
            OrderMove::ReportRepaired,
            vec![Missing::ActionForFittedPart { parts: vec!["dosing tube (DT-2)".to_owned()] }],
        ),
        (
            "what failed before was not taken again",
            Situation {
                proof: of(&["fill_time", "drain_time"], &["drain_time"], &[]),
                ..complete(S::RepairedUnproven)
            },
            OrderMove::Prove,
            vec![Missing::AfterReadings { procedures: vec![fill_time.clone()] }],
        ),
        (
            "a waiver stands for it",
            Situation {
                proof: of(&["fill_time"], &[], &[]),
                waived: [Waived::AfterReadings].into(),
                ..complete(S::RepairedUnproven)
            },
            OrderMove::Prove,
            vec![],
        ),
        (
            "no waiver stands for a failing reading",
            Situation {
                proof: of(&["fill_time"], &["fill_time"], &["fill_time"]),
                waived: [Waived::AfterReadings, Waived::FullCycle].into(),
                ..complete(S::RepairedUnproven)
            },
            OrderMove::Prove,
            vec![Missing::StillFailing { procedures: vec![fill_time.clone()] }],
        ),
        (
            "no full cycle, and a waiver of something else",
            Situation {
                proof: Proof::default(),
                waived: [Waived::SignOff, Waived::AfterReadings].into(),
                ..complete(S::RepairedUnproven)
            },
            OrderMove::Prove,
            vec![Missing::FullCycle],
        ),
        (
            "no full cycle, waived",
            Situation {
                proof: Proof::default(),
                waived: [Waived::FullCycle].into(),
                ..complete(S::RepairedUnproven)
            },
            OrderMove::Prove,
            vec![],
        ),
        (
            "a symptom that remains is waived by nothing, one that could not be tried is",
            Situation {
                proof: Proof {
                    remaining: keys(&["leaks_front"]),
                    not_tried: keys(&["noisy"]),
                    ..complete(S::RepairedUnproven).proof
                },
                waived: [Waived::Symptoms].into(),
                ..complete(S::RepairedUnproven)
            },
            OrderMove::Prove,
            vec![Missing::SymptomRemains { symptoms: vec![Key::new("leaks_front").unwrap()] }],
        ),
        (
            "a symptom that could not be tried asks for its waiver",
            Situation {
                proof: Proof { not_tried: keys(&["noisy"]), ..complete(S::RepairedUnproven).proof },
                ..complete(S::RepairedUnproven)
            },
            OrderMove::Prove,
            vec![Missing::SymptomTrial { symptoms: vec![Key::new("noisy").unwrap()] }],
        ),
        (
            "a proof that was contradicted since closes nothing",
            Situation { proof: of(&[], &["fill_time"], &["fill_time"]), ..complete(S::Proven) },
            close(Outcome::Repaired),
            vec![Missing::StillFailing { procedures: vec![fill_time.clone()] }],
        ),
        (
            "when it worked again is not known",
            Situation { has_restoration_time: false, ..complete(S::Proven) },
            close(Outcome::Repaired),
            vec![Missing::RestoredAt],
        ),
        (
            "a stopgap is no repair",
            Situation { stopgaps: vec![fill_time.clone()], ..complete(S::Proven) },
            close(Outcome::Repaired),
            vec![Missing::LastingRepair { positions: vec![fill_time.clone()] }],
        ),
        (
            "a stopgap is a temporary fix",
            Situation { stopgaps: vec![fill_time], ..complete(S::Proven) },
            close(Outcome::TemporaryFix),
            vec![],
        ),
        (
            "an unsafe machine is not released by the way",
            Situation { appliance: Some(ApplianceState::UnsafeDoNotUse), ..complete(S::Proven) },
            close(Outcome::Repaired),
            vec![Missing::Release],
        ),
        (
            "nor by saying so",
            Situation { appliance: Some(ApplianceState::UnsafeDoNotUse), ..complete(S::Proven) },
            OrderMove::Close { outcome: Outcome::TemporaryFix, leaves: Some(ApplianceState::Up) },
            vec![Missing::Release],
        ),
        (
            "what is left unsafe is not repaired",
            complete(S::Proven),
            OrderMove::Close { outcome: Outcome::Repaired, leaves: Some(ApplianceState::UnsafeDoNotUse) },
            vec![Missing::StateOfUse { outcome: Outcome::Repaired }],
        ),
        (
            "a referred order ends on an unsafe machine",
            Situation { appliance: Some(ApplianceState::UnsafeDoNotUse), ..complete(S::UnderRepair) },
            close(Outcome::Referred),
            vec![],
        ),
        (
            "an interlock defeat, a part on its way and a visit, all at once",
            Situation {
                open_interlock_defeats: vec![at(30)],
                part_lines: vec![line(PartLineState::Promised), line(PartLineState::Fitted)],
                visits: vec![visit],
                ..complete(S::UnderRepair)
            },
            close(Outcome::Referred),
            vec![
                Missing::InterlockRemoval { ends: vec![at(30)] },
                Missing::PartLineEnds { lines: vec![line(PartLineState::Promised)] },
                Missing::VisitEnd,
            ],
        ),
        (
            "cancelling asks the same",
            Situation { part_lines: vec![line(PartLineState::Identified)], ..complete(S::Planned) },
            OrderMove::Cancel,
            vec![Missing::PartLineEnds { lines: vec![line(PartLineState::Identified)] }],
        ),
        (
            "cancelled is not an outcome of closing",
            complete(S::Received),
            close(Outcome::Cancelled),
            vec![Missing::CancelAction],
        ),
    ];
    for (name, situation, order_move, expected) in cases {
        assert_eq!(check(&situation, order_move), expected, "{name}");
    }
}

#[test]
fn a_return_visit_waits_for_every_part() {
    let lines = |states: &[PartLineState]| Situation {
        part_lines: states.iter().copied().map(line).collect(),
        ..complete(OrderState::UnderRepair)
    };
    let ready = lines(&[PartLineState::SetAside, PartLineState::Fitted, PartLineState::Withdrawn]);
    assert_eq!(ready.missing_for_visit(), []);
    let waits = lines(&[PartLineState::SetAside, PartLineState::Received]);
    assert_eq!(
        waits.missing_for_visit(),
        [Missing::PartsSetAside { lines: vec![line(PartLineState::Received)] }]
    );
    let first = Situation { visits: vec![], ..waits };
    assert_eq!(first.missing_for_visit(), [], "the first visit waits for no part");
    let second = complete(OrderState::Assessed);
    assert_eq!(second.missing_for_visit(), [Missing::OneVisitAtATime]);
    assert_eq!(complete(OrderState::Closed).missing_for_visit(), [Missing::Ended]);
}

#[test]
fn what_is_missing_is_said_in_words_that_help() {
    let situation =
        Situation { part_lines: vec![line(PartLineState::Ordered)], ..complete(OrderState::Received) };
    let words: Vec<_> = check(&situation, OrderMove::Close { outcome: Outcome::Repaired, leaves: None })
        .iter()
        .map(ToString::to_string)
        .collect();
    assert_eq!(
        words,
        [
            "a state that repaired may end: proven; the order is received",
            "an end for these parts: dosing tube (DT-2), ordered; fit, return or withdraw them",
        ]
    );
}
