//! A phone that is signed in by a code on another screen.

use axum::http::Method;
use chrono::TimeDelta;
use domain::role::Role;
use sqlx::PgPool;

use crate::house::{Answered, House};

/// The code that stands on a person's page after it was asked for.
async fn offered(house: &House, by: Role, of: Role) -> String {
    let path = format!("/people/{}/phone", house.people[&of]);
    let page = house.post(Some(by), &path, &[]).await.assert(200).assert_says("<path d=\"M4 4h1v1h-1z");
    page.body.split_once("/pair?code=").unwrap().1.split('<').next().unwrap().to_owned()
}

async fn pair(house: &House, code: &str) -> Answered {
    house.post(None, "/pair", &[("code", code)]).await
}

async fn day_of(house: &House, cookie: &str) -> u16 {
    house.send(None, Method::GET, "/day", &[("cookie", cookie)], None).await.status.as_u16()
}

fn cookie(answer: &Answered) -> String {
    answer.header("set-cookie").split(';').next().unwrap().to_owned()
}

#[sqlx::test(migrations = "../../migrations")]
async fn a_code_signs_in_one_phone_for_a_month_however_often_it_was_looked_at(pool: PgPool) {
    let house = House::over(pool).await;
    let code = offered(&house, Role::Manager, Role::Technician).await;
    for _ in 0..2 {
        let page = house.get(None, &format!("/pair?code={code}")).await.assert(200);
        page.assert_says("signed in as technician of the test");
    }
    // By itself it lets nobody see anything.
    assert_eq!(day_of(&house, &format!("__Host-ovenwright={code}")).await, 303);
    let paired = pair(&house, &code).await.assert(303);
    assert_eq!(paired.header("location"), "/day");
    assert!(paired.header("set-cookie").contains("Max-Age=2592000"), "thirty days");
    let phone = cookie(&paired);
    assert_eq!(day_of(&house, &phone).await, 200);
    pair(&house, &code).await.assert(404).assert_says("not good any more");
    house.get(None, &format!("/pair?code={code}")).await.assert(404);
    // Days without signal do not end it; a month does.
    house.later(TimeDelta::days(29));
    assert_eq!(day_of(&house, &phone).await, 200);
    house.later(TimeDelta::days(2));
    assert_eq!(day_of(&house, &phone).await, 303);
}

#[sqlx::test(migrations = "../../migrations")]
async fn a_code_is_good_for_ten_minutes_and_none_is_guessed(pool: PgPool) {
    let house = House::over(pool).await;
    let code = offered(&house, Role::Administrator, Role::Technician).await;
    house.later(TimeDelta::minutes(11));
    pair(&house, &code).await.assert(404);
    for guess in ["", "0", "ffffffffffffffffffffffffffffffffffffffffffffffffffffffffffffffffffffffffffffffff"]
    {
        pair(&house, guess).await.assert(404);
        house.get(None, &format!("/pair?code={guess}")).await.assert(404);
    }
    // A session's own secret is no code.
    let session = house.sessions[&Role::Technician].clone();
    pair(&house, &session).await.assert(404);
    let mut statuses = Vec::new();
    for _ in 0..30 {
        statuses.push(pair(&house, "guess").await.status.as_u16());
    }
    assert_eq!(statuses.last(), Some(&429), "{statuses:?}");
}

#[sqlx::test(migrations = "../../migrations")]
async fn nobody_gets_another_ones_rights_by_a_phone(pool: PgPool) {
    let house = House::over(pool).await;
    let offer = async |by: Role, of: Role| {
        let path = format!("/people/{}/phone", house.people[&of]);
        house.post(Some(by), &path, &[]).await.status.as_u16()
    };
    for role in [Role::Dispatcher, Role::Manager, Role::Administrator] {
        assert_eq!(offer(role, role).await, 200, "{role}'s own");
    }
    for (by, of) in [
        (Role::Dispatcher, Role::Technician),
        (Role::Dispatcher, Role::Administrator),
        (Role::Manager, Role::Administrator),
        (Role::Administrator, Role::Integration),
    ] {
        assert_eq!(offer(by, of).await, 409, "{by} for {of}");
        let page = house.get(Some(by), &format!("/people/{}", house.people[&of])).await.assert(200);
        assert!(!page.body.contains("/phone\""), "{by} is offered a phone for {of}");
    }
    let forged = [("sec-fetch-site", "cross-site")];
    let code = offered(&house, Role::Administrator, Role::Dispatcher).await;
    house.send(None, Method::POST, "/pair", &forged, Some(&[("code", &code)])).await.assert(403);
    pair(&house, &code).await.assert(303);
}

#[sqlx::test(migrations = "../../migrations")]
async fn the_office_ends_a_lost_phone_and_a_new_password_ends_what_was_offered(pool: PgPool) {
    let house = House::over(pool).await;
    let code = offered(&house, Role::Administrator, Role::Dispatcher).await;
    let phone = cookie(&pair(&house, &code).await.assert(303));
    let page = format!("/people/{}", house.people[&Role::Dispatcher]);
    house.get(Some(Role::Administrator), &page).await.assert_says("A phone");
    house.post(Some(Role::Administrator), &format!("{page}/sign-ins/end"), &[]).await.assert(303);
    assert_eq!(day_of(&house, &phone).await, 303);
    let code = offered(&house, Role::Administrator, Role::Dispatcher).await;
    house.give_password(Role::Dispatcher, "dana", "correct horse battery").await;
    pair(&house, &code).await.assert(404);
}
