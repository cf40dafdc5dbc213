use super::*;
use crate::equipment::{demo_combi, demo_combi_faults};
use std::sync::LazyLock;
use uuid::Uuid;

static TABLES: LazyLock<Tables> =
    LazyLock::new(|| Tables::compile(demo_combi_faults(), demo_combi(), &[]).unwrap());

/// UUIDs of version 7 that count up.
fn uuid(number: u64) -> Uuid {
    Uuid::from_u128(0x0189_0a5d_ac96_7000_8000_0000_0000_0000 | u128::from(number))
}

fn key(text: &str) -> Key {
    Key::new(text).unwrap()
}

fn job(number: u64, site: u64, outcomes: &[(&str, JobOutcome)]) -> ClosedJob {
    ClosedJob {
        work_order: WorkOrderId::try_from(uuid(number)).unwrap(),
        site: SiteId::try_from(uuid(100_000 + site)).unwrap(),
        technician: PersonId::try_from(uuid(200_000 + number % 40)).unwrap(),
        complaint: Some(Symptom::DoesNotClean),
        findings: outcomes
            .iter()
            .map(|(fault, outcome)| JobFinding { fault: key(fault), outcome: *outcome })
            .collect(),
        looks: Vec::new(),
        full_checklist: true,
    }
}

fn exposure(sites: u64, years: f64) -> Vec<Exposure> {
    (0..sites)
        .map(|site| Exposure {
            site: SiteId::try_from(uuid(100_000 + site)).unwrap(),
            appliance_years: years,
        })
        .collect()
}

fn rate_of(knowledge: &Knowledge, fault: &str) -> f64 {
    knowledge.catalogue.fault(fault).unwrap().per_year
}

#[test]
fn rates_come_to_what_the_jobs_say() {
    let confirmed = [("fill_valve_weak", JobOutcome::Confirmed)];
    // 100 sites of 10 appliance-years: 300 arisings in 1,000 years.
    let jobs: Vec<ClosedJob> = (0..300).map(|number| job(number, number % 100, &confirmed)).collect();
    let learned = Knowledge::learn(&TABLES, &jobs, &exposure(100, 10.0), 1);
    let prior = demo_combi_faults().fault("fill_valve_weak").unwrap().per_year;
    let expected = (4.0 + 300.0) / (4.0 / prior + 1000.0);
    assert!((rate_of(&learned, "fill_valve_weak") - expected).abs() < 1e-12);
    // Tested for and never found.
    let other = demo_combi_faults().fault("wash_pump_fades").unwrap().per_year;
    assert!((rate_of(&learned, "wash_pump_fades") - 4.0 / (4.0 / other + 1000.0)).abs() < 1e-12);
    assert_eq!(learned.made_from.jobs, 300);
    assert_eq!(learned.catalogue.validate(demo_combi()), Ok(()));
}

#[test]
fn what_nobody_looked_for_counts_by_its_expectation() {
    let mut jobs: Vec<ClosedJob> = (0..200).map(|number| job(number, number % 100, &[])).collect();
    let tested = Knowledge::learn(&TABLES, &jobs, &exposure(100, 2.0), 1);
    for job in &mut jobs {
        job.full_checklist = false;
    }
    let untested = Knowledge::learn(&TABLES, &jobs, &exposure(100, 2.0), 1);
    let prior = demo_combi_faults().fault("wash_pump_clogged").unwrap().per_year;
    assert!(rate_of(&tested, "wash_pump_clogged") < 0.5 * prior);
    assert!(rate_of(&untested, "wash_pump_clogged") > 0.7 * prior);
}

#[test]
fn several_parts_at_once_share_the_credit() {
    let together: Vec<(&str, JobOutcome)> =
        ["fill_valve_weak", "inlet_strainer_clogged", "restrictor_scaled"]
            .map(|fault| (fault, JobOutcome::MendedTogether))
            .to_vec();
    let jobs: Vec<ClosedJob> = (0..90).map(|number| job(number, number % 45, &together)).collect();
    let learned = Knowledge::learn(&TABLES, &jobs, &exposure(45, 4.0), 1);
    let prior = demo_combi_faults().fault("restrictor_scaled").unwrap().per_year;
    let expected = (4.0 + 30.0) / (4.0 / prior + 180.0);
    assert!((rate_of(&learned, "restrictor_scaled") - expected).abs() < 1e-12);
}

#[test]
fn one_site_does_not_speak_for_all() {
    let confirmed = [("fill_valve_weak", JobOutcome::Confirmed)];
    let loud: Vec<ClosedJob> = (0..400).map(|number| job(number, 0, &confirmed)).collect();
    let learned = Knowledge::learn(&TABLES, &loud, &exposure(100, 10.0), 1);
    let prior = demo_combi_faults().fault("fill_valve_weak").unwrap().per_year;
    // At most (4 + 0.44)/(4/λ + nearly all years).
    assert!(rate_of(&learned, "fill_valve_weak") < prior, "{}", rate_of(&learned, "fill_valve_weak"));
}

