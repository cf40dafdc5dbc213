use domain::diagnosis::scores;

use crate::record::Records;

fn truths(values: &[f64]) -> Vec<bool> {
    values.iter().map(|value| *value > 0.5).collect()
}

#[test]
fn scores_of_probabilities() {
    let records = Records::read(include_str!("../../../../tests/reference/exact_inference.json"));
    let brier = records.get("T11-032");
    let pairs = |record: &crate::record::Record| -> Vec<(f64, bool)> {
        record.inputs("p").into_iter().zip(truths(&record.inputs("y"))).collect()
    };
    brier.check(&[scores::brier(&pairs(&brier)).unwrap()]);

    let classes = records.get("T11-033");
    let cases: Vec<(Vec<f64>, usize)> =
        classes.lists("p").into_iter().zip(classes.inputs("y").iter().map(|y| *y as usize)).collect();
    classes.check(&[scores::log_loss_of_classes(&cases).unwrap()]);

    let all = records.get("T11-034");
    let bins = all.input("bins") as usize;
    let of_all = pairs(&all);
    let calibration = scores::calibration_equal_width(&of_all, bins).unwrap();
    all.check(&[
        scores::brier(&of_all).unwrap(),
        scores::log_loss(&of_all).unwrap(),
        calibration.expected_error,
        calibration.largest_error,
    ]);

    let many = records.get("T11-035");
    let cases: Vec<(Vec<f64>, usize)> =
        many.lists("p").into_iter().zip(many.inputs("true class").iter().map(|y| *y as usize)).collect();
    many.check(&[
        scores::brier_of_classes(&cases).unwrap(),
        scores::log_loss_of_classes(&cases).unwrap(),
        scores::accuracy_of_classes(&cases).unwrap(),
    ]);
}
