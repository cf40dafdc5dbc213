//! Sequences of moves, readings, actions and states that somebody may send, drawn at random: whatever comes, no machine leaves
//! stop-use but by its release, and no order ends as repaired over a reading that fails.

use serde_json::{Value, json};
use sqlx::PgPool;

use super::stop_use::{machine, run, state_of};
use super::{order, visit};
use crate::company::{Company, DISPATCHER, TECHNICIAN, id};

/// Numerical Recipes' linear congruential generator (from memory): the same sequences each time.
struct Draws(u32);

impl Draws {
    fn below(&mut self, n: u32) -> u32 {
        self.0 = self.0.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        (self.0 >> 8) % n
    }

    fn pick<'a>(&mut self, from: &[&'a str]) -> &'a str {
        from[self.below(u32::try_from(from.len()).unwrap()) as usize]
    }
}

/// One step that somebody takes; whether it was a release that was granted.
async fn step(company: &Company, draws: &mut Draws, n: u32) -> bool {
    let minute = n + 6;
    let now = format!("2026-03-02T{:02}:{:02}:00Z", 10 + minute / 60, minute % 60);
    company.at(&now);
    let state = draws.pick(&["up", "degraded", "down", "unsafe_do_not_use", "removed"]);
    let who = draws.pick(&[TECHNICIAN, DISPATCHER]);
    match draws.below(12) {
        0 => {
            let outcomes = [
                "repaired",
                "temporary_fix",
                "no_fault_found",
                "explained_use",
                "solved_by_phone",
                "referred",
            ];
            let close = json!({"outcome": draws.pick(&outcomes), "appliance_state": state});
            // Few, so that a sequence goes on for a while.
            if draws.below(3) == 0 {
                company.act(&order(), "close", who, close).await;
            }
        }
        1 => {
            let leave = json!({"result": "diagnosed", "appliance_state": state});
            if draws.below(4) == 0 {
                company.act(&visit(3), "leave", TECHNICIAN, leave).await;
            }
        }
        2 => {
            company.on_current("PATCH", &machine(), &machine(), who, json!({"state": state})).await;
        }
        3 => {
            company.act(&order(), "report_repaired", TECHNICIAN, json!({"restored_at": now})).await;
        }
        4 => {
            let result = draws.pick(&["gone", "gone", "gone", "remains"]);
            let tried = json!({"symptoms": [{"symptom": "does_not_clean", "result": result}]});
            company.act(&order(), "prove", TECHNICIAN, tried).await;
        }
        5 => {
            company.act(&order(), "resume_repair", TECHNICIAN, json!({})).await;
        }
        6 => {
            let action =
                json!({"id": id(0x1000 + n), "position": "wash_pump", "action": "cleaned", "taken_at": now});
            company.post(&format!("{}/actions-taken", order()), TECHNICIAN, action).await;
        }
        7 => {
            let reason =
                json!({"state": draws.pick(&["up", "degraded", "down"]), "reason": "It was looked at."});
            let etag = company.get(&machine(), DISPATCHER).await.etag();
            let answer = if draws.below(3) == 0 {
                company.act_as_manager(&machine(), "release", &etag, reason).await
            } else {
                company.act(&machine(), "release", who, reason).await
            };
            return answer.status == 200;
        }
        8 => {
            let readings = json!([
                {"step": "shut_recognised", "choice": "at_once"}, {"step": "opening_recognised", "choice": "at_once"},
                {"step": "pump_refuses", "choice": draws.pick(&["refuses", "refuses", "runs"])},
            ]);
            send(company, run(0x2000 + n, "door_switch", &now, &readings, &[])).await;
        }
        _ => {
            let readings = json!([
                {"step": "outcome", "choice": draws.pick(&["completed", "completed", "stopped"])},
                {"step": "cleanliness", "choice": draws.pick(&["clean", "clean", "clean", "dirty"])},
                {"step": "leaks", "choice": draws.pick(&["dry", "dry", "dry", "leaks"])},
            ]);
            send(company, run(0x3000 + n, "full_cycle", &now, &readings, &["chemical_loaded"])).await;
        }
    }
    false
}

/// Whatever is answered: on a visit that is over a reading may be refused.
async fn send(company: &Company, run: Value) {
    company.post("/v1/test-runs", TECHNICIAN, json!({"runs": [run]})).await.expect(200);
}

/// Whether the last full cycle that was kept ran, cleaned and held its water.
async fn last_cycle_is_well(company: &Company) -> bool {
    let runs = company.get(&format!("{}/test-runs", order()), DISPATCHER).await.expect(200).body;
    let of_cycle = |run: &&Value| run["procedure"]["key"] == "full_cycle";
    let runs = runs["items"].as_array().unwrap().clone();
    let last = runs.iter().filter(of_cycle).max_by_key(|run| run["taken_at"].as_str().unwrap().to_owned());
    last.is_some_and(|run| {
        let readings = run["readings"].as_array().unwrap();
        let reads = |step: &str, choice: &str| {
            readings.iter().any(|reading| reading["step"] == step && reading["choice"] == choice)
        };
        reads("outcome", "completed") && reads("cleanliness", "clean") && reads("leaks", "dry")
    })
}

async fn play(company: &Company, seed: u32) -> (u32, u32, u32) {
    let mut draws = Draws(seed);
    let (mut stopped, mut released, mut repaired) = (0, 0, 0);
    super::on_site(company).await;
    for n in 0..80 {
        let before = state_of(company).await;
        let was_released = step(company, &mut draws, n).await;
        let after = state_of(company).await;
        let leaves =
            before == "unsafe_do_not_use" && !["unsafe_do_not_use", "removed"].contains(&after.as_str());
        assert!(!leaves || was_released, "seed {seed}, step {n}: {before} to {after}");
        stopped += u32::from(before != after && after == "unsafe_do_not_use");
        released += u32::from(was_released);
        let stands = company.get(&order(), DISPATCHER).await.expect(200).body;
        if stands["outcome"] == "repaired" {
            assert!(
                last_cycle_is_well(company).await || !stands["proof_doubted_at"].is_null(),
                "seed {seed}, step {n}"
            );
            repaired += 1;
        }
        let open = company.get(&format!("{}/stops", machine()), DISPATCHER).await.expect(200).body;
        let is_open = open["items"].as_array().unwrap().iter().any(|stop| stop["released_at"].is_null());
        assert!(
            !is_open || ["unsafe_do_not_use", "removed"].contains(&after.as_str()),
            "seed {seed}, step {n}"
        );
    }
    (stopped, released, repaired)
}

macro_rules! sequences {
    ($($name:ident: $seed:literal;)+) => {$(
        #[sqlx::test(migrations = "../../migrations")]
        async fn $name(pool: PgPool) {
            let company = Company::over(pool).await;
            let (stopped, _, _) = play(&company, $seed).await;
            assert!(stopped > 0, "a sequence without a stop shows nothing");
        }
    )+};
}

sequences! {
    no_sequence_leads_round_the_release_first: 1;
    no_sequence_leads_round_the_release_second: 20;
    no_sequence_leads_round_the_release_third: 300;
    no_sequence_leads_round_the_release_fourth: 4000;
    no_sequence_leads_round_the_release_fifth: 50_000;
    no_sequence_leads_round_the_release_sixth: 600_000;
}
