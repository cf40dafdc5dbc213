use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use super::correction;
use super::evidence_index::{EvidenceIndex, step_of};
use super::limit::{Record, Records};
use super::prerequisite::{first_unmet, own_condition};
use super::reference;
use super::series::reduce_step;
use super::uncertainty::{Assessed, assess};
use super::{
    AppliedLimit, Assessment, Conformity, GradingError, GradingInput, HealthyReference, HealthyReferences,
    Reason, Said, condition, conformity, conformity_of_bound, probability_of_conformity, sentence,
};
use crate::equipment::{Bounds, Measurement, Model, SeriesStatistic};
use crate::evidence::{Calibration, Censored, Reading, TestRun};
use crate::id::TestRunId;
use crate::physics::PhysicsError;
use crate::physics::liquid::Water;
use crate::physics::pump::{Pump, SpraySystem, operating_flow};
use crate::physics::sump::Sump;
use crate::procedure::{Blocks, Precondition, Procedure, Reads, Step};
use crate::quantity::{QuantityKind, Scale, Temperature};
use crate::text::{Key, Words};
use crate::vocabulary::{Condition, FailureMode, Position};

/// What one measurement or choice of one run says.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Verdict {
    pub test_run: TestRunId,
    pub procedure_version: u32,
    pub of: Measurement,
    /// The position whose condition it proposes; none where it speaks of the whole machine.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub position: Option<Position>,
    /// Values and limits are in its canonical unit; none for a choice.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub quantity: Option<QuantityKind>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub choice: Option<Key>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub censored: Option<Censored>,
    /// Does the machine do its job in this kitchen?
    pub as_found: Grading,
    /// Is the part healthy?
    pub at_reference: Grading,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub limit: Option<AppliedLimit>,
    /// The value at reference beside what healthy machines show.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub comparison: Option<Comparison>,
    pub condition: Condition,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub failure_mode: Option<FailureMode>,
    /// What words for it are made of.
    #[serde(default)]
    pub said: Said,
    /// All of it in plain English, for whoever computes without the words.
    pub sentence: String,
}

/// One grading of one value against the functional limit.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Grading {
    pub conformity: Conformity,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub value: Option<f64>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub standard_uncertainty: Option<f64>,
    /// That the value lies inside the limit; none for a bound, a choice, or without a limit.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub probability: Option<f64>,
    /// Why it is inconclusive.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub reason: Option<Reason>,
}

#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Comparison {
    pub reference: HealthyReference,
    pub usual: bool,
}

/// A step that was not done.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct NotTested {
    pub test_run: TestRunId,
    pub procedure: Key,
    pub step: Key,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub position: Option<Position>,
    pub reason: Words,
}

/// The evidence of an epoch made ready: grades one reading or all of them.
pub struct Grader<'a> {
    pub(super) model: &'a Model,
    pub(super) evidence: EvidenceIndex<'a>,
    /// Litres in the sump from which the model's pump reaches full flow.
    pub(super) level_for_full_flow: Option<f64>,
    /// At the model's reference temperature.
    pub(super) water: Result<Water, PhysicsError>,
    records: Records,
    references: &'a dyn HealthyReferences,
}

impl<'a> Grader<'a> {
    pub fn new(input: &GradingInput<'a>) -> Result<Self, GradingError> {
        Ok(Self {
            model: input.model,
            evidence: EvidenceIndex::new(input)?,
            level_for_full_flow: level_for_full_flow(input.model),
            water: water(input.model),
            records: Records::new(input.model, input.appliance_limits)?,
            references: input.references,
        })
    }

