use application::person::CreatePerson;
use application::surroundings::{IdSource, SystemIds};
use application::token::CreateToken;
use application::{Caller, Principal};
use domain::id::PersonId;
use domain::role::{Role, Scope};
use store::person::NewPerson;

use crate::configuration::{DatabaseArguments, TokenArguments};
use crate::output::say;
use crate::wiring::{Failure, application, migrated_database};

/// Makes a person and a token for it. Whoever may run this on the server's database is trusted as an administrator.
pub async fn run(database_arguments: &DatabaseArguments, arguments: &TokenArguments) -> Result<(), Failure> {
    let application = application(migrated_database(database_arguments).await?);
    let id = SystemIds.next(application.now());
    let id = PersonId::try_from(id).map_err(|error| Failure::Other(error.to_string()))?;
    let caller = Caller {
        principal: Principal {
            person: id,
            token: None,
            name: arguments.name.to_string(),
            role: Role::Administrator,
            scopes: Scope::ALL.to_vec(),
        },
        request_id: "ovenwright-token".to_owned(),
    };
    let person = NewPerson { id, name: arguments.name.clone(), role: arguments.role, skills: Vec::new() };
    application.perform(&caller, CreatePerson(person)).await?;
    let secret = api::new_secret(&application).await?;
    let token = CreateToken {
        person: id,
        name: arguments.name.clone(),
        scopes: scopes(arguments),
        expires_at: None,
        secret: secret.clone(),
    };
    application.perform(&caller, token).await?;
    say(secret.0)
}

fn scopes(arguments: &TokenArguments) -> Vec<Scope> {
    if !arguments.scopes.is_empty() {
        return arguments.scopes.clone();
    }
    match arguments.role {
        Role::Administrator => Scope::ALL.to_vec(),
        _ => vec![Scope::Read, Scope::Write],
    }
}
