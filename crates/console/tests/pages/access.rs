//! Who comes in, and who does not.

use axum::http::Method;
use chrono::TimeDelta;
use domain::role::Role;
use sqlx::PgPool;

use crate::house::House;

/// Every page that can be looked at, and who may.
const PAGES: &[(&str, &[Role])] = &[
    ("/today", &[Role::Dispatcher, Role::Manager, Role::Administrator]),
    ("/calls/new", &[Role::Dispatcher, Role::Manager, Role::Administrator]),
    ("/calls/new?site={site}", &[Role::Dispatcher, Role::Manager, Role::Administrator]),
    ("/kitchens/{site}", &[Role::Dispatcher, Role::Manager, Role::Administrator]),
    ("/machines/{appliance}", &[Role::Dispatcher, Role::Manager, Role::Administrator]),
    ("/search?words=kitchen", &[Role::Dispatcher, Role::Manager, Role::Administrator]),
    ("/numbers/repeats", &[Role::Dispatcher, Role::Manager, Role::Administrator]),
    ("/day", &[Role::Technician, Role::Dispatcher, Role::Manager, Role::Administrator]),
    ("/day/kept", &[Role::Technician, Role::Dispatcher, Role::Manager, Role::Administrator]),
    ("/day/taken", &[Role::Technician, Role::Dispatcher, Role::Manager, Role::Administrator]),
    ("/catalogue", &[Role::Dispatcher, Role::Manager, Role::Administrator]),
    ("/catalogue/models/demo_combi", &[Role::Dispatcher, Role::Manager, Role::Administrator]),
    ("/catalogue/models/demo_combi/versions/1", &[Role::Dispatcher, Role::Manager, Role::Administrator]),
    ("/catalogue/procedures/fill_time", &[Role::Dispatcher, Role::Manager, Role::Administrator]),
    ("/catalogue/faults/demo_combi", &[Role::Dispatcher, Role::Manager, Role::Administrator]),
    ("/catalogue/own-machine", &[Role::Manager, Role::Administrator]),
    ("/people", &[Role::Dispatcher, Role::Manager, Role::Administrator]),
    ("/people/{person}", &[Role::Dispatcher, Role::Manager, Role::Administrator]),
    ("/house-rules", &[Role::Dispatcher, Role::Manager, Role::Administrator]),
    ("/numbers/early-warnings", &[Role::Dispatcher, Role::Manager, Role::Administrator]),
    ("/numbers/part-life?position=rinse", &[Role::Dispatcher, Role::Manager, Role::Administrator]),
    ("/numbers/measures", &[Role::Dispatcher, Role::Manager, Role::Administrator]),
    ("/numbers/parts", &[Role::Dispatcher, Role::Manager, Role::Administrator]),
    ("/happenings", &[Role::Manager, Role::Administrator]),
    ("/orders/1", &[Role::Dispatcher, Role::Manager, Role::Administrator]),
];

#[sqlx::test(migrations = "../../migrations")]
async fn every_page_is_shown_to_its_roles_and_refused_to_the_others_and_to_strangers(pool: PgPool) {
    let house = House::over(pool).await;
    house.call("It stays dirty.", domain::work::Urgency::Degraded, |_| ()).await;
    for (path, roles) in PAGES {
        let path = path.replace("{site}", &house.site.to_string());
        let path = path.replace("{appliance}", &house.appliance.to_string());
        let path = path.replace("{person}", &house.people[&Role::Technician].to_string());
        for role in house.sessions.keys() {
            let answer = house.get(Some(*role), &path).await;
            let wanted = match (roles.contains(role), path.starts_with("/orders/")) {
                (true, _) => 200,
                // An order that he is not sent to is not there for him.
                (false, true) => 404,
                (false, false) => 403,
            };
            assert_eq!(answer.status.as_u16(), wanted, "{path} as {role}: {}", answer.body);
            assert!(answer.header("content-security-policy").starts_with("default-src 'none'"), "{path}");
            assert_eq!(answer.header("cache-control"), "no-store", "{path}");
        }
        let stranger = house.get(None, &path).await.assert(303);
        assert!(stranger.header("location").starts_with("/sign-in?then="), "{path}");
    }
}

#[sqlx::test(migrations = "../../migrations")]
async fn the_first_address_leads_browsers_to_a_page_and_programs_to_the_document(pool: PgPool) {
    let house = House::over(pool).await;
    let program = house.send(None, Method::GET, "/", &[("accept", "*/*")], None).await;
    assert_eq!(program.header("location"), "/openapi.json");
    assert_eq!(house.get(None, "/").await.assert(303).header("location"), "/sign-in");
    assert_eq!(house.get(Some(Role::Dispatcher), "/").await.assert(303).header("location"), "/today");
    let technician = house.get(Some(Role::Technician), "/").await.assert(303);
    house
        .get(Some(Role::Technician), technician.header("location"))
        .await
        .assert(200)
        .assert_says("You are sent nowhere");
}

