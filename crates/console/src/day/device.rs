//! Which device a reading comes from: each browser has a name of its own, made when it first sends one.

use axum::http::{HeaderMap, HeaderValue, header};
use domain::text::Text;

/// As the session's cookie is kept: for this host alone, and read by no script.
const NAME: &str = "__Host-ovenwright-device";
/// Browsers keep no cookie longer than some 400 days; every reading renews it.
const LIVES: u32 = 400 * 24 * 3600;

/// A browser's name.
pub(super) struct Device(Text<1, 100>);

impl Device {
    /// As the browser says, or a new one.
    pub fn of(headers: &HeaderMap, new: impl FnOnce() -> String) -> Option<Self> {
        let lines = headers.get_all(header::COOKIE).iter().filter_map(|line| line.to_str().ok());
        let mut pairs = lines.flat_map(|line| line.split(';')).filter_map(|pair| pair.trim().split_once('='));
        let known =
            pairs.find(|(name, value)| *name == NAME && is_name(value)).map(|(_, value)| value.to_owned());
        Text::new(known.unwrap_or_else(new)).ok().map(Self)
    }

    pub fn id(&self) -> Text<1, 100> {
        self.0.clone()
    }

    pub fn cookie(&self) -> Option<HeaderValue> {
        let name = self.0.as_str();
        let cookie = format!("{NAME}={name}; Path=/; Max-Age={LIVES}; Secure; HttpOnly; SameSite=Lax");
        HeaderValue::from_str(&cookie).ok()
    }
}

/// Nothing but what was once given out.
fn is_name(text: &str) -> bool {
    (1..=100).contains(&text.len()) && text.bytes().all(|byte| byte.is_ascii_alphanumeric() || byte == b'-')
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_browser_keeps_its_name_and_nonsense_gets_a_new_one() {
        let named = |cookie: &'static str| {
            let headers = HeaderMap::from_iter([(header::COOKIE, HeaderValue::from_static(cookie))]);
            Device::of(&headers, || "new".to_owned()).unwrap().id().to_string()
        };
        assert_eq!(named("a=b; __Host-ovenwright-device=browser-17"), "browser-17");
        for nonsense in
            ["a=b", "__Host-ovenwright-device=", "__Host-ovenwright-device=<b>", "ovenwright-device=x"]
        {
            assert_eq!(named(nonsense), "new", "{nonsense}");
        }
        let device = Device::of(&HeaderMap::new(), || "browser-1".to_owned()).unwrap();
        assert!(
            device.cookie().unwrap().to_str().unwrap().starts_with("__Host-ovenwright-device=browser-1;")
        );
    }
}
