use domain::id::PersonId;
use store::{Change, UnitOfWork, sign_in, token};

use super::password;
use crate::{Application, Caller, Fault, Question, Refusal, UseCase};

/// Sets the name and the password by which the caller signs in; ends all sessions that he has.
pub struct SetSignIn {
    name: String,
    password_hash: String,
}

impl SetSignIn {
    /// Refuses a name or a password that will not do, all faults told.
    pub async fn new(name: &str, password: String) -> Result<Self, Refusal> {
        let name = name.trim().to_lowercase();
        let mut faults = Vec::new();
        if !is_usable(&name) {
            let detail = "a name to sign in by has 2 to 60 letters, figures, points, hyphens or underscores";
            faults.push(Fault::at("/name", detail));
        }
        if let Err(fault) = password::check(&password, &name) {
            faults.push(Fault::at("/password", fault.to_string()));
        }
        Refusal::unless_faultless(faults)?;
        Ok(Self { name, password_hash: password::hashed(password).await? })
    }
}

fn is_usable(name: &str) -> bool {
    let letters = name.chars().count();
    (2..=60).contains(&letters) && name.chars().all(|c| c.is_alphanumeric() || ".-_@".contains(c))
}

impl UseCase for SetSignIn {
    const NAME: &'static str = "set_sign_in";
    type Outcome = ();

    async fn carry_out(self, unit: &mut UnitOfWork, caller: &Caller) -> Result<(), Refusal> {
        let person = caller.principal.person;
        sign_in::set(unit, person, &self.name, Some(&self.password_hash)).await?;
        token::end_sessions(unit, person).await?;
        unit.record(Change::of("sign_in.set", person));
        Ok(())
    }
}

/// Lets everybody sign in as this person without a password: for people whom a demo invented.
pub struct OpenSignIn {
    pub person: PersonId,
    pub name: String,
}

impl UseCase for OpenSignIn {
    const NAME: &'static str = "open_sign_in";
    type Outcome = ();

    async fn carry_out(self, unit: &mut UnitOfWork, _: &Caller) -> Result<(), Refusal> {
        sign_in::set(unit, self.person, &self.name, None).await?;
        unit.record(Change::of("sign_in.opened", self.person));
        Ok(())
    }
}

/// By which name the caller signs in; none if he has none.
pub struct OwnSignIn;

impl Question for OwnSignIn {
    const NAME: &'static str = "see_own_sign_in";
    type Answer = Option<String>;

    async fn answer(self, application: &Application, caller: &Caller) -> Result<Self::Answer, Refusal> {
        let known = sign_in::of_person(application.database(), caller.principal.person).await?;
        Ok(known.map(|known| known.name))
    }
}
