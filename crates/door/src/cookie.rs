//! The cookie that holds a session.

use axum::http::{HeaderMap, HeaderValue, header};

/// `__Host-`: browsers keep it for this host alone, only if it is Secure and for every path. They take it over plain HTTP
/// on 127.0.0.1 and localhost, nowhere else.
const NAME: &str = "__Host-ovenwright";

/// The session's secret that a browser sent along.
pub fn session_secret(headers: &HeaderMap) -> Option<&str> {
    let mut secrets = values(headers, NAME);
    match (secrets.next(), secrets.next()) {
        // Two of one name: somebody planted one.
        (Some(secret), None) => Some(secret),
        _ => None,
    }
}

/// What the cookies of a name hold; empty ones left out.
pub(crate) fn values<'a>(headers: &'a HeaderMap, name: &'a str) -> impl Iterator<Item = &'a str> {
    let cookies = headers.get_all(header::COOKIE).iter().filter_map(|value| value.to_str().ok());
    let pairs = cookies.flat_map(|line| line.split(';')).filter_map(|pair| pair.trim().split_once('='));
    pairs.filter(move |(of, value)| *of == name && !value.is_empty()).map(|(_, value)| value)
}

/// Hands a browser its session. None if the secret is no text for a header.
pub fn set_session(secret: &str, seconds: u32) -> Option<HeaderValue> {
    let cookie = format!("{NAME}={secret}; Path=/; Max-Age={seconds}; Secure; HttpOnly; SameSite=Lax");
    HeaderValue::from_str(&cookie).ok()
}

/// Makes a browser forget its session.
pub fn end_session() -> HeaderValue {
    HeaderValue::from_static("__Host-ovenwright=; Path=/; Max-Age=0; Secure; HttpOnly; SameSite=Lax")
}

#[cfg(test)]
mod tests {
    use super::*;

    fn secret_in(cookies: &[&str]) -> Option<String> {
        let lines = cookies.iter().map(|line| (header::COOKIE, HeaderValue::from_str(line).unwrap()));
        session_secret(&lines.collect()).map(str::to_owned)
    }

    #[test]
    fn the_secret_is_found_among_other_cookies_and_never_of_two() {
        assert_eq!(secret_in(&["a=b; __Host-ovenwright=xyz; c=d"]).as_deref(), Some("xyz"));
        assert_eq!(
            secret_in(&["a=b", "__Host-ovenwright=xyz"]).as_deref(),
            Some("xyz"),
            "HTTP/2 splits them"
        );
        assert_eq!(secret_in(&["ovenwright=xyz"]), None);
        assert_eq!(secret_in(&["__Host-ovenwright="]), None);
        assert_eq!(secret_in(&["__Host-ovenwright=one; __Host-ovenwright=two"]), None);
    }

    #[test]
    fn what_is_set_is_what_is_read_and_what_ends_it_names_the_same_cookie() {
        let set = set_session("s-e_cret", 60).unwrap();
        let set = set.to_str().unwrap();
        for needed in ["Secure", "HttpOnly", "SameSite=Lax", "Path=/"] {
            assert!(set.contains(needed), "{set}");
        }
        assert_eq!(secret_in(&[set.split(';').next().unwrap()]).as_deref(), Some("s-e_cret"));
        let end = end_session();
        assert!(end.to_str().unwrap().starts_with(&format!("{NAME}=;")));
        assert_eq!(set_session("a\nb", 60), None);
    }
}
