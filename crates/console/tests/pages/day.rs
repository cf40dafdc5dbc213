//! The technician's pages, without script: his day, a visit, a procedure from its cautions to its verdict.

use application::catalogue::CreateProcedure;
use application::see_visit::SeeVisit;
use chrono::TimeDelta;
use domain::danger::Danger;
use domain::judgement::{Evidence, Judge, Knowledge};
use domain::procedure::{Procedure, built_in_procedures};
use domain::role::Role;
use domain::text::{Key, Name};
use domain::work::Urgency;
use sqlx::PgPool;

use crate::house::{HOSTILE, House};

const TECHNICIAN: Option<Role> = Some(Role::Technician);
const DISPATCHER: Option<Role> = Some(Role::Dispatcher);

/// Sends the technician to an order at this hour, in the kitchen's time; his page of the visit.
pub async fn send(house: &House, number: i64, at: &str) -> String {
    let order = format!("/orders/{number}");
    let page = house.get(DISPATCHER, &order).await.assert(200);
    let version = page.hidden(&format!("{order}/moves/assess"), "version");
    house.post(DISPATCHER, &format!("{order}/moves/assess"), &[("version", &version)]).await.assert(303);
    let page = house.get(DISPATCHER, &order).await.assert(200);
    let id = page.hidden(&format!("{order}/visits"), "id");
    let person = house.people[&Role::Technician].to_string();
    let typed = [("id", id.as_str()), ("planned_at", at), ("person", person.as_str())];
    house.post(DISPATCHER, &format!("{order}/visits"), &typed).await.assert(303);
    format!("/day/{id}")
}

/// Takes a step of the visit by its button on the visit's page.
async fn step(house: &House, visit: &str, action: &str, typed: &[(&str, &str)]) {
    let to = format!("{visit}/visits/{}/{action}", visit.trim_start_matches("/day/"));
    let version = house.get(TECHNICIAN, visit).await.assert(200).hidden(&to, "version");
    let mut fields = vec![("version", version.as_str())];
    fields.extend_from_slice(typed);
    let answer = house.post(TECHNICIAN, &to, &fields).await.assert(303);
    assert_eq!(answer.header("location"), format!("{visit}#visit-axis"));
}

/// The steps of a procedure, once its cautions are heeded.
fn begun(visit: &str, procedure: &str) -> String {
    format!("{visit}/procedures/{procedure}?begin=yes&heeded=yes")
}

#[sqlx::test(migrations = "../../migrations")]
async fn he_is_led_to_his_day_and_sees_his_own_visits_alone(pool: PgPool) {
    let mut house = House::over(pool).await;
    house.give_password(Role::Technician, "tom", "correct horse battery").await;
    let fields = [("name", "tom"), ("password", "correct horse battery")];
    let answer = house.post(None, "/sign-in", &fields).await.assert(303);
    let secret = answer.header("set-cookie").split(['=', ';']).nth(1).unwrap().to_owned();
    house.sessions.insert(Role::Technician, secret);
    assert_eq!(house.get(TECHNICIAN, "/").await.assert(303).header("location"), "/day");
    house.get(TECHNICIAN, "/day").await.assert(200).assert_says("You are sent nowhere");

    let number = house.call("It stays dirty.", Urgency::Danger, |call| {
        call.dangers = vec![Danger::Tingle];
        call.stop_use = true;
    });
    let number = number.await;
    let other = house.call("Another, for nobody yet.", Urgency::Degraded, |_| ()).await;
    let visit = send(&house, number, "2026-04-23T08:00").await;
    let page = house.get(TECHNICIAN, "/day").await.assert(200);
    let page = page.assert_says("Tomorrow").assert_says("It stays dirty.").assert_says(&visit);
    let page =
        page.assert_says("nobody may use this machine").assert_says("local codes and licensed practice");
    assert!(!page.body.contains("Another, for nobody yet."), "{}", page.body);
    // What is dangerous stands before what was said.
    assert!(page.body.find("nobody may use").unwrap() < page.body.find("It stays dirty.").unwrap());
    house.get(TECHNICIAN, &format!("/orders/{other}")).await.assert(404);

    step(&house, &visit, "set_out", &[]).await;
    let page = house.get(TECHNICIAN, "/day").await.assert(200).assert_says(">Now<");
    page.assert_says("I have arrived");
    // Left alone for days, it is still there; once left, it is over, and gone the day after.
    house.later(TimeDelta::hours(10));
    step(&house, &visit, "arrive", &[]).await;
    step(&house, &visit, "leave", &[("result", "diagnosed"), ("appliance_state", "degraded")]).await;
    house.get(TECHNICIAN, "/day").await.assert(200).assert_says(">Over<");
}

