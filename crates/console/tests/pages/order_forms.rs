//! The office's forms on an order: what was found and done, what it is, what it does without, what is taken away for a while.

use application::appliance::CreateAppliance;
use chrono::TimeDelta;
use domain::role::Role;
use domain::text::{Key, Name};
use domain::work::{ApplianceState, Urgency};
use sqlx::PgPool;
use store::appliance::NewAppliance;

use crate::day::{other_id, send};
use crate::house::{HOSTILE, House, id};

const DISPATCHER: Option<Role> = Some(Role::Dispatcher);
const MANAGER: Option<Role> = Some(Role::Manager);

/// Every address that a page's forms are sent to.
fn actions(body: &str) -> Vec<String> {
    let forms = body.split("<form ").skip(1).filter(|form| form.contains("method=\"post\""));
    let action =
        |form: &str| form.split_once("action=\"").map(|(_, rest)| rest.split('"').next().unwrap().to_owned());
    forms.filter_map(action).collect()
}

#[sqlx::test(migrations = "../../migrations")]
async fn every_form_of_an_order_and_of_a_visit_leads_somewhere(pool: PgPool) {
    let house = House::over(pool).await;
    let number = house.call("It stays dirty.", Urgency::Degraded, |_| ()).await;
    let visit = send(&house, number, "2026-04-22T10:00").await;
    let mut tried = 0;
    for role in [Role::Dispatcher, Role::Manager, Role::Technician] {
        for path in [format!("/orders/{number}"), visit.clone()] {
            let page = house.get(Some(role), &path).await.assert(200);
            let of_shell = ["/sign-out", "/language", "/measures"];
            for action in actions(&page.body).iter().filter(|action| !of_shell.contains(&action.as_str())) {
                // Sent empty it is refused beside its button, or carried out where nothing has to be said.
                let answer = house.post(Some(role), action, &[]).await;
                assert!(
                    [303, 409].contains(&answer.status.as_u16()),
                    "{action} as {role}: {}",
                    answer.status
                );
                tried += 1;
            }
        }
    }
    assert!(tried > 40, "{tried}");
}

#[sqlx::test(migrations = "../../migrations")]
async fn the_office_says_what_was_found_and_takes_it_back(pool: PgPool) {
    let house = House::over(pool).await;
    let number = house.call("It stays dirty.", Urgency::Degraded, |_| ()).await;
    let path = format!("/orders/{number}");
    let page = house.get(DISPATCHER, &path).await.assert(200).assert_says("Nothing was found yet");
    let id = other_id(&page.body, "find-other");
    let base = [
        ("form", "find-other"),
        ("id", id.as_str()),
        ("position", "fill_valve"),
        ("finding", "failed"),
        ("evidence", "timed"),
    ];
    let typed: Vec<_> = base.into_iter().chain([("note", HOSTILE)]).collect();
    // In which manner it fails was left out: told beside the form, and what was typed stays.
    let refused = house.post(DISPATCHER, &format!("{path}/findings"), &typed).await.assert(409);
    let refused = refused.assert_says("in which manner").assert_says("&#60;script&#62;alert");
    assert!(!refused.body.contains("<script>alert"));
    let typed: Vec<_> = base.into_iter().chain([("failure_mode", "slow"), ("note", HOSTILE)]).collect();
    let answer = house.post(DISPATCHER, &format!("{path}/findings"), &typed).await.assert(303);
    assert_eq!(answer.header("location"), format!("{path}#found"));
    let page = house.get(DISPATCHER, &path).await.assert_says("fill valve: failed (slow)");

    let back = actions(&page.body).into_iter().find(|action| action.ends_with("/take-back")).unwrap();
    let field = |name: &str| page.hidden(&back, name);
    let (form, id) = (field("form"), field("id"));
    let typed = [
        ("form", form.as_str()),
        ("id", id.as_str()),
        ("position", "fill_valve"),
        ("finding", "failed"),
        ("evidence", "timed"),
    ];
    house.post(DISPATCHER, &back, &typed).await.assert(409).assert_says("Something needed was left out");
    let typed: Vec<_> = typed.into_iter().chain([("why", "It was another machine.")]).collect();
    house.post(DISPATCHER, &back, &typed).await.assert(303);
    house.get(DISPATCHER, &path).await.assert_says("Nothing was found yet");
}

