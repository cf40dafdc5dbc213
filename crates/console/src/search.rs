//! Finds what somebody can name.

use application::find_anything::{FindAnything, Found};
use askama::Template;
use axum::extract::State;
use axum::http::{StatusCode, Uri};
use axum::response::Response;

use crate::access::SignedIn;
use crate::fields::Fields;
use crate::page::{PageFault, Shell, show as show_page};
use crate::state::ConsoleState;

#[derive(Template)]
#[template(path = "search.html")]
struct SearchPage {
    shell: Shell,
    words: String,
    found: Vec<FoundView>,
}

/// Something that was found, and where it leads.
pub(crate) struct FoundView {
    pub kind: String,
    pub title: String,
    pub of: String,
    pub href: String,
    /// Where a call about it is taken.
    pub call_href: Option<String>,
}

pub(crate) async fn show(
    State(state): State<ConsoleState>,
    SignedIn(caller): SignedIn,
    uri: Uri,
) -> Result<Response, PageFault> {
    let words = Fields::of_query(&uri).raw("words").to_owned();
    let found = state.application.ask(&caller, FindAnything(words.clone())).await?;
    let mut shell = Shell::of(wording::say("search-title"), &caller);
    shell.found.clone_from(&words);
    let page = SearchPage { shell, words, found: found.into_iter().map(FoundView::from).collect() };
    Ok(show_page(StatusCode::OK, &page))
}

impl From<Found> for FoundView {
    fn from(found: Found) -> Self {
        let kitchen = found.site_id.map(|site| format!("/kitchens/{site}"));
        let href = match found.kind.as_str() {
            "work_order" => Some(format!("/orders/{}", found.title.trim_start_matches('#'))),
            "appliance" => Some(format!("/machines/{}", found.id)),
            "customer" => None,
            _ => kitchen,
        };
        Self {
            kind: wording::term("found", &found.kind).into_owned(),
            title: found.title,
            of: found.of,
            href: href.unwrap_or_default(),
            call_href: found.site_id.map(|site| format!("/calls/new?site={site}")),
        }
    }
}
