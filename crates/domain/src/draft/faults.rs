//! The general catalogue of faults, cut to the positions of the machine and scaled to its readings.

use std::collections::BTreeSet;

use super::elements;
use super::general::General;
use super::likeness::{self, Likeness};
use crate::equipment::{
    Fault, FaultCatalogue, Inspection, Measurement, MeasurementModel, Model, ObservationKey, Reads,
    Subsystem, Target, demo_combi, demo_combi_faults, demo_warewasher_faults,
};
use crate::procedure::built_in_procedures;
use crate::quantity::Scale;
use crate::text::Key;
use crate::vocabulary::Position;

/// Questions of the intake, which no procedure asks.
const INTAKE: &str = "intake";
/// How differently controls of any machine wait for the mark: some 2.5, some 4.7 usual fills (common practice, no
/// source).
const FILL_ALLOWED: f64 = 0.32;
const TIME_TO_STEAM: &str = "steam/time_to_steam";

pub(super) fn general(model: &Model, likeness: &Likeness<'_>) -> FaultCatalogue {
    let table = General::of(model);
    let mut drafted = demo_combi_faults().clone();
    (drafted.model, drafted.version, drafted.general) = (model.key.clone(), 1, true);
    let median = drafted.spreads.site_pressure_bar / demo_combi().reference.static_pressure_bar;
    drafted.spreads.site_pressure_bar = likeness::rounded(median * model.reference.static_pressure_bar);
    if !likeness.says_how_long_a_fill_may_take() {
        drafted.spreads.fill_allowed = drafted.spreads.fill_allowed.max(FILL_ALLOWED);
    }
    table.complain(&mut drafted.calls_without_fault.symptoms);
    let more = demo_warewasher_faults();
    merge(&mut drafted.measurements, &more.measurements, |a, b| a.key == b.key);
    merge(&mut drafted.inspections, &more.inspections, |a, b| a.key == b.key);
    drafted.measurements.retain_mut(|measurement| fit(measurement, model, likeness));
    drafted.inspections.retain(|inspection| is_looked_at(&inspection.key, model, &table));
    drafted.faults = faults(model);
    for fault in &mut drafted.faults {
        fault.version = 1;
        table.complain(&mut fault.symptoms);
        table.show(fault);
        if let Some(heater) = &model.heater {
            let steam = table.boils_its_water().then(|| steam_in_vain(&drafted.measurements)).flatten();
            elements::fit(fault, heater, steam);
        }
        fault.effects.retain(|effect| match &effect.on {
            Target::Measurement(key) => drafted.measurements.iter().any(|of| of.key == *key),
            Target::Parameter(_) => true,
        });
        fault.shows.retain(|shows| {
            let inspection = drafted.inspections.iter().find(|inspection| inspection.key == shows.at);
            inspection.is_some_and(|inspection| inspection.choice(&shows.choice).is_some())
        });
    }
    let shown: BTreeSet<&ObservationKey> =
        drafted.faults.iter().flat_map(|fault| fault.shows.iter().map(|shows| &shows.at)).collect();
    let tells = |inspection: &Inspection| shown.contains(&inspection.key) || !inspection.follows.is_empty();
    drafted.inspections.retain(tells);
    drafted.mandatory.retain(|test| is_done(&test.procedure, model));
    drafted
}

/// Those of the machine's positions, and of the building and the use; of two that the built-in catalogues have of
/// one position and failure mode, that of the machine which drains alike, else the combi's.
fn faults(model: &Model) -> Vec<Fault> {
    let of = |catalogue: &'static FaultCatalogue, drain: bool| -> Vec<Fault> {
        let is_asked = |fault: &&Fault| (fault.subsystem == Subsystem::Drain) == drain;
        catalogue.faults.iter().filter(is_asked).cloned().collect()
    };
    let (combi, warewasher) = (demo_combi_faults(), demo_warewasher_faults());
    let (first, second) =
        if model.has(Position::DrainPump) { (combi, warewasher) } else { (warewasher, combi) };
    let mut faults = of(combi, false);
    merge(&mut faults, &of(warewasher, false), is_same);
    let mut drain = of(first, true);
    merge(&mut drain, &of(second, true), is_same);
    faults.extend(drain);
    faults.retain(|fault| stands(fault, model));
    faults
}

