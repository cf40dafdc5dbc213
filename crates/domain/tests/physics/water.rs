//! Topic 7: hardness and the indices of scaling.

use crate::record::{Record, Records};
use crate::unknown;
use domain::physics::saturation_index::{Scaling, indices};
use domain::quantity::{Alkalinity, Hardness, HardnessScale, MassConcentration, Ph, Temperature};

#[test]
fn water_quality() {
    let records = Records::read(include_str!("../../../../tests/reference/water_quality.json"));
    for record in records.all() {
        let quantity = record.quantity();
        if quantity.starts_with("Langelier") {
            check_indices(&record);
        } else if quantity.starts_with("total hardness from Ca and Mg") {
            let of = |name| MassConcentration::from_milligrams_per_litre(record.input(name)).unwrap();
            let hardness = Hardness::from_calcium_and_magnesium(of("Ca_mg_L"), of("Mg_mg_L")).unwrap();
            record.check(&[
                hardness.millimoles_per_litre(),
                hardness.milligrams_per_litre_calcium_carbonate(),
                hardness.degrees(HardnessScale::GermanDegree),
            ]);
        } else if quantity.contains("mg/L as CaCO3") {
            let hardness = in_its_unit(&record);
            let values = [hardness.milligrams_per_litre_calcium_carbonate(), hardness.millimoles_per_litre()];
            record.check(&values[..record.expected().len()]);
        } else {
            unknown(&record);
        }
    }
}

/// The records of one water also list the steps of the calculation, which are not public.
fn check_indices(record: &Record) {
    let water = Scaling {
        ph: Ph::from_ph(record.input("pH")).unwrap(),
        temperature: Temperature::from_celsius(record.input("t_C")).unwrap(),
        dissolved_solids: MassConcentration::from_milligrams_per_litre(record.input("TDS_mg_L")).unwrap(),
        calcium: Hardness::read(record.input("Ca_mg_L_CaCO3"), "mg/L").unwrap(),
        alkalinity: Alkalinity::from_milligrams_per_litre(record.input("alk_mg_L_CaCO3")).unwrap(),
    };
    let found = indices(&water).unwrap();
    let values = [found.saturation_ph, found.langelier, found.ryznar];
    match record.expected().len() {
        3 => record.check(&values),
        // A, B, C, D, pHs, LSI and, at full precision, RSI.
        length => (4..length).for_each(|index| record.check_one(index, values[index - 4])),
    }
}

fn in_its_unit(record: &Record) -> Hardness {
    let value = record.input("value");
    let found = match record.text_input("unit") {
        "mg/L CaCO3" => Hardness::read(value, "mg/L"),
        "mmol/L" => Hardness::read(value, "mmol/L"),
        "gpg(US)" => Hardness::read(value, "[gr]/[gal_us]"),
        "dH" => Hardness::from_degrees(value, HardnessScale::GermanDegree),
        "fH" => Hardness::from_degrees(value, HardnessScale::FrenchDegree),
        "eH(Clark)" => Hardness::from_degrees(value, HardnessScale::EnglishDegree),
        other => panic!("{other}"),
    };
    found.unwrap()
}
