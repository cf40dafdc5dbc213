//! Sums over a period, in groups, beside the year before.

use std::collections::HashMap;

use super::story::{DAY, at, order};
use crate::measures::{
    Counted, LeftOut, Measure, OrderFacts, Period, Question, Record, Tally, clopper_pearson, fisher, tally,
};
use crate::vocabulary::Position;
use crate::work::{Outcome, Urgency};

/// Twelve mended and eight not in the period, five and fifteen in the one before, one cancelled, two too late to tell.
fn orders() -> Vec<OrderFacts> {
    let mut orders = Vec::new();
    let mut add = |day: i64, is_mended: bool, urgency| {
        let number = u32::try_from(orders.len()).unwrap() + 1;
        let received = day * DAY;
        let visited = order(number, received).visited(received + 1, received + 2);
        let ended = if is_mended {
            visited.found(Position::FillValve).restored(received + 2)
        } else {
            visited.ended(Outcome::NoFaultFound, received + 3)
        };
        let appliance = Some(super::story::id(1000 + number));
        orders.push(OrderFacts { appliance, urgency, ..ended });
    };
    for number in 0..20 {
        add(number, number < 5, Urgency::Degraded);
        add(100 + number, number < 12, if number < 15 { Urgency::Degraded } else { Urgency::Danger });
    }
    add(195, true, Urgency::Degraded);
    add(199, true, Urgency::Degraded);
    orders.push(
        order(99, 110 * DAY).visited(110 * DAY + 1, 110 * DAY + 2).ended(Outcome::Cancelled, 111 * DAY),
    );
    orders
}

fn told(measure: Measure, before: bool) -> std::collections::BTreeMap<Option<Urgency>, Tally> {
    let orders = orders();
    let removed = HashMap::new();
    let record = Record::of(&orders, &removed, at(200 * DAY), 30);
    let period = |from: i64, to: i64| Period { from: at(from * DAY), to: at(to * DAY) };
    let question = Question { measure, period: period(100, 200), before: before.then(|| period(0, 100)) };
    tally(&record, question, |order, _| vec![order.urgency]).unwrap()
}

#[test]
fn a_share_has_its_limits_what_was_left_out_and_the_year_before() {
    let told = told(Measure::MendedAtFirstVisit, true);
    let all = &told[&None];
    let Counted::Share(figure) = all.counted else { panic!("a share: {all:?}") };
    assert_eq!((figure.numerator, figure.denominator, figure.value), (12, 20, Some(0.6)));
    assert_eq!(figure.limits, clopper_pearson(12, 20, 0.95).unwrap());
    assert_eq!((all.immature, all.left_out.get(&LeftOut::Cancelled)), (2, Some(&1)));
    let Some(Counted::Share(before)) = all.before else { panic!("the year before: {all:?}") };
    assert_eq!((before.numerator, before.denominator), (5, 20));
    assert_eq!(all.change.map(|change| change.p), fisher((12, 20), (5, 20)).unwrap());
    let danger = &told[&Some(Urgency::Danger)];
    assert_eq!((danger.counted.n(), danger.counted.value()), (5, Some(0.0)));
    assert_eq!(danger.change, None, "there was none before");
}

#[test]
fn nothing_gives_no_value_and_no_limits() {
    let told = told(Measure::FittedNotTheCause, false);
    let Counted::Share(figure) = told[&None].counted else { panic!("a share") };
    assert_eq!((figure.denominator, figure.value, figure.limits), (0, None, None));
    assert_eq!((told[&None].before, told.len()), (None, 1));
}

#[test]
fn visits_of_an_order_begin_at_one() {
    let told = told(Measure::VisitsPerOrder, true);
    let Counted::Share(figure) = told[&None].counted else { panic!("a ratio") };
    assert_eq!((figure.numerator, figure.denominator, figure.value), (23, 23, Some(1.0)));
    let limits = figure.limits.unwrap();
    // No visit more: 1 + χ²(0.975; 2)/2/23, with χ²(p; 2) = −2 ln(1 − p).
    assert!((limits.lower - 1.0).abs() < 1e-12, "{limits:?}");
    assert!((limits.upper - (1.0 - 0.025_f64.ln() / 23.0)).abs() < 1e-9, "{limits:?}");
    assert_eq!(told[&None].change.map(|change| change.p), Some(1.0));
}

#[test]
fn durations_are_summed_by_the_moment_of_the_call() {
    let told = told(Measure::Restoration, true);
    let Counted::Lasting(spread) = told[&None].counted else { panic!("durations") };
    assert_eq!((spread.n, spread.open), (14, 0));
    assert_eq!(spread.median.map(|median| median.hours), Some(2.0));
    assert_eq!(told[&None].left_out.get(&LeftOut::NotRestored), Some(&9), "the cancelled one was attended");
}