fn is_same(one: &Fault, other: &Fault) -> bool {
    one.key == other.key || (one.position, one.failure_mode) == (other.position, other.failure_mode)
}

/// Adds those of which there is none yet.
fn merge<T: Clone>(all: &mut Vec<T>, more: &[T], is_same: impl Fn(&T, &T) -> bool) {
    let new: Vec<T> =
        more.iter().filter(|one| !all.iter().any(|known| is_same(known, one))).cloned().collect();
    all.extend(new);
}

fn stands(fault: &Fault, model: &Model) -> bool {
    match fault.position {
        Position::SitePressure => model.fill.is_some(),
        Position::BuildingDrain => model.drain.is_some(),
        position => position.is_external() || model.has(position),
    }
}

/// How many times as long as usual one waits for steam who waits in vain.
fn steam_in_vain(measurements: &[MeasurementModel]) -> Option<(&ObservationKey, f64)> {
    let measurement = measurements.iter().find(|of| of.key.as_str() == TIME_TO_STEAM)?;
    match measurement.reads {
        Reads::Own { healthy, unpowered: Some(unpowered), .. } => {
            Some((&measurement.key, unpowered / healthy))
        }
        _ => None,
    }
}

/// Brings a measurement to the machine; `false` where the machine has none such.
fn fit(measurement: &mut MeasurementModel, model: &Model, likeness: &Likeness<'_>) -> bool {
    let Some(of) = measurement_of(&measurement.key) else { return false };
    let Some(ratio) = likeness.ratio(&of) else { return false };
    if !likeness::applies(model, &of) || !can_be_predicted(&measurement.reads, model) {
        return false;
    }
    if measurement.scale == Scale::Logarithmic {
        let scaled = |value: f64| likeness::rounded(value * ratio);
        let both = |(low, high): (f64, f64)| (scaled(low), scaled(high));
        measurement.range = both(measurement.range);
        measurement.judged.values_mut().for_each(|range| *range = both(*range));
        if let Reads::Own { healthy, unpowered, .. } = &mut measurement.reads {
            *healthy = scaled(*healthy);
            *unpowered = unpowered.map(scaled);
        }
    }
    true
}

fn can_be_predicted(reads: &Reads, model: &Model) -> bool {
    match reads {
        Reads::StaticPressure | Reads::DynamicPressure => model.fill.is_some(),
        Reads::PressureAfterStrainer => model.has(Position::InletStrainer) && model.fill.is_some(),
        Reads::FillTime => model.fill.is_some() && model.sump.is_some(),
        Reads::CaughtVolume => model.fill.is_some() && model.start_up_call.is_some(),
        Reads::FilledVolume => model.sump.is_some(),
        Reads::FirstFlow | Reads::FirstFall | Reads::LastFifthShare | Reads::MotorCurrent => {
            model.wash_pump.is_some() && model.sump.is_some()
        }
        Reads::DrainTime => model.drain.is_some() && model.sump.is_some(),
        Reads::HeatingTime { stage } => model.heater.is_some() && model.stage_cel(*stage).is_some(),
        Reads::SiteVoltage | Reads::Own { .. } => true,
    }
}

fn is_looked_at(key: &ObservationKey, model: &Model, table: &General) -> bool {
    let asked =
        key.procedure() == INTAKE || measurement_of(key).is_some_and(|of| likeness::applies(model, &of));
    asked && table.can_be_looked_at(key)
}

fn is_done(procedure: &Key, model: &Model) -> bool {
    let known = built_in_procedures().iter().find(|known| known.key == *procedure);
    known.is_some_and(|procedure| procedure.applies_to(model))
}

fn measurement_of(key: &ObservationKey) -> Option<Measurement> {
    let statistic = key.as_str().split('/').nth(2);
    let statistic = statistic
        .map(|name| crate::equipment::SeriesStatistic::ALL.into_iter().find(|of| of.key() == name))
        .map_or(Some(None), |found| found.map(Some))?;
    let (procedure, step) = (Key::new(key.procedure()).ok()?, Key::new(key.step()).ok()?);
    Some(Measurement { procedure, step, statistic })
}
