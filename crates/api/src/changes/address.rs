//! Where to read what an event speaks of.

use application::changes::Event;

/// The thing itself, or the list of its order, machine or kitchen that holds it; none for what has no address: what people sign
/// in with, and what is read with the whole of its kind.
pub(super) fn of(event: &Event) -> Option<String> {
    let (noun, verb) = event.kind.split_once('.')?;
    if matches!(verb, "erased" | "revoked" | "out_of_sight") {
        return None;
    }
    if let Some(list) = own(noun) {
        return Some(format!("/v1/{list}/{}", event.subject));
    }
    if let (Some(list), Some(order)) = (of_order(noun), event.work_order) {
        return Some(format!("/v1/work-orders/{order}/{list}"));
    }
    match (noun, event.appliance, event.site) {
        ("fitted_part", Some(appliance), _) => Some(format!("/v1/appliances/{appliance}/fitted-parts")),
        ("site_water", _, Some(site)) => Some(format!("/v1/sites/{site}/water")),
        ("known_good", ..) => Some("/v1/known-good/removals".to_owned()),
        _ => None,
    }
}

/// The list whose members have addresses of their own.
fn own(noun: &str) -> Option<&'static str> {
    Some(match noun {
        "appliance" => "appliances",
        "branch" => "branches",
        "call" => "calls",
        "contact" => "contacts",
        "customer" => "customers",
        "part" => "parts",
        "part_line" => "part-lines",
        "person" => "people",
        "site" => "sites",
        "test_run" => "test-runs",
        "visit" => "visits",
        "work_order" => "work-orders",
        _ => return None,
    })
}

/// The list of an order.
fn of_order(noun: &str) -> Option<&'static str> {
    Some(match noun {
        "action" => "actions-taken",
        "approval" => "approvals",
        "finding" => "findings",
        "interlock" => "interlock-defeats",
        "note" => "notes",
        "quote" => "quotes",
        "waiting" => "waiting",
        "waiver" => "waivers",
        _ => return None,
    })
}
