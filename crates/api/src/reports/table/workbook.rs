//! A workbook with one sheet: numbers, amounts and months are what they are, and a text is never a formula.

use rust_decimal::prelude::ToPrimitive;
use rust_xlsxwriter::{ExcelDateTime, Format, FormatAlign, Workbook, Worksheet, XlsxError};

use super::{Cell, Table};

/// Rows are written as they come and not kept: what it takes does not grow with the table.
pub(super) fn written(table: Table<'_>) -> Result<Vec<u8>, XlsxError> {
    let mut workbook = Workbook::new();
    let styles = Styles::new();
    let sheet = workbook.add_worksheet_with_constant_memory()?;
    sheet.set_name(table.name)?;
    sheet.set_freeze_panes(1, 0)?;
    for (column, name) in (0..).zip(&table.header) {
        sheet.set_column_width(column, 16)?;
        sheet.write_string_with_format(0, column, *name, &styles.heading)?;
    }
    for (row, cells) in (1..).zip(table.rows) {
        for (column, cell) in (0..).zip(&cells) {
            write(sheet, row, column, cell, &styles)?;
        }
    }
    workbook.save_to_buffer()
}

struct Styles {
    heading: Format,
    money: Format,
    month: Format,
}

impl Styles {
    fn new() -> Self {
        Self {
            heading: Format::new().set_bold(),
            money: Format::new().set_num_format("#,##0.00"),
            month: Format::new().set_num_format("yyyy-mm").set_align(FormatAlign::Left),
        }
    }
}

fn write(
    sheet: &mut Worksheet,
    row: u32,
    column: u16,
    cell: &Cell,
    styles: &Styles,
) -> Result<(), XlsxError> {
    match cell {
        Cell::Empty => {}
        Cell::Text(text) => {
            sheet.write_string(row, column, text)?;
        }
        // A workbook's numbers are binary floating point: exact up to fifteen digits, which no count or amount here exceeds.
        Cell::Count(count) => {
            sheet.write_number(row, column, *count as f64)?;
        }
        Cell::Number(number) => {
            sheet.write_number(row, column, *number)?;
        }
        Cell::Money(amount) => {
            let amount = amount.to_f64().unwrap_or(f64::NAN);
            sheet.write_number_with_format(row, column, amount, &styles.money)?;
        }
        Cell::Month(day) => {
            use chrono::Datelike as _;
            let (year, month) = (u16::try_from(day.year()).unwrap_or(u16::MAX), day.month() as u8);
            let date = ExcelDateTime::from_ymd(year, month, day.day() as u8)?;
            sheet.write_datetime_with_format(row, column, &date, &styles.month)?;
        }
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use std::io::Read as _;

    use super::*;

    #[test]
    fn numbers_are_numbers_months_are_dates_and_a_text_is_no_formula() {
        let day = chrono::NaiveDate::from_ymd_opt(2026, 3, 1).unwrap();
        let money = "148.50".parse().unwrap();
        let row =
            vec![Cell::text(Some("=1+1")), Cell::Count(7), Cell::Money(money), Cell::Month(day), Cell::Empty];
        let table = Table {
            name: "parts-usage",
            header: vec!["a", "b", "c", "d", "e"],
            rows: Box::new([row].into_iter()),
        };
        let bytes = written(table).unwrap();
        let mut archive = zip::ZipArchive::new(std::io::Cursor::new(bytes)).unwrap();
        let mut sheet = String::new();
        archive.by_name("xl/worksheets/sheet1.xml").unwrap().read_to_string(&mut sheet).unwrap();
        assert!(!sheet.contains("<f>"), "{sheet}");
        assert!(sheet.contains(r#"<c r="A2" t="inlineStr"><is><t>=1+1</t></is></c>"#), "{sheet}");
        assert!(sheet.contains(r#"<c r="B2"><v>7</v></c>"#), "{sheet}");
        // Days since the thirtieth of December 1899: 46082 is the first of March 2026.
        for (cell, value) in [("C2", "148.5"), ("D2", "46082")] {
            let (_, rest) = sheet.split_once(&format!(r#"<c r="{cell}""#)).unwrap();
            let (style, rest) = rest.split_once("><v>").unwrap();
            assert!(style.starts_with(" s=") && rest.starts_with(&format!("{value}</v>")), "{cell}: {sheet}");
        }
        assert!(!sheet.contains(r#"r="E2""#), "{sheet}");
    }

    /// The most memory that this process ever held, in MB.
    #[cfg(target_os = "linux")]
    fn most_memory() -> f64 {
        let status = std::fs::read_to_string("/proc/self/status").unwrap();
        let line = status.lines().find_map(|line| line.strip_prefix("VmHWM:")).unwrap();
        line.trim().trim_end_matches(" kB").parse::<f64>().unwrap() / 1024.0
    }

    /// As wide as the usage of parts, every text another.
    #[cfg(target_os = "linux")]
    #[test]
    fn a_hundred_thousand_rows_take_less_than_a_hundred_megabytes() {
        let money = "148.50".parse().unwrap();
        let day = chrono::NaiveDate::from_ymd_opt(2026, 3, 1).unwrap();
        let row = |n: u64| {
            let text = |what: &str| Cell::Text(format!("{what} of the row {n}"));
            let mut row =
                vec![Cell::Month(day), text("Kitchen"), text("Name"), text("Number"), text("Title")];
            row.extend([Cell::Count(n), Cell::Count(n), Cell::Money(money), text("Currency")]);
            row.extend(vec![Cell::Money(money); 4]);
            row
        };
        let before = most_memory();
        let header = vec!["column"; row(0).len()];
        let table = Table { name: "large", header, rows: Box::new((0..100_000).map(row)) };
        let bytes = written(table).unwrap().len();
        let most = most_memory();
        println!("{} bytes; at most {most:.0} MB, {:.0} MB more than before", bytes, most - before);
        assert!(bytes > 1_000_000, "{bytes} bytes hold no hundred thousand rows");
        assert!(most < 100.0, "{most:.0} MB");
    }
}