#[sqlx::test(migrations = "../../migrations")]
async fn what_an_order_is_can_be_changed_and_a_stale_change_keeps_what_was_typed(pool: PgPool) {
    let house = House::over(pool).await;
    let number = house.call("It stays dirty.", Urgency::Degraded, |_| ()).await;
    let path = format!("/orders/{number}");
    let to = format!("{path}/change");
    let page = house.get(DISPATCHER, &path).await.assert(200);
    let version = page.hidden(&to, "version");
    let typed = [
        ("version", version.as_str()),
        ("urgency", "key_unit_down"),
        ("symptom", "does_not_clean"),
        ("symptom", "noisy"),
        ("limit", "250,50"),
        ("currency", "eur"),
    ];
    let wrong: Vec<_> =
        typed.into_iter().map(|(name, text)| (name, if name == "limit" { "much" } else { text })).collect();
    house
        .post(DISPATCHER, &to, &wrong)
        .await
        .assert(409)
        .assert_says("An amount is written as")
        .assert_says("value=\"much\"");
    house.post(DISPATCHER, &to, &typed).await.assert(303);
    let page = house.get(DISPATCHER, &path).await.assert_says("key unit down").assert_says("noisy");
    page.assert_says("of 250.50 EUR");
    let stale = house.post(DISPATCHER, &to, &typed).await.assert(409);
    stale.assert_says("Somebody changed this").assert_says("value=\"250,50\"");
    // Technicians are offered none of it.
    let visit = send(&house, number, "2026-04-22T10:00").await;
    for at in [&path, &visit] {
        let page = house.get(Some(Role::Technician), at).await.assert(200);
        assert!(!page.body.contains("/change\"") || page.body.contains("/lines/"), "{}", page.body);
        assert!(!page.body.contains("/waivers\""), "{}", page.body);
    }
}

#[sqlx::test(migrations = "../../migrations")]
async fn somebody_of_the_management_lets_a_proof_pass_and_says_why(pool: PgPool) {
    let house = House::over(pool).await;
    let number = house.call("It stays dirty.", Urgency::Degraded, |_| ()).await;
    let path = format!("/orders/{number}");
    let to = format!("{path}/waivers");
    assert!(!house.get(DISPATCHER, &path).await.assert(200).body.contains(&format!("action=\"{to}\"")));
    let id = house.get(MANAGER, &path).await.assert(200).hidden(&to, "id");
    let typed = [
        ("id", id.as_str()),
        ("what", "full_cycle"),
        ("code", "kitchen_needs_it"),
        ("reason", "Breakfast <b>is</b> served."),
    ];
    house.post(DISPATCHER, &to, &typed).await.assert(409).assert_says("Your role may not do this");
    house.post(MANAGER, &to, &typed).await.assert(303);
    let page = house
        .get(DISPATCHER, &path)
        .await
        .assert_says("Let pass without a full cycle (the kitchen needs it now)");
    page.assert_says("Breakfast &#60;b&#62;is&#60;/b&#62; served.");
}

#[sqlx::test(migrations = "../../migrations")]
async fn a_machine_is_stopped_and_an_interlock_defeat_stands_until_it_is_off(pool: PgPool) {
    let house = House::over(pool).await;
    let number = house.call("It stays dirty.", Urgency::Degraded, |_| ()).await;
    let path = format!("/orders/{number}");
    let page = house.get(DISPATCHER, &path).await.assert_says("No interlock is defeated");
    let defeats = format!("{path}/defeats");
    let id = page.hidden(&defeats, "id");
    house
        .post(DISPATCHER, &defeats, &[("id", id.as_str()), ("minutes", "10")])
        .await
        .assert(409)
        .assert_says("Never alone");
    let typed = [("id", id.as_str()), ("minutes", "10"), ("second_person", "Ana Chef")];
    house.post(DISPATCHER, &defeats, &typed).await.assert(303);
    let page = house.get(DISPATCHER, &path).await.assert_says("with Ana Chef standing by");
    let off = actions(&page.body).into_iter().find(|action| action.ends_with("/remove")).unwrap();
    house.post(DISPATCHER, &off, &[]).await.assert(303);
    house.get(DISPATCHER, &path).await.assert_says("An interlock was defeated from");

    let stops = format!("{path}/stops");
    let page = house.get(DISPATCHER, &path).await;
    let (id, machine) = (page.hidden(&stops, "id"), page.hidden(&stops, "appliance"));
    let typed = [
        ("id", id.as_str()),
        ("appliance", machine.as_str()),
        ("danger", "electric"),
        ("why", "Water drips on its plug."),
    ];
    house.post(DISPATCHER, &stops, &typed).await.assert(303);
    house
        .get(DISPATCHER, &path)
        .await
        .assert_says("nobody may use this machine")
        .assert_says("Water drips on its plug.");
}

