use chrono::TimeDelta;
use domain::id::PersonId;
use domain::role::Scope;
use store::token;

use super::NewSecret;
use crate::sign_in::{REST, later};
use crate::{Application, Principal, Refusal};

const NOTED_EVERY: TimeDelta = TimeDelta::minutes(5);

/// Who holds this secret, if the token is good now; notes the day of its use.
pub async fn principal_of(application: &Application, secret: &str) -> Result<Option<Principal>, Refusal> {
    let now = application.now();
    let sha256 = NewSecret(secret.to_owned()).sha256();
    let Some(holder) = token::holder(application.database(), &sha256, now).await? else {
        return Ok(None);
    };
    let today = now.instant().date_naive();
    if holder.last_used_day != Some(today) {
        token::note_use(application.database(), holder.token, today).await;
    }
    // A session in use is kept from its end, noted once in a while.
    let rested = later(now, REST);
    if holder.rests_until.is_some_and(|until| until.instant() + NOTED_EVERY < rested.instant()) {
        token::keep_awake(application.database(), holder.token, rested).await?;
    }
    Ok(Some(Principal {
        person: holder.person,
        token: Some(holder.token),
        name: holder.name,
        role: holder.role,
        scopes: holder.scopes,
    }))
}

/// The principal for whom another service has signed, if he is active here.
pub async fn signed_for(
    application: &Application,
    person: PersonId,
    scopes: Vec<Scope>,
) -> Result<Option<Principal>, Refusal> {
    let found = store::person::find(application.database(), person).await?;
    Ok(found.filter(|person| person.active).map(|person| Principal {
        person: person.id,
        token: None,
        name: person.name.to_string(),
        role: person.role,
        scopes,
    }))
}

/// Whether a principal is still who he was when he began to listen.
pub async fn still_holds(application: &Application, principal: &Principal) -> Result<bool, Refusal> {
    let Principal { person, role, token, .. } = *principal;
    Ok(token::still_holds(application.database(), person, role, token, application.now()).await?)
}
