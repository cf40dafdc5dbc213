use super::{Bar, Row};
use crate::course::{Course, Station};
use crate::judged::Judged;
use crate::measures::{Forecasts, Measured, expected_calibration_error, mean, ratio, slope};
use crate::repair::{Minutes, Policy};
use crate::tier::{Courses, Outcome, Results, Tier};

pub(super) fn rows(results: &Results) -> Vec<Row> {
    let mut table = Table { seed: results.seed, rows: Vec::new() };
    table.cases(results);
    table.against_the_ideal(results);
    table.calibration(results);
    table.decisions(results);
    if !results.courses.is_empty() {
        table.minutes(&results.courses);
    }
    if !results.repairs.is_empty() {
        table.repairs(&results.repairs);
    }
    table.rows
}

struct Table {
    seed: u64,
    rows: Vec<Row>,
}

impl Table {
    fn add(&mut self, what: impl Into<String>, measured: Measured, bar: Option<Bar>) {
        self.rows.push(Row { what: what.into(), measured, bar });
    }

    fn mean_of(&self, outcomes: &[Outcome], of: impl Fn(&Outcome) -> f64) -> Measured {
        mean(&outcomes.iter().map(of).collect::<Vec<_>>(), self.seed)
    }

    fn cases(&mut self, results: &Results) {
        let of = &results.outcomes;
        let several = self.mean_of(of, |outcome| indicator(outcome.judged.several));
        self.add("share of cases with several faults", several, Some(Bar::AtLeast(0.2)));
        let none = self.mean_of(of, |outcome| indicator(outcome.faults == 0));
        self.add("share of calls without any fault", none, None);
        let right = self.mean_of(of, |outcome| indicator(outcome.judged.right));
        self.add("right", right, None);
        let surprise = self.mean_of(of, |outcome| -outcome.judged.log_truth);
        self.add("−ln P(true set), nat", surprise, None);
    }

    fn against_the_ideal(&mut self, results: &Results) {
        if results.ideal.is_empty() {
            return;
        }
        let pairs = || results.outcomes.iter().map(|outcome| &outcome.judged).zip(&results.ideal);
        let right: Vec<f64> = results.ideal.iter().map(|said| indicator(said.right)).collect();
        self.add(format!("ideal observer, n = {}: right", right.len()), mean(&right, self.seed), None);
        let surprise: Vec<f64> = results.ideal.iter().map(|said| -said.log_truth).collect();
        self.add("ideal observer: −ln P(true set), nat", mean(&surprise, self.seed), None);
        let forecasts: Forecasts = results.ideal.iter().map(|said| vec![(said.top, said.right)]).collect();
        let error = expected_calibration_error(&forecasts, self.seed);
        self.add("ideal observer: calibration error, most probable set", error, None);
        let lost: Vec<f64> =
            pairs().map(|(engine, ideal)| indicator(ideal.right) - indicator(engine.right)).collect();
        let lost = mean(&lost, self.seed);
        self.add("engine against the ideal: right less often by", lost, Some(Bar::UpperAtMost(0.02)));
        let lost: Vec<f64> = pairs().map(|(engine, ideal)| ideal.log_truth - engine.log_truth).collect();
        let lost = mean(&lost, self.seed);
        self.add("engine against the ideal: −ln P(true set) worse by, nat", lost, Some(Bar::AtMost(0.05)));
    }

    fn calibration(&mut self, results: &Results) {
        let bar = match results.tier {
            Tier::A => Bar::AtMostUpper(0.02, 0.03),
            Tier::B => Bar::AtMost(0.05),
        };
        let slope_bar = (results.tier == Tier::A).then_some(Bar::Within(0.9, 1.1));
        for (name, forecasts) in forecasts(results) {
            let error = expected_calibration_error(&forecasts, self.seed);
            self.add(format!("calibration error, {name}"), error, Some(bar));
            self.add(format!("calibration slope, {name}"), slope(&forecasts, self.seed), slope_bar);
        }
        let predicted = self.mean_of(&results.outcomes, |outcome| outcome.visit.predicted);
        let ended = self.mean_of(&results.outcomes, |outcome| indicator(outcome.visit.ended));
        let gap = self
            .mean_of(&results.outcomes, |outcome| outcome.visit.predicted - indicator(outcome.visit.ended));
        self.add("P(the first visit ends the job), as predicted at the call", predicted, None);
        self.add("… as it came", ended, None);
        self.add("… predicted less came", gap, None);
        let forecasts = visits(results);
        self.add("calibration error, visit", expected_calibration_error(&forecasts, self.seed), Some(bar));
    }

    fn decisions(&mut self, results: &Results) {
        let several: Vec<&Judged> =
            results.outcomes.iter().map(|outcome| &outcome.judged).filter(|of| of.several).collect();
        let share = |of: fn(&Judged) -> bool| {
            mean(&several.iter().map(|judged| indicator(of(judged))).collect::<Vec<_>>(), self.seed)
        };
        let (missed, lacks) = (share(|of| of.missed), share(|of| of.top_lacks));
        self.add("several faults: a true one is missed", missed, None);
        self.add("several faults: the most probable set lacks a true one", lacks, None);
        let needless = self.mean_of(&results.outcomes, |outcome| outcome.judged.needless_parts as f64);
        self.add("needless parts per call", needless, None);
    }

