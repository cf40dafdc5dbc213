//! Comma-separated values as RFC 4180 has them.

use super::{Cell, Table};

pub(super) fn written(table: Table<'_>) -> Result<Vec<u8>, csv::Error> {
    let mut writer = csv::WriterBuilder::new().terminator(csv::Terminator::CRLF).from_writer(Vec::new());
    writer.write_record(&table.header)?;
    for row in table.rows {
        writer.write_record(row.iter().map(text))?;
    }
    writer.into_inner().map_err(|error| csv::Error::from(error.into_error()))
}

fn text(cell: &Cell) -> String {
    match cell {
        Cell::Empty => String::new(),
        Cell::Text(text) => guarded(text),
        Cell::Count(count) => count.to_string(),
        Cell::Number(number) => number.to_string(),
        Cell::Money(amount) => amount.to_string(),
        Cell::Month(month) => month.format("%Y-%m").to_string(),
    }
}

/// A spreadsheet must not take a name for a formula: such a cell gets an apostrophe before it. Some take a semicolon or a tab
/// for the separator whatever the file says, and a line break within quotes for a new row: what follows one of them is held to
/// be a cell of its own. Spaces and what cannot be seen are skipped, as programs do; full-width signs count as signs.
fn guarded(cell: &str) -> String {
    const SEPARATORS: [char; 7] = [',', ';', '|', '\t', '\r', '\n', '"'];
    if cell.parse::<f64>().is_ok() {
        return cell.to_owned();
    }
    let mut guarded = String::with_capacity(cell.len() + 1);
    // Where an apostrophe goes if what comes next begins a formula.
    let mut begins = Some(0);
    for character in cell.chars() {
        if let Some(place) = begins {
            if matches!(character, '=' | '+' | '-' | '@' | '\u{ff1d}' | '\u{ff0b}' | '\u{ff0d}' | '\u{ff20}')
            {
                guarded.insert(place, '\'');
                begins = None;
            } else if !(character.is_whitespace() || is_unseen(character)) {
                begins = None;
            }
        }
        guarded.push(character);
        if SEPARATORS.contains(&character) {
            begins = Some(guarded.len());
        }
    }
    if cell.starts_with(['\t', '\r', '\n']) { format!("'{guarded}") } else { guarded }
}

fn is_unseen(character: char) -> bool {
    character.is_control()
        || matches!(character, '\u{200b}'..='\u{200f}' | '\u{2060}' | '\u{feff}' | '\u{ad}')
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_name_is_no_formula_and_a_number_stays_one() {
        assert_eq!(guarded("=1+1"), "'=1+1");
        assert_eq!(guarded("@cmd"), "'@cmd");
        assert_eq!(guarded("-12.50"), "-12.50");
        assert_eq!(guarded("Bay"), "Bay");
        assert_eq!(guarded("Bay - Hill, 3"), "Bay - Hill, 3");
        assert_eq!(guarded("Bay;=1+1"), "Bay;'=1+1");
        assert_eq!(guarded("Bay\t@cmd"), "Bay\t'@cmd");
        assert_eq!(guarded("Bay\n -1+1"), "Bay\n' -1+1");
        assert_eq!(guarded("\u{feff} =1"), "'\u{feff} =1");
        assert_eq!(guarded("\u{ff1d}1"), "'\u{ff1d}1");
    }
}
