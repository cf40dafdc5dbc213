//! The service that a test talks to.

use std::collections::BTreeMap;
use std::net::SocketAddr;
use std::sync::Arc;

use api::{ApiState, Settings};
use application::person::CreatePerson;
use application::surroundings::{Clock, IdSource, SystemClock, SystemIds};
use application::token::CreateToken;
use application::{Application, Caller, Principal};
use axum::Router;
use axum::body::{Body, to_bytes};
use axum::extract::ConnectInfo;
use axum::http::{HeaderMap, Method, Request, StatusCode, header};
use domain::id::PersonId;
use domain::role::{Role, Scope};
use serde_json::Value;
use sqlx::PgPool;
use store::Database;
use store::person::NewPerson;
use tower::ServiceExt;

pub struct Service {
    pub application: Application,
    router: Router,
    pub tokens: BTreeMap<Role, String>,
    pub people: BTreeMap<Role, PersonId>,
}

pub struct Answered {
    pub status: StatusCode,
    pub headers: HeaderMap,
    pub body: Value,
}

impl Service {
    pub async fn over(pool: PgPool) -> Self {
        Self::with(pool, &Settings::default()).await
    }

    /// One person with a token of every scope for each role.
    pub async fn with(pool: PgPool, settings: &Settings) -> Self {
        Self::on(pool, settings, Arc::new(SystemClock)).await
    }

    /// [`Self::with`] a clock of the test's own.
    pub async fn on(pool: PgPool, settings: &Settings, clock: Arc<dyn Clock>) -> Self {
        Self::of(pool, settings, clock, |state| state).await
    }

    /// [`Self::with`] an issuer of signed tokens.
    pub async fn with_issuer(pool: PgPool, settings: &Settings, issuer: api::sign_in::Issuer) -> Self {
        Self::of(pool, settings, Arc::new(SystemClock), |state| state.with_issuer(issuer)).await
    }

    async fn of(
        pool: PgPool,
        settings: &Settings,
        clock: Arc<dyn Clock>,
        change: impl FnOnce(ApiState) -> ApiState,
    ) -> Self {
        let application = Application::new(Database::over(pool), clock, Arc::new(SystemIds));
        let router = api::router(change(ApiState::new(application.clone(), settings)), settings);
        let (mut tokens, mut people) = (BTreeMap::new(), BTreeMap::new());
        for role in Role::ALL {
            let (person, secret) = enlist(&application, *role, Scope::ALL).await;
            tokens.insert(*role, secret);
            people.insert(*role, person);
        }
        Self { application, router, tokens, people }
    }

    pub fn as_role(&self, role: Role) -> Asking<'_> {
        Asking { service: self, secret: self.tokens[&role].clone(), headers: Vec::new(), peer: None }
    }

    pub fn administrator(&self) -> Asking<'_> {
        self.as_role(Role::Administrator)
    }

    pub async fn send(&self, request: Request<Body>) -> Answered {
        let response = self.router.clone().oneshot(request).await.unwrap();
        let (parts, body) = response.into_parts();
        let bytes = to_bytes(body, usize::MAX).await.unwrap();
        let body = if bytes.is_empty() {
            Value::Null
        } else {
            serde_json::from_slice(&bytes)
                .unwrap_or_else(|_| Value::String(String::from_utf8_lossy(&bytes).into()))
        };
        Answered { status: parts.status, headers: parts.headers, body }
    }

    pub fn id(&self) -> String {
        SystemIds.next(self.application.now()).to_string()
    }
}

/// A person of the role and the secret of its token.
pub async fn enlist(application: &Application, role: Role, scopes: &[Scope]) -> (PersonId, String) {
    let id = PersonId::try_from(SystemIds.next(application.now())).unwrap();
    let name = domain::text::Name::new(format!("{role} of the test")).unwrap();
    let principal = Principal {
        person: id,
        token: None,
        name: name.to_string(),
        role: Role::Administrator,
        scopes: Scope::ALL.to_vec(),
    };
    let caller = Caller { principal, request_id: "test".into() };
    let person = NewPerson { id, name: name.clone(), role, skills: Vec::new() };
    application.perform(&caller, CreatePerson(person)).await.unwrap();
    let secret = api::new_secret(application).await.unwrap();
    let token =
        CreateToken { person: id, name, scopes: scopes.to_vec(), expires_at: None, secret: secret.clone() };
    application.perform(&caller, token).await.unwrap();
    (id, secret.0)
}

