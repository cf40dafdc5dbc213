//! A call while it is taken: what to ask next, what was answered, what is kept of it.

use domain::role::Role;
use sqlx::PgPool;

use crate::house::House;

const DISPATCHER: Option<Role> = Some(Role::Dispatcher);

/// The fields of the questions that the page puts.
fn asked(body: &str) -> Vec<String> {
    let mut names: Vec<String> = body
        .split("name=\"ask:")
        .skip(1)
        .map(|rest| format!("ask:{}", rest.split('"').next().unwrap()))
        .collect();
    names.dedup();
    names
}

#[sqlx::test(migrations = "../../migrations")]
async fn the_most_telling_questions_are_put_and_their_answers_change_what_is_likely(pool: PgPool) {
    let house = House::over(pool).await;
    let path = format!("/calls/new?site={}", house.site);
    let page = house.get(DISPATCHER, &path).await.assert(200);
    assert!(asked(&page.body).is_empty(), "nothing is asked before machine and complaint are known");
    let (call, order) = (page.hidden("/calls/new", "call"), page.hidden("/calls/new", "order"));
    let (site, machine) = (house.site.to_string(), house.appliance.to_string());
    let base = [
        ("site", site.as_str()),
        ("call", call.as_str()),
        ("order", order.as_str()),
        ("machine", machine.as_str()),
        ("words", "No water is heard."),
        ("complaint", "no_water_heard"),
        ("urgency", "degraded"),
        ("use", "go-on"),
    ];
    let with = |more: &[(&'static str, &'static str)]| -> Vec<(&str, &str)> {
        base.iter().copied().chain(more.iter().copied()).collect()
    };
    let look = house.post(DISPATCHER, "/calls/new", &with(&[("do", "look")])).await.assert(200);
    let questions = asked(&look.body);
    assert_eq!(questions.len(), 3, "{questions:?}");
    let look = look.assert_says("Ask, if there is time").assert_says("not asked");
    let likely = |body: &str| body.split("<ol>").nth(1).unwrap().split("</ol>").next().unwrap().to_owned();

    // Answered, it stays answered; three others are asked, and what is likely is another.
    let answers = with(&[("do", "look"), ("ask:other_taps", "weak")]);
    let again = house.post(DISPATCHER, "/calls/new", &answers).await.assert(200);
    let now = asked(&again.body);
    assert_eq!((now[0].as_str(), now.len()), ("ask:other_taps", 4), "{now:?}");
    assert!(again.body.contains("name=\"ask:other_taps\" value=\"weak\" checked"), "{}", again.body);
    assert_ne!(likely(&look.body), likely(&again.body));

    let nonsense = with(&[("do", "open"), ("ask:other_taps", "<b>")]);
    house.post(DISPATCHER, "/calls/new", &nonsense).await.assert(422).assert_says("Choose one of those");
    let opened = with(&[("do", "open"), ("ask:other_taps", "weak"), ("ask:floor_water", "")]);
    let answer = house.post(DISPATCHER, "/calls/new", &opened).await.assert(303);
    let page = house.get(DISPATCHER, answer.header("location")).await.assert(200);
    page.assert_says("Does water run weakly at other taps too? <bdi>yes, weakly</bdi>");
}
