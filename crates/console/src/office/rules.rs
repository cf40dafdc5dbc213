//! The house's rules as they stand, and who may change them.

use application::house_rules::{Rule, SeeHouseRules};
use askama::Template;
use axum::extract::State;
use axum::http::StatusCode;
use axum::response::Response;

use crate::access::SignedIn;
use crate::page::{PageFault, Shell, show as show_page};
use crate::state::ConsoleState;
use crate::when;

#[derive(Template)]
#[template(path = "office/rules.html")]
struct RulesPage {
    shell: Shell,
    rules: Vec<(String, String)>,
}

pub(super) async fn show(
    State(state): State<ConsoleState>,
    SignedIn(caller): SignedIn,
) -> Result<Response, PageFault> {
    let rules = state.application.ask(&caller, SeeHouseRules).await?;
    let shell = Shell::of(wording::say("rules-title"), &caller);
    Ok(show_page(StatusCode::OK, &RulesPage { shell, rules: rules.into_iter().map(in_words).collect() }))
}

/// What is settled, and how.
fn in_words(rule: Rule) -> (String, String) {
    let of = |key, value: String| (wording::say(key), value);
    match rule {
        Rule::Promise(urgency, within) => {
            let urgency = wording::term("urgency", urgency.word()).into_owned();
            let what = wording::say_with("rule-promise", &[("urgency", urgency.into())]);
            let within = within.map_or_else(
                || wording::say("promise-none"),
                |within| wording::say_with("rule-within", &[("span", when::span(within).into())]),
            );
            (what, within)
        }
        Rule::RepeatWithinDays(days) => of("rule-repeat", days_of(days)),
        Rule::LongestDefeatMinutes(minutes) => {
            of("rule-defeat", wording::say_with("span-minutes", &[("count", i64::from(minutes).into())]))
        }
        Rule::SessionRests(span) => of("rule-session-rests", when::span(span)),
        Rule::SessionLasts(span) => of("rule-session-lasts", when::span(span)),
        Rule::ShortestPassword(letters) => {
            of("rule-password", wording::say_with("rule-letters", &[("count", letters.into())]))
        }
    }
}

fn days_of(days: i64) -> String {
    wording::say_with("span-days", &[("count", days.into())])
}