#[sqlx::test(migrations = "../../migrations")]
async fn nobody_elses_visit_is_there_for_him(pool: PgPool) {
    let house = House::over(pool).await;
    let number = house.call("It stays dirty.", Urgency::Degraded, |_| ()).await;
    let visit = send(&house, number, "2026-04-22T10:00").await;
    house.get(Some(Role::Dispatcher), &visit).await.assert(200);
    let stranger = house.get(None, &visit).await.assert(303);
    assert!(stranger.header("location").starts_with("/sign-in?then="));
    let nobody = house.application.next_id();
    for path in [
        format!("/day/{nobody}"),
        format!("/day/{nobody}/procedures/fill_time"),
        format!("{visit}/procedures/there_is_none"),
        format!("{visit}/runs/{nobody}"),
        format!("{visit}/runs/nonsense"),
        "/day/nonsense".to_owned(),
    ] {
        house.get(TECHNICIAN, &path).await.assert(404);
    }
    for path in ["findings", "actions", "defeats", "procedures/fill_time", "moves/assess"] {
        house.post(TECHNICIAN, &format!("/day/{nobody}/{path}"), &[("version", "1")]).await.assert(404);
        let forged = [("sec-fetch-site", "cross-site")];
        let to = format!("{visit}/{path}");
        house.send(TECHNICIAN, axum::http::Method::POST, &to, &forged, Some(&[])).await.assert(403);
    }
}