#[sqlx::test(migrations = "../../migrations")]
async fn an_order_is_led_to_the_right_machine_and_a_visit_to_another_hour(pool: PgPool) {
    let house = House::over(pool).await;
    let other = NewAppliance {
        id: id(&house.application),
        site: house.site,
        model: Key::new("demo_combi").unwrap(),
        model_version: None,
        position_label: Name::new("right combi").unwrap(),
        serial: None,
        installed_on: None,
        state: ApplianceState::Up,
        limits: Vec::new(),
    };
    let right = other.id.to_string();
    house.application.perform(&house.caller(Role::Manager), CreateAppliance(other)).await.unwrap();
    let number = house.call("It stays dirty.", Urgency::Degraded, |_| ()).await;
    let visit = send(&house, number, "2026-04-22T10:00").await;
    let path = format!("/orders/{number}");
    let to = format!("{path}/other-machine");
    let id = house.get(DISPATCHER, &path).await.assert(200).hidden(&to, "id");
    let typed = [("id", id.as_str()), ("machine", right.as_str()), ("why", "The plate says so.")];
    house.post(DISPATCHER, &to, &typed).await.assert(303);
    house.get(DISPATCHER, &path).await.assert_says(&format!("href=\"/machines/{right}\""));

    let plan = format!("{path}/visits/{}/plan", visit.trim_start_matches("/day/"));
    let version = house.get(DISPATCHER, &path).await.hidden(&plan, "version");
    let nobody = [("version", version.as_str()), ("planned_at", "2026-04-24T11:15")];
    house
        .post(DISPATCHER, &plan, &nobody)
        .await
        .assert(409)
        .assert_says("Say who goes")
        .assert_says("2026-04-24T11:15");
    let person = house.people[&Role::Technician].to_string();
    let typed: Vec<_> = nobody.into_iter().chain([("person", person.as_str())]).collect();
    house.post(DISPATCHER, &plan, &typed).await.assert(303);
    house.get(DISPATCHER, &path).await.assert_says("comes Fri 24 Apr 11:15");
}

#[sqlx::test(migrations = "../../migrations")]
async fn a_note_that_asks_to_ring_back_stands_on_today_until_somebody_has_rung(pool: PgPool) {
    let house = House::over(pool).await;
    let number = house.call("It stays dirty.", Urgency::Degraded, |_| ()).await;
    let (path, to) = (format!("/orders/{number}"), format!("/orders/{number}/notes"));
    let page = house.get(DISPATCHER, &path).await.assert_says("Nothing is noted");
    let id = page.hidden(&to, "id");
    let note = [("id", id.as_str()), ("words", HOSTILE), ("ring_back_at", "2026-04-22T15:00")];
    house.post(DISPATCHER, &to, &note).await.assert(303);
    house.get(DISPATCHER, "/today").await.assert_says("ring back 15:00");
    house.later(TimeDelta::hours(7));
    let today = house.get(DISPATCHER, "/today").await.assert_says("Ring back</a>");
    today.assert_says(&format!("/orders/{number}#notes-axis"));
    let page = house.get(DISPATCHER, &path).await.assert(200);
    assert!(!page.body.contains("<script>alert"), "{}", page.body);
    let rung = page.body.split("id=\"move-rung-").nth(1).expect("a form for having rung");
    let settles = rung.split('"').next().unwrap().to_owned();
    let id = rung.split("name=\"id\" value=\"").nth(1).unwrap().split('"').next().unwrap().to_owned();
    let told = [("id", id.as_str()), ("settles", settles.as_str()), ("words", "They want it on Friday.")];
    house.post(DISPATCHER, &to, &told).await.assert(303);
    house.get(DISPATCHER, &path).await.assert_says("Rung back: They want it on Friday.");
    let today = house.get(DISPATCHER, "/today").await;
    assert!(!today.body.contains("Ring back</a>"), "{}", today.body);
}

#[sqlx::test(migrations = "../../migrations")]
async fn what_holds_of_a_kitchen_is_told_on_its_page_and_read_on_every_visit(pool: PgPool) {
    let house = House::over(pool).await;
    let number = house.call("It stays dirty.", Urgency::Degraded, |_| ()).await;
    let order = house.get(DISPATCHER, &format!("/orders/{number}")).await.assert(200);
    let kitchen = order.body.split("href=\"/kitchens/").nth(1).unwrap().split('"').next().unwrap();
    let (path, to) = (format!("/kitchens/{kitchen}"), format!("/kitchens/{kitchen}/standing-facts"));
    let version =
        house.get(DISPATCHER, &path).await.assert_says("Nobody has told yet").hidden(&to, "version");
    let long = "x".repeat(4001);
    let too_long = [("version", version.as_str()), ("parking", &long), ("who_signs", "The cook.")];
    house
        .post(DISPATCHER, &to, &too_long)
        .await
        .assert(409)
        .assert_says("at most 4000")
        .assert_says("The cook.");
    let told = [("version", version.as_str()), ("shut_offs", HOSTILE), ("quiet_hours", "At noon.")];
    house.post(DISPATCHER, &to, &told).await.assert(303);
    let page = house.get(DISPATCHER, &path).await.assert_says("When not to come: At noon.");
    assert!(!page.body.contains("<script>alert"), "{}", page.body);
    house.post(DISPATCHER, &to, &told).await.assert(409).assert_says("Somebody changed this");
    let visit = send(&house, number, "2026-04-22T10:00").await;
    let page = house.get(Some(Role::Technician), &visit).await.assert_says("When not to come: At noon.");
    let version = page.hidden(&format!("{visit}/standing-facts"), "version");
    let learnt = [("version", version.as_str()), ("getting_in", "Ring twice.")];
    house.post(Some(Role::Technician), &format!("{visit}/standing-facts"), &learnt).await.assert(303);
    house.get(Some(Role::Technician), &visit).await.assert_says("Getting in, and the key: Ring twice.");
}
