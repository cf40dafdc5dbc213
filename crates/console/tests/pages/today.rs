//! Who must act next, and which promise breaks first.

use chrono::TimeDelta;
use domain::danger::Danger;
use domain::role::Role;
use domain::work::Urgency;
use sqlx::PgPool;

use crate::house::{HOSTILE, House};

#[sqlx::test(migrations = "../../migrations")]
async fn stop_use_stands_on_top_and_the_promise_that_breaks_first_before_others(pool: PgPool) {
    let house = House::over(pool).await;
    house.get(Some(Role::Dispatcher), "/today").await.assert(200).assert_says("Nothing is open");
    let slow = house.call("It stays dirty.", Urgency::Degraded, |_| ()).await;
    let soon = house.call("It is down.", Urgency::KeyUnitDown, |_| ()).await;
    // Whoever looks before twelve hours are over stays signed in.
    house.later(TimeDelta::hours(10));
    house.get(Some(Role::Dispatcher), "/today").await.assert(200);
    house.later(TimeDelta::hours(10));
    let page = house.get(Some(Role::Dispatcher), "/today").await.assert(200);
    let page = page.assert_says("2 open orders").assert_says("4 h left").assert_says("2 d left");
    let at = |body: &str, number: i64| body.find(&format!("/orders/{number}\"")).unwrap();
    assert!(at(&page.body, soon) < at(&page.body, slow));
    house.later(TimeDelta::hours(5));
    house
        .get(Some(Role::Dispatcher), "/today")
        .await
        .assert_says("1 past its promise")
        .assert_says("60 min over");
    let unsafe_one = house
        .call("The handle tingles.", Urgency::Danger, |call| {
            call.dangers = vec![Danger::Tingle];
            call.stop_use = true;
        })
        .await;
    let page = house.get(Some(Role::Dispatcher), "/today").await.assert(200);
    let top = page.body.find("Stop use").expect("stop use on top");
    assert!(top < page.body.find("We must act").unwrap_or(usize::MAX));
    // All three stand on this machine now.
    assert!(top < at(&page.body, unsafe_one));
}

#[sqlx::test(migrations = "../../migrations")]
async fn what_people_wrote_is_shown_and_never_carried_out(pool: PgPool) {
    let house = House::named(pool, &HOSTILE.repeat(2)).await;
    let number = house.call(&HOSTILE.repeat(40), Urgency::Degraded, |_| ()).await;
    let paths = [
        "/today".to_owned(),
        format!(
            "/today?words={}",
            serde_urlencoded::to_string([("", HOSTILE)]).unwrap().trim_start_matches('=')
        ),
        format!("/orders/{number}"),
        format!("/kitchens/{}", house.site),
        format!("/machines/{}", house.appliance),
        format!("/calls/new?site={}", house.site),
        format!("/search?{}", serde_urlencoded::to_string([("words", HOSTILE)]).unwrap()),
    ];
    for path in paths {
        let page = house.get(Some(Role::Manager), &path).await.assert(200);
        assert!(page.body.contains("&#60;script&#62;alert"), "{path}: what was written is shown");
        for live in ["<script>alert", "<img src=x"] {
            assert!(!page.body.contains(live), "{path} has {live}");
        }
        for inline in ["style=\"", " onerror=\"", "<style", "javascript:"] {
            assert!(!page.body.contains(inline), "{path} has {inline}");
        }
    }
}

#[sqlx::test(migrations = "../../migrations")]
async fn words_choose_and_nonsense_in_the_address_does_no_harm(pool: PgPool) {
    let house = House::over(pool).await;
    let number = house.call("It stays dirty.", Urgency::Degraded, |_| ()).await;
    let shown = |body: &str| body.contains(&format!("/orders/{number}\""));
    assert!(shown(&house.get(Some(Role::Manager), "/today?words=HARBOUR").await.body));
    assert!(shown(&house.get(Some(Role::Manager), &format!("/today?words=%23{number}")).await.body));
    let none = house.get(Some(Role::Manager), "/today?words=galley").await.assert(200);
    assert!(!shown(&none.body));
    let none = none.assert_says("Nothing open fits");
    drop(none);
    house.get(Some(Role::Manager), "/today?branch=nonsense&words=%00%ff").await.assert(200);
}
