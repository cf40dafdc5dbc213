//! The demo company behind routers of different tempers. Every answer is held against the document.

use std::collections::{BTreeSet, HashMap};
use std::num::NonZeroU32;
use std::sync::Arc;
use std::time::Duration;

use api::{ApiState, Settings};
use application::surroundings::{Clock, SystemIds};
use application::token::CreateToken;
use application::{Application, Caller, Principal};
use axum::Router;
use axum::body::{Body, to_bytes};
use axum::http::{HeaderMap, Method, Request, header};
use domain::id::PersonId;
use domain::role::{Role, Scope};
use domain::text::Name;
use domain::time::Timestamp;
use serde_json::{Value, json};
use sqlx::PgPool;
use store::Database;
use tower::ServiceExt;

use crate::demo::script::id_of;

/// A service that refuses for a reason of its own.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Temper {
    Usual,
    /// One request a minute.
    Strict,
    /// No place for a request.
    Full,
    /// A database that does not answer in time.
    Slow,
    /// About to stop.
    Draining,
}

pub struct Service {
    pub pool: PgPool,
    pub application: Application,
    pub document: Value,
    pub secret: String,
    /// Of the administrator too, but good for reading, or for administering, alone.
    pub narrow: HashMap<&'static str, String>,
    /// Of a technician, for all that technicians may do.
    pub technician: String,
    routers: HashMap<Temper, Router>,
    validators: HashMap<String, jsonschema::Validator>,
    /// Operation and status of every answer.
    pub given: BTreeSet<(String, u16)>,
    /// Slugs of the problems met.
    pub kinds: BTreeSet<String>,
    pub faults: Vec<String>,
    pub answers: HashMap<String, Value>,
}

#[derive(Debug, Clone)]
pub struct Asked {
    pub method: Method,
    pub path: String,
    pub headers: Vec<(&'static str, String)>,
    pub body: Option<String>,
}

pub struct Answered {
    pub status: u16,
    pub headers: HeaderMap,
    pub body: Value,
}

#[derive(Debug)]
struct AfterTheDemo;

impl Clock for AfterTheDemo {
    fn now(&self) -> Timestamp {
        Timestamp::try_from("2026-04-23T10:00:00Z".to_owned()).unwrap()
    }
}

impl Service {
    pub async fn over(pool: PgPool) -> Self {
        let database = Database::over(pool.clone());
        let application = Application::new(database.clone(), Arc::new(AfterTheDemo), Arc::new(SystemIds));
        application::catalogue::install_built_in(&application).await.unwrap();
        let sign_ins =
            crate::demo::tell(database, None, crate::demo::Shift::default(), |_, _| ()).await.unwrap();
        let administrator = sign_ins.iter().find(|sign_in| sign_in.role == Role::Administrator).unwrap();
        let technician = sign_ins.iter().find(|sign_in| sign_in.role == Role::Technician).unwrap();
        let mut narrow = HashMap::new();
        for scope in Scope::ALL {
            narrow.insert(scope.word(), token(&application, *scope).await);
        }
        // One connection, which is taken for good.
        let options = pool.connect_options().as_ref().clone();
        let busy =
            sqlx::postgres::PgPoolOptions::new().max_connections(1).connect_with(options).await.unwrap();
        std::mem::forget(busy.acquire().await.unwrap());
        let busy = Application::new(Database::over(busy), Arc::new(AfterTheDemo), Arc::new(SystemIds));

        let usual = Settings {
            requests_per_minute: NonZeroU32::MAX,
            stranger_requests_per_minute: NonZeroU32::MAX,
            ..Settings::default()
        };
        let strict = Settings {
            requests_per_minute: NonZeroU32::MIN,
            stranger_requests_per_minute: NonZeroU32::MIN,
            ..Settings::default()
        };
        let full = Settings { concurrency: 0, ..usual.clone() };
        let slow = Settings { request_timeout: Duration::from_millis(10), ..usual.clone() };
        let router = |application: &Application, settings: &Settings| {
            api::router(ApiState::new(application.clone(), settings), settings)
        };
        let draining = ApiState::new(application.clone(), &usual);
        draining.draining.begin();
        let routers = HashMap::from([
            (Temper::Usual, router(&application, &usual)),
            (Temper::Strict, router(&application, &strict)),
            (Temper::Full, router(&application, &full)),
            (Temper::Slow, router(&busy, &slow)),
            (Temper::Draining, api::router(draining, &usual)),
        ]);
        Self {
            pool,
            application,
            document: api::document::document(),
            secret: administrator.secret.clone(),
            narrow,
            technician: technician.secret.clone(),
            routers,
            validators: HashMap::new(),
            given: BTreeSet::new(),
            kinds: BTreeSet::new(),
            faults: Vec::new(),
            answers: HashMap::new(),
        }
    }

    /// The ids of all operations.
    pub fn operations(&self) -> impl Iterator<Item = &str> {
        self.all().map(|(_, _, operation)| operation["operationId"].as_str().unwrap())
    }

    fn all(&self) -> impl Iterator<Item = (&str, &str, &Value)> {
        let paths = self.document["paths"].as_object().unwrap();
        paths.iter().flat_map(|(path, item)| {
            let item = item.as_object().unwrap();
            item.iter().map(move |(method, operation)| (path.as_str(), method.as_str(), operation))
        })
    }

    /// Method, path template and description of an operation.
    pub fn operation(&self, id: &str) -> (Method, String, Value) {
        let found = self.all().find(|(_, _, operation)| operation["operationId"] == id);
        let (path, method, operation) = found.unwrap_or_else(|| panic!("the document has no operation {id}"));
        (Method::from_bytes(method.to_uppercase().as_bytes()).unwrap(), path.to_owned(), operation.clone())
    }