#[sqlx::test(migrations = "../../migrations")]
async fn a_name_and_a_password_begin_a_session_that_a_browser_holds(pool: PgPool) {
    let mut house = House::over(pool).await;
    house.give_password(Role::Manager, "Mara", "correct horse battery").await;
    let fields = [("name", " MARA "), ("password", "correct horse battery"), ("then", "/orders/7?epoch=0")];
    let answer = house.post(None, "/sign-in", &fields).await.assert(303);
    assert_eq!(answer.header("location"), "/orders/7?epoch=0");
    let cookie = answer.header("set-cookie").to_owned();
    for needed in ["__Host-ovenwright=", "Secure", "HttpOnly", "SameSite=Lax", "Path=/"] {
        assert!(cookie.contains(needed), "{cookie}");
    }
    let secret = cookie.split(['=', ';']).nth(1).unwrap().to_owned();
    house.sessions.insert(Role::Manager, secret.clone());
    house.get(Some(Role::Manager), "/today").await.assert(200).assert_says("manager of the test");
    let out = house.post(Some(Role::Manager), "/sign-out", &[]).await.assert(303);
    assert!(out.header("set-cookie").contains("Max-Age=0"));
    house.get(Some(Role::Manager), "/today").await.assert(303);
}

#[sqlx::test(migrations = "../../migrations")]
async fn an_unknown_name_and_a_wrong_password_are_told_alike_and_guessing_is_slowed(pool: PgPool) {
    let house = House::over(pool).await;
    house.give_password(Role::Manager, "mara", "correct horse battery").await;
    let wrong = house.post(None, "/sign-in", &[("name", "mara"), ("password", "wrong")]).await.assert(422);
    let unknown = house.post(None, "/sign-in", &[("name", "nora"), ("password", "wrong")]).await.assert(422);
    assert_eq!(wrong.body.replace("mara", "nora"), unknown.body);
    let mut statuses = Vec::new();
    for _ in 0..12 {
        let answer = house.post(None, "/sign-in", &[("name", "mara"), ("password", "wrong")]).await;
        statuses.push(answer.status.as_u16());
    }
    assert_eq!(statuses.last(), Some(&429), "{statuses:?}");
}

#[sqlx::test(migrations = "../../migrations")]
async fn nobody_is_led_to_another_host_by_signing_in(pool: PgPool) {
    let house = House::over(pool).await;
    house.open_to_guests(Role::Dispatcher, "dana").await;
    for then in ["//elsewhere.example/", "https://elsewhere.example", "/\\elsewhere.example"] {
        let answer =
            house.post(None, "/sign-in/guest", &[("guest", "dana"), ("then", then)]).await.assert(303);
        assert_eq!(answer.header("location"), "/");
    }
}

#[sqlx::test(migrations = "../../migrations")]
async fn guests_are_offered_where_there_are_some_and_nobody_with_a_password_is_one(pool: PgPool) {
    let house = House::over(pool).await;
    house.give_password(Role::Manager, "mara", "correct horse battery").await;
    let page = house.get(None, "/sign-in").await.assert(200);
    assert!(!page.body.contains("/sign-in/guest"), "{}", page.body);
    house.post(None, "/sign-in/guest", &[("guest", "mara")]).await.assert(422);
    house.open_to_guests(Role::Dispatcher, "dana").await;
    house.get(None, "/sign-in").await.assert(200).assert_says("value=\"dana\"");
    house.post(None, "/sign-in/guest", &[("guest", "dana")]).await.assert(303);
    house.give_password(Role::Dispatcher, "dana", "correct horse battery").await;
    house.post(None, "/sign-in/guest", &[("guest", "dana")]).await.assert(422);
}

