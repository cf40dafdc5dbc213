use crate::record::{Records, close};
use domain::probability::{gamma_quantile, gamma_tails};
use domain::reliability::mean_time::{Ended, mean_time_between_failures};
use domain::repeats::Observed;
use domain::repeats::cumulative::{mean_at, mean_cumulative};
use domain::repeats::listing::benjamini_hochberg;
use domain::repeats::prior::{Observation, fit_prior};
use domain::repeats::rate::garwood;
use domain::repeats::trend::{laplace, power_law};
use domain::repeats::within::{End, share_repeated};
use serde_json::Value;

const RECORDS: &str = include_str!("../../../../tests/reference/event_rates.json");
const OPEN_DATA: &str = include_str!("../../../../tests/reference/open_data.json");

/// The records of lives are checked in `lives.rs`.
const LIVES: [&str; 4] = ["T10-052", "T10-054", "T10-056", "T10-058"];

fn one(from: f64, to: f64, events: Vec<f64>) -> [Observed; 1] {
    [Observed { from, to, events }]
}

fn open_data() -> Value {
    serde_json::from_str(OPEN_DATA).unwrap()
}

fn numbers(list: &Value) -> Vec<f64> {
    list.as_array().unwrap().iter().map(|number| number.as_f64().unwrap()).collect()
}

#[test]
fn event_rates_agree_with_published_and_library_values() {
    let records = Records::read(RECORDS);

    for id in [1, 2, 3, 4, 6, 7, 8, 10, 11, 12, 13, 14, 16, 17, 18, 19, 20] {
        let count = records.get(&format!("T10-{id:03}"));
        let limits = garwood(count.input("x") as u32, count.input("cl")).unwrap();
        count.check(&[limits.lower, limits.upper]);
        count.check_closely(1, limits.upper, 1e-12);
    }
    let none = records.get("T10-021");
    none.check(&[1.0 / mean_time_between_failures(1.0, 0, none.input("cl"), Ended::Time).unwrap().lower]);
    let mtbf = records.get("T10-022");
    let ended =
        mean_time_between_failures(mtbf.input("T_h"), mtbf.input("r") as u32, 0.90, Ended::Time).unwrap();
    mtbf.check(&[ended.lower, ended.upper.unwrap()]);
    mtbf.check_closely(0, ended.lower, 1e-12);
    let aircraft = records.get("T10-059");
    let hours = aircraft.inputs("hours");
    let failed =
        mean_time_between_failures(hours.iter().sum(), hours.len() as u32, 0.95, Ended::Failure).unwrap();
    aircraft.check(&[
        f64::from(failed.failures),
        failed.estimate.unwrap(),
        failed.lower,
        failed.upper.unwrap(),
    ]);

    let pump = records.get("T10-032");
    let (shape, rate) = (pump.input("alpha") + pump.input("x"), pump.input("beta") + pump.input("t"));
    let limit = |p| gamma_quantile(shape, p) / rate;
    pump.check(&[limit(0.05), limit(0.95), gamma_tails(shape, 0.5 * rate).upper]);

    let tests = records.get("T10-034");
    let p = tests.inputs("p");
    let q = benjamini_hochberg(&p).unwrap();
    let rejected = q.iter().filter(|q| **q <= tests.input("q")).count();
    tests.check(&[rejected as f64, p[rejected - 1]]);

    records.leave(&LIVES);
    trends(&records);
    cumulative_functions(&records);
    records.all_used();
}

fn trends(records: &Records) {
    let time_ended = records.get("T10-037");
    let repairs = time_ended.inputs("t_h");
    let observed = one(0.0, time_ended.input("T_h"), repairs.clone());
    let test = laplace(&observed).unwrap();
    time_ended.check(&[test.statistic, test.p]);
    let failure_ended = records.get("T10-038");
    let (last, before) = repairs.split_last().unwrap();
    let test = laplace(&one(0.0, *last, before.to_vec())).unwrap();
    failure_ended.check(&[test.statistic, test.p]);
    let coal = records.get("T10-060");
    let years = numbers(&open_data()["coal_mining_disasters"]["years"]);
    coal.check(&[laplace(&one(1851.0, 1962.9998, years)).unwrap().statistic]);

    let fit = power_law(&observed, 0.90).unwrap();
    let handbook = records.get("T10-039");
    let degrees = 2.0 * f64::from(fit.n);
    handbook.check(&[degrees / fit.shape, degrees, fit.p / 2.0]);
    records.get("T10-043").check(&[fit.shape, fit.log_scale.exp()]);
    let modified = records.get("T10-041");
    let (shape, end) = (fit.shape_unbiased.unwrap(), modified.input("T_h"));
    let n = f64::from(fit.n);
    modified.check(&[1.0 - shape, n / end.powf(shape), shape, end / (n * shape)]);

    let handbook = records.get("T10-044");
    let end = handbook.input("T_h");
    let fit = power_law(&one(0.0, end, handbook.inputs("t_h")), 0.90).unwrap();
    let intensity = fit.intensity(end);
    // The sixth value, a goodness of fit, is computed by nothing here.
    let values = [fit.shape, fit.log_scale.exp(), fit.shape_unbiased.unwrap(), intensity, intensity.recip()];
    for (index, value) in values.into_iter().enumerate() {
        handbook.check_one(index, value);
    }
    records.get("T10-047").check(&[fit.shape_lower, fit.shape_upper]);

    let growth = records.get("T10-048");
    let times = growth.inputs("t");
    let end = *times.last().unwrap();
    let n = times.len() as f64;
    let fit = power_law(&one(0.0, end, times), 0.90).unwrap();
    growth.check(&[fit.shape, fit.log_scale.exp(), fit.intensity(end).recip(), end / n]);
}

