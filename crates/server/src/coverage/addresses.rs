//! Where the feed says that something is to be read, it is.

use std::collections::BTreeSet;

use super::provoke::reading;
use super::service::{Service, Temper};

/// What has no address: what people sign in with, and what is read with the whole of its kind.
const WITHOUT: &[&str] = &[
    "fault_catalogue",
    "knowledge_version",
    "model",
    "pairing",
    "phone",
    "procedure",
    "session",
    "sign_in",
    "term",
    "token",
];

/// Where the feed stands now.
pub(super) async fn stand(service: &Service) -> String {
    let page = service.send(Temper::Usual, &reading(service, "/v1/changes")).await;
    page.body["cursor"].as_str().unwrap().to_owned()
}

/// All that was told since then.
pub(super) async fn lead_to_what_they_say(service: &mut Service, since: &str) {
    let path = format!("/v1/changes?limit=1000&cursor={since}");
    let page = service.send(Temper::Usual, &reading(service, &path)).await;
    let items = page.body["items"].as_array().unwrap();
    let gone: BTreeSet<_> =
        items.iter().filter(|item| item["gone"] == true).map(|item| item["subject_id"].as_str()).collect();
    let mut followed = 0;
    for item in items.iter().filter(|item| !gone.contains(&item["subject_id"].as_str())) {
        let (kind, subject) = (item["kind"].as_str().unwrap(), item["subject_id"].as_str().unwrap());
        let Some(address) = item["address"].as_str() else {
            if !WITHOUT.contains(&kind.split('.').next().unwrap()) {
                service.faults.push(format!("{kind} has no address"));
            }
            continue;
        };
        let there = service.send(Temper::Usual, &reading(service, address)).await;
        if there.status != 200 || !there.body.to_string().contains(subject) {
            service.faults.push(format!("{kind} {subject} is not at {address}: {}", there.status));
        }
        followed += 1;
    }
    assert!(followed > 20, "the walk told {followed} things that have addresses");
}
