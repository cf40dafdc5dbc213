use crate::random::Uniform;
use crate::record::Records;
use domain::known_good::drift::{
    CumulativeSums, DriftReading, DriftRules, MovingAverage, Spread, drift_chart,
};
use domain::probability::normal_quantile;
use domain::quantity::Scale;

const RECORDS: &str = include_str!("../../../../tests/reference/control_charts.json");

#[test]
fn control_charts_agree_with_published_values() {
    let records = Records::read(RECORDS);

    let widths = records.get("T09-006");
    let mut average = MovingAverage::new(widths.input("lambda"), 3.0);
    let exact: Vec<f64> = (0..5)
        .map(|_| {
            average.add(0.0);
            widths.input("s") * average.limit()
        })
        .collect();
    widths.check(&[exact[0], exact[1], exact[4]]);

    let (upper, lower) = (records.get("T09-007"), records.get("T09-008"));
    let mut sums = CumulativeSums::new(upper.input("k"), upper.input("h"));
    let (mut high, mut low, mut signals) = (Vec::new(), Vec::new(), Vec::new());
    for (group, x) in (1_u32..).zip(upper.inputs("x")) {
        sums.add(x - upper.input("mu0"));
        high.push(sums.high);
        low.push(sums.low);
        if sums.signals() {
            signals.push(f64::from(group));
        }
    }
    upper.check(&high);
    lower.check(&low);
    records.get("T09-010").check(&[signals[0], signals.len() as f64]);

    records.all_used();
}

/// Mean number of readings from the start to a signal where nothing changes: 500 for λ 0.2 with L 2.962
/// (Lucas and Saccucci, 1990; from memory), 168 for k 0.5 with h 4 (Montgomery's textbook; from memory).
/// Both recomputed by Markov chains with numpy (Brook and Evans, 1972): 499.68 and 167.68.
#[test]
fn charts_run_as_long_without_a_change_as_published() {
    let mut uniform = Uniform(1);
    let (mut average, mut sums) = (MovingAverage::new(0.2, 2.962), CumulativeSums::new(0.5, 4.0));
    let (mut average_signals, mut sum_signals) = (0_u32, 0_u32);
    let readings = 400_000_u32;
    // The published value is for constant limits, those of a long run.
    let limit = 2.962 * (0.2_f64 / 1.8).sqrt();
    for _ in 0..readings {
        let score = normal_quantile(uniform.next());
        average.add(score);
        sums.add(score);
        if average.value.abs() > limit {
            average_signals += 1;
            average = MovingAverage::new(0.2, 2.962);
        }
        if sums.signals() {
            sum_signals += 1;
            sums = CumulativeSums::new(0.5, 4.0);
        }
    }
    // Four standard errors of the number of signals.
    for (signals, run) in [(average_signals, 499.68), (sum_signals, 167.68)] {
        let expected = f64::from(readings) / run;
        assert!(
            (f64::from(signals) - expected).abs() < 4.0 * expected.sqrt(),
            "{signals}, expected {expected}"
        );
    }
}

/// A self-starting score is standard normal from the first, whatever the machine's own mean and spread.
#[test]
fn scores_of_a_machine_that_does_not_change_are_standard_normal() {
    let mut uniform = Uniform(2);
    for spread in [Spread::Own, Spread::Pooled(0.3)] {
        let scores: Vec<f64> = (0..2000)
            .flat_map(|_| {
                let readings: Vec<DriftReading> = (0..8)
                    .map(|i| DriftReading {
                        test_run: format!("01890a5d-ac96-774b-bcce-b3020000{i:04x}").parse().unwrap(),
                        taken_at: format!("2026-01-0{}T00:00:00Z", i + 1).parse().unwrap(),
                        value: 12.0 + 0.3 * normal_quantile(uniform.next()),
                    })
                    .collect();
                let chart =
                    drift_chart(&readings, &[], Scale::Linear, spread, DriftRules::default()).unwrap();
                chart.points.into_iter().filter_map(|point| point.score).collect::<Vec<_>>()
            })
            .collect();
        let n = scores.len() as f64;
        let mean = scores.iter().sum::<f64>() / n;
        let variance = scores.iter().map(|score| score * score).sum::<f64>() / n;
        let beyond = scores.iter().filter(|score| score.abs() > 1.96).count() as f64 / n;
        assert!(mean.abs() < 4.0 / n.sqrt(), "{spread:?}: mean {mean}");
        assert!((variance - 1.0).abs() < 4.0 * (2.0 / n).sqrt(), "{spread:?}: variance {variance}");
        assert!((beyond - 0.05).abs() < 4.0 * (0.0475 / n).sqrt(), "{spread:?}: {beyond} beyond 1.96");
    }
}

/// Fleets of machines whose readings do not change ring no more often than [`DriftRules::default`] states of both charts, and
/// not never: twenty seeds, the
/// spread known from the model or estimated from the machine itself.
#[test]
fn a_healthy_fleet_rings_as_seldom_as_is_stated() {
    const MACHINES: u32 = 400;
    const READINGS: u32 = 60;
    let at: Vec<DriftReading> = (0..READINGS)
        .map(|i| DriftReading {
            test_run: format!("01890a5d-ac96-774b-bcce-b3020000{i:04x}").parse().unwrap(),
            taken_at: format!("2026-01-{:02}T{:02}:00:00Z", 1 + i / 24, i % 24).parse().unwrap(),
            value: 0.0,
        })
        .collect();
    for spread in [Spread::Pooled(0.3), Spread::Own] {
        let (mut alarms, mut judged) = (0_u32, 0_u32);
        for seed in 100..120 {
            let mut uniform = Uniform(seed);
            for _ in 0..MACHINES {
                let read = |reading: &DriftReading| {
                    let value = 12.0 + 0.3 * normal_quantile(uniform.next());
                    DriftReading { value, ..*reading }
                };
                let readings: Vec<DriftReading> = at.iter().map(read).collect();
                let chart =
                    drift_chart(&readings, &[], Scale::Linear, spread, DriftRules::default()).unwrap();
                // A chart that has rung is looked at: what follows is no second false alarm.
                let rung = chart.points.iter().position(|point| !point.signals.is_empty());
                judged += rung.map_or(READINGS, |first| first as u32 + 1);
                alarms += u32::from(rung.is_some());
            }
        }
        // Four standard errors of a Poisson count. Beginning at nought, the charts ring later than in the long run: of 60
        // readings at least a quarter of the long run's alarms come.
        let stated = f64::from(judged) * (1.0 / 12_900.0 + 1.0 / 9_500.0);
        let found = f64::from(alarms);
        println!("{spread:?}: {alarms} alarms in {judged} readings, {stated:.0} at most stated");
        assert!(found < stated + 4.0 * stated.sqrt(), "{spread:?}: {found} alarms, stated {stated}");
        assert!(found > 0.25 * stated, "{spread:?}: {found} alarms, stated {stated}");
    }
}