fn cumulative_functions(records: &Records) {
    let five = records.get("T10-049");
    let systems: Vec<Observed> = five
        .lists("systems (last value = end of observation)")
        .into_iter()
        .map(|mut events| Observed { from: 0.0, to: events.pop().unwrap(), events })
        .collect();
    let function = mean_cumulative(&systems).unwrap();
    five.check(&function.iter().map(|step| step.mean).collect::<Vec<_>>());

    let seats = records.get("T10-051");
    let data = open_data();
    let engines: Vec<Observed> = data["valve_seats"]["engines"]
        .as_array()
        .unwrap()
        .iter()
        .map(|engine| Observed {
            from: 0.0,
            to: engine["to"].as_f64().unwrap(),
            events: numbers(&engine["events"]),
        })
        .collect();
    let function = mean_cumulative(&engines).unwrap();
    let replaced: usize = engines.iter().map(|engine| engine.events.len()).sum();
    let mut values = vec![replaced as f64, engines.len() as f64];
    values.extend(seats.inputs("ages_d").into_iter().map(|age| mean_at(&function, age)));
    seats.check(&values);
}

/// Computed with lifelines 0.30.3 (`AalenJohansenFitter`, variance and log(−log) limits).
#[test]
fn the_share_repeated_agrees_with_a_reference_library() {
    let times = [2, 5, 7, 11, 13, 17, 19, 23, 29, 31, 37, 41, 43, 47, 53, 59, 61, 67, 71, 73];
    let ends = [1, 0, 1, 2, 1, 0, 1, 2, 0, 1, 0, 2, 1, 0, 1, 0, 2, 0, 1, 0];
    let at_risk: Vec<(f64, End)> = times
        .into_iter()
        .zip(ends)
        .map(|(time, end)| (f64::from(time), [End::Censored, End::Repeat, End::Removed][end]))
        .collect();
    for (days, share, lower, upper) in
        [(23.0, 0.212103, 0.065678, 0.413507), (59.0, 0.422300, 0.183584, 0.645073)]
    {
        let repeated = share_repeated(&at_risk, days, 0.95).unwrap();
        close(repeated.share, share, 5e-6, "share");
        close(repeated.lower.unwrap(), lower, 2e-5, "lower limit");
        close(repeated.upper.unwrap(), upper, 2e-5, "upper limit");
    }
    let at_23 = share_repeated(&at_risk, 23.0, 0.95).unwrap();
    assert_eq!((at_23.n, at_23.repeats, at_23.removals, at_23.at_risk), (20, 4, 2, 12));
}

/// The ten power-plant pumps of record T10-030, each expecting its share of the mean rate. Computed with
/// numpy: 400,000 steps of expectation and maximisation on the same grid, no directional derivative above 1e-12.
#[test]
fn the_distribution_of_rates_agrees_with_long_iteration() {
    let failures = [5, 1, 5, 14, 3, 19, 1, 1, 4, 22];
    let hours = [94.32, 15.72, 62.88, 125.76, 5.24, 31.44, 1.048, 1.048, 2.096, 10.48];
    let rate = 75.0 / hours.iter().sum::<f64>();
    let pumps: Vec<Observation> =
        failures.into_iter().zip(hours).map(|(n, time)| Observation { n, expected: time * rate }).collect();
    let prior = fit_prior(&pumps).unwrap();
    assert!(prior.shortfall <= 0.01, "{}", prior.shortfall);
    let means = [
        0.39712796858168997,
        0.40087659958616917,
        0.39779018021456025,
        0.3986940421397843,
        2.831838812025409,
        2.8698728504785507,
        4.441578625347426,
        4.441578625347426,
        8.366250462902807,
        9.528221910022758,
    ];
    for (pump, mean) in pumps.iter().zip(means) {
        close(prior.assess(*pump).unwrap().mean, mean, 2e-3, "posterior mean");
    }
}
