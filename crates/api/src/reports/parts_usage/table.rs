use super::super::table::{Cell, Table};
use super::PartsUsage;

/// A line for each figure.
pub(super) fn of(view: &PartsUsage) -> Table<'_> {
    let count = |count: i64| Cell::Count(u64::try_from(count).unwrap_or_default());
    let rows = view.items.iter().map(move |item| {
        vec![
            item.month.map_or(Cell::Empty, |month| Cell::Month(month.0)),
            Cell::text(item.site_id.map(|id| id.to_string())),
            Cell::text(item.site_name.clone()),
            Cell::text(item.part_number.clone()),
            Cell::text(item.part_title.clone()),
            count(item.n),
            count(item.quantity),
            Cell::Money(item.amount),
            Cell::text(Some(item.currency.clone())),
            Cell::Money(item.paid_by_customer.0),
            Cell::Money(item.paid_by_contract.0),
            Cell::Money(item.paid_by_warranty.0),
            Cell::Money(item.paid_by_own_company.0),
        ]
    });
    Table {
        name: "parts-usage",
        header: vec![
            "month",
            "site_id",
            "site_name",
            "part_number",
            "part_title",
            "n",
            "quantity",
            "amount",
            "currency",
            "paid_by_customer",
            "paid_by_contract",
            "paid_by_warranty",
            "paid_by_own_company",
        ],
        rows: Box::new(rows),
    }
}
