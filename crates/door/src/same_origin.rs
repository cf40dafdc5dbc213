//! Whether a request that carries a session's cookie comes from a page of this service.
//!
//! Browsers send the cookie along whoever wrote the page that asks. Fetch Metadata (`Sec-Fetch-Site`) tells; a browser
//! without it tells the page's origin, which must be the host that is asked. There are no tokens in forms: a page that was
//! kept for a while would carry a stale one.

use axum::http::{HeaderMap, Method, Uri, header};

/// Whether a form or a script of a page of this service sent it.
pub fn comes_from_own_page(headers: &HeaderMap, uri: &Uri) -> bool {
    match said_site(headers) {
        Some(site) => site == "same-origin",
        None => has_own_origin(headers, uri),
    }
}

/// Whether the cookie counts for an operation of the interface: a read may also be typed or followed as a link.
pub fn may_read_by_cookie(method: &Method, headers: &HeaderMap, uri: &Uri) -> bool {
    let is_read = matches!(*method, Method::GET | Method::HEAD);
    match said_site(headers) {
        Some("none") => is_read,
        Some(site) => site == "same-origin",
        None if is_read && !headers.contains_key(header::ORIGIN) => true,
        None => has_own_origin(headers, uri),
    }
}

fn said_site(headers: &HeaderMap) -> Option<&str> {
    headers.get("sec-fetch-site").map(|site| site.to_str().unwrap_or("unreadable"))
}

fn has_own_origin(headers: &HeaderMap, uri: &Uri) -> bool {
    let asked = headers.get(header::HOST).and_then(|host| host.to_str().ok());
    let asked = asked.or_else(|| uri.authority().map(axum::http::uri::Authority::as_str));
    let origin = headers.get(header::ORIGIN).and_then(|origin| origin.to_str().ok());
    let origin = origin.and_then(|origin| origin.split_once("://")).map(|(_, authority)| authority);
    matches!((asked, origin), (Some(asked), Some(origin)) if asked.eq_ignore_ascii_case(origin))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn headers(pairs: &[(&'static str, &'static str)]) -> HeaderMap {
        pairs.iter().map(|(name, value)| (name.parse().unwrap(), value.parse().unwrap())).collect()
    }

    #[test]
    fn a_form_of_another_page_is_told_from_an_own_one() {
        let own = "/orders/1".parse().unwrap();
        for (said, holds) in [
            (&[("sec-fetch-site", "same-origin")][..], true),
            (&[("sec-fetch-site", "same-site")], false),
            (&[("sec-fetch-site", "cross-site")], false),
            (&[("sec-fetch-site", "none")], false),
            // Metadata goes before an origin that a program made up.
            (
                &[("sec-fetch-site", "cross-site"), ("host", "a.example"), ("origin", "https://a.example")],
                false,
            ),
            (&[("host", "a.example"), ("origin", "https://a.example")], true),
            (&[("host", "a.example:8080"), ("origin", "https://a.example")], false),
            (&[("host", "a.example"), ("origin", "https://b.example")], false),
            (&[("host", "a.example"), ("origin", "null")], false),
            (&[("host", "a.example")], false),
            (&[], false),
        ] {
            assert_eq!(comes_from_own_page(&headers(said), &own), holds, "{said:?}");
        }
    }

    #[test]
    fn a_read_may_be_typed_and_a_write_may_not() {
        let uri = "/v1/me".parse().unwrap();
        for (site, read, write) in [
            ("none", true, false),
            ("same-origin", true, true),
            ("same-site", false, false),
            ("cross-site", false, false),
        ] {
            let said = headers(&[("sec-fetch-site", site)]);
            assert_eq!(may_read_by_cookie(&Method::GET, &said, &uri), read, "{site}");
            assert_eq!(may_read_by_cookie(&Method::POST, &said, &uri), write, "{site}");
        }
        let from_elsewhere = headers(&[("host", "a.example"), ("origin", "https://b.example")]);
        assert!(!may_read_by_cookie(&Method::GET, &from_elsewhere, &uri));
        assert!(!may_read_by_cookie(&Method::DELETE, &headers(&[("host", "a.example")]), &uri));
    }
}
