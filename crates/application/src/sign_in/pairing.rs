//! A phone is signed in by what stands on another screen: a secret that is good once and for minutes.

use chrono::TimeDelta;
use domain::id::{PersonId, TokenId};
use domain::role::Role;
use domain::text::Name;
use store::token::{self, NewToken};
use store::{Change, UnitOfWork, person};

use super::session::SessionOf;
use super::{later, usual_scopes};
use crate::token::{NewSecret, is_sealed, seal};
use crate::use_case::written;
use crate::{Application, Caller, Principal, Refusal, UseCase};

/// What stands on the screen is good for so long,
pub const PAIRING_LIFE: TimeDelta = TimeDelta::minutes(10);
/// and the phone's session for so long, used or not: a technician's phone may lie for days without signal.
pub const PHONE_LIFE: TimeDelta = TimeDelta::days(30);

/// Offers a person's phone a session.
pub struct OfferPairing {
    pub person: PersonId,
    pub secret: NewSecret,
}

/// Whose phones somebody may sign in: everybody his own; management those of technicians and dispatchers; an administrator
/// all people's. Else a phone would be a way to another one's rights.
pub fn may_pair(caller: &Caller, person: PersonId, role: Role) -> bool {
    let own = caller.principal.person == person;
    role != Role::Integration
        && match caller.principal.role {
            Role::Administrator => true,
            Role::Manager => own || matches!(role, Role::Technician | Role::Dispatcher),
            _ => own,
        }
}

impl UseCase for OfferPairing {
    const NAME: &'static str = "offer_pairing";
    type Outcome = TokenId;

    async fn carry_out(self, unit: &mut UnitOfWork, caller: &Caller) -> Result<TokenId, Refusal> {
        let missing = Refusal::NotFound { what: "person" };
        let person = person::get(unit, self.person).await?.ok_or(missing)?;
        if !may_pair(caller, person.id, person.role) {
            let detail = format!(
                "the phone of a {} is paired by that person, or by an administrator",
                person.role.word()
            );
            return Err(Refusal::Conflict { detail });
        }
        if !person.active {
            let detail = "this person has left; nobody signs in any more".to_owned();
            return Err(Refusal::Conflict { detail });
        }
        let id = written(TokenId::try_from(unit.next_id()).ok(), "token's id")?;
        let name = Name::new("For pairing a phone");
        let new = NewToken {
            id,
            person: person.id,
            name: name.map_err(|error| Refusal::Internal(error.to_string()))?,
            sha256: self.secret.sha256(),
            scopes: usual_scopes(person.role).to_vec(),
            expires_at: Some(later(unit.now(), PAIRING_LIFE)),
            rests_until: None,
            is_for_pairing: true,
        };
        token::insert(unit, &new).await?;
        unit.record(Change::of("pairing.offered", id));
        Ok(id)
    }
}

/// Spends the offer and begins the phone's session.
struct PairPhone {
    offered: NewSecret,
    secret: NewSecret,
}

impl UseCase for PairPhone {
    const NAME: &'static str = "pair_phone";
    type Outcome = bool;

    async fn carry_out(self, unit: &mut UnitOfWork, caller: &Caller) -> Result<bool, Refusal> {
        // Of two phones that come at once, one finds it spent.
        if !token::spend_pairing(unit, &self.offered.sha256()).await? {
            return Ok(false);
        }
        let session = SessionOf { name: "A phone", life: PHONE_LIFE, rest: PHONE_LIFE };
        let id = session.begin(unit, caller, &self.secret).await?;
        unit.record(Change::of("phone.paired", id));
        Ok(true)
    }
}

/// Whose phone an offer is for, if it still stands.
pub async fn offered_to(application: &Application, secret: &str) -> Result<Option<Principal>, Refusal> {
    // A guess costs the database nothing.
    if !is_sealed(application, secret.trim()).await? {
        return Ok(None);
    }
    let sha256 = NewSecret(secret.trim().to_owned()).sha256();
    let found = token::pairing(application.database(), &sha256, application.now()).await?;
    Ok(found.map(|holder| Principal {
        person: holder.person,
        token: None,
        name: holder.name,
        role: holder.role,
        scopes: holder.scopes,
    }))
}

/// Pairs the phone that sends what was offered; the secret of its session goes into its browser's cookie. None if the offer
/// is spent, too old or none.
pub async fn pair_phone(
    application: &Application,
    offered: &str,
    request_id: String,
) -> Result<Option<NewSecret>, Refusal> {
    let Some(principal) = offered_to(application, offered).await? else { return Ok(None) };
    let secret = seal(application, &NewSecret::draw().0).await?;
    let caller = Caller { principal, request_id };
    let offered = NewSecret(offered.trim().to_owned());
    let paired = application.perform(&caller, PairPhone { offered, secret: secret.clone() }).await?;
    Ok(paired.then_some(secret))
}