    /// Grades everything.
    pub fn assess(&self) -> Result<Assessment, GradingError> {
        let mut verdicts = Vec::new();
        let mut not_tested = Vec::new();
        for (run, procedure) in &self.evidence.runs {
            for reading in &run.readings {
                self.grade_into(run, procedure, reading, &mut verdicts)?;
            }
            for (key, reason) in &run.not_tested {
                let step = step_of(procedure, key)?;
                not_tested.push(NotTested {
                    test_run: run.id,
                    procedure: procedure.key.clone(),
                    step: key.clone(),
                    position: step.position(self.model),
                    reason: reason.clone(),
                });
            }
        }
        verdicts.extend(self.stated_conditions()?);
        let is_latest = |verdict: &&Verdict| {
            let latest = self.evidence.latest(&verdict.of.procedure, &verdict.of.step);
            latest.is_none_or(|found| found.run.id == verdict.test_run)
        };
        let conditions = condition::propose_all(self.model, verdicts.iter().filter(is_latest), &not_tested);
        Ok(Assessment { verdicts, not_tested, conditions })
    }

    /// What the runs state of the building as their own conditions, graded as if its step had been read:
    /// each once, as it was stated last, and only where that step was not read.
    fn stated_conditions(&self) -> Result<Vec<Verdict>, GradingError> {
        let mut stated = BTreeMap::new();
        for (run, procedure) in &self.evidence.runs {
            for precondition in &procedure.preconditions {
                let Precondition::Read { procedure, step, .. } = precondition else { continue };
                let Some(procedure) = self.evidence.newest(procedure) else { continue };
                let Some(step) = procedure.step(step) else { continue };
                let Some(quantity) = step.quantity() else { continue };
                let is_read = self.evidence.latest(&procedure.key, &step.key).is_some();
                if let (false, Some(value)) = (is_read, own_condition(run, quantity)) {
                    stated.insert((&procedure.key, &step.key), (*run, procedure, step, value));
                }
            }
        }
        let graded = stated.into_values().filter_map(|(run, procedure, step, value)| {
            let case = Case { run, procedure, step, position: Some(step.position(self.model)?) };
            let of =
                Measurement { procedure: procedure.key.clone(), step: step.key.clone(), statistic: None };
            let assessed = assess(value, step, run.taken_at);
            Some(assessed.and_then(|assessed| self.grade_number(&case, of, Some(assessed), None, None)))
        });
        graded.collect()
    }

    /// Grades one reading: no verdict for one that only qualifies others, several for a series.
    pub fn grade_reading(&self, run: &TestRun, reading: &Reading) -> Result<Vec<Verdict>, GradingError> {
        let mut verdicts = Vec::new();
        self.grade_into(run, self.evidence.procedure_of(run)?, reading, &mut verdicts)?;
        Ok(verdicts)
    }

    fn grade_into(
        &self,
        run: &TestRun,
        procedure: &Procedure,
        reading: &Reading,
        verdicts: &mut Vec<Verdict>,
    ) -> Result<(), GradingError> {
        let step = step_of(procedure, &reading.step)?;
        let position = step.position(self.model);
        if matches!(step.reads, Reads::Choose { .. }) {
            verdicts.push(self.grade_choice(run, procedure, step, position, reading)?);
        } else if position.is_some() {
            let every = first_unmet(self, run, procedure, step, Blocks::EveryGrading)?;
            let at_reference = match &every {
                Some(_) => None,
                None => first_unmet(self, run, procedure, step, Blocks::AtReference)?,
            };
            for (of, assessed) in Self::measurements(run, procedure, step, reading)? {
                let case = Case { run, procedure, step, position };
                verdicts.push(self.grade_number(
                    &case,
                    of,
                    assessed,
                    every.as_ref(),
                    at_reference.as_ref(),
                )?);
            }
        }
        Ok(())
    }

    /// The numbers in a reading: its value, or the statistics of its series.
    pub(super) fn measurements(
        run: &TestRun,
        procedure: &Procedure,
        step: &Step,
        reading: &Reading,
    ) -> Result<Vec<(Measurement, Option<Assessed>)>, GradingError> {
        let of =
            |statistic| Measurement { procedure: procedure.key.clone(), step: step.key.clone(), statistic };
        match (&step.reads, &reading.value, &reading.series) {
            (Reads::Measure { .. }, Some(value), None) => {
                Ok(vec![(of(None), Some(assess(value, step, run.taken_at)?))])
            }
            (Reads::Record { quantity, .. }, None, Some(series)) => SeriesStatistic::ALL
                .into_iter()
                .map(|statistic| {
                    let assessed = reduce_step(series, *quantity, statistic, run.taken_at, &step.key)?;
                    Ok((of(Some(statistic)), assessed))
                })
                .collect(),
            _ => Err(GradingError::ReadingDoesNotFit { step: step.key.clone() }),
        }
    }