#[sqlx::test(migrations = "../../migrations")]
async fn a_procedure_is_read_from_its_cautions_to_its_verdict_and_kept_once(pool: PgPool) {
    let house = House::over(pool).await;
    let number = house.call("It stays dirty.", Urgency::Degraded, |_| ()).await;
    let visit = send(&house, number, "2026-04-22T10:00").await;
    step(&house, &visit, "set_out", &[]).await;
    step(&house, &visit, "arrive", &[]).await;
    let procedure = format!("{visit}/procedures/fill_time");

    // Cautions come first, and nothing begins before somebody heeds them.
    let page = house.get(TECHNICIAN, &procedure).await.assert(200);
    let page = page.assert_says("set a barrier and a sign").assert_says("ISO 13732-1");
    let page =
        page.assert_says("local codes and licensed practice prevail").assert_says("The sump was drained");
    assert!(!page.body.contains("method=\"post\" data-steps"), "{}", page.body);
    let unheeded = house.get(TECHNICIAN, &format!("{procedure}?begin=yes")).await.assert(200);
    unheeded.assert_says("Confirm first that the machine is safe");

    let page =
        house.get(TECHNICIAN, &(begun(&visit, "fill_time") + "&confirmed=sump_empty")).await.assert(200);
    let page = page.assert_says("The clock starts with the first water").assert_says("1 / 1");
    let (id, version) = (page.hidden(&procedure, "id"), page.hidden(&procedure, "version"));
    assert_eq!(page.hidden(&procedure, "confirmed"), "sump_empty");
    let meta = [("id", id.as_str()), ("version", version.as_str()), ("confirmed", "sump_empty")];
    let typed = |more: &[(&'static str, &'static str)]| {
        meta.iter()
            .copied()
            .chain(more.iter().copied())
            .map(|(a, b)| (a.to_owned(), b.to_owned()))
            .collect::<Vec<_>>()
    };
    let post = |fields: Vec<(String, String)>| {
        let (house, procedure) = (&house, procedure.clone());
        async move {
            let fields: Vec<(&str, &str)> = fields.iter().map(|(a, b)| (a.as_str(), b.as_str())).collect();
            house.post(TECHNICIAN, &procedure, &fields).await
        }
    };

    // Nothing typed, nonsense typed, both typed: told beside the step, and what was typed stays.
    post(typed(&[])).await.assert(409).assert_says("Read it, or say why");
    let wrong = post(typed(&[("value:fill_time", "soon <b>")])).await.assert(409);
    wrong.assert_says("is no time").assert_says("soon &#60;b&#62;");
    let both = [("value:fill_time", "12"), ("why:fill_time", "no water")];
    post(typed(&both)).await.assert(409).assert_says("keep one of the two");

    let read = [("value:fill_time", "0:42,5"), ("unit:fill_time", "min"), ("touched:fill_time", "yes")];
    let kept = post(typed(&read)).await.assert(303);
    let device = kept.header("set-cookie").to_owned();
    for needed in ["__Host-ovenwright-device=browser-", "Secure", "HttpOnly", "SameSite=Lax", "Path=/"] {
        assert!(device.contains(needed), "{device}");
    }
    let run = kept.header("location").to_owned();
    assert_eq!(run, format!("{visit}/runs/{id}"));
    // Tapped twice, it is kept once; with something else in it, that is told.
    post(typed(&read)).await.assert(303);
    let other = [("value:fill_time", "30"), ("unit:fill_time", "s")];
    post(typed(&other)).await.assert(409).assert_says("sent already");

    let page = house.get(TECHNICIAN, &run).await.assert(200);
    let page = page.assert_says("42.5 s").assert_says("<svg class=\"scale").assert_says("Put back");
    page.assert_says("Next");
    let page = house.get(TECHNICIAN, &visit).await.assert(200).assert_says("42.5 s");
    assert_eq!(page.body.matches("class=\"value\"").count(), 1, "{}", page.body);

    // Still running at the end: a lower bound.
    let again = house.get(TECHNICIAN, &begun(&visit, "fill_time")).await.assert(200);
    let id = again.hidden(&procedure, "id");
    let bound = [
        ("id", id.as_str()),
        ("version", version.as_str()),
        ("value:fill_time", "300"),
        ("unit:fill_time", "s"),
        ("bound:fill_time", "at_least"),
    ];
    let run = house.post(TECHNICIAN, &procedure, &bound).await.assert(303).header("location").to_owned();
    house.get(TECHNICIAN, &run).await.assert(200).assert_says("at least 300 s");
}

#[sqlx::test(migrations = "../../migrations")]
async fn every_procedure_can_be_shown_and_skipped_by_its_form(pool: PgPool) {
    let house = House::over(pool).await;
    let number = house.call("It stays dirty.", Urgency::Degraded, |_| ()).await;
    let visit = send(&house, number, "2026-04-22T10:00").await;
    let list = house.get(TECHNICIAN, &visit).await.assert(200);
    let mut shown = 0;
    for procedure in built_in_procedures() {
        let to = format!("{visit}/procedures/{}", procedure.key);
        if !list.body.contains(&format!("href=\"{to}\"")) {
            house.get(TECHNICIAN, &to).await.assert(404);
            continue;
        }
        shown += 1;
        let cautions = house.get(TECHNICIAN, &to).await.assert(200);
        assert_eq!(cautions.body.matches("{highest").count(), 0);
        assert_eq!(
            cautions.body.contains("takes a protection away"),
            procedure.defeating_steps().next().is_some()
        );
        let page = house.get(TECHNICIAN, &begun(&visit, procedure.key.as_str())).await.assert(200);
        let id = page.hidden(&to, "id");
        let version = procedure.version.to_string();
        let steps: Vec<String> = skips(procedure, &page.body);
        assert!(!steps.is_empty(), "{}", procedure.key);
        let mut fields = vec![("id", id.as_str()), ("version", version.as_str())];
        fields.extend(steps.iter().map(|name| (name.as_str(), "the kitchen needed it")));
        house.post(TECHNICIAN, &to, &fields).await.assert(303);
    }
    assert!(shown > 10, "{shown}");
}

