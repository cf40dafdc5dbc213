#![expect(clippy::float_cmp, reason = "exact factors give exact values")]

use proptest::prelude::*;

use super::*;

fn kind_and_unit() -> impl Strategy<Value = (QuantityKind, &'static str)> {
    let all: Vec<_> = QuantityKind::ALL
        .into_iter()
        .flat_map(|kind| kind.accepted_units().map(move |code| (kind, code)))
        .collect();
    proptest::sample::select(all)
}

proptest! {
    #[test]
    fn a_value_survives_the_way_to_the_canonical_unit_and_back(
        (kind, code) in kind_and_unit(), value in -1e6..1e6_f64
    ) {
        if let Ok(canonical) = kind.to_canonical(value, code) {
            let back = kind.from_canonical(canonical, code).unwrap();
            prop_assert!((back - value).abs() <= 1e-12 * value.abs().max(1e3), "{kind} {code}: {value} → {back}");
        }
    }

    #[test]
    fn conversion_keeps_the_order(
        (kind, code) in kind_and_unit(), smaller in 0.0..14.0_f64, step in 1e-3..1e3_f64
    ) {
        if let (Ok(low), Ok(high)) = (kind.to_canonical(smaller, code), kind.to_canonical(smaller + step, code)) {
            prop_assert!(low < high, "{kind} {code}");
        }
    }

    #[test]
    fn the_width_of_an_interval_is_the_difference_of_its_ends(
        (kind, code) in kind_and_unit(), low in 0.0..7.0_f64, width in 1e-3..7.0_f64
    ) {
        if let (Ok(a), Ok(b)) = (kind.to_canonical(low, code), kind.to_canonical(low + width, code)) {
            let canonical = kind.interval_to_canonical(width, code).unwrap();
            prop_assert!(((b - a) - canonical).abs() <= 1e-9 * canonical.max(1e-3), "{kind} {code}");
        }
    }

    #[test]
    fn no_number_and_no_code_panics(value in any::<f64>(), code in ".{0,60}", (kind, _) in kind_and_unit()) {
        prop_assert!(kind.to_canonical(value, &code).is_ok_and(f64::is_finite) || kind.to_canonical(value, &code).is_err());
    }
}

#[test]
fn keys_are_those_that_serde_writes_and_read_back() {
    for kind in QuantityKind::ALL {
        let json = serde_json::to_string(&kind).unwrap();
        assert_eq!(json, format!("\"{}\"", kind.key()));
        assert_eq!(serde_json::from_str::<QuantityKind>(&json).unwrap(), kind);
    }
}

#[test]
fn every_kind_accepts_its_canonical_unit_unchanged_and_no_code_twice() {
    for kind in QuantityKind::ALL {
        assert_eq!(kind.to_canonical(7.0, kind.canonical_unit()).unwrap(), 7.0, "{kind}");
        let codes: Vec<_> = kind.accepted_units().collect();
        let distinct: std::collections::BTreeSet<_> = codes.iter().collect();
        assert_eq!(codes.len(), distinct.len(), "{kind}");
    }
}

/// NIST SP 811 (2008), appendix B.8: conversion factors to the digits printed there.
#[test]
fn factors_agree_with_a_published_table() {
    let check = |kind: QuantityKind, code, expected: f64, relative: f64| {
        let found = kind.to_canonical(1.0, code).unwrap();
        assert!((found / expected - 1.0).abs() < relative, "{kind} {code}: {found} against {expected}");
    };
    check(QuantityKind::StaticPressure, "[psi]", 0.068_947_57, 1e-7);
    check(QuantityKind::Volume, "[gal_us]", 3.785_412, 1e-7);
    check(QuantityKind::Volume, "[qt_us]", 0.946_352_9, 1e-7);
    check(QuantityKind::Volume, "[foz_us]", 0.029_573_53, 1e-7);
    check(QuantityKind::Volume, "[gal_br]", 4.546_09, 1e-9);
    check(QuantityKind::VolumeFlow, "[gal_us]/min", 6.309_020e-5 * 60_000.0, 1e-6);
    check(QuantityKind::Length, "[in_i]", 0.0254, 1e-12);
    check(QuantityKind::Mass, "[oz_av]", 0.028_349_52, 1e-6);
    check(QuantityKind::MassConcentration, "[gr]/[gal_us]", 17.118_06, 1e-6);
}

#[test]
fn fahrenheit_at_its_fixed_points() {
    let celsius = |f| QuantityKind::Temperature.to_canonical(f, "[degF]").unwrap();
    assert!(celsius(32.0).abs() < 1e-12);
    assert!((celsius(212.0) - 100.0).abs() < 1e-12);
    assert!((celsius(-40.0) + 40.0).abs() < 1e-12);
}

#[test]
fn misplaced_unknown_and_miscased_codes_are_refused_and_the_right_ones_named() {
    for (kind, code) in [
        (QuantityKind::Duration, "L"),
        (QuantityKind::Temperature, "degF"),
        (QuantityKind::Temperature, "cel"),
        (QuantityKind::StaticPressure, "psi"),
        (QuantityKind::StaticPressure, "KPA"),
        (QuantityKind::Volume, "L/min"),
        (QuantityKind::Hardness, "1"),
        (QuantityKind::Resistance, "mohm"),
        (QuantityKind::Ph, ""),
    ] {
        let message = kind.to_canonical(5.0, code).unwrap_err().to_string();
        assert!(message.contains(kind.canonical_unit()), "{message}");
    }
    assert_eq!(QuantityKind::Volume.to_canonical(500.0, "ml").unwrap(), 0.5, "UCUM has l beside L");
}

#[test]
fn impossible_values_are_refused() {
    for (kind, value, code) in [
        (QuantityKind::Duration, -0.1, "s"),
        (QuantityKind::AbsolutePressure, -0.001, "bar"),
        (QuantityKind::StaticPressure, -1.2, "bar"),
        (QuantityKind::Temperature, -460.0, "[degF]"),
        (QuantityKind::Temperature, -1.0, "K"),
        (QuantityKind::Ph, 14.5, "[pH]"),
        (QuantityKind::Volume, f64::NAN, "L"),
        (QuantityKind::Volume, f64::INFINITY, "L"),
        (QuantityKind::Volume, f64::MAX, "m3"),
        (QuantityKind::Duration, 1e308, "s"),
        (QuantityKind::Altitude, 12.0, "km"),
    ] {
        assert!(kind.to_canonical(value, code).is_err(), "{value} {code}");
    }
    assert!(QuantityKind::Duration.interval_to_canonical(-0.1, "s").is_err());
    assert!(QuantityKind::Duration.interval_to_canonical(f64::NAN, "s").is_err());
    assert!(serde_json::from_str::<Volume>("-1.0").is_err());
}

#[test]
fn degrees_of_hardness_need_their_own_field() {
    let mut read = AsRead::degrees_of_hardness("14", 14.0, HardnessScale::GermanDegree).unwrap();
    assert_eq!(read.canonical(QuantityKind::Duration), Err(AsReadError::ScaleDoesNotFit));
    read.unit = "mmol/L".to_owned();
    assert_eq!(read.canonical(QuantityKind::Hardness), Err(AsReadError::ScaleDoesNotFit));
}
