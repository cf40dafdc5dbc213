//! The lives of parts in words, as a chart and as a table.

use application::part_life::{
    AgainstOthers, FailuresOfPlaces, GroupBy, GroupOf, LEAST_PLACES, NoReplacement, PartLives, Study,
};
use charts::{Axis, Lives, Step, Steps, Words, steps, survival};
use domain::reliability::ReliabilityError;
use domain::reliability::kaplan_meier::SurvivalCurve;
use domain::site_water::HardnessBand;

use crate::parts::against::figure;
use crate::parts::chart::Chart;

pub(super) struct Answer {
    /// The first is the answer; others follow for other groups.
    pub lead: Vec<String>,
    pub chart: Option<Chart>,
    /// How many failures a place has had by so much time: in words, and drawn where there are enough.
    pub places: Option<String>,
    pub places_chart: Option<Chart>,
    /// By what lives are told apart.
    pub heading: String,
    pub rows: Vec<Row>,
    /// Shares in service at some ages, a column a row above.
    pub ages: Vec<(String, Vec<String>)>,
    pub left_out: String,
}

pub(super) struct Row {
    pub name: String,
    pub more: String,
    pub lives: u32,
    pub failed: u32,
    pub half: String,
    pub come: String,
    pub replace: String,
    pub others: String,
}

/// With fewer lives than this, words say all there is.
const LEAST_DRAWN: u32 = 10;
/// Groups that are spoken of before the table.
const MOST_SPOKEN_OF: usize = 3;
const AGES: [f64; 9] = [30.0, 90.0, 180.0, 365.0, 730.0, 1096.0, 1461.0, 1826.0, 3652.0];
const DAYS_OF_YEAR: f64 = 365.25;

impl Answer {
    pub fn of_nothing() -> Self {
        Self {
            lead: vec![wording::say("part-life-of-what")],
            chart: None,
            places: None,
            places_chart: None,
            heading: String::new(),
            rows: Vec::new(),
            ages: Vec::new(),
            left_out: String::new(),
        }
    }

    pub fn of(lives: &PartLives, by: GroupBy) -> Self {
        let groups = &lives.groups;
        let mut lead: Vec<String> =
            groups.iter().take(MOST_SPOKEN_OF).map(|(of, study)| spoken(&name(of).0, study)).collect();
        if lead.is_empty() {
            lead.push(wording::say("part-life-none"));
        }
        let tests = groups.iter().filter(|(_, study)| study.against_others.is_some()).count();
        if by == GroupBy::Hardness && !groups.is_empty() {
            lead.splice(0..0, said_by_hardness(groups, tests));
        }
        let left_out = [
            ("unknown", lives.not_counted.fitting_date_unknown.into()),
            ("unwatched", lives.not_counted.not_observed.into()),
            ("groups", lives.not_told_apart.0.into()),
        ];
        let heading = match by {
            GroupBy::Nothing => "part-life-by-nothing",
            GroupBy::Part => "part-life-by-part",
            GroupBy::Position => "part-life-by-position",
            GroupBy::Model => "part-life-by-model",
            GroupBy::Hardness => "part-life-by-hardness",
        };
        Self {
            chart: chart(groups, &lead),
            places: lives.places.as_ref().and_then(places),
            places_chart: lives.places.as_ref().and_then(places_chart),
            heading: wording::say(heading),
            rows: groups.iter().map(|(of, study)| Row::of(of, study, tests)).collect(),
            ages: ages(groups),
            left_out: wording::say_with("part-life-left-out", &left_out),
            lead,
        }
    }
}

fn name(of: &GroupOf) -> (String, String) {
    match of {
        GroupOf::All => (wording::say("part-life-all"), String::new()),
        GroupOf::Part { number, title, .. } => (title.to_string(), number.to_string()),
        GroupOf::Position(position) => {
            (wording::term("position", position.as_str()).into_owned(), String::new())
        }
        GroupOf::Model { title, .. } => (wording::text(title).into_owned(), String::new()),
        GroupOf::Hardness(band) => (wording::say(hardness(*band)), String::new()),
    }
}