/// A request in the making.
pub struct Asking<'a> {
    service: &'a Service,
    secret: String,
    headers: Vec<(&'static str, String)>,
    peer: Option<SocketAddr>,
}

impl Asking<'_> {
    pub fn header(mut self, name: &'static str, value: impl Into<String>) -> Self {
        self.headers.push((name, value.into()));
        self
    }

    /// The other end of the connection.
    pub fn peer(mut self, address: &str) -> Self {
        self.peer = Some(address.parse().unwrap());
        self
    }

    pub fn secret(mut self, secret: &str) -> Self {
        secret.clone_into(&mut self.secret);
        self
    }

    pub async fn get(self, path: &str) -> Answered {
        self.send(Method::GET, path, None).await
    }

    pub async fn post(self, path: &str, body: Value) -> Answered {
        self.send(Method::POST, path, Some(body)).await
    }

    pub async fn patch(self, path: &str, body: Value) -> Answered {
        self.send(Method::PATCH, path, Some(body)).await
    }

    pub async fn delete(self, path: &str) -> Answered {
        self.send(Method::DELETE, path, None).await
    }

    pub async fn send(self, method: Method, path: &str, body: Option<Value>) -> Answered {
        let media = if method == Method::PATCH { "application/merge-patch+json" } else { "application/json" };
        let mut request = Request::builder().method(method).uri(path);
        if !self.secret.is_empty() {
            request = request.header(header::AUTHORIZATION, format!("Bearer {}", self.secret));
        }
        if body.is_some() && !self.headers.iter().any(|(name, _)| *name == "content-type") {
            request = request.header(header::CONTENT_TYPE, media);
        }
        for (name, value) in &self.headers {
            request = request.header(*name, value);
        }
        let body = body.map_or_else(Body::empty, |body| Body::from(body.to_string()));
        let mut request = request.body(body).unwrap();
        if let Some(peer) = self.peer {
            request.extensions_mut().insert(ConnectInfo(peer));
        }
        self.service.send(request).await
    }
}

impl Answered {
    pub fn header(&self, name: &str) -> &str {
        self.headers.get(name).map_or("", |value| value.to_str().unwrap())
    }

    /// Asserts a problem of this status and kind, whole as RFC 9457 wants it.
    pub fn assert_problem(&self, status: u16, kind: &str) -> &Self {
        assert_eq!(self.status.as_u16(), status, "{}", self.body);
        assert_eq!(self.body["type"], format!("/problems/{kind}"), "{}", self.body);
        assert_eq!(self.header("content-type"), "application/problem+json");
        assert_eq!(self.body["status"], status);
        assert_eq!(self.body["request_id"], self.header("x-request-id"));
        assert!(!self.body["detail"].as_str().unwrap().is_empty());
        self
    }

    /// Asserts a fault at this pointer, parameter or header.
    pub fn assert_fault(&self, place: &str) -> &Self {
        let faults = self.body["errors"].as_array().unwrap();
        let is_there = |fault: &Value| {
            ["pointer", "parameter", "header"].iter().any(|kind| fault[kind].as_str() == Some(place))
        };
        assert!(faults.iter().any(is_there), "no fault at {place}: {}", self.body);
        self
    }

    pub fn assert(&self, status: u16) -> &Self {
        assert_eq!(self.status.as_u16(), status, "{}", self.body);
        self
    }

    /// [`Self::assert`] that hands the answer on.
    #[track_caller]
    pub fn expect(self, status: u16) -> Self {
        assert_eq!(self.status.as_u16(), status, "{:#}", self.body);
        self
    }

    pub fn etag(&self) -> String {
        let tag = self.headers.get(header::ETAG).unwrap_or_else(|| panic!("an ETag: {:#}", self.body));
        tag.to_str().expect("text").to_owned()
    }

    /// Where the faults lie that a problem lists, sorted.
    pub fn pointers(&self) -> Vec<String> {
        let faults = self.body["errors"].as_array().cloned().unwrap_or_default();
        let mut pointers: Vec<String> =
            faults.iter().filter_map(|fault| fault["pointer"].as_str().map(str::to_owned)).collect();
        pointers.sort();
        pointers.dedup();
        pointers
    }

    /// What a refused move lacks, in one text.
    pub fn missing(&self) -> String {
        let missing = self.body["missing"].as_array().cloned().unwrap_or_default();
        missing.iter().filter_map(Value::as_str).collect::<Vec<_>>().join(" | ")
    }
}
