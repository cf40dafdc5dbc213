//! An order and its moves, without script: where does it stand, what is wrong, what next?

use domain::role::Role;
use domain::work::Urgency;
use sqlx::PgPool;

use crate::house::House;

#[sqlx::test(migrations = "../../migrations")]
async fn an_order_goes_its_way_by_forms_alone(pool: PgPool) {
    let house = House::over(pool).await;
    let number = house.call("It stays dirty.", Urgency::Degraded, |_| ()).await;
    let path = format!("/orders/{number}");
    let dispatcher = Some(Role::Dispatcher);
    let page = house.get(dispatcher, &path).await.assert(200);
    let page = page.assert_says("It stays dirty.").assert_says("does not clean").assert_says("received");
    let to = |rest: &str| format!("{path}/{rest}");
    let version = page.hidden(&to("moves/assess"), "version");
    let answer = house.post(dispatcher, &to("moves/assess"), &[("version", &version)]).await.assert(303);
    assert_eq!(answer.header("location"), format!("{path}#order-axis"));

    // The same form again, as it was: somebody else was faster.
    let stale = house.post(dispatcher, &to("moves/assess"), &[("version", &version)]).await.assert(409);
    stale.assert_says("role=\"alert\"").assert_says("Somebody changed this");

    // Nobody is sent: refused beside the button, and what was typed stays.
    let page = house.get(dispatcher, &path).await.assert(200);
    let id = page.hidden(&to("visits"), "id");
    let typed =
        [("id", id.as_str()), ("planned_at", "2026-04-23T08:00"), ("overlap_reason", "it is on the way")];
    let refused = house.post(dispatcher, &to("visits"), &typed).await.assert(409);
    refused.assert_says("Say who goes").assert_says("it is on the way").assert_says("2026-04-23T08:00");

    let person = house.people[&Role::Technician].to_string();
    let typed = [("id", id.as_str()), ("planned_at", "2026-04-23T08:00"), ("person", person.as_str())];
    house.post(dispatcher, &to("visits"), &typed).await.assert(303);
    house.post(dispatcher, &to("visits"), &typed).await.assert(303);
    let page = house
        .get(dispatcher, &path)
        .await
        .assert(200)
        .assert_says("technician of the test comes Thu 23 Apr 08:00");
    assert_eq!(page.body.matches("comes Thu 23 Apr").count(), 1, "sent twice, it is one visit");

    // He is sent, so he sees the order now, and only his own moves.
    let his = house.get(Some(Role::Technician), &path).await.assert(200);
    // Nothing is linked that is not open to him.
    assert!(
        !his.body.contains("href=\"/kitchens/") && !his.body.contains("href=\"/machines/"),
        "{}",
        his.body
    );

    // What is missing is told in words, with no field or path of the interface.
    for wire in ["restored_at (", "follows_id", "/v1/", "POST "] {
        assert!(!page.body.contains(wire), "{wire}: {}", page.body);
    }
    let id = page.hidden(&to("waits"), "id");
    let typed = [("id", id.as_str()), ("reason", "part"), ("pauses_clock", "yes")];
    let refused = house.post(dispatcher, &to("waits"), &typed).await.assert(409);
    refused.assert_says("pauses no clock");
    let typed = [("id", id.as_str()), ("reason", "access"), ("pauses_clock", "yes")];
    house.post(dispatcher, &to("waits"), &typed).await.assert(303);
    house.get(dispatcher, &path).await.assert_says("waits for access").assert_says("paused");
    house.get(dispatcher, "/today").await.assert_says("A customer must act (1)");
    let page = house.get(dispatcher, &path).await;
    let end = page
        .body
        .split("action=\"")
        .find(|rest| rest.contains("/waits/") && rest.contains("/end\""))
        .unwrap();
    let end = end.split('"').next().unwrap().to_owned();
    let version = page.hidden(&end, "version");
    house.post(dispatcher, &end, &[("version", version.as_str())]).await.assert(303);

    house.get(dispatcher, &path).await.assert_says("Waits for nothing");
}

#[sqlx::test(migrations = "../../migrations")]
async fn nonsense_in_a_form_is_told_and_nothing_is_done(pool: PgPool) {
    let house = House::over(pool).await;
    let number = house.call("It stays dirty.", Urgency::Degraded, |_| ()).await;
    let dispatcher = Some(Role::Dispatcher);
    let to = |rest: &str| format!("/orders/{number}/{rest}");
    for (path, fields, status) in [
        (to("moves/assess"), vec![], 409),
        (to("moves/assess"), vec![("version", "many")], 409),
        (to("moves/fly"), vec![("version", "1")], 404),
        (to("visits"), vec![("id", "nonsense"), ("planned_at", "soon"), ("person", "x")], 409),
        (to("visits/nonsense/arrive"), vec![("version", "1")], 404),
        (to("waits"), vec![("id", "nonsense"), ("reason", "weather")], 409),
        (to("lines"), vec![("part", "nonsense"), ("quantity", "0")], 409),
        (to("quotes"), vec![("line", "nonsense")], 409),
        (to("release"), vec![("version", "1")], 409),
        ("/orders/nonsense/moves/assess".to_owned(), vec![("version", "1")], 404),
        ("/orders/999999/moves/assess".to_owned(), vec![("version", "1")], 404),
    ] {
        house.post(dispatcher, &path, &fields).await.assert(status);
    }
    house.get(dispatcher, "/orders/nonsense").await.assert(404);
    house
        .get(dispatcher, &format!("/orders/{number}?epoch=99"))
        .await
        .assert(200)
        .assert_says("there is no epoch");
    house.get(dispatcher, &format!("/orders/{number}")).await.assert_says("received");
}
