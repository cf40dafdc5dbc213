//! A technician's day as his phone keeps it for where there is no signal: his visits, what the phone judges by, and the pages
//! of every procedure. One answer; asked for again it comes only if something changed.

use std::collections::BTreeMap;
use std::fmt::Write as _;

use application::keep_day::{KeepDay, KeptDay, KeptVisit};
use application::see_visit::VisitFile;
use axum::extract::State;
use axum::http::{HeaderMap, HeaderValue, StatusCode, header};
use axum::response::{IntoResponse, Response};
use domain::diagnosis::ENGINE_VERSION;
use serde_json::{Value, json};
use sha2::{Digest, Sha256};

use super::{defeats, offline, procedure, record};
use crate::access::SignedIn;
use crate::page::{PageFault, Shell};
use crate::state::ConsoleState;
use crate::static_files;

pub(super) async fn show(
    State(state): State<ConsoleState>,
    SignedIn(caller): SignedIn,
    headers: HeaderMap,
) -> Result<Response, PageFault> {
    let day = state.application.ask(&caller, KeepDay).await?;
    let mut pages = BTreeMap::new();
    for visit in &day.visits {
        pages_of(&Shell::of(String::new(), &caller), &visit.of, &mut pages)?;
    }
    let body = json!({
        "person": day.person,
        "name": caller.principal.name,
        "engine": offline::engine_path(),
        "engine_version": ENGINE_VERSION,
        "visits": visits(&day),
        "knowledge": day.knowledge,
        "pages": pages,
    })
    .to_string();
    let tag = tag(&body);
    let known = headers.get(header::IF_NONE_MATCH).is_some_and(|known| *known == tag);
    if known {
        return Ok((StatusCode::NOT_MODIFIED, [(header::ETAG, tag)]).into_response());
    }
    let kind = HeaderValue::from_static("application/json");
    Ok(([(header::CONTENT_TYPE, kind), (header::ETAG, tag)], body).into_response())
}

/// Weak, as the answer is compressed on its way; of the files too, which the pages name.
fn tag(body: &str) -> HeaderValue {
    let mut hasher = Sha256::new();
    hasher.update(static_files::path(""));
    hasher.update(body);
    let mut text = String::from("W/\"");
    for byte in hasher.finalize().iter().take(16) {
        let _ = write!(text, "{byte:02x}"); // writing into a String does not fail
    }
    text.push('"');
    HeaderValue::try_from(text).unwrap_or(HeaderValue::from_static("W/\"\""))
}

fn visits(day: &KeptDay) -> BTreeMap<String, Value> {
    day.visits.iter().map(|visit| (visit.of.visit.id.to_string(), kept(visit))).collect()
}

fn kept(visit: &KeptVisit) -> Value {
    let of = &visit.of;
    let last_healthy = visit.evidence.iter().flat_map(|kept| &kept.last_healthy);
    let last_healthy: Vec<Value> = last_healthy
        .map(|(of, last)| {
            json!({"of": of, "taken_at": last.taken_at, "value": last.value, "verified": last.verified})
        })
        .collect();
    json!({
        "order": of.file.order.id,
        "number": of.file.order.number,
        "appliance": of.file.appliance.as_ref().map(|appliance| appliance.id),
        "machine": super::visit::machine(of),
        "phase": record::phase(of),
        "interlock_defeat": defeats::usable(of),
        "knowledge": visit.evidence.as_ref().map(|kept| &kept.knowledge),
        "evidence": visit.evidence.as_ref().map(|kept| &kept.evidence),
        "last_healthy": last_healthy,
    })
}

/// The cautions and the steps of each procedure, at the addresses at which the phone finds them.
fn pages_of(shell: &Shell, of: &VisitFile, pages: &mut BTreeMap<String, String>) -> Result<(), PageFault> {
    for known in &of.procedures {
        let at = format!("/day/{}/procedures/{}", of.visit.id, known.key);
        let shell = Shell { title: known.title.to_string(), ..shell.clone() };
        let [cautions, steps] = procedure::to_keep(&shell, of, known)?;
        pages.insert(format!("{at}?begin=yes"), steps);
        pages.insert(at, cautions);
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_same_day_has_the_same_tag_and_another_another() {
        assert_eq!(tag("{}"), tag("{}"));
        assert_ne!(tag("{}"), tag("{\"a\":1}"));
        assert!(tag("{}").to_str().unwrap().starts_with("W/\""));
    }
}