fn hardness(band: Option<HardnessBand>) -> &'static str {
    match band {
        None => "part-life-hardness-unknown",
        Some(HardnessBand::Soft) => "part-life-hardness-soft",
        Some(HardnessBand::Medium) => "part-life-hardness-medium",
        Some(HardnessBand::Hard) => "part-life-hardness-hard",
    }
}

fn days(days: f64) -> String {
    format!("{days:.0}")
}

/// The age by which a share has failed, with its limits as far as they are reached.
fn age(curve: &SurvivalCurve, share: f64) -> Option<String> {
    if curve.collapsed_at.is_some() {
        return None;
    }
    let at = days(curve.quantile(share)?);
    Some(match curve.quantile_limits(share) {
        (Some(lower), Some(upper)) => {
            let variables =
                [("days", at.into()), ("lower", days(lower).into()), ("upper", days(upper).into())];
            wording::say_with("part-life-age-between", &variables)
        }
        (Some(lower), None) => {
            wording::say_with("part-life-age-from", &[("days", at.into()), ("lower", days(lower).into())])
        }
        (None, Some(upper)) => {
            wording::say_with("part-life-age-to", &[("days", at.into()), ("upper", days(upper).into())])
        }
        (None, None) => wording::say_with("part-life-age-alone", &[("days", at.into())]),
    })
}

fn spoken(name: &str, study: &Study) -> String {
    let said = |key: &str, age: String| {
        let variables = [
            ("name", name.to_owned().into()),
            ("age", age.into()),
            ("failures", study.failures.into()),
            ("n", study.n.into()),
        ];
        wording::say_with(key, &variables)
    };
    if study.failures == 0 {
        let least = study.mean_time.as_ref().map(|mean| days(mean.lower)).unwrap_or_default();
        return said("part-life-never", least);
    }
    if let Some(at) = study.curve.collapsed_at {
        return said("part-life-collapsed", days(at));
    }
    match (age(&study.curve, 0.5), age(&study.curve, 0.1)) {
        (Some(half), _) => said("part-life-half", half),
        (None, Some(tenth)) => said("part-life-tenth", tenth),
        (None, None) => said("part-life-few", String::new()),
    }
}

impl Row {
    fn of(of: &GroupOf, study: &Study, tests: usize) -> Self {
        let (name, more) = name(of);
        Self {
            name,
            more,
            lives: study.n,
            failed: study.failures,
            half: age(&study.curve, 0.5).unwrap_or_else(|| {
                let is_known = study.curve.collapsed_at.is_none();
                wording::say(if is_known { "part-life-not-half" } else { "part-life-half-unknown" })
            }),
            come: come(study),
            replace: replace(study),
            others: others(study, tests),
        }
    }
}

fn come(study: &Study) -> String {
    let key = match &study.weibull {
        Ok(law) => {
            let key = if law.shape_lower > 1.0 {
                "part-life-wear"
            } else if law.shape_upper < 1.0 {
                "part-life-early"
            } else {
                "part-life-perhaps"
            };
            let variables = [
                ("shape", figure(law.shape).into()),
                ("lower", figure(law.shape_lower).into()),
                ("upper", figure(law.shape_upper).into()),
            ];
            return wording::say_with(key, &variables);
        }
        Err(ReliabilityError::TooFew { .. }) => "part-life-too-few",
        Err(_) => "part-life-no-law",
    };
    wording::say(key)
}

fn replace(study: &Study) -> String {
    match (study.replacement, &study.weibull) {
        (Some(Ok(best)), _) => {
            let key = if best.is_beyond_seen { "part-life-replace-unseen" } else { "part-life-replace" };
            let variables = [
                ("days", days(best.age).into()),
                ("cost", figure(best.cost * DAYS_OF_YEAR).into()),
                ("waiting", figure(best.cost_of_waiting * DAYS_OF_YEAR).into()),
                ("saving", figure(100.0 * best.saving).into()),
            ];
            wording::say_with(key, &variables)
        }
        (Some(Err(NoReplacement::NotShownToWear)), _) => wording::say("part-life-no-wear"),
        (Some(Err(NoReplacement::FailureNotDearer)), _) => wording::say("part-life-not-dearer"),
        (Some(Err(NoReplacement::NothingToGain)), _) => wording::say("part-life-no-gain"),
        (None, Err(_)) => String::new(),
        (None, Ok(_)) => wording::say("part-life-costs-not-said"),
    }
}

