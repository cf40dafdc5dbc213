//! The language and the units that somebody chooses in the foot of a page.

use axum::http::{HeaderMap, Uri, header};
use axum::response::{IntoResponse, Response};
use wording::{Language, Measures};

use crate::access::Form;
use crate::page::PageFault;
use crate::see;

/// Keeps the language with the device and leads back to where it was chosen.
pub(crate) async fn choose(headers: HeaderMap, Form(fields): Form) -> Result<Response, PageFault> {
    let Some(language) = Language::of_tag(fields.raw("language")) else { return Err(PageFault::NotAForm) };
    let kept = [(header::SET_COOKIE, door::keep_language(language))];
    Ok((kept, see(&back(&headers))).into_response())
}

/// As [`choose`], of the units in which values are told.
pub(crate) async fn choose_measures(headers: HeaderMap, Form(fields): Form) -> Result<Response, PageFault> {
    let Some(measures) = Measures::of_key(fields.raw("measures")) else { return Err(PageFault::NotAForm) };
    let kept = [(header::SET_COOKIE, door::keep_measures(measures))];
    Ok((kept, see(&back(&headers))).into_response())
}

/// The page that the form was sent from, as the browser tells it.
fn back(headers: &HeaderMap) -> String {
    let from = headers.get(header::REFERER).and_then(|from| from.to_str().ok()?.parse::<Uri>().ok());
    from.as_ref().map_or_else(|| "/".to_owned(), page_of)
}

/// A page that refuses a move stands at the address of the move, which nobody can look at: then the page that the move belongs to.
fn page_of(from: &Uri) -> String {
    let path = from.path();
    let is_of_one = ["/orders/", "/day/", "/people/"].iter().any(|of| path.starts_with(of));
    if is_of_one {
        return path.split('/').take(3).collect::<Vec<_>>().join("/");
    }
    let is_own = path.starts_with('/') && !path.starts_with("//");
    let whole = from.path_and_query().map_or("/", |whole| whole.as_str());
    if is_own { whole.to_owned() } else { "/".to_owned() }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn it_leads_back_to_a_page_and_nowhere_else() {
        for (from, to) in [
            ("https://office.example/today?branch=7", "/today?branch=7"),
            ("https://office.example/orders/430/moves/prove", "/orders/430"),
            ("https://office.example/day/018f-7/procedures/fill_time", "/day/018f-7"),
            ("https://office.example", "/"),
            ("https://office.example//elsewhere.example/", "/"),
            ("elsewhere", "/"),
            ("javascript:alert(1)", "/"),
        ] {
            let headers = [(header::REFERER, from.parse().unwrap())].into_iter().collect();
            assert_eq!(back(&headers), to, "{from}");
        }
        assert_eq!(back(&HeaderMap::new()), "/");
    }
}
