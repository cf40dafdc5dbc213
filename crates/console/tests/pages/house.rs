//! The pages that a test looks at, and a small company behind them.

use std::collections::BTreeMap;
use std::sync::Arc;
use std::sync::Mutex;

use application::appliance::CreateAppliance;
use application::call::TakeCall;
use application::contact::CreateContact;
use application::customer::CreateCustomer;
use application::person::CreatePerson;
use application::sign_in::{OpenSignIn, SetSignIn, begin_session, usual_scopes};
use application::site::CreateSite;
use application::surroundings::{Clock, SystemIds};
use application::{Application, Caller, Principal};
use axum::Router;
use axum::body::{Body, to_bytes};
use axum::http::{HeaderMap, Method, Request, StatusCode, header};
use chrono::TimeDelta;
use domain::id::{ApplianceId, ContactId, PersonId, SiteId};
use domain::role::{Role, Scope};
use domain::text::{Key, Name, Words};
use domain::time::Timestamp;
use domain::work::{ApplianceState, OrderKind, Urgency};
use sqlx::PgPool;
use store::Database;
use store::appliance::NewAppliance;
use store::call::NewCall;
use store::contact::{Belongs, NewContact};
use store::customer::NewCustomer;
use store::person::NewPerson;
use store::site::NewSite;
use store::work_order::NewWorkOrder;
use tower::ServiceExt;

/// A clock that a test sets on.
#[derive(Debug)]
pub struct TestClock(Mutex<Timestamp>);

impl Clock for TestClock {
    fn now(&self) -> Timestamp {
        *self.0.lock().unwrap()
    }
}

pub struct House {
    pub application: Application,
    pub clock: Arc<TestClock>,
    router: Router,
    pub sessions: BTreeMap<Role, String>,
    pub people: BTreeMap<Role, PersonId>,
    pub site: SiteId,
    pub contact: ContactId,
    pub appliance: ApplianceId,
}

pub struct Answered {
    pub status: StatusCode,
    pub headers: HeaderMap,
    pub body: String,
}

/// What is typed into every field: markup, marks that turn the direction of writing, quotes.
pub const HOSTILE: &str = "<script>alert(1)</script>\"'><img src=x onerror=alert(2)>\u{202e}&amp;{{7*7}}";

impl House {
    pub async fn over(pool: PgPool) -> Self {
        Self::named(pool, "Harbour kitchen").await
    }

    /// One person of each role with a session, and one kitchen of this name with a machine.
    pub async fn named(pool: PgPool, name: &str) -> Self {
        let clock = Arc::new(TestClock(Mutex::new("2026-04-22T09:00:00Z".parse().unwrap())));
        let database = Database::over(pool);
        database.migrate(clock.now().instant()).await.unwrap();
        let application = Application::new(database, Arc::<TestClock>::clone(&clock), Arc::new(SystemIds));
        application::catalogue::install_built_in(&application).await.unwrap();
        let rest = Router::new().fallback(|| async { StatusCode::NOT_FOUND });
        let router = console::router(console::ConsoleState::new(application.clone()), rest);
        let (mut sessions, mut people) = (BTreeMap::new(), BTreeMap::new());
        for role in Role::ALL {
            let caller = caller(&application, *role);
            let person = caller.principal.person;
            let called = Name::new(format!("{role} of the test")).unwrap();
            let new = NewPerson { id: person, name: called, role: *role, skills: Vec::new() };
            application.perform(&boss(&application), CreatePerson(new)).await.unwrap();
            people.insert(*role, person);
            if *role != Role::Integration {
                let secret = begin_session(&application, caller.principal, "test".into()).await.unwrap();
                sessions.insert(*role, secret.0);
            }
        }
        let by = Caller {
            principal: principal(people[&Role::Administrator], Role::Administrator),
            request_id: "test".into(),
        };
        let (customer, site, contact, appliance) =
            (id(&application), id(&application), id(&application), id(&application));
        let text = Name::new(name).unwrap();
        let new = NewCustomer { id: customer, name: text.clone(), external_id: None };
        application.perform(&by, CreateCustomer(new)).await.unwrap();
        let new = NewSite {
            id: site,
            customer,
            branch: None,
            name: text.clone(),
            place: text.clone(),
            time_zone: Name::new("Europe/Lisbon").unwrap(),
            external_id: None,
            altitude_m: None,
        };
        application.perform(&by, CreateSite(new)).await.unwrap();
        let new = NewContact {
            id: contact,
            belongs: Belongs::ToSite(site),
            name: text.clone(),
            phone: Some(Name::new("+000 555 0101").unwrap()),
        };
        application.perform(&by, CreateContact(new)).await.unwrap();
        let new = NewAppliance {
            id: appliance,
            site,
            model: Key::new("demo_combi").unwrap(),
            model_version: None,
            position_label: text.clone(),
            serial: Some(text),
            installed_on: None,
            state: ApplianceState::Up,
            limits: Vec::new(),
        };
        application.perform(&by, CreateAppliance(new)).await.unwrap();
        Self { application, clock, router, sessions, people, site, contact, appliance }
    }

