//! A drawn chart within a page, in its colours.

use askama::filters::HtmlSafe;
use charts::Picture;

/// Its words were escaped when it was drawn, so it stands in a template as it is.
#[derive(Debug, Clone)]
pub(crate) struct Chart(String);

impl Chart {
    pub fn of(picture: &Picture) -> Self {
        Self(picture.in_page())
    }
}

impl std::fmt::Display for Chart {
    fn fmt(&self, formatter: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        formatter.write_str(&self.0)
    }
}

impl HtmlSafe for Chart {}