/// The fields in which the form takes a reason for each step.
fn skips(procedure: &Procedure, body: &str) -> Vec<String> {
    let fields = procedure.steps.iter().map(|step| format!("why:{}", step.key));
    fields.filter(|name| body.contains(&format!("name=\"{name}\""))).collect()
}

#[sqlx::test(migrations = "../../migrations")]
async fn a_protection_is_taken_away_only_under_a_recorded_defeat(pool: PgPool) {
    let house = House::over(pool).await;
    let number = house.call("It stays dirty.", Urgency::Degraded, |_| ()).await;
    let visit = send(&house, number, "2026-04-22T10:00").await;
    let to = format!("{visit}/procedures/door_switch");
    let page = house.get(TECHNICIAN, &to).await.assert(200).assert_says("a second person beside you");
    let steps = house.get(TECHNICIAN, &begun(&visit, "door_switch")).await.assert(200);
    steps.assert_says("so this step is left out");
    let defeats = format!("{visit}/defeats");
    let id = page.hidden(&defeats, "id");
    let base = [("id", id.as_str()), ("procedure", "door_switch")];
    let own = house.people[&Role::Technician].to_string();
    for (more, said) in [
        (vec![("minutes", "5")], "Never alone"),
        (vec![("minutes", "6"), ("second_person", "Ana Chef")], "from 1 to 5"),
        (vec![("minutes", "5"), ("second_person", "technician of the test")], "other than the one who opens"),
        (vec![("minutes", "5"), ("colleague", own.as_str())], "other than the one who opens"),
        (vec![("minutes", "5"), ("second_person", "Ana"), ("colleague", own.as_str())], "one of the two"),
    ] {
        let fields: Vec<_> = base.into_iter().chain(more).collect();
        house.post(TECHNICIAN, &defeats, &fields).await.assert(409).assert_says(said);
    }
    let fields: Vec<_> = base.into_iter().chain([("minutes", "5"), ("second_person", "Ana Chef")]).collect();
    let answer = house.post(TECHNICIAN, &defeats, &fields).await.assert(303);
    assert_eq!(answer.header("location"), to);
    for path in [visit.clone(), to.clone(), begun(&visit, "door_switch")] {
        let page = house.get(TECHNICIAN, &path).await.assert(200);
        page.assert_says("An interlock is defeated").assert_says("Ana Chef");
    }
    house.get(TECHNICIAN, "/day").await.assert_says("An interlock of this machine is defeated");
    let steps = house.get(TECHNICIAN, &begun(&visit, "door_switch")).await.assert(200);
    assert!(!steps.body.contains("so this step is left out"));
    // Its time runs out: it still has to be taken off, and nothing is read under it.
    house.later(TimeDelta::minutes(6));
    let page = house.get(TECHNICIAN, &begun(&visit, "door_switch")).await.assert(200);
    let page = page.assert_says("take it off now").assert_says("so this step is left out");
    let remove = page.body.split("action=\"").find(|rest| rest.contains("/remove\"")).unwrap();
    let remove = remove.split('"').next().unwrap().to_owned();
    house.post(TECHNICIAN, &remove, &[]).await.assert(303);
    let page = house.get(TECHNICIAN, &visit).await.assert(200);
    assert!(!page.body.contains("An interlock is defeated"), "{}", page.body);
}

