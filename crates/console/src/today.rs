//! Who must act next, and which promise breaks first.

mod line;

pub(crate) use line::{LineView, PromiseView};

use application::today::{SHOWN, Today, TodayAnswer, Turn};
use askama::Template;
use axum::extract::State;
use axum::http::{StatusCode, Uri};
use axum::response::Response;
use domain::danger::Danger;

use crate::access::SignedIn;
use crate::fields::Fields;
use crate::page::{PageFault, Shell, show as show_page};
use crate::state::ConsoleState;
use crate::when;

#[derive(Template)]
#[template(path = "today.html")]
struct TodayPage {
    shell: Shell,
    counts: String,
    cut: Option<String>,
    branches: Vec<(String, String, bool)>,
    words: String,
    is_filtered: bool,
    stopped: Vec<StoppedView>,
    groups: Vec<Group>,
}

/// A machine that may not be used.
struct StoppedView {
    machine: String,
    machine_href: String,
    kitchen: String,
    kitchen_href: String,
    dangers: String,
    why: String,
    since: String,
    lines: Vec<LineView>,
}

struct Group {
    key: &'static str,
    title: String,
    lines: Vec<LineView>,
}

pub(crate) async fn show(
    State(state): State<ConsoleState>,
    SignedIn(caller): SignedIn,
    uri: Uri,
) -> Result<Response, PageFault> {
    let asked = Fields::of_query(&uri);
    let question = Today {
        branch: asked.parse("branch").and_then(Result::ok),
        words: asked.get("words").map(str::to_owned),
    };
    let branch = question.branch;
    let answer = state.application.ask(&caller, question).await?;
    let branches = answer
        .branches
        .iter()
        .map(|(id, name)| (id.to_string(), name.clone(), branch == Some(*id)))
        .collect();
    let page = TodayPage {
        shell: Shell::of(wording::say("today-title"), &caller).live(&"all", &uri),
        counts: counts(&answer),
        cut: (answer.of_all > SHOWN).then(|| {
            wording::say_with("today-cut", &[("shown", SHOWN.into()), ("all", answer.of_all.into())])
        }),
        branches,
        words: asked.raw("words").to_owned(),
        is_filtered: branch.is_some() || asked.get("words").is_some(),
        stopped: stopped(&answer),
        groups: groups(&answer),
    };
    Ok(show_page(StatusCode::OK, &page))
}

fn counts(answer: &TodayAnswer) -> String {
    let of_stopped = answer.stopped.iter().flat_map(|(_, lines)| lines);
    let over = answer.lines.iter().chain(of_stopped).filter(|line| line.is_over()).count();
    let open = wording::say_with("today-open", &[("count", answer.of_all.into())]);
    let over = wording::say_with("today-over", &[("count", over.into())]);
    format!("{open} · {over}")
}

fn stopped(answer: &TodayAnswer) -> Vec<StoppedView> {
    let view = |(machine, lines): &(application::today::StoppedMachine, Vec<application::today::Line>)| {
        let dangers: Vec<_> =
            machine.dangers.iter().map(|danger: &Danger| wording::term("danger", danger.word())).collect();
        let since = when::since(machine.stopped_at, answer.now);
        StoppedView {
            machine: machine.position_label.clone(),
            machine_href: format!("/machines/{}", machine.appliance),
            kitchen: machine.site_name.clone(),
            kitchen_href: format!("/kitchens/{}", machine.site),
            dangers: dangers.join("; "),
            why: machine.why.clone(),
            since: wording::say_with("today-stopped-since", &[("span", since.into())]),
            lines: lines.iter().map(|line| LineView::of(line, answer.now)).collect(),
        }
    };
    answer.stopped.iter().map(view).collect()
}

fn groups(answer: &TodayAnswer) -> Vec<Group> {
    let of_turn = |turn: Turn| {
        let lines: Vec<LineView> = answer
            .lines
            .iter()
            .filter(|line| line.turn == turn)
            .map(|line| LineView::of(line, answer.now))
            .collect();
        let (key, title) = match turn {
            Turn::We => ("we", "today-we"),
            Turn::Customer => ("customer", "today-customer"),
            Turn::Supplier => ("supplier", "today-supplier"),
            Turn::OnSite => ("on-site", "today-on-site"),
            Turn::Planned => ("planned", "today-planned"),
        };
        let title = wording::say_with(title, &[("count", lines.len().into())]);
        Group { key, title, lines }
    };
    Turn::ALL.into_iter().map(of_turn).filter(|group| !group.lines.is_empty()).collect()
}
