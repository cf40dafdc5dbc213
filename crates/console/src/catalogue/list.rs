use application::see_catalogue::{Catalogue, SeeCatalogue};
use askama::Template;
use axum::extract::State;
use axum::http::StatusCode;
use axum::response::Response;

use super::origin;
use crate::access::SignedIn;
use crate::page::{PageFault, Shell, show as show_page};
use crate::state::ConsoleState;

#[derive(Template)]
#[template(path = "catalogue/list.html")]
struct ListPage {
    shell: Shell,
    may_draft: bool,
    models: Vec<Entry>,
    procedures: Vec<Entry>,
    faults: Vec<Entry>,
}

struct Entry {
    href: String,
    title: String,
    about: String,
    origin: String,
    version: u32,
}

pub(crate) async fn show(
    State(state): State<ConsoleState>,
    SignedIn(caller): SignedIn,
) -> Result<Response, PageFault> {
    let Catalogue { models, procedures, faults } = state.application.ask(&caller, SeeCatalogue).await?;
    let title = |key: &domain::text::Key| {
        let known = models.iter().find(|kept| kept.entry.key == *key);
        known.map_or_else(|| key.to_string(), |kept| wording::text(kept.entry.title.as_str()).into_owned())
    };
    let of_faults = faults.iter().map(|kept| Entry {
        href: format!("/catalogue/faults/{}", kept.entry.model),
        title: title(&kept.entry.model),
        about: wording::say_with("catalogue-faults", &[("count", kept.entry.faults.len().into())]),
        origin: if kept.entry.general && !kept.built_in {
            wording::say("catalogue-general")
        } else {
            origin(kept.built_in)
        },
        version: kept.entry.version,
    });
    let of_faults = of_faults.collect();
    let of_models = models.iter().map(|kept| Entry {
        href: format!("/catalogue/models/{}", kept.entry.key),
        title: wording::text(kept.entry.title.as_str()).into_owned(),
        about: wording::say_with("catalogue-positions", &[("count", kept.entry.positions.len().into())]),
        origin: origin(kept.built_in),
        version: kept.entry.version,
    });
    let mut of_procedures: Vec<Entry> = procedures
        .iter()
        .map(|kept| {
            let minutes = format!("{:.0}", kept.entry.minutes);
            let variables = [("minutes", minutes.into()), ("count", kept.entry.steps.len().into())];
            Entry {
                href: format!("/catalogue/procedures/{}", kept.entry.key),
                title: wording::text(kept.entry.title.as_str()).into_owned(),
                about: wording::say_with("procedure-about", &variables),
                origin: origin(kept.built_in),
                version: kept.entry.version,
            }
        })
        .collect();
    of_procedures.sort_by(|one, other| one.title.cmp(&other.title));
    let page = ListPage {
        may_draft: caller.require("draft_model").is_ok(),
        shell: Shell::of(wording::say("catalogue-title"), &caller),
        models: of_models.collect(),
        procedures: of_procedures,
        faults: of_faults,
    };
    Ok(show_page(StatusCode::OK, &page))
}