#[sqlx::test(migrations = "../../migrations")]
async fn what_was_found_and_done_is_said_by_forms_and_the_order_moves(pool: PgPool) {
    let house = House::over(pool).await;
    let number = house.call("It stays dirty.", Urgency::Degraded, |_| ()).await;
    let visit = send(&house, number, "2026-04-22T10:00").await;
    step(&house, &visit, "set_out", &[]).await;
    step(&house, &visit, "arrive", &[]).await;
    let find = format!("{visit}/findings");
    let page = house.get(TECHNICIAN, &visit).await.assert(200);
    let id = other_id(&page.body, "find-other");
    let base =
        [("form", "find-other"), ("id", id.as_str()), ("position", "spray_manifold"), ("evidence", "seen")];
    let without_mode =
        base.into_iter().chain([("finding", "degraded"), ("note", HOSTILE)]).collect::<Vec<_>>();
    let refused = house.post(TECHNICIAN, &find, &without_mode).await.assert(409);
    // What was typed stays, and is not carried out.
    let refused = refused.assert_says("in which manner").assert_says("&#60;script&#62;alert");
    assert!(!refused.body.contains("<script>alert"));
    let typed = [("finding", "degraded"), ("failure_mode", "partly_blocked"), ("cause", "limescale")];
    let fields = base.into_iter().chain(typed).collect::<Vec<_>>();
    let answer = house.post(TECHNICIAN, &find, &fields).await.assert(303);
    assert_eq!(answer.header("location"), format!("{visit}#found"));
    house.post(TECHNICIAN, &find, &fields).await;
    let page = house.get(TECHNICIAN, &visit).await.assert(200);
    assert_eq!(page.body.matches("<bdi>spray manifold: degraded").count(), 1, "{}", page.body);

    // The machine is changed only under repair; then it is, and the order goes on from here.
    let act = format!("{visit}/actions");
    let id = other_id(&page.body, "act-other");
    let cleaned =
        [("form", "act-other"), ("id", id.as_str()), ("position", "spray_manifold"), ("action", "descaled")];
    house.post(TECHNICIAN, &act, &cleaned).await.assert(409);
    for action in ["plan", "start_repair"] {
        let to = format!("{visit}/moves/{action}");
        let page = house.get(TECHNICIAN, &visit).await.assert(200);
        if page.body.contains(&format!("action=\"{to}\"")) {
            let version = page.hidden(&to, "version");
            let answer = house.post(TECHNICIAN, &to, &[("version", &version)]).await.assert(303);
            assert_eq!(answer.header("location"), format!("{visit}#order-axis"));
        }
    }
    let answer = house.post(TECHNICIAN, &act, &cleaned).await.assert(303);
    assert_eq!(answer.header("location"), format!("{visit}#done"));
    house.get(TECHNICIAN, &visit).await.assert(200).assert_says("<bdi>spray manifold: descaled,");
    let id = other_id(&house.get(TECHNICIAN, &visit).await.body, "act-other");
    let stopgap = [
        ("form", "act-other"),
        ("id", id.as_str()),
        ("position", "pump_hose"),
        ("action", "replaced_temporary"),
    ];
    house.post(TECHNICIAN, &act, &stopgap).await.assert(409).assert_says("A stopgap ends");
    for nonsense in [
        vec![("form", "find-other")],
        vec![("form", "find-other"), ("id", "x"), ("position", "<b>"), ("finding", "fine"), ("evidence", "")],
    ] {
        house.post(TECHNICIAN, &find, &nonsense).await.assert(409);
        house.post(TECHNICIAN, &act, &nonsense).await.assert(409);
    }
}

/// The id in the form of this name.
pub fn other_id(body: &str, form: &str) -> String {
    let from = body.split_once(&format!("name=\"form\" value=\"{form}\"")).expect("the form").1;
    let value = from.split_once("name=\"id\" value=\"").expect("its id").1;
    value.split('"').next().unwrap().to_owned()
}

