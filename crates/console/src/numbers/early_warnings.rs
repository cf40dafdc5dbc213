//! Which machine is on its way to failing?

use application::drift::{EarlyWarnings, GetEarlyWarnings, READINGS_TO_A_FALSE_ALARM, Warning};
use askama::Template;
use axum::extract::State;
use axum::http::StatusCode;
use axum::response::Response;
use domain::time::Timestamp;

use crate::access::SignedIn;
use crate::page::{PageFault, Shell, show as show_page};
use crate::state::ConsoleState;
use crate::when;

#[derive(Template)]
#[template(path = "numbers/early_warnings.html")]
struct EarlyWarningsPage {
    shell: Shell,
    lead: String,
    rows: Vec<Row>,
    left_out: String,
    rule: String,
}

struct Row {
    machine: String,
    machine_href: String,
    kitchen: String,
    kitchen_href: String,
    reading: String,
    says: String,
    since: String,
    often: String,
    /// The order that is open on it: its name and where it is.
    open: Option<(String, String)>,
    look_href: String,
    look: String,
}

pub(crate) async fn show(
    State(state): State<ConsoleState>,
    SignedIn(caller): SignedIn,
) -> Result<Response, PageFault> {
    let found = state.application.ask(&caller, GetEarlyWarnings).await?;
    // Rounded as far as anybody cares.
    let seldom = format!("{:.0}", (READINGS_TO_A_FALSE_ALARM / 100.0).round() * 100.0);
    let page = EarlyWarningsPage {
        shell: Shell::of(wording::say("early-warnings-title"), &caller),
        lead: lead(&found),
        left_out: left_out(&found),
        rule: wording::say_with("early-warnings-rule", &[("readings", seldom.into())]),
        rows: found.warnings.iter().map(|warning| Row::of(warning, found.as_of)).collect(),
    };
    Ok(show_page(StatusCode::OK, &page))
}

fn lead(found: &EarlyWarnings) -> String {
    let mut machines: Vec<_> = found.warnings.iter().map(|warning| warning.machine.appliance).collect();
    machines.sort_unstable();
    machines.dedup();
    let variables = [("machines", machines.len().into()), ("looked", found.machines.into())];
    wording::say_with("early-warnings-lead", &variables)
}

fn left_out(found: &EarlyWarnings) -> String {
    let mended = wording::say_with("early-warnings-mended", &[("mended", found.mended.into())]);
    if found.is_cut { format!("{mended} {}", wording::say("early-warnings-more")) } else { mended }
}

impl Row {
    fn of(warning: &Warning, now: Timestamp) -> Self {
        let Warning { machine, drift, often, minutes } = warning;
        let unit = crate::order::Unit::of(drift.quantity.canonical_unit());
        let variables = [("usual", unit.write(drift.usual).into()), ("last", unit.write(drift.last).into())];
        let reading = wording::term("step", drift.of.step.as_str()).into_owned();
        let says = wording::say_with(
            if drift.rises { "early-warnings-rises" } else { "early-warnings-falls" },
            &variables,
        );
        // The call page takes what it is asked for in its address.
        let asked = serde_urlencoded::to_string([
            ("site", machine.site.to_string()),
            ("machine", machine.appliance.to_string()),
            ("urgency", "planned".to_owned()),
            ("words", format!("{reading}: {says}")),
        ]);
        let look = match minutes {
            Some(minutes) => wording::say_with(
                "early-warnings-look-minutes",
                &[("minutes", format!("{minutes:.0}").into())],
            ),
            None => wording::say("early-warnings-look"),
        };
        Self {
            machine: machine.label.to_string(),
            machine_href: format!("/machines/{}", machine.appliance),
            kitchen: machine.site_name.to_string(),
            kitchen_href: format!("/kitchens/{}", machine.site),
            since: when::day(drift.since.instant().date_naive(), now),
            often: often.as_ref().map(|fault| wording::text(fault.as_str()).into_owned()).unwrap_or_default(),
            open: machine.open_order.map(|number| {
                let name = wording::say_with("early-warnings-open", &[("number", number.to_string().into())]);
                (name, format!("/orders/{number}"))
            }),
            look_href: format!("/calls/new?{}", asked.unwrap_or_default()),
            look,
            reading,
            says,
        }
    }
}