/// Whether they live as long as the others.
fn others(study: &Study, tests: usize) -> String {
    let Some(test) = study.against_others else { return String::new() };
    let key = match study.beside_others(tests) {
        AgainstOthers::TooFew => "part-life-too-few",
        AgainstOthers::Alike => "part-life-alike",
        AgainstOthers::Shorter => "part-life-shorter",
        AgainstOthers::Longer => "part-life-longer",
    };
    let variables = [("failures", test.observed.into()), ("expected", figure(test.expected).into())];
    wording::say_with(key, &variables)
}

/// What the bands of hardness show: those that differ, or that none does, or that too little is known.
fn said_by_hardness(groups: &[(GroupOf, Study)], tests: usize) -> Vec<String> {
    let of_a_band = |(of, study)| match of {
        &GroupOf::Hardness(Some(band)) => Some((band, study)),
        _ => None,
    };
    let bands: Vec<(HardnessBand, &Study)> =
        groups.iter().map(|(of, study)| (of, study)).filter_map(of_a_band).collect();
    let mut told = Vec::new();
    let mut compared = 0;
    for (band, study) in bands {
        let key = match (study.beside_others(tests), study.against_others) {
            (AgainstOthers::TooFew, _) | (_, None) => continue,
            (AgainstOthers::Alike, _) => None,
            (AgainstOthers::Shorter, Some(test)) => Some(("part-life-hardness-shorter", test)),
            (AgainstOthers::Longer, Some(test)) => Some(("part-life-hardness-longer", test)),
        };
        compared += 1;
        if let Some((key, test)) = key {
            let variables = [
                ("band", wording::say(hardness(Some(band))).into()),
                ("failures", test.observed.into()),
                ("n", study.n.into()),
                ("expected", figure(test.expected).into()),
            ];
            told.push(wording::say_with(key, &variables));
        }
    }
    if told.is_empty() {
        let key = if compared == 0 { "part-life-hardness-few" } else { "part-life-hardness-alike" };
        told.push(wording::say(key));
    }
    told
}

fn chart(groups: &[(GroupOf, Study)], lead: &[String]) -> Option<Chart> {
    let drawn = groups.iter().filter(|(_, study)| {
        study.n >= LEAST_DRAWN && study.failures > 0 && study.curve.collapsed_at.is_none()
    });
    let lives: Vec<Lives<'_>> = drawn
        .map(|(of, study)| Lives { name: name(of).0, curve: &study.curve, longest: study.longest })
        .collect();
    if lives.is_empty() {
        return None;
    }
    let words =
        Words { id: "part-life", title: wording::say("part-life-chart"), description: lead.join(" ") };
    let picture = survival(&words, wording::say("part-life-age"), wording::say("part-life-share"), &lives);
    Some(Chart::of(&picture))
}

/// As it stands after the last failure.
fn places(of: &FailuresOfPlaces) -> Option<String> {
    let last = of.steps.last()?;
    let variables = [
        ("mean", figure(last.mean).into()),
        ("days", days(last.age).into()),
        ("places", of.places.into()),
        ("lower", last.lower.map(figure).unwrap_or_default().into()),
        ("upper", last.upper.map(figure).unwrap_or_default().into()),
    ];
    let has_limits = last.lower.is_some() && last.upper.is_some();
    let key = if has_limits { "part-life-places-between" } else { "part-life-places" };
    Some(wording::say_with(key, &variables))
}

/// Marks of an axis lie closer than what a figure is rounded to.
fn tick(value: f64) -> String {
    let text = format!("{value:.2}");
    wording::decimal(text.trim_end_matches('0').trim_end_matches('.').to_owned())
}

