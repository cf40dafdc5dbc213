//! A page as a whole: its frame, and what is shown where there is none.

use application::{Caller, Refusal};
use askama::Template;
use axum::http::{HeaderValue, StatusCode, header};
use axum::response::{IntoResponse, Response};

use crate::static_files;

/// What stands around every page.
#[derive(Debug, Clone)]
pub(crate) struct Shell {
    pub title: String,
    /// Whoever is signed in: name, and what he is.
    pub person: Option<(String, String)>,
    /// Whether the office's pages are open to him.
    pub is_office: bool,
    /// The office's other pages that are open to him: where, and what they are called.
    pub others: Vec<(&'static str, String)>,
    pub found: String,
    /// What is shown as it happens: whose changes concern the page, and where it is read anew.
    pub live: Option<(String, String)>,
}

/// Pages that the head of every page leads to, by what must be allowed.
const OTHERS: [(&str, &str, &str); 9] = [
    ("get_repeats", "/numbers/repeats", "repeats-title"),
    ("get_measures", "/numbers/measures", "measures-title"),
    ("get_early_warnings", "/numbers/early-warnings", "early-warnings-title"),
    ("get_part_life", "/numbers/part-life", "part-life-title"),
    ("see_parts_used", "/numbers/parts", "parts-used-title"),
    ("see_catalogue", "/catalogue", "catalogue-title"),
    ("see_people", "/people", "people-title"),
    ("see_house_rules", "/house-rules", "rules-title"),
    ("see_happenings", "/happenings", "happenings-title"),
];

impl Shell {
    pub fn of(title: String, caller: &Caller) -> Self {
        let role = caller.principal.role;
        Self {
            title,
            person: Some((caller.principal.name.clone(), wording::term("role", role.word()).into_owned())),
            is_office: caller.require("see_today").is_ok(),
            others: OTHERS
                .iter()
                .filter(|(right, _, _)| caller.require(right).is_ok())
                .map(|(_, href, key)| (*href, wording::say(key)))
                .collect(),
            found: String::new(),
            live: None,
        }
    }

    /// Of a page that shows changes of this thing (`all`: of everything) as they happen.
    #[must_use]
    pub fn live(self, concerns: &impl ToString, at: &impl ToString) -> Self {
        Self { live: Some((concerns.to_string(), at.to_string())), ..self }
    }

    /// Of somebody who is not signed in.
    pub fn bare(title: String) -> Self {
        Self { title, person: None, is_office: false, others: Vec::new(), found: String::new(), live: None }
    }

    #[expect(clippy::unused_self, reason = "templates ask the page")]
    pub fn say(&self, key: &str) -> String {
        wording::say(key)
    }

    /// The tag of the language that the page is in.
    #[expect(clippy::unused_self, reason = "templates ask the page")]
    pub fn language(&self) -> &'static str {
        wording::Language::spoken().tag()
    }

    /// The languages that it could be in: tag, name, whether it is.
    #[expect(clippy::unused_self, reason = "templates ask the page")]
    pub fn languages(&self) -> [(&'static str, &'static str, bool); wording::Language::ALL.len()] {
        let spoken = wording::Language::spoken();
        wording::Language::ALL.map(|language| (language.tag(), language.name(), language == spoken))
    }

    /// The systems of units that its values could be told in: key, name, whether they are.
    #[expect(clippy::unused_self, reason = "templates ask the page")]
    pub fn measures(&self) -> [(&'static str, &'static str, bool); wording::Measures::ALL.len()] {
        let spoken = wording::Measures::spoken();
        wording::Measures::ALL.map(|measures| (measures.key(), measures.name(), measures == spoken))
    }

    /// Where a file of the page's own lies.
    #[expect(clippy::unused_self, reason = "templates ask the page")]
    pub fn file(&self, name: &str) -> String {
        static_files::path(name)
    }
}

