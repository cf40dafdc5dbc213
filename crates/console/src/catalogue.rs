//! The catalogue: which machines are known, how they are tested, what can be wrong with them.

mod faults;
mod list;
mod model;
mod own;
mod plate;
mod procedure;

use axum::Router;
use axum::http::Uri;
use axum::routing::get;
use domain::equipment::Measurement;
use domain::text::Key;

use crate::order::segment;
use crate::page::PageFault;
use crate::state::ConsoleState;

pub(crate) fn routes() -> Router<ConsoleState> {
    Router::new()
        .route("/catalogue", get(list::show))
        .route("/catalogue/models/{key}", get(model::show))
        .route("/catalogue/models/{key}/versions/{version}", get(model::show))
        .route("/catalogue/procedures/{key}", get(procedure::show))
        .route("/catalogue/procedures/{key}/versions/{version}", get(procedure::show))
        .route("/catalogue/faults/{key}", get(faults::show))
        .route("/catalogue/faults/{key}/versions/{version}", get(faults::show))
        .route("/catalogue/own-machine", get(own::show).post(own::work))
}

/// The key and, if one is named, the version in an address under `/catalogue`.
fn named(uri: &Uri) -> Result<(Key, Option<u32>), PageFault> {
    let key = Key::new(segment(uri, 3)).map_err(|_| PageFault::NotFound)?;
    let version = match segment(uri, 5) {
        "" => None,
        version => Some(version.parse().map_err(|_| PageFault::NotFound)?),
    };
    Ok((key, version))
}

/// A version and where it is shown; the one that is looked at leads nowhere.
struct VersionLink {
    number: u32,
    href: Option<String>,
}

/// The newest first.
fn versions(at: &str, here: u32, newest: u32) -> Vec<VersionLink> {
    let link =
        |number| VersionLink { number, href: (number != here).then(|| format!("{at}/versions/{number}")) };
    (1..=newest).rev().map(link).collect()
}

fn plain(key: &str) -> String {
    key.replace('_', " ")
}

fn position(key: &str) -> String {
    wording::term("position", key).into_owned()
}

/// What is measured, as people read it.
fn measured(of: &Measurement) -> String {
    let step = wording::term("step", of.step.as_str());
    match of.statistic {
        Some(statistic) => format!("{step}, {}", wording::term("statistic", statistic.key())),
        None => step.into_owned(),
    }
}

/// Where something stands that comes with the service, or that the company keeps itself.
fn origin(is_built_in: bool) -> String {
    wording::say(if is_built_in { "catalogue-built-in" } else { "catalogue-own" })
}