fn places_chart(of: &FailuresOfPlaces) -> Option<Chart> {
    if of.places < LEAST_PLACES {
        return None;
    }
    let begin = Step { from: 0.0, value: 0.0, limits: None };
    let after = of.steps.iter().map(|step| Step {
        from: step.age,
        value: step.mean,
        limits: step.lower.zip(step.upper),
    });
    let until = of.steps.last()?.age;
    let highest = of.steps.iter().map(|step| step.upper.unwrap_or(step.mean)).fold(0.0, f64::max);
    let curve = Steps { name: String::new(), steps: std::iter::once(begin).chain(after).collect(), until };
    let words = Words {
        id: "part-life-places",
        title: wording::say("part-life-places-chart"),
        description: places(of).unwrap_or_default(),
    };
    let x = Axis { label: wording::say("part-life-places-days"), from: 0.0, to: until, written: days };
    let y = Axis { label: wording::say("part-life-places-failures"), from: 0.0, to: highest, written: tick };
    Some(Chart::of(&steps(&words, &x, &y, &[curve])))
}

/// As far as anything was seen.
fn ages(groups: &[(GroupOf, Study)]) -> Vec<(String, Vec<String>)> {
    let share = |study: &Study, age: f64| {
        if age > study.longest || age < study.curve.given_age {
            return String::new();
        }
        let step = study.curve.steps.iter().rev().find(|step| step.age <= age);
        let percent = |share: f64| figure(100.0 * share);
        match step.and_then(|step| Some((step, step.lower?, step.upper?))) {
            Some((step, lower, upper)) => wording::say_with(
                "part-life-percent-between",
                &[
                    ("share", percent(step.survival).into()),
                    ("lower", percent(lower).into()),
                    ("upper", percent(upper).into()),
                ],
            ),
            None => wording::say_with("part-life-percent", &[("share", percent(study.curve.at(age)).into())]),
        }
    };
    let longest = groups.iter().map(|(_, study)| study.longest).fold(0.0, f64::max);
    let row = |age: &f64| (days(*age), groups.iter().map(|(_, study)| share(study, *age)).collect());
    AGES.iter().filter(|age| **age <= longest).map(row).collect()
}

#[cfg(test)]
mod tests {
    use domain::reliability::Life;
    use domain::reliability::study::study;

    use super::*;

    /// So many parts in water of a band, each failed a day after the other from this day on.
    fn said(bands: &[(Option<HardnessBand>, u32, u32)]) -> String {
        let lives = |&(_, n, from): &(Option<HardnessBand>, u32, u32)| {
            (0..n)
                .map(|day| Life { entry: 0.0, exit: f64::from(from + day), failed: true })
                .collect::<Vec<_>>()
        };
        let lives: Vec<_> = bands.iter().map(lives).collect();
        let studies = study(&lives, 0.95, None).unwrap();
        let groups =
            bands.iter().zip(studies).map(|(band, study)| (GroupOf::Hardness(band.0), study.unwrap()));
        said_by_hardness(&groups.collect::<Vec<_>>(), bands.len()).join(" ")
    }

    #[test]
    fn a_band_of_hardness_is_told_where_it_differs_and_else_that_none_does() {
        let (hard, soft) = (Some(HardnessBand::Hard), Some(HardnessBand::Soft));
        let differs = said(&[(hard, 30, 10), (soft, 30, 100)]);
        assert!(
            differs.contains("lived shorter") && differs.contains("30 of 30") && differs.contains("9.5"),
            "{differs}"
        );
        assert!(differs.contains("lived longer"), "{differs}");
        assert!(said(&[(hard, 30, 10), (soft, 30, 10)]).starts_with("No band of hardness differs"));
        assert!(said(&[(hard, 9, 10), (soft, 9, 100)]).starts_with("Too few have failed"));
        // Kitchens whose water nobody has read are no band.
        assert!(said(&[(hard, 9, 10), (None, 60, 100)]).starts_with("Too few have failed"));
    }
}