    /// The value against the limit, whatever else holds. `None` is a series in which nothing flowed.
    pub(super) fn raw(&self, assessed: Option<Assessed>, of: &Measurement, step: &Step) -> Grading {
        raw(assessed, &self.records.of(of), quantity(of, step))
    }

    fn grade_number(
        &self,
        case: &Case<'_>,
        of: Measurement,
        assessed: Option<Assessed>,
        every: Option<&Reason>,
        at_reference: Option<&Reason>,
    ) -> Result<Verdict, GradingError> {
        let Case { run, procedure, step, position } = *case;
        let (record, quantity) = (self.records.of(&of), quantity(&of, step));
        let mut during = None;
        let mut as_found = raw(assessed, &record, quantity);
        if let Some(reason) = every {
            as_found.block(reason.clone());
        }
        let at_reference = match (assessed, every.or(at_reference)) {
            (None, _) => as_found.clone(),
            (Some(read), Some(reason)) => {
                let mut grading = Grading::inconclusive(None, reason.clone());
                grading.standard_uncertainty = None;
                if !step.is_corrected() {
                    grading.value = Some(read.value);
                    grading.standard_uncertainty = Some(read.standard_uncertainty);
                }
                grading
            }
            (Some(read), None) => match correction::at_reference(self, run, procedure, step, read)? {
                Ok(corrected) => {
                    during = corrected.dynamic_pressure;
                    let at = Assessed {
                        value: corrected.value,
                        standard_uncertainty: corrected.standard_uncertainty,
                        ..read
                    };
                    raw(Some(at), &record, quantity)
                }
                Err(reason) => Grading::inconclusive(None, reason),
            },
        };
        let comparison = self.compare(&of, &record, &at_reference, assessed);
        let condition = condition::propose(&at_reference, comparison.as_ref());
        let quantity =
            step.quantity().map(|quantity| of.statistic.map_or(quantity, |s| s.quantity(quantity)));
        let mut verdict = Verdict {
            test_run: run.id,
            procedure_version: procedure.version,
            of,
            position,
            quantity,
            choice: None,
            censored: assessed.and_then(|read| read.censored),
            as_found,
            at_reference,
            limit: record.limit,
            comparison,
            condition,
            failure_mode: None,
            said: Said::of(self.model, step, None, during),
            sentence: String::new(),
        };
        verdict.sentence = sentence::of_number(&verdict, step, self.model, during);
        Ok(verdict)
    }

    fn grade_choice(
        &self,
        run: &TestRun,
        procedure: &Procedure,
        step: &Step,
        position: Option<Position>,
        reading: &Reading,
    ) -> Result<Verdict, GradingError> {
        let chosen = reading.choice.as_ref().and_then(|choice| step.choice(choice));
        let Some(chosen) = chosen else {
            return Err(GradingError::ReadingDoesNotFit { step: step.key.clone() });
        };
        let conformity = match chosen.condition {
            Condition::Failed => Conformity::Fail,
            Condition::Ok | Condition::Degraded => Conformity::Pass,
            Condition::Inconclusive | Condition::NotTested => Conformity::Inconclusive,
        };
        let plain =
            Grading { conformity, value: None, standard_uncertainty: None, probability: None, reason: None };
        let (mut as_found, mut at_reference) = (plain.clone(), plain);
        if let Some(reason) = first_unmet(self, run, procedure, step, Blocks::EveryGrading)? {
            as_found.block(reason.clone());
            at_reference.block(reason);
        } else if let Some(reason) = first_unmet(self, run, procedure, step, Blocks::AtReference)? {
            at_reference.block(reason);
        }
        let is_blocked = at_reference.reason.is_some();
        let condition = if is_blocked { Condition::Inconclusive } else { chosen.condition };
        let sentence = sentence::of_choice(step, chosen, &as_found, &at_reference);
        Ok(Verdict {
            test_run: run.id,
            procedure_version: procedure.version,
            of: Measurement { procedure: procedure.key.clone(), step: step.key.clone(), statistic: None },
            position,
            quantity: None,
            choice: Some(chosen.key.clone()),
            censored: None,
            as_found,
            at_reference,
            limit: None,
            comparison: None,
            condition,
            failure_mode: chosen.failure_mode.filter(|_| !is_blocked),
            said: Said::of(self.model, step, Some(chosen), None),
            sentence,
        })
    }

