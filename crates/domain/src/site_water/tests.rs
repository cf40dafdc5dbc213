use super::*;
use crate::equipment::{Bounds, WaterLimits, demo_combi};
use proptest::prelude::*;

fn sample(hardness_mg_per_l: f64) -> WaterSample {
    WaterSample {
        sample_point: SamplePoint::AfterTreatment,
        treatment: Treatment::Cartridge,
        hardness: Some(Hardness::read(hardness_mg_per_l, "mg/L").unwrap()),
        calcium_hardness: None,
        alkalinity: Some(Alkalinity::from_milligrams_per_litre(34.0).unwrap()),
        conductivity: Some(Conductivity::from_microsiemens_per_centimetre(320.0 / 0.65).unwrap()),
        chloride: Some(MassConcentration::from_milligrams_per_litre(20.0).unwrap()),
        ph: Some(Ph::from_ph(7.5).unwrap()),
        temperature: Some(Temperature::from_celsius(25.0).unwrap()),
    }
}

fn taken(at: &str, sample: WaterSample) -> TakenSample {
    TakenSample { taken_at: at.parse().unwrap(), sample }
}

fn sentences(sample: &WaterSample) -> Vec<String> {
    compare(sample, &demo_combi().water_limits).into_iter().map(|finding| finding.sentence).collect()
}

/// Roberge, Corrosion Engineering: Principles and Practice, 8.7.1, the example of a water at 25 °C and
/// 82 °C: Langelier index −0.7 and 0.3.
#[test]
fn a_cold_water_that_dissolves_scale_lays_it_down_when_hot() {
    let water = sample(150.0);
    assert!((water.indices().unwrap().langelier + 0.7).abs() < 0.05);
    let hot = Temperature::from_celsius(82.0).unwrap();
    assert!((water.indices_at(hot).unwrap().langelier - 0.3).abs() < 0.05);
}

#[test]
fn findings_are_said_in_plain_words() {
    assert_eq!(
        sentences(&sample(150.0)),
        [
            "The hardness is 150 mg/L as CaCO3, but the model takes at most 68 mg/L as CaCO3: scale will form, so look at the treatment.",
            "The conductivity is 492 µS/cm; the model takes 30 to 800 µS/cm.",
            "The chloride is 20 mg/L; the model takes at most 60 mg/L.",
            "The pH is 7.5; the model takes 6.5 to 8.5.",
            "The Langelier index is -0.73; the model takes -1 to 0.5.",
        ]
    );
}

#[test]
fn what_was_not_read_is_not_known_and_says_why() {
    let water = WaterSample { chloride: None, alkalinity: None, ..sample(50.0) };
    let findings = compare(&water, &demo_combi().water_limits);
    assert_eq!(findings[2].standing, Standing::NotKnown);
    assert_eq!(findings[2].sentence, "The chloride is not known; the model takes at most 60 mg/L.");
    assert_eq!(
        findings[4].sentence,
        "The Langelier index is not known (needs the alkalinity, which was not read); the model takes -1 to 0.5."
    );
    let softened = sample(0.2);
    assert!(matches!(softened.indices(), Err(NoIndex::Outside(_))), "no calcium, no index");
    let wrong = WaterSample { calcium_hardness: Some(Hardness::read(60.0, "mg/L").unwrap()), ..sample(50.0) };
    assert_eq!(wrong.indices(), Err(NoIndex::CalciumExceedsHardness));
}

#[test]
fn a_model_without_limits_finds_nothing() {
    assert_eq!(compare(&sample(500.0), &WaterLimits::default()), []);
    let open = WaterLimits { ph: Some(Bounds::default()), ..WaterLimits::default() };
    assert_eq!(compare(&sample(500.0), &open), []);
}

#[test]
fn treatment_changes_are_found_in_any_order_of_arrival() {
    let softened = WaterSample { treatment: Treatment::Softener, ..sample(10.0) };
    let samples = [
        taken("2026-06-01T08:00:00Z", softened),
        taken("2025-01-01T08:00:00Z", sample(60.0)),
        taken("2026-01-01T08:00:00Z", sample(80.0)),
    ];
    let changes = treatment_changes(&samples);
    assert_eq!(changes.len(), 1);
    assert_eq!(changes[0].after, samples[2].taken_at);
    assert_eq!(changes[0].by, samples[0].taken_at);
    assert_eq!((changes[0].from, changes[0].to), (Treatment::Cartridge, Treatment::Softener));
}

#[test]
fn a_trend_begins_anew_with_each_treatment_and_bears_one_wrong_sample() {
    let old = WaterSample { treatment: Treatment::None, ..sample(300.0) };
    let mut samples = vec![taken("2024-01-01T00:00:00Z", old)];
    for (month, hardness) in [(1, 10.0), (3, 20.0), (5, 30.0), (7, 400.0), (9, 50.0), (11, 60.0)] {
        samples.push(taken(&format!("2025-{month:02}-01T00:00:00Z"), sample(hardness)));
    }
    let trend = |of| trend(&samples, of, SamplePoint::AfterTreatment);
    let found = trend(WaterValue::Hardness).unwrap();
    assert_eq!(found.n, 6);
    assert!((found.per_year - 60.0).abs() < 3.0, "{}", found.per_year);
    assert_eq!(super::trend(&samples, WaterValue::Hardness, SamplePoint::BeforeTreatment), None);
    assert_eq!(super::trend(&samples[..3], WaterValue::Hardness, SamplePoint::AfterTreatment), None);
    let at_once = vec![samples[1]; 4];
    assert_eq!(super::trend(&at_once, WaterValue::Hardness, SamplePoint::AfterTreatment), None);
}

proptest! {
    #[test]
    fn standing_and_bounds_agree(hardness in 0.0..500.0_f64, upper in 1.0..400.0_f64) {
        let limits = WaterLimits { hardness_mg_per_l_caco3: Some(Bounds::at_most(upper)), ..WaterLimits::default() };
        let finding = &compare(&sample(hardness), &limits)[0];
        let within = Bounds::at_most(upper).contains(finding.value.unwrap());
        prop_assert_eq!(finding.standing == Standing::Within, within);
    }

    #[test]
    fn a_sample_survives_being_stored(hardness in 0.0..500.0_f64) {
        let stored = serde_json::to_string(&sample(hardness)).unwrap();
        prop_assert_eq!(serde_json::from_str::<WaterSample>(&stored).unwrap(), sample(hardness));
    }
}