#[sqlx::test(migrations = "../../migrations")]
async fn what_people_wrote_is_shown_on_the_phone_and_never_carried_out(pool: PgPool) {
    let house = House::named(pool, &HOSTILE.repeat(2)).await;
    let number = house.call(&HOSTILE.repeat(40), Urgency::Degraded, |_| ()).await;
    let visit = send(&house, number, "2026-04-22T10:00").await;
    let procedure = format!("{visit}/procedures/fill_time");
    let begun = begun(&visit, "fill_time");
    for path in ["/day", &visit, &procedure, &begun] {
        let page = house.get(TECHNICIAN, path).await.assert(200);
        assert!(page.body.contains("&#60;script&#62;alert"), "{path}: what was written is shown");
        for live in ["<script>alert", "<img src=x", "style=\"", " onerror=\"", "<style", "javascript:"] {
            assert!(!page.body.contains(live), "{path} has {live}");
        }
        assert!(page.header("content-security-policy").contains("script-src 'self'"), "{path}");
    }
    let page = house.get(TECHNICIAN, &begun).await;
    let (id, version) = (page.hidden(&procedure, "id"), page.hidden(&procedure, "version"));
    let typed = [("id", id.as_str()), ("version", version.as_str()), ("why:fill_time", HOSTILE)];
    let run = house.post(TECHNICIAN, &procedure, &typed).await.assert(303).header("location").to_owned();
    let page = house.get(TECHNICIAN, &run).await.assert(200).assert_says("&#60;script&#62;alert");
    assert!(!page.body.contains("<script>alert"));
}

#[sqlx::test(migrations = "../../migrations")]
async fn a_companys_own_procedure_works_from_its_data_alone(pool: PgPool) {
    let house = House::over(pool).await;
    let mut own =
        built_in_procedures().iter().find(|of| of.key.as_str() == "wash_flow_hold").unwrap().clone();
    own.key = Key::new("our_flow").unwrap();
    own.title = Name::new("Our own flow test <b>").unwrap();
    own.preconditions.clear();
    house.application.perform(&house.caller(Role::Manager), CreateProcedure(own)).await.unwrap();
    let number = house.call("It stays dirty.", Urgency::Degraded, |_| ()).await;
    let visit = send(&house, number, "2026-04-22T10:00").await;
    house.get(TECHNICIAN, &visit).await.assert(200).assert_says("Our own flow test &#60;b&#62;");
    let to = format!("{visit}/procedures/our_flow");
    let page = house.get(TECHNICIAN, &begun(&visit, "our_flow")).await.assert(200);
    let page = page.assert_says("9 / 9").assert_says("value=\"[gal_us]\"").assert_says("value=\"uneven\"");
    let (id, version) = (page.hidden(&to, "id"), page.hidden(&to, "version"));
    let mut typed = vec![
        ("id", id.as_str()),
        ("version", version.as_str()),
        ("value:level_before", "8,5"),
        ("unit:level_before", "L"),
        ("choice:strength", "weak"),
        ("value:hold_time", "0:42"),
        ("choice:pattern", "none of these"),
        ("unit:flow", "L/min"),
        ("series:flow", "0 0\n1 14\n2 12\n3 11\n4 11\n5 11\n6 11\n7 11\n8 11\nnine 11"),
    ];
    let wrong = house.post(TECHNICIAN, &to, &typed).await.assert(409);
    let wrong = wrong.assert_says("Choose one of those").assert_says("“nine 11” is no sample");
    assert!(wrong.body.contains("value=\"weak\" checked"), "what was chosen stays: {}", wrong.body);
    typed.retain(|(name, _)| !["choice:pattern", "series:flow"].contains(name));
    typed.push(("choice:pattern", "sideways"));
    // What only the procedure's rules know is told beside its step too.
    let wrong =
        house.post(TECHNICIAN, &to, &typed).await.assert(409).assert_says("must be one of even, uneven, dry");
    let section = wrong.body.split("id=\"step-pattern\"").nth(1).unwrap();
    assert!(section.split("</section>").next().unwrap().contains("must be one of"), "{section}");
    typed.retain(|(name, _)| *name != "choice:pattern");
    typed.push(("choice:pattern", "uneven"));
    typed.push(("series:flow", "0 0\n1 14\n2 12\n3 11\n4 11\n5 11\n6 11\n7 11\n8 11\n9 11"));
    let run = house.post(TECHNICIAN, &to, &typed).await.assert(303).header("location").to_owned();
    house.get(TECHNICIAN, &run).await.assert(200).assert_says("42 s").assert_says("weak");
}