    pub fn later(&self, by: TimeDelta) {
        let mut now = self.clock.0.lock().unwrap();
        *now = Timestamp::new(now.instant() + by).unwrap();
    }

    pub fn caller(&self, role: Role) -> Caller {
        Caller { principal: principal(self.people[&role], role), request_id: "test".into() }
    }

    /// Takes a call about the machine; the number of its order.
    pub async fn call(&self, words: &str, urgency: Urgency, change: impl FnOnce(&mut NewCall)) -> i64 {
        let mut call = NewCall {
            id: id(&self.application),
            site: self.site,
            contact: Some(self.contact),
            words: Words::new(words).unwrap(),
            urgency,
            dangers: Vec::new(),
            stop_use: false,
            continued_use_reason: None,
            answers: Vec::new(),
            received_at: None,
        };
        change(&mut call);
        let order = NewWorkOrder {
            id: id(&self.application),
            call: Some(call.id),
            site: self.site,
            appliance: Some(self.appliance),
            kind: OrderKind::Corrective,
            urgency,
            follows: None,
            spending_limit: None,
            symptoms: vec![Key::new("does_not_clean").unwrap()],
            received_at: None,
        };
        let taken = TakeCall { call, orders: vec![order] };
        let taken = self.application.perform(&self.caller(Role::Dispatcher), taken).await.unwrap();
        taken.item.orders[0].order.number
    }

    /// Gives somebody a name and a password to sign in by.
    pub async fn give_password(&self, role: Role, name: &str, password: &str) {
        let set = SetSignIn::new(name, password.to_owned()).await.unwrap();
        self.application.perform(&self.caller(role), set).await.unwrap();
    }

    pub async fn open_to_guests(&self, role: Role, name: &str) {
        let open = OpenSignIn { person: self.people[&role], name: name.to_owned() };
        self.application.perform(&boss(&self.application), open).await.unwrap();
    }

    pub async fn get(&self, role: Option<Role>, path: &str) -> Answered {
        self.send(role, Method::GET, path, &[], None).await
    }

    /// Sends a form as a browser does from a page of the service.
    pub async fn post(&self, role: Option<Role>, path: &str, fields: &[(&str, &str)]) -> Answered {
        self.send(role, Method::POST, path, &[("sec-fetch-site", "same-origin")], Some(fields)).await
    }

    pub async fn send(
        &self,
        role: Option<Role>,
        method: Method,
        path: &str,
        headers: &[(&'static str, &str)],
        fields: Option<&[(&str, &str)]>,
    ) -> Answered {
        let mut request = Request::builder().method(method).uri(path);
        if !headers.iter().any(|(name, _)| *name == "accept") {
            request = request.header(header::ACCEPT, "text/html");
        }
        if let Some(secret) = role.and_then(|role| self.sessions.get(&role)) {
            request = request.header(header::COOKIE, format!("__Host-ovenwright={secret}"));
        }
        for (name, value) in headers {
            request = request.header(*name, *value);
        }
        let body = match fields {
            Some(fields) => {
                request = request.header(header::CONTENT_TYPE, "application/x-www-form-urlencoded");
                Body::from(serde_urlencoded::to_string(fields).unwrap())
            }
            None => Body::empty(),
        };
        let response = self.router.clone().oneshot(request.body(body).unwrap()).await.unwrap();
        let (parts, body) = response.into_parts();
        let body = to_bytes(body, usize::MAX).await.unwrap();
        Answered { status: parts.status, headers: parts.headers, body: String::from_utf8_lossy(&body).into() }
    }
}

impl Answered {
    #[track_caller]
    pub fn assert(self, status: u16) -> Self {
        assert_eq!(self.status.as_u16(), status, "{}", self.body);
        self
    }

    pub fn header(&self, name: &str) -> &str {
        self.headers.get(name).map_or("", |value| value.to_str().unwrap())
    }

    #[track_caller]
    pub fn assert_says(self, text: &str) -> Self {
        assert!(self.body.contains(text), "{text} is not said:\n{}", self.body);
        self
    }

    /// The value of the hidden field of this name in the form that goes there.
    pub fn hidden(&self, action: &str, name: &str) -> String {
        let from = self
            .body
            .find(&format!("action=\"{action}\""))
            .unwrap_or_else(|| panic!("no form to {action}: {}", self.body));
        let field = format!("name=\"{name}\" value=\"");
        let value =
            self.body[from..].split_once(&field).unwrap_or_else(|| panic!("no {name} for {action}")).1;
        value.split('"').next().unwrap().to_owned()
    }
}

pub fn id<T: TryFrom<uuid::Uuid>>(application: &Application) -> T
where
    T::Error: std::fmt::Debug,
{
    T::try_from(application.next_id()).unwrap()
}

fn principal(person: PersonId, role: Role) -> Principal {
    let name = format!("{role} of the test");
    Principal { person, token: None, name, role, scopes: usual_scopes(role).to_vec() }
}

fn caller(application: &Application, role: Role) -> Caller {
    Caller { principal: principal(id(application), role), request_id: "test".into() }
}

fn boss(application: &Application) -> Caller {
    let mut caller = caller(application, Role::Administrator);
    caller.principal.scopes = Scope::ALL.to_vec();
    caller
}
