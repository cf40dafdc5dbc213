//! Tells the story: one request after the other, through the interface's own router.

use std::collections::BTreeMap;
use std::sync::Arc;

use api::{ApiState, Settings};
use application::person::CreatePerson;
use application::sign_in::OpenSignIn;
use application::surroundings::{Clock, SystemClock, SystemIds};
use application::token::CreateToken;
use application::{Application, Caller, Principal};
use axum::Router;
use axum::body::{Body, to_bytes};
use axum::http::{Method, Request, Response, header};
use domain::id::PersonId;
use domain::role::{Role, Scope};
use domain::text::Name;
use serde_json::Value;
use store::Database;
use store::person::NewPerson;
use tower::ServiceExt;

use super::calendar::Shift;
use super::clock::ScriptClock;
use super::company;
use super::script::{Step, id_of, steps};
use crate::wiring::Failure;

/// A person of the demo company and the secret of its token.
#[derive(Debug, Clone)]
pub struct SignIn {
    pub name: &'static str,
    pub role: Role,
    pub secret: String,
}

/// The people of the demo company (invented): name in the script, name, role.
const PEOPLE: [(&str, &str, Role); 6] = [
    ("administrator", "Ada Demo", Role::Administrator),
    ("dispatcher", "Dana Demo", Role::Dispatcher),
    ("manager", "Mara Demo", Role::Manager),
    ("technician", "Tom Demo", Role::Technician),
    ("second_technician", "Tilda Demo", Role::Technician),
    ("finance", "Finance program (demo)", Role::Integration),
];

struct Teller {
    router: Router,
    clock: Arc<ScriptClock>,
    secrets: BTreeMap<&'static str, String>,
}

/// Fills an empty database: two years of the company as simulated, then the stories by hand, all times moved; and
/// learns what the stories ask to be learned. `told` is called with the steps done and those of all, a day of a branch being one.
pub async fn tell(
    database: Database,
    past: Option<simulator::company::Settings>,
    shift: Shift,
    mut told: impl FnMut(usize, usize),
) -> Result<Vec<SignIn>, Failure> {
    let steps =
        steps(shift).map_err(|error| Failure::Other(format!("the demo's script cannot be read: {error}")))?;
    let first = steps.first().ok_or_else(|| Failure::Other("the demo's script is empty".to_owned()))?;
    let clock =
        Arc::new(ScriptClock::at(past.as_ref().map_or(first.at, |past| shift.of_the_past().of(past.start))));
    let application = Application::new(database, Arc::<ScriptClock>::clone(&clock), Arc::new(SystemIds));
    let sign_ins = hire(&application).await?;
    let mut days = 0;
    if let Some(past) = past {
        days = past.days as usize * past.branches();
        let all = days + steps.len();
        company::enter(&application, past, shift.of_the_past(), &administrator(PEOPLE[0])?, |done| {
            told(done, all);
        })
        .await?;
    }
    let settings = Settings { requests_per_minute: std::num::NonZeroU32::MAX, ..Settings::default() };
    let router = api::router(ApiState::new(application.clone(), &settings), &settings);
    let names = PEOPLE.iter().map(|(name, ..)| *name);
    let secrets = names.zip(sign_ins.iter().map(|sign_in| sign_in.secret.clone())).collect();
    let teller = Teller { router, clock, secrets };
    for (index, step) in steps.iter().enumerate() {
        teller.carry_out(step).await?;
        told(days + index + 1, days + steps.len());
    }
    application.learn().await;
    Ok(sign_ins)
}

