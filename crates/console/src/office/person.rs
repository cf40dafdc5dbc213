//! One of the people: what he may do, where he is signed in, how he comes in again.

use application::person::UpdatePerson;
use application::see_people::{PersonFile, SeePerson, Token};
use application::sign_in::{OfferPairing, may_pair, usual_scopes};
use application::token::{CreateToken, NewSecret, RevokeToken, seal};
use application::{Caller, Refusal};
use askama::Template;
use axum::extract::State;
use axum::http::{HeaderMap, StatusCode, Uri};
use axum::response::{IntoResponse, Response};
use chrono::TimeDelta;
use domain::id::{PersonId, TokenId};
use domain::role::Role;
use domain::text::Name;
use domain::time::Timestamp;
use uuid::Uuid;

use super::people::{name, role, role_name, skills, skills_in_words, what_he_does};
use crate::access::{Posted, SignedIn};
use crate::fields::Fields;
use crate::kitchen::id_in;
use crate::order::moves::invalid;
use crate::order::segment;
use crate::page::{PageFault, Shell, show as show_page};
use crate::pairing::Offered;
use crate::parts::moves::{Attempt, Input, Move, words_of};
use crate::see;
use crate::state::ConsoleState;
use crate::when;

/// A token to set a password by is good for so long.
const TO_SET_A_PASSWORD: TimeDelta = TimeDelta::days(1);

#[derive(Template)]
#[template(path = "office/person.html")]
struct PersonPage {
    shell: Shell,
    /// Why something was not done whose form is not there any more.
    refusals: Vec<String>,
    name: String,
    role: String,
    what: String,
    skills: String,
    has_left: bool,
    signs_in_as: Option<String>,
    /// Shown this once.
    secret: Option<String>,
    /// To be held before the phone's camera, this once.
    offered: Option<Offered>,
    tokens: Option<Vec<TokenRow>>,
    moves: Vec<Move>,
}

struct TokenRow {
    name: String,
    since: String,
    used: Option<String>,
    moves: Vec<Move>,
}

/// What a page of a person shows beside what is kept.
#[derive(Default)]
struct Besides {
    attempt: Attempt,
    secret: Option<String>,
    offered: Option<Offered>,
}

pub(super) async fn show(
    State(state): State<ConsoleState>,
    SignedIn(caller): SignedIn,
    uri: Uri,
) -> Result<Response, PageFault> {
    page(&state, &caller, id_in(&uri)?, StatusCode::OK, Besides::default()).await
}

async fn page(
    state: &ConsoleState,
    caller: &Caller,
    id: PersonId,
    status: StatusCode,
    besides: Besides,
) -> Result<Response, PageFault> {
    let file = state.application.ask(caller, SeePerson(id)).await?;
    let now = state.application.now();
    let moves = moves(&file, caller, &besides.attempt);
    let PersonFile { person, signs_in_as, tokens } = file;
    let is_shown = moves.iter().any(Move::is_open);
    let page = PersonPage {
        shell: Shell::of(person.name.to_string(), caller),
        refusals: if is_shown { Vec::new() } else { besides.attempt.refusals },
        name: person.name.to_string(),
        role: role_name(person.role),
        what: what_he_does(person.role),
        skills: skills_in_words(&person.skills),
        has_left: !person.active,
        signs_in_as,
        secret: besides.secret,
        offered: besides.offered,
        tokens: tokens.map(|tokens| tokens.iter().map(|token| row(token, caller, now)).collect()),
        moves,
    };
    Ok(show_page(status, &page))
}

fn moves(file: &PersonFile, caller: &Caller, attempt: &Attempt) -> Vec<Move> {
    let person = &file.person;
    let to = |rest: &str| format!("/people/{}/{rest}", person.id);
    let mut moves = Vec::new();
    if caller.require("update_person").is_ok() {
        let here = [("here", "person-works-here"), ("left", "person-has-left")];
        let here = here.map(|(value, key)| (value.to_owned(), wording::say(key)));
        let form = Move::new("change", to("change"), wording::say("person-change"))
            .with("version", person.version)
            .asking(Input::line("name", "person-name", true).holding(person.name.to_string()))
            .asking(
                Input::choice("role", "person-role", words_of("role", Role::WORDS))
                    .choosing(|word| word == person.role.word()),
            )
            .asking(
                Input::line("skills", "person-skills-typed", false).holding(skills_in_words(&person.skills)),
            )
            .asking(
                Input::choice("works", "person-works", here)
                    .choosing(|word| (word == "here") == person.active),
            );
        moves.push(form);
    }
    let is_human = person.role != Role::Integration;
    if is_human && person.active && caller.require("create_token").is_ok() {
        moves.push(Move::new("password", to("password"), wording::say("person-reset-password")));
    }
    if person.active && caller.require("offer_pairing").is_ok() && may_pair(caller, person.id, person.role) {
        moves.push(Move::new("phone", to("phone"), wording::say("person-pair-phone")));
    }
    let is_in = file.tokens.as_ref().is_some_and(|tokens| !tokens.is_empty());
    if is_in && caller.require("revoke_token").is_ok() {
        moves.push(Move::new("end-all", to("sign-ins/end"), wording::say("person-end-all")));
    }
    moves.into_iter().map(|form| form.after(attempt)).collect()
}

fn row(token: &Token, caller: &Caller, now: Timestamp) -> TokenRow {
    let is_own = caller.principal.token == Some(token.id);
    let name = if is_own {
        wording::say_with("person-own-session", &[("name", token.name.to_string().into())])
    } else {
        token.name.to_string()
    };
    let to = format!("/people/{}/sign-ins/{}/end", token.person, token.id);
    let end = Move::new(format!("end-{}", token.id), to, wording::say("person-end"));
    TokenRow {
        name,
        since: when::day(token.created_at.instant().date_naive(), now),
        used: token.last_used_day.map(|day| when::day(day, now)),
        moves: if caller.require("revoke_token").is_ok() { vec![end] } else { Vec::new() },
    }
}