#[sqlx::test(migrations = "../../migrations")]
async fn what_the_phone_keeps_judges_as_the_office_does(pool: PgPool) {
    let house = House::over(pool).await;
    let number = house.call("It stays dirty.", Urgency::Degraded, |_| ()).await;
    let visit = send(&house, number, "2026-04-22T10:00").await;
    step(&house, &visit, "set_out", &[]).await;
    step(&house, &visit, "arrive", &[]).await;
    let id = visit.trim_start_matches("/day/").to_owned();
    let empty = house.get(TECHNICIAN, "/day/kept").await.assert(200);

    let procedure = format!("{visit}/procedures/fill_time");
    let page = house.get(TECHNICIAN, &begun(&visit, "fill_time")).await.assert(200);
    let (run, version) = (page.hidden(&procedure, "id"), page.hidden(&procedure, "version"));
    let fields = [
        ("id", run.as_str()),
        ("version", &version),
        ("confirmed", "sump_empty"),
        ("value:fill_time", "61,5"),
        ("unit:fill_time", "s"),
    ];
    house.post(TECHNICIAN, &procedure, &fields).await.assert(303);

    let kept = house.get(TECHNICIAN, "/day/kept").await.assert(200);
    let tag = kept.header("etag").to_owned();
    assert_ne!(tag, empty.header("etag"), "what was read changes the day");
    let known = [("if-none-match", tag.as_str())];
    let same = house.send(TECHNICIAN, axum::http::Method::GET, "/day/kept", &known, None).await.assert(304);
    assert!(same.body.is_empty());
    let day: serde_json::Value = serde_json::from_str(&kept.body).unwrap();
    let of = &day["visits"][&id];
    let knowledge: Knowledge =
        serde_json::from_value(day["knowledge"][of["knowledge"].as_str().unwrap()].clone()).unwrap();
    let evidence: Evidence = serde_json::from_value(of["evidence"].clone()).unwrap();
    let judged = Judge::new(knowledge).unwrap().judge(&evidence).unwrap();
    let asked = SeeVisit(id.parse().unwrap());
    let office =
        house.application.ask(&house.caller(Role::Technician), asked).await.unwrap_or_else(|_| panic!());
    assert_eq!(judged.assessment, office.file.verdicts.unwrap().assessment);
    assert_eq!(judged.diagnosis.unwrap(), office.file.diagnosis.unwrap().diagnosis);

    let page = |at: &str| day["pages"][at].as_str().unwrap_or_default().to_owned();
    assert!(page(&procedure).contains("local codes and licensed practice"));
    assert!(page(&format!("{procedure}?begin=yes")).contains("value:fill_time"));
    // Nobody else's day, and nobody's without a session.
    let other = house.get(DISPATCHER, "/day/kept").await.assert(200);
    assert!(!other.body.contains(&id));
    house.get(None, "/day/kept").await.assert(303);
}

#[sqlx::test(migrations = "../../migrations")]
async fn the_days_pages_alone_start_workers_and_the_worker_alone_compiles(pool: PgPool) {
    let house = House::over(pool).await;
    let policy = |answer: crate::house::Answered| answer.header("content-security-policy").to_owned();
    let day = policy(house.get(TECHNICIAN, "/day").await.assert(200));
    assert!(day.contains("worker-src 'self'") && !day.contains("unsafe"), "{day}");
    let judge = policy(house.get(None, "/day-judge.js").await.assert(200));
    assert!(judge.contains("script-src 'self' 'wasm-unsafe-eval'"), "{judge}");
    let worker = house.get(None, "/day-worker.js").await.assert(200).assert_says("const shell = {");
    assert!(worker.body.contains("/day.css"));
    assert!(!policy(house.get(DISPATCHER, "/today").await.assert(200)).contains("worker-src"));
    let manifest = house.get(None, "/day.webmanifest").await.assert(200);
    let manifest: serde_json::Value = serde_json::from_str(&manifest.body).unwrap();
    assert_eq!(manifest["start_url"], "/day");
    house.get(TECHNICIAN, "/day/taken").await.assert(200);
    house.get(None, "/day/taken").await.assert(303);
}
