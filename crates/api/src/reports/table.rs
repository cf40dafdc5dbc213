//! A table beside the JSON view of the same answer: as CSV (RFC 4180) or as a workbook (ISO/IEC 29500), as the client accepts; of
//! some reports a picture (SVG).

mod csv;
mod workbook;

use axum::http::{HeaderMap, HeaderValue, header};
use axum::response::{IntoResponse, Response};
use charts::{MOST_INTERVALS, Picture};
use chrono::NaiveDate;
use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::answer;
use crate::problem::{Kind, Problem};

/// Names of columns, and rows as long as they are, made one by one as they are written.
pub struct Table<'a> {
    /// What the file is called, without its ending.
    pub name: &'static str,
    pub header: Vec<&'static str>,
    pub rows: Box<dyn Iterator<Item = Vec<Cell>> + 'a>,
}

/// What stands in a cell, with its type: a workbook computes with it.
#[derive(Debug, Clone, PartialEq)]
pub enum Cell {
    Empty,
    Text(String),
    Count(u64),
    Number(f64),
    /// With two decimals.
    Money(Decimal),
    /// A month by its first day.
    Month(NaiveDate),
}

impl Cell {
    pub fn text(text: Option<impl Into<String>>) -> Self {
        text.map_or(Self::Empty, |text| Self::Text(text.into()))
    }

    pub fn number(number: Option<f64>) -> Self {
        number.map_or(Self::Empty, Self::Number)
    }
}

/// In which of the media types the answer is wanted.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Format {
    Json,
    Csv,
    Xlsx,
}

/// The registered media type of a workbook.
pub const WORKBOOK: &str = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet";

/// What a report with a picture is wanted as.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum TableOrPicture {
    Table(Format),
    Picture,
}

const PICTURE: &str = "image/svg+xml";

impl Format {
    const ALL: [Self; 3] = [Self::Json, Self::Csv, Self::Xlsx];

    /// The one that the client ranks first; asked for before anything is computed. A link says it in its address, where it
    /// cannot say what it accepts.
    pub fn wanted(headers: &HeaderMap, said: Option<Self>) -> Result<Self, Problem> {
        let offered = Self::ALL.map(|format| (format, format.ranges()));
        said.or_else(|| preferred(headers, &offered)).ok_or_else(|| {
            let detail = format!(
                "this report is given as application/json, text/csv or {WORKBOOK}; accept one of them"
            );
            Problem::new(Kind::NOT_ACCEPTABLE, detail)
        })
    }

    /// As [`Self::wanted`], of a report that has a picture too.
    pub fn wanted_or_picture(headers: &HeaderMap, said: Option<Self>) -> Result<TableOrPicture, Problem> {
        let table = |format: Self| (TableOrPicture::Table(format), format.ranges());
        let picture = (TableOrPicture::Picture, [PICTURE, "image/*", "*/*"]);
        let [json, csv, workbook] = Self::ALL.map(table);
        let wanted = said.map(TableOrPicture::Table);
        wanted.or_else(|| preferred(headers, &[json, csv, workbook, picture])).ok_or_else(|| {
            let detail = format!(
                "this report is given as application/json, text/csv, {WORKBOOK} or {PICTURE}; accept one of them"
            );
            Problem::new(Kind::NOT_ACCEPTABLE, detail)
        })
    }

    pub fn answer<'a>(
        self,
        view: &impl Serialize,
        table: impl FnOnce() -> Table<'a>,
    ) -> Result<Response, Problem> {
        let response = match self {
            Self::Json => answer::json(view)?,
            Self::Csv => file(table(), "csv", "text/csv; charset=utf-8; header=present", csv::written)?,
            Self::Xlsx => file(table(), "xlsx", WORKBOOK, workbook::written)?,
        };
        Ok(by_accept(response))
    }

    /// The ranges that hold it, the most specific first.
    fn ranges(self) -> [&'static str; 3] {
        match self {
            Self::Json => ["application/json", "application/*", "*/*"],
            Self::Csv => ["text/csv", "text/*", "*/*"],
            Self::Xlsx => [WORKBOOK, "application/*", "*/*"],
        }
    }
}

impl TableOrPicture {
    pub fn answer<'a>(
        self,
        view: &impl Serialize,
        table: impl FnOnce() -> Table<'a>,
        picture: impl FnOnce() -> Option<Picture>,
    ) -> Result<Response, Problem> {
        match self {
            Self::Table(format) => format.answer(view, table),
            Self::Picture => {
                let file = picture().ok_or_else(too_much_for_a_picture)?.as_file().to_owned();
                Ok(by_accept(([(header::CONTENT_TYPE, PICTURE)], file).into_response()))
            }
        }
    }
}

