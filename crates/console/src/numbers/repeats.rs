//! Which kitchens, or which of their positions, fail more than others?

use application::repeats::{FleetRepeats, GetRepeats, StandsOut, Window};
use askama::Template;
use axum::extract::State;
use axum::http::{StatusCode, Uri};
use axum::response::Response;
use domain::repeats::fleet::Family;

use super::days::{self, TypedDays};
use crate::access::SignedIn;
use crate::fields::Fields;
use crate::page::{PageFault, Shell, show as show_page};
use crate::parts::against::{self, Rate};
use crate::state::ConsoleState;

#[derive(Template)]
#[template(path = "numbers/repeats.html")]
struct RepeatsPage {
    shell: Shell,
    typed: TypedDays,
    by_position: bool,
    /// What is wrong with the days that were asked for.
    fault: Option<String>,
    /// None while a fault stands.
    answer: Option<Answer>,
}

struct Answer {
    /// Where the same figures lie as a file, but for its form.
    file: String,
    lead: String,
    share: Option<String>,
    what: String,
    left_out: String,
    rows: Vec<Row>,
}

struct Row {
    kitchen: String,
    href: String,
    customer: String,
    position: String,
    had: u32,
    expected: String,
    rate: Option<Rate>,
    says: String,
}

pub(crate) async fn show(
    State(state): State<ConsoleState>,
    SignedIn(caller): SignedIn,
    uri: Uri,
) -> Result<Response, PageFault> {
    let asked = Fields::of_query(&uri);
    let by_position = asked.raw("by") == "positions";
    let mut page = RepeatsPage {
        shell: Shell::of(wording::say("repeats-title"), &caller),
        typed: TypedDays::of(&asked),
        by_position,
        fault: None,
        answer: None,
    };
    // Whoever may not ask is told so before his days are looked at.
    caller.require("get_repeats")?;
    let window = match days::window(&page.typed, state.application.now()) {
        Ok(window) => window,
        Err(fault) => {
            page.fault = Some(fault);
            return Ok(show_page(StatusCode::BAD_REQUEST, &page));
        }
    };
    let family = if by_position { Family::KitchenPosition } else { Family::Kitchen };
    let repeats = state.application.ask(&caller, GetRepeats { window, family }).await?;
    page.typed = TypedDays::taken(window);
    page.answer = Some(Answer::of(repeats, by_position));
    Ok(show_page(StatusCode::OK, &page))
}

impl Answer {
    fn of(repeats: FleetRepeats, by_position: bool) -> Self {
        let counts = [("listed", repeats.listed.len().into()), ("considered", repeats.considered.into())];
        let share = repeats.share_above_twice.map(|share| {
            wording::say_with("repeats-share", &[("share", against::figure(100.0 * share).into())])
        });
        let Window { first, last } = repeats.window;
        let by = if by_position { "kitchen_position" } else { "kitchen" };
        Self {
            file: format!("/v1/reports/repeats?from={first}&to={last}&by={by}"),
            lead: wording::say_with("repeats-lead", &counts),
            share,
            what: wording::say_with(
                "repeats-what",
                &[
                    ("failures", repeats.failures.into()),
                    ("from", repeats.window.first.to_string().into()),
                    ("to", repeats.window.last.to_string().into()),
                ],
            ),
            left_out: wording::say_with(
                "repeats-left-out",
                &[
                    ("continued", repeats.left_out.continued.into()),
                    ("elsewhere", repeats.left_out.not_watched.into()),
                    ("small", (repeats.cells - repeats.considered).into()),
                ],
            ),
            rows: repeats.listed.into_iter().map(Row::of).collect(),
        }
    }
}

impl Row {
    fn of(found: StandsOut) -> Self {
        let cell = found.standing.cell;
        Self {
            kitchen: found.site.name.to_string(),
            href: format!("/kitchens/{}", found.site.id),
            customer: found.site.customer.map(|name| name.to_string()).unwrap_or_default(),
            position: found
                .position
                .map(|position| wording::term("position", position.key()).into_owned())
                .unwrap_or_default(),
            had: cell.n,
            expected: against::figure(cell.expected),
            rate: Rate::of(&found.standing),
            says: against::says(&found.standing),
        }
    }
}