/// After something was done, or refused: the page of the person again.
async fn answer(
    state: &ConsoleState,
    caller: &Caller,
    id: PersonId,
    (key, typed): (&str, Fields),
    done: Result<(), Refusal>,
) -> Response {
    match done {
        Ok(()) => see(&format!("/people/{id}")),
        Err(refusal @ (Refusal::WrongRole { .. } | Refusal::InsufficientScope { .. })) => {
            PageFault::from(refusal).into_response()
        }
        Err(refusal) if refusal.is_for_the_caller() => {
            let attempt = Attempt::refused(key, &refusal, typed);
            let besides = Besides { attempt, ..Besides::default() };
            let page = page(state, caller, id, StatusCode::CONFLICT, besides).await;
            page.unwrap_or_else(IntoResponse::into_response)
        }
        Err(refusal) => PageFault::from(refusal).into_response(),
    }
}

pub(super) async fn change(
    State(state): State<ConsoleState>,
    uri: Uri,
    Posted(caller, typed): Posted,
) -> Result<Response, PageFault> {
    let id = id_in(&uri)?;
    let done = match changed(id, &typed) {
        Ok(change) => state.application.perform(&caller, change).await.map(drop),
        Err(refusal) => Err(refusal),
    };
    Ok(answer(&state, &caller, id, ("change", typed), done).await)
}

fn changed(id: PersonId, typed: &Fields) -> Result<UpdatePerson, Refusal> {
    let version = typed.parse("version").and_then(Result::ok);
    Ok(UpdatePerson {
        id,
        expected_version: version.ok_or_else(|| invalid("version", "fault-field-needed"))?,
        name: Some(name(typed)?),
        role: Some(role(typed)?),
        skills: Some(skills(typed)?),
        active: Some(typed.raw("works") != "left"),
    })
}

/// Gives a token by which the person sets a password himself; it is shown this once.
pub(super) async fn reset(
    State(state): State<ConsoleState>,
    uri: Uri,
    Posted(caller, typed): Posted,
) -> Result<Response, PageFault> {
    let id = id_in(&uri)?;
    match token(&state, &caller, id).await {
        Ok(secret) => {
            let besides = Besides { secret: Some(secret.0), ..Besides::default() };
            page(&state, &caller, id, StatusCode::OK, besides).await
        }
        Err(refusal) => Ok(answer(&state, &caller, id, ("password", typed), Err(refusal)).await),
    }
}

/// Shows what a phone's camera reads to be signed in.
pub(super) async fn offer(
    State(state): State<ConsoleState>,
    headers: HeaderMap,
    uri: Uri,
    Posted(caller, typed): Posted,
) -> Result<Response, PageFault> {
    let id = id_in(&uri)?;
    let secret = seal(&state.application, &NewSecret::draw().0).await?;
    match state.application.perform(&caller, OfferPairing { person: id, secret: secret.clone() }).await {
        Ok(_) => {
            let offered = Some(Offered::to_phone(&headers, &secret.0)?);
            page(&state, &caller, id, StatusCode::OK, Besides { offered, ..Besides::default() }).await
        }
        Err(refusal) => Ok(answer(&state, &caller, id, ("phone", typed), Err(refusal)).await),
    }
}

async fn token(state: &ConsoleState, caller: &Caller, id: PersonId) -> Result<NewSecret, Refusal> {
    caller.require("create_token")?;
    let person = state.application.ask(caller, SeePerson(id)).await?.person;
    let secret = seal(&state.application, &NewSecret::draw().0).await?;
    let now = state.application.now();
    let expires_at = Timestamp::new(now.instant() + TO_SET_A_PASSWORD);
    let name = Name::new(wording::say("person-token-name"));
    let create = CreateToken {
        person: id,
        name: name.map_err(|error| Refusal::Internal(error.to_string()))?,
        scopes: usual_scopes(person.role).to_vec(),
        expires_at: Some(expires_at.map_err(|error| Refusal::Internal(error.to_string()))?),
        secret: secret.clone(),
    };
    state.application.perform(caller, create).await?;
    Ok(secret)
}

pub(super) async fn end(
    State(state): State<ConsoleState>,
    uri: Uri,
    Posted(caller, typed): Posted,
) -> Result<Response, PageFault> {
    let id = id_in(&uri)?;
    let token = segment(&uri, 4).parse::<Uuid>().ok().and_then(|id| TokenId::try_from(id).ok());
    let token = token.ok_or(PageFault::NotFound)?;
    let done = end_of(&state, &caller, id, |known| known.id == token).await;
    Ok(answer(&state, &caller, id, ("end", typed), done).await)
}

pub(super) async fn end_all(
    State(state): State<ConsoleState>,
    uri: Uri,
    Posted(caller, typed): Posted,
) -> Result<Response, PageFault> {
    let id = id_in(&uri)?;
    let done = end_of(&state, &caller, id, |_| true).await;
    Ok(answer(&state, &caller, id, ("end-all", typed), done).await)
}

/// Ends those of a person's own sign-ins that are meant.
async fn end_of(
    state: &ConsoleState,
    caller: &Caller,
    id: PersonId,
    is_meant: impl Fn(&Token) -> bool,
) -> Result<(), Refusal> {
    caller.require("revoke_token")?;
    let tokens = state.application.ask(caller, SeePerson(id)).await?.tokens.unwrap_or_default();
    for token in tokens.iter().filter(|token| is_meant(token)) {
        state.application.perform(caller, RevokeToken(token.id)).await?;
    }
    Ok(())
}