#[sqlx::test(migrations = "../../migrations")]
async fn a_token_sets_a_password_once_it_lets_do_all_that_its_holder_may(pool: PgPool) {
    use application::token::{CreateToken, NewSecret};
    use domain::role::Scope;
    use domain::text::Name;
    let house = House::over(pool).await;
    let mut secrets = Vec::new();
    for scopes in [vec![Scope::Read], vec![Scope::Read, Scope::Write]] {
        let secret = NewSecret::draw();
        let token = CreateToken {
            person: house.people[&Role::Manager],
            name: Name::new("first").unwrap(),
            scopes,
            expires_at: None,
            secret: secret.clone(),
        };
        house.application.perform(&house.caller(Role::Administrator), token).await.unwrap();
        secrets.push(secret.0);
    }
    let try_with = |token: String, password: &'static str| {
        let house = &house;
        async move {
            let fields = [("token", token.as_str()), ("name", "mara"), ("password", password)];
            house.post(None, "/first-sign-in", &fields).await
        }
    };
    try_with(secrets[0].clone(), "correct horse battery").await.assert(422).assert_says("lets do less");
    try_with("nonsense".to_owned(), "correct horse battery").await.assert(422);
    try_with(secrets[1].clone(), "short").await.assert(422).assert_says("at least 10 characters");
    try_with(secrets[1].clone(), "correct horse battery").await.assert(303);
    house
        .post(None, "/sign-in", &[("name", "mara"), ("password", "correct horse battery")])
        .await
        .assert(303);
    // The session from before ended with it.
    house.get(Some(Role::Manager), "/today").await.assert(303);
}

#[sqlx::test(migrations = "../../migrations")]
async fn a_form_from_another_origin_is_not_carried_out(pool: PgPool) {
    let house = House::over(pool).await;
    let number = house.call("It stays dirty.", domain::work::Urgency::Degraded, |_| ()).await;
    let path = format!("/orders/{number}/moves/assess");
    let host = ("host", "office.example");
    let forged: [&[(&'static str, &str)]; 5] = [
        &[("sec-fetch-site", "cross-site")],
        &[("sec-fetch-site", "same-site")],
        &[("sec-fetch-site", "none")],
        &[host, ("origin", "https://elsewhere.example")],
        &[host],
    ];
    for headers in forged {
        let answer =
            house.send(Some(Role::Dispatcher), Method::POST, &path, headers, Some(&[("version", "1")])).await;
        answer.assert(403).assert_says("not sent from a page of this service");
    }
    let own = [host, ("origin", "https://office.example")];
    house
        .send(Some(Role::Dispatcher), Method::POST, &path, &own, Some(&[("version", "1")]))
        .await
        .assert(303);
}

#[sqlx::test(migrations = "../../migrations")]
async fn a_session_ends_when_it_rests_and_what_was_typed_is_not_lost(pool: PgPool) {
    let house = House::over(pool).await;
    house.open_to_guests(Role::Dispatcher, "dana").await;
    let number = house.call("It stays dirty.", domain::work::Urgency::Degraded, |_| ()).await;
    for _ in 0..3 {
        house.later(TimeDelta::hours(11));
        house.get(Some(Role::Dispatcher), "/today").await.assert(200);
    }
    house.later(TimeDelta::hours(13));
    house.get(Some(Role::Dispatcher), "/today").await.assert(303);
    let path = format!("/orders/{number}/moves/cancel");
    let typed = [("version", "1"), ("why", "<b>found another & went</b>")];
    let page = house.post(Some(Role::Dispatcher), &path, &typed).await.assert(401);
    let kept = page.hidden("/sign-in/guest", "kept").replace("&#38;", "&");
    let then = page.hidden("/sign-in/guest", "then");
    assert_eq!(then, path);
    let fields = [("guest", "dana"), ("then", then.as_str()), ("kept", kept.as_str())];
    let resumed = house.post(None, "/sign-in/guest", &fields).await.assert(200);
    assert!(resumed.header("set-cookie").starts_with("__Host-ovenwright="));
    let resumed = resumed.assert_says("&#60;b&#62;found another &#38; went&#60;/b&#62;");
    assert_eq!(resumed.hidden(&path, "version"), "1");
    // Busy or not, a week is the longest.
    let house_is_old = |hours| house.later(TimeDelta::hours(hours));
    house_is_old(24 * 7);
    house.get(Some(Role::Manager), "/today").await.assert(303);
}

#[sqlx::test(migrations = "../../migrations")]
async fn nothing_lies_elsewhere_and_files_are_kept_for_ever(pool: PgPool) {
    let house = House::over(pool).await;
    house.get(None, "/nowhere").await.assert(404).assert_says("Nothing is here");
    let page = house.get(None, "/sign-in").await.assert(200);
    let style = page.body.split("href=\"/static/").nth(1).unwrap();
    let path = page.body.split('"').find(|text| text.ends_with("console.css")).unwrap();
    assert!(style.contains("mark.svg"));
    let file = house.get(None, path).await.assert(200);
    assert_eq!(file.header("cache-control"), "public, max-age=31536000, immutable");
    let stale = house.get(None, "/static/0000/console.css").await.assert(200);
    assert_eq!(stale.header("cache-control"), "no-cache");
    house.get(None, "/static/0000/secrets.txt").await.assert(404);
}
