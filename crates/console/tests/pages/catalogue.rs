//! The catalogue, and a machine of the company's own from its plate.

use domain::role::Role;
use sqlx::PgPool;

use crate::house::{HOSTILE, House};

const MANAGER: Option<Role> = Some(Role::Manager);
const OWN: &str = "/catalogue/own-machine";

#[sqlx::test(migrations = "../../migrations")]
async fn models_procedures_and_faults_are_listed_and_led_to(pool: PgPool) {
    let house = House::over(pool).await;
    let list = house.get(MANAGER, "/catalogue").await.assert(200).assert_says("comes with the service");
    let links: Vec<&str> =
        list.body.split("href=\"/catalogue/").skip(1).map(|rest| rest.split('"').next().unwrap()).collect();
    assert!(links.len() > 20, "{links:?}");
    for link in links {
        house.get(MANAGER, &format!("/catalogue/{link}")).await.assert(200);
    }
    let model = house.get(MANAGER, "/catalogue/models/demo_combi").await;
    model
        .assert_says("Limits and usual values")
        .assert_says("fill time")
        .assert_says("at most 20 s")
        .assert_says("wash pump");
    let fill = house.get(MANAGER, "/catalogue/procedures/fill_time").await;
    fill.assert_says("set a barrier and a sign").assert_says("local codes and licensed practice prevail");
    for lost in [
        "models/nothing",
        "models/demo_combi/versions/99",
        "models/demo_combi/versions/x",
        "procedures/Nothing",
        "faults/none",
    ] {
        house.get(MANAGER, &format!("/catalogue/{lost}")).await.assert(404);
    }
}

/// What stands on the plate of a small hood washer without a pump of its own for the drain.
const PLATE: [(&str, &str); 16] = [
    ("title", "Corner hood"),
    ("position", "fill_valve"),
    ("position", "inlet_strainer"),
    ("position", "tank"),
    ("position", "wash_pump"),
    ("static_pressure_bar", "3"),
    ("supply_voltage_v", "230"),
    ("water_temperature_cel", "15"),
    ("vessel_l", "12"),
    ("fill_time_s", "80"),
    ("wash_flow_l_per_min", "100"),
    ("wash_run_s", "60"),
    ("motor_current_a", "3"),
    ("heater_wiring", "single_phase"),
    ("wash_stages_cel", ""),
    ("highest_temperature_cel", "60"),
];

#[sqlx::test(migrations = "../../migrations")]
async fn a_machine_of_our_own_is_drafted_changed_and_taken_in(pool: PgPool) {
    let house = House::over(pool).await;
    house.get(MANAGER, OWN).await.assert(200).assert_says("A machine of our own");
    let like = house.get(MANAGER, &format!("{OWN}?like=demo_combi")).await.assert(200);
    assert!(like.body.matches(" checked").count() > 10, "{}", like.body);
    house.get(MANAGER, &format!("{OWN}?like=Nothing")).await.assert(404);
    // The plate of the demo's combi, as its model tells it, makes a draft.
    let mut typed = plate_of(&like.body);
    let draft = post(&house, &typed, "draft").await.assert(200);
    let draft = draft
        .assert_says("The draft")
        .assert_says("Nothing is kept yet")
        .assert_says("value=\"corner_combi\"");
    house.get(MANAGER, "/catalogue/models/corner_combi").await.assert(404);

    // A position is switched off, and a limit is known better.
    typed.retain(|(name, value)| (name.as_str(), value.as_str()) != ("position", "door_gasket"));
    let upper = draft
        .body
        .split("name=\"")
        .find(|rest| rest.starts_with("upper:fill_time:fill_time"))
        .expect("a limit");
    let upper = upper.split('"').next().unwrap().to_owned();
    typed.push((upper.clone(), "soon".to_owned()));
    post(&house, &typed, "save").await.assert(422).assert_says("is no number");
    typed.pop();
    typed.push((upper, "33,5".to_owned()));
    let saved = post(&house, &typed, "save").await.assert(303);
    assert_eq!(saved.header("location"), "/catalogue/models/corner_combi");
    let model = house.get(MANAGER, "/catalogue/models/corner_combi").await.assert(200);
    let model = model.assert_says("33.5 s").assert_says("our own");
    assert!(!model.body.contains("door gasket"), "{}", model.body);
    house.get(MANAGER, "/catalogue/faults/corner_combi").await.assert(200).assert_says("general knowledge");
    // Sent twice it is there once.
    post(&house, &typed, "save").await.assert(303);
}

