//! How long do parts live, and when is one replaced before it fails?

mod answer;

use application::part_life::{ExchangeCosts, GetPartLife, GroupBy, PartLife, WatchedDays};
use askama::Template;
use axum::extract::State;
use axum::http::{StatusCode, Uri};
use axum::response::Response;
use chrono::NaiveDate;
use domain::text::Key;
use domain::vocabulary::Position;

use crate::access::SignedIn;
use crate::fields::Fields;
use crate::page::{PageFault, Shell, show as show_page};
use crate::state::ConsoleState;
use answer::Answer;

#[derive(Template)]
#[template(path = "numbers/part_life.html")]
struct PartLifePage {
    shell: Shell,
    positions: Vec<(&'static str, String, bool)>,
    groupings: Vec<(&'static str, String, bool)>,
    /// As typed.
    from: String,
    to: String,
    planned_cost: String,
    unplanned_cost: String,
    /// Of whose number alone.
    part: Option<String>,
    fault: Option<String>,
    answer: Option<Answer>,
}

const GROUPINGS: [(&str, GroupBy); 5] = [
    ("part", GroupBy::Part),
    ("position", GroupBy::Position),
    ("model", GroupBy::Model),
    ("hardness", GroupBy::Hardness),
    ("nothing", GroupBy::Nothing),
];

pub(crate) async fn show(
    State(state): State<ConsoleState>,
    SignedIn(caller): SignedIn,
    uri: Uri,
) -> Result<Response, PageFault> {
    let asked = Fields::of_query(&uri);
    let (position, by) = (asked.raw("position"), asked.raw("by"));
    let choice = |word: &'static str| (word, wording::term("position", word).into_owned(), word == position);
    let mut positions: Vec<_> = Position::TERMS.iter().map(|term| choice(term.key)).collect();
    positions.sort_by(|one, other| one.1.cmp(&other.1));
    let is_known = GROUPINGS.iter().any(|(word, _)| *word == by);
    let grouping = |(word, _): &(&'static str, GroupBy)| {
        let is_chosen = *word == if is_known { by } else { GROUPINGS[0].0 };
        (*word, wording::say(&format!("part-life-by-{word}")), is_chosen)
    };
    let mut page = PartLifePage {
        shell: Shell::of(wording::say("part-life-title"), &caller),
        positions,
        groupings: GROUPINGS.iter().map(grouping).collect(),
        from: asked.raw("from").to_owned(),
        to: asked.raw("to").to_owned(),
        planned_cost: asked.raw("planned_cost").to_owned(),
        unplanned_cost: asked.raw("unplanned_cost").to_owned(),
        part: asked.get("part").map(str::to_owned),
        fault: None,
        answer: None,
    };
    // Whoever may not ask is told so before what he typed is looked at.
    caller.require("get_part_life")?;
    let question = match question(&asked, &state) {
        Ok(question) => question,
        Err(key) => {
            page.fault = Some(wording::say(key));
            return Ok(show_page(StatusCode::BAD_REQUEST, &page));
        }
    };
    let by = question.by;
    match state.application.ask(&caller, question).await? {
        PartLife::Lives(lives) => page.answer = Some(Answer::of(&lives, by)),
        PartLife::OfWhat => page.answer = Some(Answer::of_nothing()),
        PartLife::TooMany { .. } => page.fault = Some(wording::say("part-life-fault-many")),
    }
    Ok(show_page(StatusCode::OK, &page))
}

/// What is asked, or what is wrong with it.
fn question(asked: &Fields, state: &ConsoleState) -> Result<GetPartLife, &'static str> {
    let day = |name: &str| match asked.raw(name).trim() {
        "" => Ok(None),
        text => text.parse::<NaiveDate>().map(Some).map_err(|_| "repeats-fault-day"),
    };
    let days =
        WatchedDays::of(day("from")?, day("to")?, state.application.now()).map_err(|fault| {
            match fault.is_of() {
                "to" => "part-life-fault-to",
                _ => "part-life-fault-from",
            }
        })?;
    let position = match asked.get("position").map(str::parse::<Position>) {
        None => None,
        Some(Ok(position)) => Key::new(position.key()).ok(),
        Some(Err(_)) => return Err("part-life-fault-position"),
    };
    let cost = |name: &str| match asked.raw(name).trim().replace(',', ".") {
        text if text.is_empty() => Ok(None),
        text => match text.parse::<f64>() {
            Ok(cost) if (0.01..=1e9).contains(&cost) => Ok(Some(cost)),
            _ => Err("part-life-fault-cost"),
        },
    };
    let costs = match (cost("planned_cost")?, cost("unplanned_cost")?) {
        (None, None) => None,
        (Some(planned), Some(unplanned)) => Some(ExchangeCosts { planned, unplanned }),
        _ => return Err("part-life-fault-costs"),
    };
    let by = asked.raw("by");
    Ok(GetPartLife {
        part: asked.parse("part").transpose().map_err(|_| "part-life-fault-part")?,
        position,
        model: asked.get("model").map(Key::new).transpose().map_err(|_| "part-life-fault-part")?,
        by: GROUPINGS.iter().find(|(word, _)| *word == by).map_or(GroupBy::Part, |(_, by)| *by),
        days,
        costs,
    })
}
