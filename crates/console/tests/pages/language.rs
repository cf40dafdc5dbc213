//! Every page in every language.

use axum::http::Method;
use domain::danger::Danger;
use domain::role::Role;
use domain::work::Urgency;
use sqlx::PgPool;

use crate::house::{Answered, House};

const GERMAN: (&str, &str) = ("accept-language", "de-AT, de;q=0.9, en;q=0.4");

async fn look(house: &House, role: Option<Role>, path: &str, headers: &[(&'static str, &str)]) -> Answered {
    house.send(role, Method::GET, path, headers, None).await
}

#[sqlx::test(migrations = "../../migrations")]
async fn a_page_speaks_as_the_browser_wishes_until_somebody_chooses(pool: PgPool) {
    let house = House::over(pool).await;
    let page = look(&house, None, "/sign-in", &[GERMAN]).await.assert(200);
    page.assert_says("<html lang=\"de\">").assert_says("Ihr Anmeldename");
    let page = look(&house, None, "/sign-in", &[]).await.assert(200);
    assert_eq!(page.header("content-language"), "en");
    let vary = page.headers.get_all("vary").iter().filter_map(|value| value.to_str().ok());
    let vary = vary.collect::<Vec<_>>().join(", ");
    assert!(vary.contains("accept-language") && vary.contains("cookie"), "{vary}");
    page.assert_says("<html lang=\"en\">").assert_says("The name you sign in by");
    let chosen = house
        .send(
            None,
            Method::POST,
            "/language",
            &[("sec-fetch-site", "same-origin"), ("referer", "https://office.example/sign-in?then=%2Fday")],
            Some(&[("language", "de")]),
        )
        .await
        .assert(303);
    assert_eq!(chosen.header("location"), "/sign-in?then=%2Fday");
    let cookie = chosen.header("set-cookie").split(';').next().unwrap().to_owned();
    let page = look(&house, None, "/sign-in", &[("accept-language", "en"), ("cookie", &cookie)]).await;
    assert_eq!(page.header("content-language"), "de");
    page.assert_says("Ihr Anmeldename");
    let lost = look(&house, None, "/nowhere", &[GERMAN, ("accept", "text/html")]).await.assert(404);
    lost.assert_says("Hier ist nichts");
    let elsewhere = look(&house, None, "/static/0/console.css", &[GERMAN]).await;
    assert_eq!(elsewhere.header("content-language"), "");
}

#[sqlx::test(migrations = "../../migrations")]
async fn a_language_is_chosen_from_an_own_page_and_is_one_of_those_that_are_spoken(pool: PgPool) {
    let house = House::over(pool).await;
    house.post(None, "/language", &[("language", "fr")]).await.assert(400);
    house.post(None, "/language", &[]).await.assert(400);
    let forged = [("sec-fetch-site", "cross-site")];
    house.send(None, Method::POST, "/language", &forged, Some(&[("language", "de")])).await.assert(403);
}

#[sqlx::test(migrations = "../../migrations")]
async fn no_page_in_german_says_a_word_of_english(pool: PgPool) {
    let house = House::over(pool).await;
    let tripping = |call: &mut store::call::NewCall| {
        call.stop_use = true;
        call.dangers = vec![Danger::Tripping];
    };
    let number = house.call("Es bleibt schmutzig.", Urgency::Danger, tripping).await;
    let paths = [
        "/today".to_owned(),
        "/calls/new".to_owned(),
        "/search?words=nirgends".to_owned(),
        "/numbers/repeats".to_owned(),
        "/numbers/early-warnings".to_owned(),
        "/numbers/part-life?position=rinse".to_owned(),
        "/numbers/measures".to_owned(),
        "/numbers/parts".to_owned(),
        "/day".to_owned(),
        "/house-rules".to_owned(),
        format!(
            "/calls/new?site={}&machine={}&complaint=does_not_clean&do=look",
            house.site, house.appliance
        ),
        format!("/orders/{number}"),
        format!("/kitchens/{}", house.site),
        format!("/machines/{}", house.appliance),
        "/catalogue".to_owned(),
        "/catalogue/models/demo_combi".to_owned(),
        "/catalogue/procedures/wash_flow_hold".to_owned(),
        "/catalogue/faults/demo_combi".to_owned(),
        "/people".to_owned(),
        "/nowhere".to_owned(),
    ];
    for path in paths {
        let status = if path == "/nowhere" { 404 } else { 200 };
        let page = look(&house, Some(Role::Administrator), &path, &[GERMAN]).await.assert(status);
        assert_eq!(page.header("content-language"), "de", "{path}");
        // What people wrote stands apart.
        let own = page.body.split("<bdi>").map(|text| text.split_once("</bdi>").map_or(text, |(_, own)| own));
        let own = own.collect::<String>().replace(" of the test", "");
        for english in [" the ", " of ", " and ", " with ", " is ", " nobody ", "which"] {
            let at = own.find(english).map(|at| {
                let from = own.floor_char_boundary(at.saturating_sub(80));
                &own[from..own.floor_char_boundary(at + 80)]
            });
            assert_eq!(at, None, "{path} says{english}in English");
        }
    }
}

#[sqlx::test(migrations = "../../migrations")]
async fn values_are_told_and_typed_in_the_units_that_somebody_chose(pool: PgPool) {
    let house = House::over(pool).await;
    let chosen = house.post(None, "/measures", &[("measures", "customary")]).await.assert(303);
    let cookie = chosen.header("set-cookie").split(';').next().unwrap().to_owned();
    house.post(None, "/measures", &[("measures", "stones")]).await.assert(400);
    let cookies = format!("{cookie}; __Host-ovenwright={}", house.sessions[&Role::Manager]);
    let path = "/catalogue/models/demo_combi";
    let without_foot = |page: Answered| page.assert(200).body.split("<footer").next().unwrap().to_owned();
    let page = without_foot(look(&house, None, path, &[("cookie", &cookies)]).await);
    assert!(page.contains(" psi") && page.contains(" °F") && !page.contains(" bar"), "{page}");
    let usual = without_foot(look(&house, Some(Role::Manager), path, &[]).await);
    assert!(!usual.contains(" psi") && usual.contains(" bar"), "{usual}");
}