fn too_much_for_a_picture() -> Problem {
    let detail = format!(
        "a picture has room for {MOST_INTERVALS} lines: tell less apart, ask for fewer days, or for the table"
    );
    Problem::bad_parameter("by", detail)
}

fn by_accept(mut response: Response) -> Response {
    response.headers_mut().append(header::VARY, HeaderValue::from_static("Accept"));
    response
}

fn file<E: std::fmt::Display>(
    table: Table<'_>,
    ending: &str,
    kind: &'static str,
    write: impl FnOnce(Table<'_>) -> Result<Vec<u8>, E>,
) -> Result<Response, Problem> {
    let name = format!("attachment; filename=\"{}.{ending}\"", table.name);
    let bytes = write(table).map_err(|error| {
        tracing::error!(%error, "a table could not be written");
        Problem::internal()
    })?;
    let mut response = ([(header::CONTENT_TYPE, kind)], bytes).into_response();
    if let Ok(name) = HeaderValue::from_str(&name) {
        response.headers_mut().insert(header::CONTENT_DISPOSITION, name);
    }
    Ok(response)
}

/// The one of those offered with the highest quality (RFC 9110, 12.5.1), by the ranges that hold it; the first of equals.
fn preferred<T: Copy>(headers: &HeaderMap, offered: &[(T, [&str; 3])]) -> Option<T> {
    let accept: Vec<&str> =
        headers.get_all(header::ACCEPT).iter().filter_map(|value| value.to_str().ok()).collect();
    if accept.is_empty() {
        return offered.first().map(|(of, _)| *of);
    }
    let accept = accept.join(",");
    let quality = |ranges: &[&str; 3]| {
        // The most specific range that matches decides.
        let quality =
            ranges.iter().find_map(|name| accept.split(',').find_map(|range| quality_of(range, name)));
        quality.unwrap_or(0.0)
    };
    let mut best = (None, 0.0);
    for (of, ranges) in offered {
        if quality(ranges) > best.1 {
            best = (Some(*of), quality(ranges));
        }
    }
    best.0
}

fn quality_of(range: &str, name: &str) -> Option<f64> {
    let mut parts = range.split(';').map(str::trim);
    if !parts.next()?.eq_ignore_ascii_case(name) {
        return None;
    }
    let quality = parts.find_map(|parameter| parameter.strip_prefix("q="));
    Some(quality.map_or(1.0, |quality| quality.parse().unwrap_or(0.0)))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn accepting(accept: &str) -> HeaderMap {
        HeaderMap::from_iter([(header::ACCEPT, HeaderValue::from_str(accept).unwrap())])
    }

    #[test]
    fn the_client_chooses_by_quality() {
        let of = |accept: &str| Format::wanted(&accepting(accept), None).ok();
        assert_eq!(Format::wanted(&HeaderMap::new(), None).ok(), Some(Format::Json));
        assert_eq!(of("text/csv"), Some(Format::Csv));
        assert_eq!(of(WORKBOOK), Some(Format::Xlsx));
        assert_eq!(of("text/csv;q=0.5, application/json"), Some(Format::Json));
        assert_eq!(of("text/*, application/json;q=0.9"), Some(Format::Csv));
        assert_eq!(of(&format!("{WORKBOOK}, */*;q=0.5")), Some(Format::Xlsx));
        assert_eq!(of("*/*"), Some(Format::Json));
        assert_eq!(of("*/*, application/json;q=0"), Some(Format::Csv));
        assert_eq!(of("image/svg+xml"), None);
        assert_eq!(of("application/json;q=0"), None);
        assert_eq!(Format::wanted(&accepting("image/png"), Some(Format::Csv)).ok(), Some(Format::Csv));
    }

    #[test]
    fn a_picture_is_given_to_whoever_wants_one_first() {
        let of = |accept: &str| Format::wanted_or_picture(&accepting(accept), None).ok();
        assert_eq!(of("image/svg+xml, */*;q=0.1"), Some(TableOrPicture::Picture));
        assert_eq!(of("image/avif,image/webp,image/*;q=0.8"), Some(TableOrPicture::Picture));
        assert_eq!(of("*/*"), Some(TableOrPicture::Table(Format::Json)));
        assert_eq!(of("image/png"), None);
    }

    #[test]
    fn a_picture_without_room_is_refused_and_not_cut_short() {
        let table = || Table { name: "none", header: Vec::new(), rows: Box::new(std::iter::empty()) };
        let refused = TableOrPicture::Picture.answer(&(), table, || None).unwrap_err();
        assert_eq!(refused.status(), axum::http::StatusCode::BAD_REQUEST);
    }
}
