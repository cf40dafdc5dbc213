//! Which readings a technician sees to have failed: outside the model's functional limit, or an entry of
//! a list that stands for a failure. The limits and lists are the catalogue's; comparing is all that is
//! done here.

use domain::equipment::{FunctionalLimit, Model, SeriesStatistic};
use domain::evidence::{Reading, Series};
use domain::procedure::{Procedure, built_in_procedures};
use domain::quantity::QuantityKind;
use domain::vocabulary::Condition;

/// The functional limits of one model.
#[derive(Debug, Clone, PartialEq)]
pub struct Limits {
    model: &'static Model,
    of_water: Vec<FunctionalLimit>,
}

impl Limits {
    pub fn of(model: &'static Model) -> Self {
        Self { model, of_water: model.water_limits.functional_limits() }
    }

    /// Whether any of these readings of that procedure failed.
    pub fn fail(&self, procedure: &str, readings: &[Reading]) -> bool {
        let Some(procedure) = built_in_procedures().iter().find(|known| known.key.as_str() == procedure)
        else {
            return false;
        };
        readings.iter().any(|reading| self.fails(procedure, reading))
    }

    fn fails(&self, procedure: &Procedure, reading: &Reading) -> bool {
        let step = procedure.step(&reading.step);
        if let Some(choice) = &reading.choice {
            let entry = step.and_then(|step| step.choice(choice));
            return entry.is_some_and(|entry| entry.condition == Condition::Failed);
        }
        let Some(quantity) = step.and_then(domain::procedure::Step::quantity) else { return false };
        let of_step = |statistic| {
            self.of_water.iter().chain(&self.model.functional_limits).find(move |limit| {
                limit.of.statistic == statistic
                    && limit.of.step == reading.step
                    && limit.of.procedure == procedure.key
            })
        };
        let outside = |statistic, quantity: QuantityKind, value: Option<f64>| {
            of_step(statistic).zip(value).is_some_and(|(limit, value)| {
                let canonical = |bound| quantity.to_canonical(bound, &limit.unit).ok();
                limit.lower.and_then(canonical).is_some_and(|lower| value < lower)
                    || limit.upper.and_then(canonical).is_some_and(|upper| value > upper)
            })
        };
        if let Some(series) = &reading.series {
            return SeriesStatistic::ALL.into_iter().any(|statistic| {
                let value = reduced(series, statistic, quantity);
                outside(Some(statistic), statistic.quantity(quantity), value)
            });
        }
        let value = reading.value.as_ref().and_then(|value| value.as_read.canonical(quantity).ok());
        outside(None, quantity, value)
    }
}

/// A statistic of a series in its canonical unit: flow, seconds, per cent.
fn reduced(series: &Series, statistic: SeriesStatistic, quantity: QuantityKind) -> Option<f64> {
    let first = *series.values.first()?;
    let end = *series.times_s.last()?;
    match statistic {
        SeriesStatistic::FirstFlow => quantity.to_canonical(first, &series.unit).ok(),
        SeriesStatistic::FirstFall => {
            let fallen = series.values.iter().position(|value| *value < 0.9 * first);
            fallen.and_then(|index| series.times_s.get(index).copied())
        }
        SeriesStatistic::LastFifthShare => {
            let late = series.values.iter().zip(&series.times_s).filter(|(_, time)| **time >= 0.8 * end);
            let (sum, count) = late.fold((0.0, 0.0), |(sum, count), (value, _)| (sum + value, count + 1.0));
            (first > 0.0).then(|| 100.0 * sum / count / first)
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bench::key;
    use domain::equipment::demo_combi;
    use domain::evidence::Measured;
    use domain::quantity::AsRead;

    fn fails(procedure: &str, step: &'static str, value: f64, unit: &str) -> bool {
        let measured = Measured::new(AsRead::new("x", value, unit).unwrap());
        Limits::of(demo_combi()).fail(procedure, &[Reading::value(key(step), measured)])
    }

    #[test]
    fn limits_are_those_of_the_model() {
        assert!(!fails("fill_time", "fill_time", 19.9, "s") && fails("fill_time", "fill_time", 20.1, "s"));
        assert!(fails("fill_time", "fill_time", 0.5, "min"), "units are converted");
        assert!(
            fails("sump_holds", "level_fall", 6.0, "mm") && !fails("sump_holds", "level_fall", 4.0, "mm")
        );
        let choice = |choice| {
            let reading = Reading::choice(key("inlet_strainer"), key(choice));
            Limits::of(demo_combi()).fail("strainer_look", &[reading])
        };
        assert!(choice("clogged") && !choice("clear"));
    }

    #[test]
    fn a_series_fails_by_its_statistics() {
        let run = |values: Vec<f64>| {
            let times_s = (0..values.len()).map(|second| second as f64).collect();
            let series = Series { values, times_s, unit: "L/min".to_owned(), instrument: None };
            Limits::of(demo_combi()).fail("wash_flow_hold", &[Reading::series(key("flow"), series)])
        };
        assert!(!run(vec![30.0; 61]));
        assert!(run(vec![20.0; 61]), "weak from the start");
        assert!(run((0..61).map(|second| if second < 3 { 30.0 } else { 12.0 }).collect()), "fades");
    }
}