async fn hire(application: &Application) -> Result<Vec<SignIn>, Failure> {
    let mut sign_ins = Vec::new();
    for (key, name, role) in PEOPLE {
        let principal = administrator((key, name, role))?;
        let id = principal.person;
        let full_name =
            Name::new(name).map_err(|error| Failure::Other(format!("the demo's person {key}: {error}")))?;
        let caller = Caller { principal, request_id: "demo".to_owned() };
        let person = NewPerson { id, name: full_name.clone(), role, skills: Vec::new() };
        application.perform(&caller, CreatePerson(person)).await?;
        let secret = api::new_secret(application).await?;
        let scopes = if role == Role::Administrator { Scope::ALL } else { &[Scope::Read, Scope::Write] };
        let token = CreateToken {
            person: id,
            name: full_name,
            scopes: scopes.to_vec(),
            expires_at: None,
            secret: secret.clone(),
        };
        application.perform(&caller, token).await?;
        if role != Role::Integration {
            let name = name.split(' ').next().unwrap_or(name).to_lowercase();
            application.perform(&caller, OpenSignIn { person: id, name }).await?;
        }
        sign_ins.push(SignIn { name, role, secret: secret.0 });
    }
    Ok(sign_ins)
}

/// Whoever loads the demo may do anything, in that person's name.
fn administrator((key, name, _): (&str, &str, Role)) -> Result<Principal, Failure> {
    let person = PersonId::try_from(id_of(key))
        .map_err(|error| Failure::Other(format!("the demo's person {key}: {error}")))?;
    let (name, scopes) = (name.to_owned(), Scope::ALL.to_vec());
    Ok(Principal { person, token: None, name, role: Role::Administrator, scopes })
}

impl Teller {
    async fn carry_out(&self, step: &Step) -> Result<(), Failure> {
        // learning takes catalogues that were there when it was asked for, and they were installed just now
        let learns = step.post.as_deref() == Some("/v1/knowledge-versions");
        self.clock.set(if learns { step.at.max(SystemClock.now()) } else { step.at });
        let (method, path) = match (&step.post, &step.patch) {
            (Some(path), None) => (Method::POST, path),
            (None, Some(path)) => (Method::PATCH, path),
            _ => return Err(Failure::Other("a step of the demo is either a post or a patch".to_owned())),
        };
        let mut request = self.request(&step.by, method.clone(), path)?;
        if method == Method::PATCH || path.contains("/actions/") {
            let resource = path.split("/actions/").next().unwrap_or(path);
            let read = self.send(self.request(&step.by, Method::GET, resource)?, Body::empty()).await?;
            if let Some(tag) = read.headers().get(header::ETAG) {
                request = request.header(header::IF_MATCH, tag);
            }
        }
        let media = if method == Method::PATCH { "application/merge-patch+json" } else { "application/json" };
        let request = request.header(header::CONTENT_TYPE, media);
        let response = self.send(request, Body::from(step.body.to_string())).await?;
        let status = response.status();
        let bytes = to_bytes(response.into_body(), usize::MAX).await.unwrap_or_default();
        let answer: Value = serde_json::from_slice(&bytes).unwrap_or_default();
        let rejected = answer["items"]
            .as_array()
            .is_some_and(|items| items.iter().any(|item| item["status"] == "rejected"));
        if status.is_success() && !rejected {
            return Ok(());
        }
        Err(Failure::Other(format!(
            "the demo's step {method} {path} at {} is refused: {status} {answer}",
            step.at
        )))
    }

    fn request(&self, by: &str, method: Method, path: &str) -> Result<axum::http::request::Builder, Failure> {
        let secret =
            self.secrets.get(by).ok_or_else(|| Failure::Other(format!("the demo has no person {by}")))?;
        let bearer = format!("Bearer {secret}");
        Ok(Request::builder().method(method).uri(path).header(header::AUTHORIZATION, bearer))
    }

    async fn send(
        &self,
        request: axum::http::request::Builder,
        body: Body,
    ) -> Result<Response<Body>, Failure> {
        let request = request.body(body).map_err(|error| Failure::Other(error.to_string()))?;
        match self.router.clone().oneshot(request).await {
            Ok(response) => Ok(response),
            Err(never) => match never {},
        }
    }
}
