//! Who works here, and who may do what.

use application::person::CreatePerson;
use application::see_people::{NewPerson, Person, SeePeople};
use application::{Caller, Refusal};
use askama::Template;
use axum::extract::State;
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};
use domain::id::PersonId;
use domain::role::Role;
use domain::text::{Key, Name};
use uuid::Uuid;

use crate::access::{Posted, SignedIn};
use crate::fields::Fields;
use crate::order::moves::invalid;
use crate::page::{PageFault, Shell, show as show_page};
use crate::parts::moves::{Attempt, Input, Move, words_of};
use crate::see;
use crate::state::ConsoleState;

#[derive(Template)]
#[template(path = "office/people.html")]
struct PeoplePage {
    shell: Shell,
    people: Vec<PersonRow>,
    roles: Vec<(String, String)>,
    moves: Vec<Move>,
}

struct PersonRow {
    href: String,
    name: String,
    role: String,
    skills: String,
    has_left: bool,
}

pub(super) async fn show(
    State(state): State<ConsoleState>,
    SignedIn(caller): SignedIn,
) -> Result<Response, PageFault> {
    page(&state, &caller, StatusCode::OK, &Attempt::default()).await
}

async fn page(
    state: &ConsoleState,
    caller: &Caller,
    status: StatusCode,
    attempt: &Attempt,
) -> Result<Response, PageFault> {
    let people = state.application.ask(caller, SeePeople).await?;
    let mut moves = Vec::new();
    if caller.require("create_person").is_ok() {
        let form = Move::new("take-in", "/people", wording::say("person-take-in"))
            .with("id", state.application.next_id())
            .asking(Input::line("name", "person-name", true))
            .asking(Input::choice("role", "person-role", words_of("role", Role::WORDS)))
            .asking(Input::line("skills", "person-skills-typed", false));
        moves.push(form.after(attempt));
    }
    let page = PeoplePage {
        shell: Shell::of(wording::say("people-title"), caller),
        people: people.iter().map(row).collect(),
        roles: Role::ALL.iter().map(|role| (role_name(*role), what_he_does(*role))).collect(),
        moves,
    };
    Ok(show_page(status, &page))
}

pub(super) fn role_name(role: Role) -> String {
    wording::term("role", role.word()).into_owned()
}

pub(super) fn what_he_does(role: Role) -> String {
    let key = match role {
        Role::Technician => "guest-technician",
        Role::Dispatcher => "guest-dispatcher",
        Role::Manager => "guest-manager",
        Role::Administrator => "guest-administrator",
        Role::Integration => "guest-integration",
    };
    wording::say(key)
}

fn row(person: &Person) -> PersonRow {
    PersonRow {
        href: format!("/people/{}", person.id),
        name: person.name.to_string(),
        role: role_name(person.role),
        skills: skills_in_words(&person.skills),
        has_left: !person.active,
    }
}

pub(super) fn skills_in_words(skills: &[Key]) -> String {
    skills.iter().map(|skill| skill.as_str().replace('_', " ")).collect::<Vec<_>>().join(", ")
}

/// Skills as they are written, with commas between them: `gas work, live electrics`.
pub(super) fn skills(typed: &Fields) -> Result<Vec<Key>, Refusal> {
    let words = typed.raw("skills").split(',').map(str::trim).filter(|skill| !skill.is_empty());
    let mut skills = words
        .map(|skill| Key::new(skill.to_lowercase().split_whitespace().collect::<Vec<_>>().join("_")))
        .collect::<Result<Vec<Key>, _>>()
        .map_err(|_| invalid("skills", "fault-skills"))?;
    skills.sort_unstable();
    skills.dedup();
    Ok(skills)
}

pub(super) fn name(typed: &Fields) -> Result<Name, Refusal> {
    let name = typed.get("name").ok_or_else(|| invalid("name", "fault-field-needed"))?;
    Name::new(name).map_err(|error| Refusal::invalid("/name", error.to_string()))
}

pub(super) fn role(typed: &Fields) -> Result<Role, Refusal> {
    typed.parse("role").and_then(Result::ok).ok_or_else(|| invalid("role", "fault-field-choice"))
}

pub(super) async fn take_in(State(state): State<ConsoleState>, Posted(caller, typed): Posted) -> Response {
    let done = match new_person(&typed) {
        Ok(new) => state.application.perform(&caller, CreatePerson(new)).await,
        Err(refusal) => Err(refusal),
    };
    match done {
        Ok(created) => see(&format!("/people/{}", created.item.id)),
        Err(refusal @ (Refusal::WrongRole { .. } | Refusal::InsufficientScope { .. })) => {
            PageFault::from(refusal).into_response()
        }
        Err(refusal) if refusal.is_for_the_caller() => {
            let attempt = Attempt::refused("take-in", &refusal, typed);
            let page = page(&state, &caller, StatusCode::CONFLICT, &attempt).await;
            page.unwrap_or_else(IntoResponse::into_response)
        }
        Err(refusal) => PageFault::from(refusal).into_response(),
    }
}

fn new_person(typed: &Fields) -> Result<NewPerson, Refusal> {
    let id = typed.parse::<Uuid>("id").and_then(Result::ok).and_then(|id| PersonId::try_from(id).ok());
    Ok(NewPerson {
        id: id.ok_or_else(|| invalid("id", "fault-field-needed"))?,
        name: name(typed)?,
        role: role(typed)?,
        skills: skills(typed)?,
    })
}
