//! Who somebody is, before there is a session.

use domain::id::PersonId;
use domain::role::Role;
use store::sign_in::{self, SignIn};

use super::{password, usual_scopes};
use crate::token::principal_of;
use crate::{Application, Principal, Refusal};

/// Somebody who signs in without a password: the demo's people, and nobody else's.
#[derive(Debug, Clone)]
pub struct Guest {
    /// By which the guest signs in.
    pub sign_in_name: String,
    pub name: String,
    pub role: Role,
}

/// Whoever has this name and this password. Takes as long for an unknown name as for a wrong password.
pub async fn by_password(
    application: &Application,
    name: &str,
    password: String,
) -> Result<Option<Principal>, Refusal> {
    let known = sign_in::by_name(application.database(), name.trim()).await?;
    let Some((known, phc)) = known.and_then(|known| known.password.clone().map(|phc| (known, phc))) else {
        password::pretend(password).await?;
        return Ok(None);
    };
    Ok(password::is_right(password, phc).await?.then(|| principal(known)))
}

/// Whoever holds this token, if it lets do all that its holder may: nobody gets more by a password than by what he was given.
pub async fn by_token(application: &Application, secret: &str) -> Result<Option<Principal>, Refusal> {
    let principal = principal_of(application, secret.trim()).await?;
    Ok(principal.filter(|principal| {
        usual_scopes(principal.role).iter().all(|scope| principal.scopes.contains(scope))
            && principal.role != Role::Integration
    }))
}

/// Everybody who signs in without a password.
pub async fn guests(application: &Application) -> Result<Vec<Guest>, Refusal> {
    let open = sign_in::open(application.database()).await?;
    let guest = |known: SignIn| Guest { sign_in_name: known.name, name: known.person_name, role: known.role };
    Ok(open.into_iter().map(guest).collect())
}

/// The guest of this name; none if he has a password.
pub async fn welcome_guest(application: &Application, name: &str) -> Result<Option<Principal>, Refusal> {
    let known = sign_in::by_name(application.database(), name).await?;
    Ok(known.filter(|known| known.password.is_none()).map(principal))
}

fn principal(known: SignIn) -> Principal {
    let person: PersonId = known.person;
    Principal {
        person,
        token: None,
        name: known.person_name,
        role: known.role,
        scopes: usual_scopes(known.role).to_vec(),
    }
}
