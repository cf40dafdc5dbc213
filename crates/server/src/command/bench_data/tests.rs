use super::*;
use application::catalogue::install_built_in;

use crate::wiring::application;

#[sqlx::test(migrations = "../../migrations")]
async fn a_small_company_is_stored_whole_and_its_summary_agrees(pool: sqlx::PgPool) {
    let database = Database::over(pool);
    install_built_in(&application(database.clone())).await.unwrap();
    let settings = Settings { kitchens: 10, kitchens_of_a_branch: 5, days: 500, ..Settings::benchmark(3) };
    let mut told = 0;
    let totals = load(&database, settings, |done, _, _| told = done).await.unwrap();
    assert_eq!(told, 2);
    let held = bulk::settle(&database).await.unwrap();
    let counted = [
        (held.sites, totals.sites),
        (held.appliances, totals.appliances),
        (held.work_orders, totals.orders),
        (held.test_runs, totals.test_runs),
        (held.readings, totals.readings),
        (held.findings, totals.findings),
        (held.part_lines, totals.part_lines),
    ];
    assert!(counted.iter().all(|(held, told)| *held as u64 == *told), "{held:?} {totals:?}");
    assert!(totals.orders > 50 && totals.readings > 500, "{totals:?}");
    assert_eq!(store::fault_count::rebuild(&database).await.unwrap(), 0);
    let checked = store::check::all(&database, &mut |_| ()).await.unwrap();
    assert!(checked.iter().all(|checked| checked.broken == 0), "{checked:?}");
}