#[test]
fn a_replay_in_another_order_gives_the_same_bits() {
    let confirmed = [("fill_valve_weak", JobOutcome::Confirmed), ("drain_pump_dead", JobOutcome::Refuted)];
    let mut jobs: Vec<ClosedJob> = (0..50).map(|number| job(number, number % 7, &confirmed)).collect();
    jobs.iter_mut().step_by(3).for_each(|job| job.full_checklist = false);
    let once = Knowledge::learn(&TABLES, &jobs, &exposure(7, 3.0), 4);
    jobs.reverse();
    // A job that arrives twice counts once.
    jobs.push(jobs[0].clone());
    let mut years = exposure(7, 3.0);
    years.reverse();
    let again = Knowledge::learn(&TABLES, &jobs, &years, 4);
    assert_eq!(serde_json::to_string(&once).unwrap(), serde_json::to_string(&again).unwrap());
}

#[test]
fn complaints_and_looks_are_learned_from_jobs_with_one_fault() {
    let confirmed = [("spray_blocked", JobOutcome::Confirmed)];
    let mut jobs: Vec<ClosedJob> = (0..80).map(|number| job(number, number % 40, &confirmed)).collect();
    let pattern = ObservationKey::new("wash_flow_hold/pattern").unwrap();
    for job in &mut jobs {
        job.complaint = Some(Symptom::Noisy);
        job.looks = vec![(pattern.clone(), key("uneven"))];
    }
    let learned = Knowledge::learn(&TABLES, &jobs, &exposure(40, 1.0), 1);
    let (before, after) =
        [demo_combi_faults(), &learned.catalogue].map(|of| of.fault("spray_blocked").unwrap().clone()).into();
    let share = (20.0 * before.symptom_share(Symptom::Noisy) + 80.0) / 100.0;
    assert!((after.symptom_share(Symptom::Noisy) - share).abs() < 1e-12);
    let shown = |fault: &crate::equipment::Fault| {
        fault.shows.iter().find(|shows| shows.at == pattern).unwrap().probability
    };
    assert!((shown(&after) - (20.0 * shown(&before) + 80.0) / 100.0).abs() < 1e-12);
    assert_eq!(learned.catalogue.validate(demo_combi()), Ok(()));
}

#[test]
fn one_call_in_twenty_gets_the_full_checklist() {
    let drawn = (0..20_000).filter(|n| gets_full_checklist(WorkOrderId::try_from(uuid(*n)).unwrap())).count();
    // Binomial: 1,000 ± 4·31.
    assert!((876..1124).contains(&drawn), "{drawn}");
}

#[test]
fn a_fault_with_rate_zero_is_not_learned_into_being() {
    let mut catalogue = demo_combi_faults().clone();
    catalogue.faults.iter_mut().find(|fault| fault.key.as_str() == "rinse_fails").unwrap().per_year = 0.0;
    let tables = Tables::compile(&catalogue, demo_combi(), &[]).unwrap();
    let jobs: Vec<ClosedJob> =
        (0..20).map(|number| job(number, number, &[("rinse_fails", JobOutcome::Confirmed)])).collect();
    let learned = Knowledge::learn(&tables, &jobs, &exposure(20, 1.0), 1);
    assert!(rate_of(&learned, "rinse_fails").abs() < 1e-300);
}

/// `(a + n)/(a/λ₀ + T)`: a general rate weighs as one arising, one that somebody wrote as four.
#[test]
fn what_is_general_is_learned_sooner_than_what_somebody_wrote() {
    let fault = "inlet_strainer_clogged";
    let prior = demo_combi_faults().fault(fault).unwrap().per_year;
    let jobs: Vec<_> = (0..30).map(|n| job(n, n, &[(fault, JobOutcome::Confirmed)])).collect();
    let learned = |general: bool| {
        let catalogue = FaultCatalogue { general, ..demo_combi_faults().clone() };
        let tables = Tables::compile(&catalogue, demo_combi(), &[]).unwrap();
        let knowledge = Knowledge::learn(&tables, &jobs, &exposure(30, 1.0), 1);
        assert_eq!(knowledge.catalogue.general, general);
        rate_of(&knowledge, fault)
    };
    for (general, strength) in [(true, 1.0), (false, 4.0)] {
        let expected = (strength + 30.0) / (strength / prior + 30.0);
        assert!((learned(general) - expected).abs() < 1e-9, "{} {expected}", learned(general));
    }
}
