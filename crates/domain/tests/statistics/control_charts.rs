use crate::record::Records;
use domain::known_good::drift::{CumulativeSums, MovingAverage};

const RECORDS: &str = include_str!("../../../../tests/reference/control_charts.json");

#[test]
fn control_charts_agree_with_published_values() {
    let records = Records::read(RECORDS);

    let widths = records.get("T09-006");
    let mut average = MovingAverage::new(widths.input("lambda"), 3.0);
    let exact: Vec<f64> = (0..5)
        .map(|_| {
            average.add(0.0);
            widths.input("s") * average.limit()
        })
        .collect();
    widths.check(&[exact[0], exact[1], exact[4]]);

    let (upper, lower) = (records.get("T09-007"), records.get("T09-008"));
    let mut sums = CumulativeSums::new(upper.input("k"), upper.input("h"));
    let (mut high, mut low, mut signals) = (Vec::new(), Vec::new(), Vec::new());
    for (group, x) in (1_u32..).zip(upper.inputs("x")) {
        sums.add(x - upper.input("mu0"));
        high.push(sums.high);
        low.push(sums.low);
        if sums.signals() {
            signals.push(f64::from(group));
        }
    }
    upper.check(&high);
    lower.check(&low);
    records.get("T09-010").check(&[signals[0], signals.len() as f64]);

    records.all_used();
}