/// A finished page.
pub(crate) fn show(status: StatusCode, page: &impl Template) -> Response {
    match page.render() {
        Ok(html) => {
            let kind = HeaderValue::from_static("text/html; charset=utf-8");
            (status, [(header::CONTENT_TYPE, kind)], html).into_response()
        }
        Err(error) => {
            tracing::error!(%error, "a page could not be rendered");
            (StatusCode::INTERNAL_SERVER_ERROR, wording::say("fault-internal-what")).into_response()
        }
    }
}

/// Why there is no page.
#[derive(Debug)]
pub(crate) enum PageFault {
    Refused(Refusal),
    NotFound,
    Forged,
    NotAForm,
    TooLong,
    Panicked,
}

impl From<Refusal> for PageFault {
    fn from(refusal: Refusal) -> Self {
        Self::Refused(refusal)
    }
}

#[derive(Template)]
#[template(path = "fault.html")]
struct FaultPage {
    shell: Shell,
    what: String,
    details: Vec<String>,
}

impl PageFault {
    fn kind(&self) -> (StatusCode, &'static str) {
        match self {
            Self::NotFound | Self::Refused(Refusal::NotFound { .. }) => (StatusCode::NOT_FOUND, "not-found"),
            Self::Forged => (StatusCode::FORBIDDEN, "forged"),
            Self::NotAForm => (StatusCode::BAD_REQUEST, "not-a-form"),
            Self::TooLong => (StatusCode::PAYLOAD_TOO_LARGE, "too-long"),
            Self::Refused(Refusal::WrongRole { .. } | Refusal::InsufficientScope { .. }) => {
                (StatusCode::FORBIDDEN, "not-yours")
            }
            Self::Refused(refusal) if is_away(refusal) => (StatusCode::SERVICE_UNAVAILABLE, "away"),
            Self::Refused(Refusal::Internal(_) | Refusal::Store(_)) | Self::Panicked => {
                (StatusCode::INTERNAL_SERVER_ERROR, "internal")
            }
            Self::Refused(Refusal::Invalid(_)) => (StatusCode::UNPROCESSABLE_ENTITY, "refused"),
            Self::Refused(_) => (StatusCode::CONFLICT, "refused"),
        }
    }
}

/// Whether the database cannot be reached now.
fn is_away(refusal: &Refusal) -> bool {
    refusal.is_passing()
}

impl IntoResponse for PageFault {
    fn into_response(self) -> Response {
        let (status, key) = self.kind();
        let details = match &self {
            Self::Refused(refusal) if status.is_server_error() => {
                tracing::error!(%refusal, "a page could not be made");
                Vec::new()
            }
            Self::Refused(refusal) if key == "refused" => refusal_in_words(refusal),
            _ => Vec::new(),
        };
        let shell = Shell::bare(wording::say(&format!("fault-{key}")));
        show(status, &FaultPage { shell, what: wording::say(&format!("fault-{key}-what")), details })
    }
}

/// A refusal as sentences, each of which says what would be right.
pub(crate) fn refusal_in_words(refusal: &Refusal) -> Vec<String> {
    match refusal {
        Refusal::Invalid(faults) => faults.iter().map(|fault| fault.detail.clone()).collect(),
        Refusal::Missing(missing) => crate::order::missing::all_in_words(missing),
        Refusal::NotNow { missing, .. } if !missing.is_empty() => missing.clone(),
        Refusal::IdTaken { .. } => vec![wording::say("refused-sent-already")],
        Refusal::Stale { .. } => vec![wording::say("refused-stale")],
        Refusal::WrongRole { .. } | Refusal::InsufficientScope { .. } => {
            vec![wording::say("fault-not-yours-what")]
        }
        other => vec![other.to_string()],
    }
}

pub(crate) fn not_found() -> Response {
    PageFault::NotFound.into_response()
}

/// What a page that panicked is answered with.
pub(crate) fn panicked(_: Box<dyn std::any::Any + Send + 'static>) -> Response {
    tracing::error!("a page panicked");
    PageFault::Panicked.into_response()
}
