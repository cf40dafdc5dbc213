//! Which parts do we use?

use std::collections::{BTreeMap, BTreeSet};

use application::see_parts_used::{PartsUsed, SeePartsUsed, UsageRow};
use askama::Template;
use axum::extract::State;
use axum::http::StatusCode;
use axum::response::Response;
use charts::{Words, columns};
use chrono::NaiveDate;

use crate::access::SignedIn;
use crate::page::{PageFault, Shell, show as show_page};
use crate::parts::chart::Chart;
use crate::state::ConsoleState;

#[derive(Template)]
#[template(path = "numbers/parts_used.html")]
struct PartsUsedPage {
    shell: Shell,
    sentence: String,
    left_out: String,
    /// Where the same figures lie as a file, but for its form.
    file: String,
    chart: Option<Chart>,
    months: Vec<String>,
    parts: Vec<PartRow>,
}

struct PartRow {
    number: String,
    title: String,
    /// How many in each month.
    months: Vec<i64>,
    count: i64,
    amounts: String,
}

pub(crate) async fn show(
    State(state): State<ConsoleState>,
    SignedIn(caller): SignedIn,
) -> Result<Response, PageFault> {
    let used = state.application.ask(&caller, SeePartsUsed).await?;
    let parts = parts(&used);
    let fitted: i64 = parts.iter().map(|part| part.count).sum();
    let left_out = &used.left_out;
    let variables = [
        ("unused", left_out.returned_unused.into()),
        ("defective", left_out.defective_returned.into()),
        ("waiting", left_out.not_fitted.into()),
        ("withdrawn", left_out.withdrawn.into()),
    ];
    let page = PartsUsedPage {
        shell: Shell::of(wording::say("parts-used-title"), &caller),
        sentence: wording::say_with("parts-used-count", &[("count", fitted.into())]),
        left_out: wording::say_with("parts-used-left-out", &variables),
        file: format!(
            "/v1/reports/parts-usage?group_by=part_month&from={}",
            used.months.first().map(ToString::to_string).unwrap_or_default()
        ),
        chart: (fitted > 0).then(|| chart(&used, fitted)),
        months: used.months.iter().map(|month| crate::when::month(*month)).collect(),
        parts,
    };
    Ok(show_page(StatusCode::OK, &page))
}

/// All parts together; the table below it tells them apart.
fn chart(used: &PartsUsed, fitted: i64) -> Chart {
    let words = Words {
        id: "parts-used",
        title: wording::say("parts-used-fitted"),
        description: wording::say_with("parts-used-in-all", &[("count", fitted.into())]),
    };
    let in_month = |month: NaiveDate| {
        let rows = used.parts.iter().filter(|row| row.month == Some(month));
        rows.map(|row| row.quantity).sum::<i64>() as f64
    };
    let spans: Vec<(String, f64)> =
        used.months.iter().map(|month| (crate::when::month(*month), in_month(*month))).collect();
    Chart::of(&columns(&words, wording::say("parts-used-fitted"), &spans))
}

/// Most used first.
fn parts(used: &PartsUsed) -> Vec<PartRow> {
    let mut by_part: BTreeMap<&str, Vec<&UsageRow>> = BTreeMap::new();
    for row in &used.parts {
        if let Some((_, number, _)) = &row.part {
            by_part.entry(number.as_str()).or_default().push(row);
        }
    }
    let row = |(number, rows): (&str, Vec<&UsageRow>)| {
        let in_month =
            |month| rows.iter().filter(|row| row.month == Some(month)).map(|row| row.quantity).sum::<i64>();
        let currencies: BTreeSet<&str> = rows.iter().map(|row| row.currency.as_str()).collect();
        let amount = |currency: &str| {
            let amounts = rows.iter().filter(|row| row.currency == currency).map(|row| row.amount);
            amounts
                .reduce(|one, other| one + other)
                .map(|sum| format!("{} {currency}", wording::decimal(sum.to_string())))
        };
        let amounts: Vec<String> = currencies.into_iter().filter_map(amount).collect();
        PartRow {
            number: number.to_owned(),
            title: rows.iter().find_map(|row| Some(row.part.as_ref()?.2.clone())).unwrap_or_default(),
            months: used.months.iter().copied().map(in_month).collect(),
            count: rows.iter().map(|row| row.quantity).sum(),
            amounts: amounts.join(", "),
        }
    };
    let mut parts: Vec<PartRow> = by_part.into_iter().map(row).collect();
    parts.sort_by_key(|part| std::cmp::Reverse(part.count));
    parts
}
