use sqlx::PgPool;
use store::Database;

use super::{settings, tell};

/// What `ovenwright demo` does to an empty database, whole: no step of two years may be one that the service refuses.
#[sqlx::test(migrations = "../../migrations")]
async fn the_whole_demo_company_is_entered_and_every_rule_between_rows_holds(pool: PgPool) {
    let database = Database::over(pool);
    application::catalogue::install_built_in(&crate::wiring::application(database.clone())).await.unwrap();
    let mut last = (0, 1);
    tell(database.clone(), Some(settings()), |done, all| last = (done, all)).await.unwrap();
    assert_eq!(last.0, last.1);
    let checked = store::check::all(&database, &mut |_| ()).await.unwrap();
    assert!(checked.iter().all(|checked| checked.broken == 0), "{checked:?}");
}
