//! JSON, a table or a picture, as the client accepts; a table is CSV as RFC 4180 has it, a picture is SVG.

use axum::http::{HeaderMap, HeaderValue, header};
use axum::response::{IntoResponse, Response};
use charts::Picture;
use serde::Serialize;

use crate::answer;
use crate::problem::{Kind, Problem};

/// A table beside the JSON view of the same answer.
pub struct Table {
    pub header: Vec<&'static str>,
    pub rows: Vec<Vec<String>>,
}

/// In which media type the answer is wanted.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Format {
    Json,
    Csv,
    Svg,
}

/// An answer, and how it is made a table or a picture of.
pub struct Answered<'a, V, P> {
    pub view: &'a V,
    pub table: fn(&V) -> Table,
    pub picture: P,
}

impl Format {
    /// Of a report without a picture.
    pub const TABLES: [Self; 2] = [Self::Json, Self::Csv];
    pub const ALL: [Self; 3] = [Self::Json, Self::Csv, Self::Svg];

    /// The one of those offered that the client ranks first; asked for before anything is computed.
    pub fn wanted(headers: &HeaderMap, offered: &[Self]) -> Result<Self, Problem> {
        preferred(headers, offered).ok_or_else(|| {
            let names: Vec<&str> = offered.iter().map(|format| format.names()[0]).collect();
            let detail = format!("this report is given as {}; accept one of them", names.join(" or "));
            Problem::new(Kind::NOT_ACCEPTABLE, detail)
        })
    }

    /// Its media type, and the ranges that hold it, the narrowest first.
    const fn names(self) -> [&'static str; 3] {
        match self {
            Self::Json => ["application/json", "application/*", "*/*"],
            Self::Csv => ["text/csv", "text/*", "*/*"],
            Self::Svg => ["image/svg+xml", "image/*", "*/*"],
        }
    }

    /// Of a report without a picture.
    pub fn answer_table<V: Serialize>(self, view: &V, table: fn(&V) -> Table) -> Result<Response, Problem> {
        self.answer(Answered { view, table, picture: || None })
    }

    pub fn answer<V: Serialize>(
        self,
        answered: Answered<'_, V, impl FnOnce() -> Option<Picture>>,
    ) -> Result<Response, Problem> {
        let mut response = match self {
            Self::Json => answer::json(answered.view)?,
            Self::Csv => csv(&(answered.table)(answered.view))?,
            Self::Svg => {
                let picture = (answered.picture)().ok_or_else(Problem::internal)?;
                ([(header::CONTENT_TYPE, "image/svg+xml")], picture.as_file().to_owned()).into_response()
            }
        };
        response.headers_mut().append(header::VARY, HeaderValue::from_static("Accept"));
        Ok(response)
    }
}

/// The accepted format of the highest quality (RFC 9110, 12.5.1); the one offered first where several are as welcome.
fn preferred(headers: &HeaderMap, offered: &[Format]) -> Option<Format> {
    let accept: Vec<&str> =
        headers.get_all(header::ACCEPT).iter().filter_map(|value| value.to_str().ok()).collect();
    if accept.is_empty() {
        return offered.first().copied();
    }
    let accept = accept.join(",");
    let quality = |format: Format| {
        // The most specific range that matches decides.
        let of = |name: &&str| accept.split(',').find_map(|range| quality_of(range, name));
        format.names().iter().find_map(of).unwrap_or(0.0)
    };
    let best = |best: Option<(Format, f64)>, format: &Format| match (best, quality(*format)) {
        (best, quality) if quality <= best.map_or(0.0, |(_, quality)| quality) => best,
        (_, quality) => Some((*format, quality)),
    };
    offered.iter().fold(None, best).map(|(format, _)| format)
}

fn quality_of(range: &str, name: &str) -> Option<f64> {
    let mut parts = range.split(';').map(str::trim);
    if !parts.next()?.eq_ignore_ascii_case(name) {
        return None;
    }
    let quality = parts.find_map(|parameter| parameter.strip_prefix("q="));
    Some(quality.map_or(1.0, |quality| quality.parse().unwrap_or(0.0)))
}

fn csv(table: &Table) -> Result<Response, Problem> {
    let mut writer = csv::WriterBuilder::new().terminator(csv::Terminator::CRLF).from_writer(Vec::new());
    let failed = |error: &dyn std::fmt::Display| {
        tracing::error!(%error, "a table could not be written");
        Problem::internal()
    };
    writer.write_record(&table.header).map_err(|error| failed(&error))?;
    for row in &table.rows {
        writer.write_record(row.iter().map(|cell| guarded(cell))).map_err(|error| failed(&error))?;
    }
    let bytes = writer.into_inner().map_err(|error| failed(&error))?;
    Ok(([(header::CONTENT_TYPE, "text/csv; charset=utf-8; header=present")], bytes).into_response())
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
    fn the_client_chooses_by_quality() {
        let of = |accept: &str| {
            let headers = HeaderMap::from_iter([(header::ACCEPT, HeaderValue::from_str(accept).unwrap())]);
            preferred(&headers, &Format::ALL)
        };
        assert_eq!(preferred(&HeaderMap::new(), &Format::ALL), Some(Format::Json));
        assert_eq!(of("text/csv"), Some(Format::Csv));
        assert_eq!(of("text/csv;q=0.5, application/json"), Some(Format::Json));
        assert_eq!(of("text/*, application/json;q=0.9"), Some(Format::Csv));
        assert_eq!(of("*/*"), Some(Format::Json));
        assert_eq!(of("*/*, application/json;q=0"), Some(Format::Csv));
        assert_eq!(of("image/svg+xml, */*;q=0.1"), Some(Format::Svg));
        assert_eq!(of("image/avif,image/webp,image/*;q=0.8"), Some(Format::Svg));
        assert_eq!(of("image/png"), None);
        assert_eq!(of("application/json;q=0"), None);
    }

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
