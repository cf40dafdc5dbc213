//! The office's own affairs: people, house rules, numbers, what happened.

use domain::role::Role;
use domain::work::Urgency;
use sqlx::PgPool;

use crate::house::{HOSTILE, House};

const ADMINISTRATOR: Option<Role> = Some(Role::Administrator);

#[sqlx::test(migrations = "../../migrations")]
async fn somebody_is_taken_in_changed_given_a_token_and_signed_out(pool: PgPool) {
    let house = House::over(pool).await;
    let page = house.get(ADMINISTRATOR, "/people").await.assert(200).assert_says("technician of the test");
    let id = page.hidden("/people", "id");
    let typed = [("id", id.as_str()), ("name", ""), ("role", "technician"), ("skills", HOSTILE)];
    let refused =
        house.post(ADMINISTRATOR, "/people", &typed).await.assert(409).assert_says("&#60;script&#62;alert");
    assert!(!refused.body.contains("<script>alert"));
    let typed = [
        ("id", id.as_str()),
        ("name", HOSTILE),
        ("role", "technician"),
        ("skills", "Gas work, live electrics,"),
    ];
    let answer = house.post(ADMINISTRATOR, "/people", &typed).await.assert(303);
    let person = answer.header("location").to_owned();
    let page = house.get(ADMINISTRATOR, &person).await.assert(200).assert_says("gas work, live electrics");
    let page = page.assert_says("No password is set");
    let to = format!("{person}/change");
    let version = page.hidden(&to, "version");
    let typed = [
        ("version", version.as_str()),
        ("name", "Nora"),
        ("role", "dispatcher"),
        ("skills", ""),
        ("works", "here"),
    ];
    house.post(ADMINISTRATOR, &to, &typed).await.assert(303);
    let stale = house.post(ADMINISTRATOR, &to, &typed).await.assert(409);
    stale.assert_says("Somebody changed this").assert_says("value=\"Nora\"");

    // The token sets a password, and is shown this once.
    let page = house.post(ADMINISTRATOR, &format!("{person}/password"), &[]).await.assert(200);
    let secret = page.body.split_once("<code>").unwrap().1.split('<').next().unwrap().to_owned();
    let fields = [("token", secret.as_str()), ("name", "nora"), ("password", "correct horse battery")];
    house.post(None, "/first-sign-in", &fields).await.assert(303);
    let page = house.get(ADMINISTRATOR, &person).await.assert(200).assert_says("Signs in as: <bdi>nora");
    assert!(!page.body.contains(&secret));
    let fields = [("name", "nora"), ("password", "correct horse battery")];
    let session = house.post(None, "/sign-in", &fields).await.assert(303).header("set-cookie").to_owned();
    let cookie = session.split(';').next().unwrap().to_owned();
    let today =
        async || house.send(None, axum::http::Method::GET, "/today", &[("cookie", &cookie)], None).await;
    today().await.assert(200);
    house.post(ADMINISTRATOR, &format!("{person}/sign-ins/end"), &[]).await.assert(303);
    today().await.assert(303);
    house.get(ADMINISTRATOR, &person).await.assert_says("Nowhere signed in");
    house.get(ADMINISTRATOR, "/people/nonsense").await.assert(404);
}

#[sqlx::test(migrations = "../../migrations")]
async fn nobody_but_an_administrator_changes_people(pool: PgPool) {
    let house = House::over(pool).await;
    let person = format!("/people/{}", house.people[&Role::Technician]);
    for role in [Role::Technician, Role::Dispatcher, Role::Manager] {
        // What he sent is looked at first, then whether he may; whoever may not see people sees nothing of it.
        let refused = if role == Role::Technician { 403 } else { 409 };
        for (rest, status) in [("change", refused), ("password", 403), ("sign-ins/end", 403)] {
            house.post(Some(role), &format!("{person}/{rest}"), &[("version", "1")]).await.assert(status);
        }
        house.post(Some(role), "/people", &[("name", "x")]).await.assert(refused);
        let typed = [("version", "1"), ("name", "x"), ("role", "manager"), ("works", "here")];
        house.post(Some(role), &format!("{person}/change"), &typed).await.assert(403);
    }
    let page = house.get(Some(Role::Manager), &person).await.assert(200);
    assert!(!page.body.contains("/change\"") && !page.body.contains("sign-ins"), "{}", page.body);
}

#[sqlx::test(migrations = "../../migrations")]
async fn what_happened_is_told_and_found_by_person_deed_reason_and_order(pool: PgPool) {
    let house = House::over(pool).await;
    let number = house.call("It stays dirty.", Urgency::Degraded, |_| ()).await;
    let path = format!("/orders/{number}");
    let to = format!("{path}/moves/cancel");
    let version = house.get(Some(Role::Dispatcher), &path).await.hidden(&to, "version");
    let typed = [("version", version.as_str()), ("why", HOSTILE)];
    house.post(Some(Role::Dispatcher), &to, &typed).await.assert(303);
    let manager = Some(Role::Manager);
    let all = house
        .get(manager, "/happenings")
        .await
        .assert(200)
        .assert_says("took a call")
        .assert_says("&#60;script&#62;alert");
    assert!(!all.body.contains("<script>alert") && all.body.contains("moved an order"), "{}", all.body);
    for (words, deeds) in
        [(number.to_string(), 1), ("alert(1)".to_owned(), 1), ("nobody at all".to_owned(), 0)]
    {
        let query = serde_urlencoded::to_string([("words", &words)]).unwrap();
        let page = house.get(manager, &format!("/happenings?{query}")).await.assert(200);
        assert_eq!(page.body.matches("moved an order").count(), deeds, "{words}: {}", page.body);
    }
    let by_name = house.get(manager, "/happenings?words=dispatcher+of").await.assert(200);
    assert!(by_name.body.contains("moved an order"));
    // A month before there was nothing.
    let before = house.get(manager, "/happenings?until=2026-04-01T00:00:00Z").await.assert(200);
    before.assert_says("Nothing of that kind");
    house.get(manager, "/happenings?until=soon").await.assert(200);
}

#[sqlx::test(migrations = "../../migrations")]
async fn numbers_and_rules_say_what_there_is(pool: PgPool) {
    let house = House::over(pool).await;
    house.get(ADMINISTRATOR, "/numbers/parts").await.assert(200).assert_says("No part was fitted");
    let rules = house.get(Some(Role::Dispatcher), "/house-rules").await.assert(200);
    rules
        .assert_says("within 4 h")
        .assert_says("no promise")
        .assert_says("90 d")
        .assert_says("10 characters");
}