    /// Usual or unusual: only for a value that is known, at reference, and not blocked.
    fn compare(
        &self,
        of: &Measurement,
        record: &Record,
        at_reference: &Grading,
        assessed: Option<Assessed>,
    ) -> Option<Comparison> {
        let is_known = match &at_reference.reason {
            None | Some(Reason::NoLimit) => assessed?.censored.is_none(),
            Some(_) => false,
        };
        let value = at_reference.value.filter(|_| is_known)?;
        let reference = reference::best(of, record, self.references)?;
        Some(Comparison { reference, usual: reference.bounds.contains(value) })
    }
}

#[derive(Clone, Copy)]
struct Case<'a> {
    run: &'a TestRun,
    procedure: &'a Procedure,
    step: &'a Step,
    position: Option<Position>,
}

impl Grading {
    fn of(read: &Assessed, limits: Bounds, scale: Scale) -> Self {
        let (value, u) = (read.value, read.standard_uncertainty);
        let mut grading = Self {
            conformity: Conformity::Inconclusive,
            value: Some(value),
            standard_uncertainty: Some(u),
            probability: None,
            reason: None,
        };
        if limits.is_open() {
            grading.reason = Some(Reason::NoLimit);
            return grading;
        }
        if read.calibration == Calibration::LongExpired {
            grading.reason = Some(Reason::CalibrationLongExpired);
        } else if let Some(censored) = read.censored {
            grading.conformity = conformity_of_bound(value, censored, limits);
            grading.reason =
                (grading.conformity == Conformity::Inconclusive).then_some(Reason::StoppedTooEarly);
        } else {
            grading.probability = probability_of_conformity(value, u, limits, scale);
            grading.conformity = conformity(value, u, limits);
            if grading.conformity == Conformity::Inconclusive {
                let width = limits.upper.zip(limits.lower).map_or(0.0, |(upper, lower)| upper - lower);
                grading.reason =
                    Some(Reason::InstrumentTooCoarse { standard_uncertainty: u, allowed: width / 4.0 });
            }
        }
        grading
    }

    fn inconclusive(value: Option<f64>, reason: Reason) -> Self {
        Self {
            conformity: Conformity::Inconclusive,
            value,
            standard_uncertainty: None,
            probability: None,
            reason: Some(reason),
        }
    }

    fn block(&mut self, reason: Reason) {
        self.conformity = Conformity::Inconclusive;
        self.probability = None;
        self.reason = Some(reason);
    }
}

fn raw(assessed: Option<Assessed>, record: &Record, quantity: Option<QuantityKind>) -> Grading {
    let Some(read) = assessed else { return Grading::inconclusive(None, Reason::NothingFlowed) };
    let scale = quantity.map_or(Scale::Linear, QuantityKind::scale);
    Grading::of(&read, record.functional(), scale)
}

/// What a measurement of the step measures.
fn quantity(of: &Measurement, step: &Step) -> Option<QuantityKind> {
    let read = step.quantity()?;
    Some(of.statistic.map_or(read, |statistic| statistic.quantity(read)))
}

fn water(model: &Model) -> Result<Water, PhysicsError> {
    Water::at(Temperature::from_celsius(model.reference.water_temperature_cel)?)
}

/// What the sump must hold for full flow: the starving volume and the water on its way round.
fn level_for_full_flow(model: &Model) -> Option<f64> {
    let (sump, pump) = (model.sump.as_ref()?, model.wash_pump.as_ref()?);
    let flow = operating_flow(&Pump::try_from(pump).ok()?, &SpraySystem::try_from(pump).ok()?, 1.0).ok()?;
    let volume = Sump::try_from(sump).ok()?.volume_for_full_flow(flow).ok()?;
    Some(volume.litres())
}
