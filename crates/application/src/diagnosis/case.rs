//! From what is stored of an order to what a diagnosis is told beside the readings.

use std::collections::BTreeSet;

use domain::diagnosis::{FoundState, Intake, PriorFinding, Standing};
use domain::equipment::{Fault, FaultCatalogue, ObservationKey};
use domain::judgement::Background;
use domain::text::Key;
use domain::vocabulary::{Condition, Position, Symptom};
use store::call::Answer;
use store::diagnosis::NotWeighed;
use store::order_standing::{OrderStanding, StandingAction, StandingFinding};

/// The complaint of the call: the first of its symptoms. One of the company's own is no complaint that a
/// catalogue knows.
pub(crate) fn complaint(symptoms: &[Key]) -> Option<Symptom> {
    symptoms.first().map(|symptom| symptom.as_str().parse().unwrap_or(Symptom::Other))
}

/// What is known of an order as its epoch began, and what of it cannot be weighed. `failing` are the procedures in which
/// something fails, by epoch.
pub(crate) fn background(
    catalogue: &FaultCatalogue,
    order: &OrderStanding,
    failing: &[BTreeSet<Key>],
    epoch: u32,
) -> (Background, Vec<NotWeighed>) {
    let mut not_weighed = Vec::new();
    let background = Background {
        intake: intake(catalogue, order, epoch, &mut not_weighed),
        standing: standing(catalogue, order, epoch, &mut not_weighed),
        altitude_m: order.altitude_m,
        failed_before: failing.iter().take(epoch as usize).flatten().cloned().collect(),
        stopped: order.stopped.clone(),
        told: order.dangers.clone(),
        symptoms: order.symptoms.iter().filter_map(|symptom| symptom.as_str().parse().ok()).collect(),
    };
    (background, not_weighed)
}

/// The complaint, and those answers that the catalogue asks for. What was answered on the telephone speaks of the
/// machine before anything was changed.
fn intake(
    catalogue: &FaultCatalogue,
    standing: &OrderStanding,
    epoch: u32,
    not_weighed: &mut Vec<NotWeighed>,
) -> Intake {
    let mut intake = Intake { complaint: complaint(&standing.symptoms), answers: Vec::new() };
    if epoch > 0 {
        return intake;
    }
    for Answer { question, answer } in &standing.answers {
        match choice(catalogue, question, answer.as_str()) {
            Ok(choice) => intake.answers.push((question.clone(), choice)),
            Err(reason) => not_weighed.push(NotWeighed { what: format!("intake/{question}"), reason }),
        }
    }
    intake
}

/// An answer as one of the choices of its question, however it was written.
fn choice(catalogue: &FaultCatalogue, question: &Key, answer: &str) -> Result<Key, String> {
    let asked = ObservationKey::new(format!("intake/{question}")).ok();
    let asked = catalogue.inspections.iter().find(|inspection| Some(&inspection.key) == asked.as_ref());
    let asked = asked.ok_or("the catalogue of the model asks no such question")?;
    let answer = answer.trim().to_lowercase().replace([' ', '-'], "_");
    let known = asked.choices.iter().find(|choice| choice.as_str() == answer);
    known.cloned().ok_or_else(|| {
        let choices: Vec<&str> = asked.choices.iter().map(Key::as_str).collect();
        format!("it is answered with one of {}", choices.join(", "))
    })
}

/// How the order stood when an epoch began: what was found before it, and what was done about that.
fn standing(
    catalogue: &FaultCatalogue,
    order: &OrderStanding,
    epoch: u32,
    not_weighed: &mut Vec<NotWeighed>,
) -> Standing {
    let changes = order.actions.iter().filter(|action| action.changes_the_machine());
    let before: Vec<&StandingAction> = changes.take(epoch as usize).collect();
    let mut standing =
        Standing { epoch, findings: Vec::new(), wet_work: before.iter().any(|action| is_wet(action)) };
    let Some(began_at) = before.last().map(|action| action.taken_at) else { return standing };
    for finding in order.findings.iter().filter(|finding| finding.found_at < began_at) {
        let is_mended = before
            .iter()
            .any(|action| action.position == finding.position && action.taken_at >= finding.found_at);
        let state = match finding.finding.as_str().parse() {
            Ok(Condition::Ok) => FoundState::Absent,
            Ok(Condition::Degraded | Condition::Failed) if is_mended => FoundState::Mended,
            Ok(Condition::Degraded | Condition::Failed) => FoundState::Stands,
            _ => continue,
        };
        let meant = faults_meant(catalogue, finding);
        if meant.is_empty() && state != FoundState::Absent {
            not_weighed.push(NotWeighed {
                what: format!("the finding on the {}", finding.position),
                reason: "it names no fault of the catalogue, and its failure mode does not tell one"
                    .to_owned(),
            });
        }
        let fault = |fault: &Fault| PriorFinding { fault: fault.key.clone(), state };
        standing.findings.extend(meant.into_iter().map(fault));
    }
    standing
}

/// The faults of which a finding speaks: the one that it names or its failure mode tells; where the position is
/// in order, all of that position.
pub(crate) fn faults_meant<'a>(catalogue: &'a FaultCatalogue, finding: &StandingFinding) -> Vec<&'a Fault> {
    if let Some(key) = &finding.fault {
        return catalogue.fault(key.as_str()).into_iter().collect();
    }
    let Ok(position) = finding.position.as_str().parse::<Position>() else { return Vec::new() };
    if finding.finding.as_str().parse() == Ok(Condition::Ok) {
        return catalogue.at(position).collect();
    }
    let mode = finding.failure_mode.as_ref().and_then(|mode| mode.as_str().parse().ok());
    mode.and_then(|mode| catalogue.meant(position, mode)).into_iter().collect()
}

/// Whether water was let out, or in where it does not belong.
fn is_wet(action: &StandingAction) -> bool {
    action.position.as_str().parse().is_ok_and(Position::holds_water)
}
