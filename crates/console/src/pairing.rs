//! A phone is signed in by a code on another screen.

use application::sign_in::{self, PHONE_LIFE};
use askama::Template;
use axum::extract::{Extension, State};
use axum::http::{HeaderMap, StatusCode, Uri, header};
use axum::response::{IntoResponse, Response};
use fast_qr::QRBuilder;

use crate::access::{Form, request_id};
use crate::fields::Fields;
use crate::page::{PageFault, Shell, show as show_page};
use crate::see;
use crate::state::{ConsoleState, Household};

/// What a phone's camera reads, and the same as text.
pub(crate) struct Offered {
    pub link: String,
    pub code: Code,
    /// The address is one that no phone reaches.
    pub is_of_this_computer: bool,
}

/// A square code (ISO/IEC 18004) as one path, in units of its squares, with the quiet zone of four that the standard asks for.
pub(crate) struct Code {
    pub size: usize,
    pub path: String,
}

const QUIET: usize = 4;

impl Offered {
    /// The phone is to come by the way by which this page was reached: its browser names the origin with each form.
    pub fn to_phone(headers: &HeaderMap, secret: &str) -> Result<Self, PageFault> {
        let text = |name| headers.get(name).and_then(|value| value.to_str().ok());
        let host = text(header::HOST).unwrap_or("localhost");
        let origin = text(header::ORIGIN).map_or_else(|| format!("https://{host}"), str::to_owned);
        let link = format!("{origin}/pair?code={secret}");
        let code = Code::of(&link).ok_or(PageFault::Panicked)?;
        let name = origin.split_once("://").map_or(host, |(_, name)| name);
        let is_of_this_computer = ["localhost", "127.", "[::1]"].iter().any(|local| name.starts_with(local));
        Ok(Self { link, code, is_of_this_computer })
    }
}

impl Code {
    fn of(text: &str) -> Option<Self> {
        let code = QRBuilder::new(text).build().ok()?;
        let rows = (0..code.size).flat_map(|row| (0..code.size).map(move |column| (row, column)));
        let dark = rows.filter(|&(row, column)| code[row][column].value());
        let squares = dark.map(|(row, column)| format!("M{} {}h1v1h-1z", column + QUIET, row + QUIET));
        let path = squares.collect::<Vec<_>>().concat();
        Some(Self { size: code.size + 2 * QUIET, path })
    }
}

#[derive(Template)]
#[template(path = "pairing.html")]
struct PairingPage {
    shell: Shell,
    /// As whom the phone will be signed in, and the code; none once it is spent.
    offer: Option<(String, String)>,
}

/// Whom the phone would be signed in as. Looking spends nothing: programs that look at links before people do leave it whole.
pub(crate) async fn ask(
    State(state): State<ConsoleState>,
    household: Option<Extension<Household>>,
    uri: Uri,
) -> Response {
    let code = Fields::of_query(&uri).raw("code").to_owned();
    if !state.attempts.take_of_address(household.map(|Extension(household)| household)) {
        return page(StatusCode::TOO_MANY_REQUESTS, None);
    }
    match sign_in::offered_to(&state.application, &code).await {
        Ok(Some(principal)) => {
            let said = wording::say_with("pairing-for", &[("name", principal.name.into())]);
            page(StatusCode::OK, Some((said, code)))
        }
        Ok(None) => page(StatusCode::NOT_FOUND, None),
        Err(refusal) => PageFault::from(refusal).into_response(),
    }
}

pub(crate) async fn pair(
    State(state): State<ConsoleState>,
    household: Option<Extension<Household>>,
    Form(fields): Form,
) -> Response {
    if !state.attempts.take_of_address(household.map(|Extension(household)| household)) {
        return page(StatusCode::TOO_MANY_REQUESTS, None);
    }
    let paired = sign_in::pair_phone(&state.application, fields.raw("code"), request_id()).await;
    let seconds = u32::try_from(PHONE_LIFE.num_seconds()).unwrap_or(u32::MAX);
    match paired.map(|secret| secret.map(|secret| door::set_session(&secret.0, seconds))) {
        Ok(Some(Some(cookie))) => ([(header::SET_COOKIE, cookie)], see("/day")).into_response(),
        Ok(Some(None)) => PageFault::Panicked.into_response(),
        Ok(None) => page(StatusCode::NOT_FOUND, None),
        Err(refusal) => PageFault::from(refusal).into_response(),
    }
}

fn page(status: StatusCode, offer: Option<(String, String)>) -> Response {
    show_page(status, &PairingPage { shell: Shell::bare(wording::say("pairing-title")), offer })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn headers(pairs: &[(&'static str, &'static str)]) -> HeaderMap {
        pairs.iter().map(|(name, value)| (name.parse().unwrap(), value.parse().unwrap())).collect()
    }

    #[test]
    fn the_phone_comes_by_the_way_that_the_office_came_by() {
        for (sent, origin, is_of_this_computer) in [
            (
                &[("host", "office.example"), ("origin", "https://office.example")][..],
                "https://office.example",
                false,
            ),
            (&[("host", "office.example:8443")], "https://office.example:8443", false),
            (
                &[("host", "127.0.0.1:8080"), ("origin", "http://127.0.0.1:8080")],
                "http://127.0.0.1:8080",
                true,
            ),
            (&[("host", "localhost:8080")], "https://localhost:8080", true),
        ] {
            let offered = Offered::to_phone(&headers(sent), "abc").unwrap_or_else(|_| panic!("{sent:?}"));
            assert_eq!(offered.link, format!("{origin}/pair?code=abc"));
            assert_eq!(offered.is_of_this_computer, is_of_this_computer, "{sent:?}");
        }
    }

    #[test]
    fn the_code_has_its_three_finders_and_a_quiet_zone() {
        let code = Code::of("https://office.example/pair?code=0123456789abcdef").unwrap();
        // ISO/IEC 18004: 17 + 4 × version modules a side; a finder's outer ring is 7 wide.
        assert_eq!((code.size - 2 * QUIET - 17) % 4, 0);
        let is_dark =
            |row: usize, column: usize| code.path.contains(&format!("M{} {}h1", column + QUIET, row + QUIET));
        let last = code.size - 2 * QUIET - 7;
        for (row, column) in [(0, 0), (0, last), (last, 0)] {
            assert!((0..7).all(|step| is_dark(row, column + step) && is_dark(row + 6, column + step)));
            assert!(!is_dark(row + 1, column + 1) && is_dark(row + 3, column + 3));
        }
    }
}