    fn minutes(&mut self, courses: &[Courses]) {
        let all: Vec<f64> = courses.iter().map(|of| of.engine.checklist_minutes).collect();
        let stops = |course: fn(&Courses) -> &Course| -> Vec<&Station> {
            courses.iter().map(|courses| course(courses).stop(1.0)).collect()
        };
        let whole: Vec<&Judged> = courses.iter().map(|of| &of.whole).collect();
        let (engine, cheapest) = (stops(|of| &of.engine), stops(|of| &of.cheapest));
        let minutes = |of: &[&Station]| of.iter().map(|station| station.minutes).collect::<Vec<_>>();
        let share = ratio(&minutes(&engine), &all, self.seed);
        self.add("minutes: engine over checklist", share, Some(Bar::UpperAtMost(0.55)));
        let share = ratio(&minutes(&engine), &minutes(&cheapest), self.seed);
        self.add("minutes: engine over cheapest first, same stop", share, Some(Bar::AtMost(0.7)));
        for (name, stops, bars) in [("engine", &engine, true), ("cheapest first", &cheapest, false)] {
            let judged: Vec<&Judged> = stops.iter().map(|station| &station.judged).collect();
            let bar = |bar: f64| bars.then_some(Bar::AtMost(bar));
            let lost = self.lost(&whole, &judged, |of| indicator(!of.right));
            self.add(format!("{name} against the checklist: right less often by"), lost, bar(0.01));
            let lost = self.lost(&whole, &judged, |of| indicator(of.several && of.missed));
            let several = whole.iter().filter(|of| of.several).count().max(1) as f64;
            let scale = whole.len() as f64 / several;
            let lost = Measured { value: lost.value * scale, low: lost.low * scale, high: lost.high * scale };
            self.add(
                format!("{name}: of several faults a true one is missed more often by"),
                lost,
                bar(0.01),
            );
            let lost = self.lost(&whole, &judged, |of| -of.log_truth);
            self.add(format!("{name}: −ln P(true set) worse by, nat"), lost, bar(0.03));
        }
        let count = |of: fn(&Course) -> usize| -> f64 {
            courses.iter().map(|courses| of(&courses.engine) + of(&courses.cheapest)).sum::<usize>() as f64
        };
        let exact = |value: f64| Measured { value, low: value, high: value };
        self.add("advice given", exact(count(|of| of.advised)), None);
        self.add(
            "… shown without its caution",
            exact(count(|of| of.without_caution)),
            Some(Bar::AtMost(0.0)),
        );
    }

    /// The whole call, each policy beside the engine.
    fn repairs(&mut self, calls: &[[Minutes; 4]]) {
        for (at, policy) in Policy::ALL.into_iter().enumerate() {
            let all = mean(&calls.iter().map(|of| of[at].all()).collect::<Vec<_>>(), self.seed);
            self.add(
                format!("minutes to a proven repair, n = {}: {}", calls.len(), policy.name()),
                all,
                None,
            );
        }
        for (at, policy) in Policy::ALL.into_iter().enumerate().skip(1) {
            let more: Vec<f64> = calls.iter().map(|of| of[0].all() - of[at].all()).collect();
            let bar =
                if policy == Policy::CheapestFirst { Bar::LowerAtMost(0.0) } else { Bar::UpperAtMost(0.0) };
            self.add(format!("… engine longer than {}", policy.name()), mean(&more, self.seed), Some(bar));
        }
    }

    /// Mean of the paired differences.
    fn lost(&self, whole: &[&Judged], stopped: &[&Judged], of: fn(&Judged) -> f64) -> Measured {
        let differences: Vec<f64> =
            whole.iter().zip(stopped).map(|(whole, stopped)| of(stopped) - of(whole)).collect();
        mean(&differences, self.seed)
    }
}

/// What is held against what came true.
pub fn forecasts(results: &Results) -> [(&'static str, Forecasts); 4] {
    let of = |forecast: &dyn Fn(&Judged) -> Vec<(f64, bool)>| -> Forecasts {
        results.outcomes.iter().map(|outcome| forecast(&outcome.judged)).collect()
    };
    let above = |of: &Judged, least: f64| -> Vec<(f64, bool)> {
        of.marginals.iter().filter(|(_, p, _)| *p >= least).map(|(_, p, stands)| (*p, *stands)).collect()
    };
    [
        ("most probable set", of(&|of| vec![(of.top, of.right)])),
        ("each fault", of(&|of| above(of, 0.0))),
        ("each fault of 1 % and more", of(&|of| above(of, 0.01))),
        ("nothing found", of(&|of| vec![of.nothing])),
    ]
}

pub fn visits(results: &Results) -> Forecasts {
    results.outcomes.iter().map(|outcome| vec![(outcome.visit.predicted, outcome.visit.ended)]).collect()
}

pub(super) const fn indicator(value: bool) -> f64 {
    if value { 1.0 } else { 0.0 }
}
