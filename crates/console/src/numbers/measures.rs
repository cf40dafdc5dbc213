//! How well do we do?

mod words;

use application::measures::{
    Counted, FOLLOWED_DAYS, GetMeasures, Group, GroupName, Grouping, Measure, Measured, Measures, Tally,
    USUAL_DAYS,
};
use application::repeats::Window;
use askama::Template;
use axum::extract::State;
use axum::http::{StatusCode, Uri};
use axum::response::Response;

use super::days::{self, TypedDays};
use crate::access::SignedIn;
use crate::fields::Fields;
use crate::page::{PageFault, Shell, show as show_page};
use crate::parts::interval::{Drawn, Interval};
use crate::state::ConsoleState;

#[derive(Template)]
#[template(path = "numbers/measures.html")]
struct MeasuresPage {
    shell: Shell,
    typed: TypedDays,
    /// Word, label, whether it is chosen.
    groupings: Vec<(&'static str, String, bool)>,
    followed: Vec<(u16, bool)>,
    fault: Option<String>,
    answer: Option<Answer>,
}

struct Answer {
    what: String,
    /// Where the same figures lie as a file, but for its form.
    file: String,
    sections: Vec<Section>,
}

/// One measure.
struct Section {
    id: &'static str,
    title: String,
    /// The answer as a sentence.
    lead: String,
    before: Option<String>,
    definition: String,
    left_out: Option<String>,
    figure: Option<Interval>,
    groups: Vec<Row>,
}

struct Row {
    name: String,
    figure: Option<Interval>,
    /// Where no figure is drawn: why not.
    says: String,
    n: String,
}

pub(crate) async fn show(
    State(state): State<ConsoleState>,
    SignedIn(caller): SignedIn,
    uri: Uri,
) -> Result<Response, PageFault> {
    let asked = Fields::of_query(&uri);
    let by = asked.get("by").and_then(|word| word.parse::<Grouping>().ok());
    let days = asked
        .parse("days")
        .and_then(Result::ok)
        .filter(|days| FOLLOWED_DAYS.contains(days))
        .unwrap_or(USUAL_DAYS);
    // Whoever may not ask is told so before his days are looked at.
    caller.require("get_measures")?;
    let may_compare = GetMeasures::may_compare_people(&caller);
    let groupings = Grouping::ALL.iter().filter(|grouping| **grouping != Grouping::Person || may_compare);
    let mut page = MeasuresPage {
        shell: Shell::of(wording::say("measures-title"), &caller),
        typed: TypedDays::of(&asked),
        groupings: groupings
            .map(|grouping| {
                (
                    grouping.word(),
                    wording::term("grouping", grouping.word()).into_owned(),
                    by == Some(*grouping),
                )
            })
            .collect(),
        followed: FOLLOWED_DAYS.map(|each| (each, each == days)).into(),
        fault: None,
        answer: None,
    };
    let as_of = state.application.now();
    let window = match days::window(&page.typed, as_of) {
        Ok(window) => window,
        Err(fault) => {
            page.fault = Some(fault);
            return Ok(show_page(StatusCode::BAD_REQUEST, &page));
        }
    };
    let measures = state.application.ask(&caller, GetMeasures { window, as_of, days, by }).await?;
    page.typed = TypedDays::taken(window);
    page.answer = Some(Answer::of(measures));
    Ok(show_page(StatusCode::OK, &page))
}

impl Answer {
    fn of(measures: Measures) -> Self {
        let Window { first, last } = measures.window;
        let variables = [("from", first.to_string().into()), ("to", last.to_string().into())];
        let days = measures.days;
        let by = measures.by.map(|by| format!("&by={by}")).unwrap_or_default();
        let file = format!("/v1/reports/measures?from={first}&to={last}&days={days}{by}");
        let sections = measures.measured.into_iter().map(|measured| Section::of(measured, days)).collect();
        Self { what: wording::say_with("measures-what", &variables), file, sections }
    }
}

impl Section {
    fn of(measured: Measured, days: u16) -> Self {
        let Measured { measure, whole, groups } = measured;
        let most = axis(measure, &whole, &groups);
        let before = whole.before.as_ref().and_then(|before| words::before(measure, before, whole.change));
        Self {
            id: measure.word(),
            title: wording::measure::title(measure, days),
            lead: words::lead(measure, &whole.counted),
            before,
            definition: wording::measure::definition(measure, days),
            left_out: words::left_out(&whole),
            // The sentence above it says what it shows.
            figure: drawn(&whole, most).map(|drawn| Interval::of(drawn, String::new())),
            groups: groups.iter().map(|group| Row::of(measure, group, most)).collect(),
        }
    }
}

impl Row {
    fn of(measure: Measure, group: &Group, most: f64) -> Self {
        let n = group.tally.counted.n();
        let figure = if group.is_ranked { interval(measure, &group.tally, most) } else { None };
        let says = if group.is_ranked && figure.is_none() {
            wording::say("measures-no-figure")
        } else {
            words::too_few(&group.tally.counted)
        };
        Self {
            name: name(&group.name),
            says,
            figure,
            n: wording::say_with("measures-of", &[("n", n.into())]),
        }
    }
}

fn name(of: &GroupName) -> String {
    match of {
        GroupName::Branch(Some((_, name))) | GroupName::Person(_, name) => name.clone(),
        GroupName::Model(Some((_, title))) => wording::text(title).into_owned(),
        GroupName::Branch(None) | GroupName::Model(None) => wording::say("measures-none"),
        GroupName::Urgency(urgency) => wording::term("urgency", urgency.word()).into_owned(),
        GroupName::Month(month) => crate::when::month(*month),
        GroupName::Repair(position, action) => {
            let position = wording::term("position", position.key()).into_owned();
            format!("{position}: {}", wording::term("action", action.as_str()))
        }
    }
}

/// A share's axis ends at all of them; other axes where the largest of what is drawn ends.
fn axis(measure: Measure, whole: &Tally, groups: &[Group]) -> f64 {
    if measure.is_share() {
        return 1.0;
    }
    let ends = |tally: &Tally| {
        let drawn = drawn(tally, f64::INFINITY);
        drawn.map_or(0.0, |drawn| drawn.upper.unwrap_or(drawn.value).max(drawn.before.unwrap_or(0.0)))
    };
    let told = groups.iter().filter(|group| group.is_ranked).map(|group| &group.tally).chain([whole]);
    told.map(ends).fold(0.0, f64::max)
}

fn drawn(tally: &Tally, most: f64) -> Option<Drawn> {
    let before = tally.before.as_ref().and_then(Counted::value);
    let (value, lower, upper) = match tally.counted {
        Counted::Share(figure) => (
            figure.value?,
            figure.limits.map(|limits| limits.lower),
            figure.limits.map(|limits| limits.upper),
        ),
        Counted::Lasting(spread) => {
            let median = spread.median?;
            (median.hours, median.lower, median.upper)
        }
    };
    Some(Drawn { value, lower, upper, before, most })
}

fn interval(measure: Measure, tally: &Tally, most: f64) -> Option<Interval> {
    let drawn = drawn(tally, most)?;
    Some(Interval::of(drawn, words::figure(measure, &tally.counted)))
}
