mod measured;

use std::collections::BTreeSet;

use application::{Caller, Principal};
use domain::id::{ApplianceId, PersonId};
use domain::role::{Role, Scope};
use domain::work::WaitingReason;
use sqlx::PgPool;
use store::Database;

use super::script::{Step, id_of, steps};
use super::{Shift, settings, tell};

fn manager() -> Caller {
    let principal = Principal {
        person: PersonId::try_from(id_of("manager")).unwrap(),
        token: None,
        name: "manager".to_owned(),
        role: Role::Manager,
        scopes: Scope::ALL.to_vec(),
    };
    Caller { principal, request_id: "test".to_owned() }
}

/// What `ovenwright demo` does to an empty database, whole: no step of two years may be one that the service refuses.
#[sqlx::test(migrations = "../../migrations")]
async fn the_whole_demo_company_is_entered_and_every_rule_between_rows_holds(pool: PgPool) {
    let database = Database::over(pool.clone());
    application::catalogue::install_built_in(&crate::wiring::application(database.clone())).await.unwrap();
    let mut last = (0, 1);
    tell(database.clone(), Some(settings()), Shift::default(), |done, all| last = (done, all)).await.unwrap();
    assert_eq!(last.0, last.1);
    let application = crate::wiring::application(database.clone());
    measured::as_counted_by_hand(&application, &pool, &manager()).await;
    let checked = store::check::all(&database, &mut |_| ()).await.unwrap();
    assert!(checked.iter().all(|checked| checked.broken == 0), "{checked:?}");
}

#[test]
fn an_order_waits_for_every_reason_that_there_is() {
    let steps = steps(Shift::default()).unwrap();
    let posted = |step: &&Step, end: &str| step.post.as_deref().is_some_and(|path| path.ends_with(end));
    let waits = steps.iter().filter(|step| posted(step, "/waiting"));
    let reasons: BTreeSet<&str> = waits.filter_map(|step| step.body["reason"].as_str()).collect();
    let all: BTreeSet<&str> = WaitingReason::ALL.iter().map(|reason| reason.word()).collect();
    assert_eq!(reasons, all);
    let stops_use = |step: &Step| posted(&step, "/calls") && step.body["stop_use"] == true;
    assert!(steps.iter().any(stops_use), "a call after which a machine is not to be used");
}

#[sqlx::test(migrations = "../../migrations")]
async fn the_stories_have_learned_and_a_machine_drifts(pool: PgPool) {
    let database = Database::over(pool);
    let application = crate::wiring::application(database.clone());
    application::catalogue::install_built_in(&application).await.unwrap();
    tell(database, None, Shift::default(), |_, _| ()).await.unwrap();
    let learned = store::knowledge::faults(application.database(), 1, "demo_combi").await.unwrap();
    assert!(learned.is_some_and(|learned| learned.made_from.jobs > 0), "closed orders teach");
    let scope = manager().read_scope();
    let canteen = ApplianceId::try_from(id_of("canteen_combi")).unwrap();
    let end = "2026-04-22T23:00:00Z".parse().unwrap();
    let drift =
        application::drift::of_appliance(&application, &scope, canteen, end, None).await.unwrap().unwrap();
    let fill = drift.charts.iter().find(|chart| chart.of.procedure.as_str() == "fill_time").unwrap();
    assert!(fill.chart.drifting_since.is_some(), "{:?}", fill.chart.points.last());
}