#[sqlx::test(migrations = "../../migrations")]
async fn an_impossible_plate_is_told_at_its_fields_and_what_was_typed_stays(pool: PgPool) {
    let house = House::over(pool).await;
    let fields: Vec<(String, String)> =
        PLATE.iter().map(|(name, text)| ((*name).to_owned(), (*text).to_owned())).collect();
    let mut wrong = fields.clone();
    wrong.retain(|(name, _)| name != "fill_time_s" && name != "title" && name != "supply_voltage_v");
    wrong.push(("title".to_owned(), HOSTILE.to_owned()));
    wrong.push(("fill_time_s".to_owned(), "<b>".to_owned()));
    let answer = post(&house, &wrong, "draft").await.assert(422).assert_says("is no number");
    let answer = answer.assert_says("aria-invalid=\"true\"").assert_says("&#60;script&#62;alert");
    assert!(!answer.body.contains("<script>alert"));
    let mut wrong = fields;
    wrong.retain(|(name, _)| name != "supply_voltage_v");
    wrong.push(("supply_voltage_v".to_owned(), "12".to_owned()));
    let answer = post(&house, &wrong, "draft").await.assert(422);
    answer
        .assert_says("from 100 to 480 V")
        .assert_says("id=\"fault-supply_voltage_v\"")
        .assert_says("value=\"12\"");
    for role in [Role::Dispatcher, Role::Technician] {
        house.post(Some(role), OWN, &[("do", "save")]).await.assert(403);
    }
}

/// The fields of a combi's plate, with the positions that the page ticked.
fn plate_of(body: &str) -> Vec<(String, String)> {
    let ticked = body
        .split("name=\"position\" value=\"")
        .skip(1)
        .filter(|rest| rest.split('>').next().unwrap().contains("checked"));
    let mut fields: Vec<(String, String)> =
        ticked.map(|rest| ("position".to_owned(), rest.split('"').next().unwrap().to_owned())).collect();
    let numbers = [
        ("title", "Corner combi"),
        ("static_pressure_bar", "3"),
        ("supply_voltage_v", "230"),
        ("water_temperature_cel", "15"),
        ("vessel_l", "10"),
        ("fill_time_s", "13"),
        ("start_up_call_s", "12"),
        ("drain_time_s", "30"),
        ("wash_flow_l_per_min", "60"),
        ("wash_run_s", "120"),
        ("motor_current_a", "3.2"),
        ("capacitor_uf", "16"),
        ("dose_ml", "60"),
        ("rinse_volume_l", "8"),
        ("heater_elements", "3"),
        ("heater_power_per_element_w", "3000"),
        ("heater_rated_voltage_v", "230"),
        ("heater_wiring", "star_with_neutral"),
        ("heater_heating_time_s", "400"),
        ("steam_time_s", "120"),
        ("wash_stages_cel", "55 70 92"),
        ("highest_temperature_cel", "95"),
    ];
    fields.extend(numbers.map(|(name, text)| (name.to_owned(), text.to_owned())));
    fields
}

async fn post(house: &House, fields: &[(String, String)], what: &str) -> crate::house::Answered {
    let mut all: Vec<(&str, &str)> =
        fields.iter().map(|(name, text)| (name.as_str(), text.as_str())).collect();
    all.push(("do", what));
    house.post(MANAGER, OWN, &all).await
}
