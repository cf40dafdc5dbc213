//! Figures as sentences.

use application::measures::{Change, Counted, Measure, Quantile, Tally};

use crate::parts::against::{figure as rounded, rarity};

/// Hours as coarse as they are long.
fn hours(hours: f64) -> String {
    let (key, count) = match hours {
        ..1.5 => ("measures-minutes", hours * 60.0),
        ..48.0 => ("measures-hours", hours),
        _ => ("measures-days", hours / 24.0),
    };
    wording::say_with(key, &[("count", rounded(count).into())])
}

fn percent(share: f64) -> String {
    let percent = 100.0 * share;
    // Between nothing and one in a hundred, and up to all, no rounding says what is not so.
    let text = if (percent > 0.0 && percent < 0.95) || (percent > 99.0 && percent < 100.0) {
        format!("{percent:.1}")
    } else {
        format!("{percent:.0}")
    };
    wording::decimal(text)
}

fn limit(limit: Option<f64>) -> String {
    limit.map_or_else(|| wording::say("measures-no-limit"), hours)
}

fn lasting(quantile: &Quantile) -> String {
    let variables = [
        ("value", hours(quantile.hours).into()),
        ("lower", limit(quantile.lower).into()),
        ("upper", limit(quantile.upper).into()),
    ];
    wording::say_with("measures-interval", &variables)
}

/// `61 % (55 to 67), 148 of 243`.
pub(super) fn figure(measure: Measure, counted: &Counted) -> String {
    match counted {
        Counted::Share(figure) => {
            let (Some(value), Some(limits)) = (figure.value, figure.limits) else {
                return wording::say("measures-no-figure");
            };
            let is_share = measure != Measure::VisitsPerOrder;
            let number = |value: f64| {
                if is_share { percent(value) } else { wording::decimal(format!("{value:.2}")) }
            };
            let variables = [
                ("value", number(value).into()),
                ("lower", number(limits.lower).into()),
                ("upper", number(limits.upper).into()),
                ("part", figure.numerator.into()),
                ("whole", figure.denominator.into()),
            ];
            wording::say_with(if is_share { "measures-share" } else { "measures-rate" }, &variables)
        }
        Counted::Lasting(spread) => {
            let Some(median) = &spread.median else { return wording::say("measures-no-median") };
            let variables = [("median", lasting(median).into()), ("n", spread.n.into())];
            wording::say_with("measures-lasting", &variables)
        }
    }
}

/// The figure, and for durations the nine tenths and what is open still.
pub(super) fn lead(measure: Measure, counted: &Counted) -> String {
    let Counted::Lasting(spread) = counted else { return figure(measure, counted) };
    if spread.n == 0 {
        return wording::say("measures-no-figure");
    }
    let mut lead = figure(measure, counted);
    lead.push_str(if lead.ends_with('.') { " " } else { ". " });
    lead.push_str(&match &spread.nine_tenths {
        Some(quantile) => wording::say_with("measures-nine-tenths", &[("value", lasting(quantile).into())]),
        None => wording::say("measures-no-nine-tenths"),
    });
    if spread.open > 0 {
        lead.push(' ');
        lead.push_str(&wording::say_with("measures-open", &[("count", spread.open.into())]));
    }
    lead
}

/// So unlikely by chance, a change is told as one.
const TOLD: f64 = 0.05;

/// The year before, and whether the difference may be chance.
pub(super) fn before(measure: Measure, before: &Counted, change: Option<Change>) -> Option<String> {
    before.value()?;
    let told = [("figure", figure(measure, before).into())];
    let mut text = wording::say_with("measures-before", &told);
    if let Some(Change { p }) = change {
        text.push(' ');
        if p <= TOLD {
            text.push_str(&wording::say_with("measures-changed", &[("rarity", rarity(p).into())]));
        } else {
            text.push_str(&wording::say("measures-may-be-chance"));
        }
    }
    Some(text)
}

pub(super) fn left_out(tally: &Tally) -> Option<String> {
    let mut parts: Vec<String> = tally
        .left_out
        .iter()
        .map(|(why, count)| {
            let key = format!("measures-out-{}", why.word().replace('_', "-"));
            wording::say_with(&key, &[("count", (*count).into())])
        })
        .collect();
    if tally.immature > 0 {
        parts.push(wording::say_with("measures-immature", &[("count", tally.immature.into())]));
    }
    (!parts.is_empty()).then(|| wording::say_with("measures-left-out", &[("what", parts.join(", ").into())]))
}

/// `too few to say (7 of 15)`.
pub(super) fn too_few(counted: &Counted) -> String {
    match counted {
        Counted::Share(figure) => wording::say_with(
            "measures-too-few",
            &[("part", figure.numerator.into()), ("whole", figure.denominator.into())],
        ),
        Counted::Lasting(spread) => wording::say_with("measures-too-few-lasting", &[("n", spread.n.into())]),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn shares_near_an_end_are_not_rounded_onto_it() {
        assert_eq!([0.0, 0.004, 0.61, 0.996, 1.0].map(percent), ["0", "0.4", "61", "99.6", "100"]);
    }
}