    pub fn documented(&self) -> BTreeSet<(String, u16)> {
        let statuses = |operation: &Value| {
            let id = operation["operationId"].as_str().unwrap().to_owned();
            let responses = operation["responses"].as_object().unwrap();
            responses.keys().map(move |status| (id.clone(), status.parse().unwrap())).collect::<Vec<_>>()
        };
        self.all().flat_map(|(_, _, operation)| statuses(operation)).collect()
    }

    /// Sends a request, notes its answer, and holds it against the document.
    pub async fn ask(&mut self, temper: Temper, operation: &str, asked: &Asked) -> Answered {
        let answered = self.send(temper, asked).await;
        self.given.insert((operation.to_owned(), answered.status));
        // A problem of the whole request, or of one item of a batch.
        let items = answered.body["items"].as_array().into_iter().flatten().map(|item| &item["problem"]);
        for problem in std::iter::once(&answered.body).chain(items) {
            if let Some(slug) = problem["type"].as_str().and_then(|kind| kind.strip_prefix("/problems/")) {
                self.kinds.insert(slug.to_owned());
            }
        }
        self.judge(operation, &answered);
        answered
    }

    pub async fn send(&self, temper: Temper, asked: &Asked) -> Answered {
        let mut request = Request::builder().method(asked.method.clone()).uri(&asked.path);
        for (name, value) in &asked.headers {
            request = request.header(*name, value);
        }
        let body = asked.body.clone().map_or_else(Body::empty, Body::from);
        let response = self.routers[&temper].clone().oneshot(request.body(body).unwrap()).await.unwrap();
        let (parts, body) = response.into_parts();
        let bytes = to_bytes(body, usize::MAX).await.unwrap();
        let body = match serde_json::from_slice(&bytes) {
            Ok(value) => value,
            Err(_) if bytes.is_empty() => Value::Null,
            Err(_) => Value::String(String::from_utf8_lossy(&bytes).into()),
        };
        Answered { status: parts.status.as_u16(), headers: parts.headers, body }
    }

    /// What may be changed by If-Match says its version in its body too, so that whoever has it from a list need not read it again.
    fn judge_version(&mut self, operation: &str, described: &Value, answered: &Answered) {
        let tag =
            answered.headers.get("etag").and_then(|tag| tag.to_str().ok()?.trim_matches('"').parse().ok());
        let told = answered.body["version"].as_i64();
        let takes_version =
            described["parameters"].as_array().into_iter().flatten().any(|given| given["name"] == "If-Match");
        let must_tell = takes_version && answered.status == 200 && answered.body.is_object();
        if tag.is_some_and(|tag: i64| told.is_some_and(|told| told != tag)) || (must_tell && told != tag) {
            self.faults.push(format!(
                "{operation} {} has the tag {tag:?} and the version {told:?}",
                answered.status
            ));
        }
    }

    fn judge(&mut self, operation: &str, answered: &Answered) {
        let (_, _, described) = self.operation(operation);
        let status = answered.status;
        self.judge_version(operation, &described, answered);
        let mut response = &described["responses"][status.to_string()];
        if let Some(reference) = response["$ref"].as_str() {
            response = self.document.pointer(&reference[1..]).unwrap();
        }
        if response.is_null() {
            self.faults.push(format!("{operation} answered {status} and does not say so: {}", answered.body));
            return;
        }
        let header = |name: &str| answered.headers.get(name).and_then(|value| value.to_str().ok());
        for name in response["headers"].as_object().into_iter().flat_map(|headers| headers.keys()) {
            let is_told =
                header(&name.to_lowercase()).is_some() || (status == 403 && name == "WWW-Authenticate");
            if !is_told {
                self.faults.push(format!("{operation} {status} lacks the header {name}"));
            }
        }
        let media =
            header("content-type").unwrap_or_default().split(';').next().unwrap_or_default().to_owned();
        let Some(content) = response["content"].as_object() else {
            if !answered.body.is_null() {
                self.faults.push(format!("{operation} {status} has a body and does not say so"));
            }
            return;
        };
        let Some(content) = content.get(&media) else {
            self.faults.push(format!("{operation} {status} answers {media:?} and does not say so"));
            return;
        };
        let schema = content["schema"].clone();
        let components = &self.document["components"];
        let validator = self.validators.entry(schema.to_string()).or_insert_with(|| {
            let root = json!({"allOf": [schema], "components": components});
            jsonschema::options().should_validate_formats(true).build(&root).unwrap()
        });
        for error in validator.iter_errors(&answered.body).take(3) {
            self.faults.push(format!("{operation} {status} at {}: {error}", error.instance_path()));
        }
    }
}

async fn token(application: &Application, scope: Scope) -> String {
    let name = Name::new("narrow").unwrap();
    let person = PersonId::try_from(id_of("administrator")).unwrap();
    let (role, scopes) = (Role::Administrator, Scope::ALL.to_vec());
    let principal = Principal { person, token: None, name: name.to_string(), role, scopes };
    let caller = Caller { principal, request_id: "coverage".to_owned() };
    let secret = api::new_secret(application).await.unwrap();
    let use_case =
        CreateToken { person, name, scopes: vec![scope], expires_at: None, secret: secret.clone() };
    application.perform(&caller, use_case).await.unwrap();
    secret.0
}

/// The bearer of a secret.
pub fn bearer(secret: &str) -> (&'static str, String) {
    (header::AUTHORIZATION.as_str(), format!("Bearer {secret}"))
}
