//! Which language an answer is in: what the person chose, else what the browser or program wishes for, else English.

use axum::extract::Request;
use axum::http::{HeaderMap, HeaderValue, header};
use axum::middleware::Next;
use axum::response::Response;
use wording::{Language, Manner, Measures};

use crate::cookie;

/// No secret; kept with the device, so that a page before signing in speaks it too.
const NAME: &str = "__Host-ovenwright-language";
const MEASURES: &str = "__Host-ovenwright-measures";
/// A year.
const KEPT_SECONDS: u32 = 31_536_000;
/// Of a wish no more is read than somebody could mean.
const LONGEST_WISH: usize = 1000;

/// The language of the answer to a request with these headers.
pub fn language(headers: &HeaderMap) -> Language {
    let chosen = cookie::values(headers, NAME).find_map(Language::of_tag);
    chosen.unwrap_or_else(|| {
        let wishes = headers.get_all(header::ACCEPT_LANGUAGE).iter().filter_map(|wish| wish.to_str().ok());
        let wish = wishes.collect::<Vec<_>>().join(",");
        Language::wished(wish.get(..LONGEST_WISH).unwrap_or(&wish))
    })
}

/// The units of the answer to a request with these headers: what was chosen on the device, else metric ones.
pub fn measures(headers: &HeaderMap) -> Measures {
    cookie::values(headers, MEASURES).find_map(Measures::of_key).unwrap_or_default()
}

/// Makes a browser remember the language that was chosen on it.
pub fn keep_language(language: Language) -> HeaderValue {
    keep(NAME, language.tag())
}

/// Makes a browser remember the units that were chosen on it.
pub fn keep_measures(measures: Measures) -> HeaderValue {
    keep(MEASURES, measures.key())
}

fn keep(name: &str, value: &str) -> HeaderValue {
    let cookie = format!("{name}={value}; Path=/; Max-Age={KEPT_SECONDS}; Secure; HttpOnly; SameSite=Lax");
    HeaderValue::from_str(&cookie).unwrap_or_else(|_| HeaderValue::from_static(""))
}

/// Answers in the language of the request. What is worded says in which, and on what that hung: pages, and the answers under
/// `/v1`.
pub async fn speak(request: Request, next: Next) -> Response {
    let language = language(request.headers());
    let is_interface = request.uri().path().starts_with("/v1/");
    let manner = Manner { language, measures: measures(request.headers()) };
    let mut response = wording::speaking(manner, next.run(request)).await;
    let headers = response.headers_mut();
    let kind = headers.get(header::CONTENT_TYPE).and_then(|kind| kind.to_str().ok()).unwrap_or_default();
    let is_worded = kind.starts_with("text/html") || (is_interface && kind.contains("json"));
    // One door may stand in the other.
    if is_worded && !headers.contains_key(header::CONTENT_LANGUAGE) {
        headers.insert(header::CONTENT_LANGUAGE, HeaderValue::from_static(language.tag()));
        headers.append(header::VARY, HeaderValue::from_static("accept-language, cookie"));
    }
    response
}

#[cfg(test)]
mod tests {
    use super::*;

    fn spoken(lines: &[(axum::http::HeaderName, &[u8])]) -> Language {
        let lines = lines.iter().map(|(name, value)| (name.clone(), HeaderValue::from_bytes(value).unwrap()));
        language(&lines.collect())
    }

    #[test]
    fn what_was_chosen_comes_before_what_is_wished_for() {
        let wish = (header::ACCEPT_LANGUAGE, &b"de-AT,de;q=0.9,en;q=0.8"[..]);
        assert_eq!(spoken(&[]), Language::English);
        assert_eq!(spoken(std::slice::from_ref(&wish)), Language::German);
        let kept = |tag: &str| format!("a=b; {NAME}={tag}; c=d").into_bytes();
        assert_eq!(spoken(&[wish.clone(), (header::COOKIE, &kept("en"))]), Language::English);
        assert_eq!(spoken(&[(header::COOKIE, &kept("de"))]), Language::German);
        for planted in ["", "fr", "../../x", "\"de\"", "d e"] {
            assert_eq!(
                spoken(&[wish.clone(), (header::COOKIE, &kept(planted))]),
                Language::German,
                "{planted}"
            );
        }
    }

    #[test]
    fn wishes_on_several_lines_are_one_and_what_is_no_text_is_none() {
        let line = |text: &'static [u8]| (header::ACCEPT_LANGUAGE, text);
        assert_eq!(spoken(&[line(b"en;q=0.4"), line(b"de;q=0.6")]), Language::German);
        assert_eq!(spoken(&[line(b"\xff\xfe"), line(b"de")]), Language::German);
        assert_eq!(spoken(&[line(b"\xc3\xa4\xc3\xb6")]), Language::English);
        let long = "fr,".repeat(10_000) + "de";
        assert_eq!(spoken(&[(header::ACCEPT_LANGUAGE, long.as_bytes())]), Language::English);
    }

    #[test]
    fn what_is_kept_is_what_is_read() {
        for chosen in Language::ALL {
            let kept = keep_language(chosen);
            let pair = kept.to_str().unwrap().split(';').next().unwrap().to_owned();
            assert_eq!(spoken(&[(header::COOKIE, pair.as_bytes())]), chosen);
        }
    }
}
