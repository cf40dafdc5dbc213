use chrono::TimeDelta;
use domain::id::TokenId;
use domain::text::Name;
use domain::time::Timestamp;
use store::token::{self, NewToken};
use store::{Change, UnitOfWork};

use crate::token::{NewSecret, seal};
use crate::use_case::written;
use crate::{Application, Caller, Principal, Refusal, UseCase};

/// A session that rests so long ends,
pub(crate) const REST: TimeDelta = TimeDelta::hours(12);
/// and one so old, however busy.
pub(crate) const LIFE: TimeDelta = TimeDelta::days(7);

/// Begins a session of the caller.
pub struct BeginSession {
    pub secret: NewSecret,
}

impl UseCase for BeginSession {
    const NAME: &'static str = "begin_session";
    type Outcome = TokenId;

    async fn carry_out(self, unit: &mut UnitOfWork, caller: &Caller) -> Result<TokenId, Refusal> {
        let session = SessionOf { name: "A session of the pages", life: LIFE, rest: REST };
        let id = session.begin(unit, caller, &self.secret).await?;
        unit.record(Change::of("session.begun", id));
        Ok(id)
    }
}

/// How a session is called, and how long it lasts.
pub(super) struct SessionOf {
    pub name: &'static str,
    pub life: TimeDelta,
    pub rest: TimeDelta,
}

impl SessionOf {
    /// Begins it for the caller.
    pub async fn begin(
        &self,
        unit: &mut UnitOfWork,
        caller: &Caller,
        secret: &NewSecret,
    ) -> Result<TokenId, Refusal> {
        let id = written(TokenId::try_from(unit.next_id()).ok(), "session's id")?;
        let name = Name::new(self.name);
        let new = NewToken {
            id,
            person: caller.principal.person,
            name: name.map_err(|error| Refusal::Internal(error.to_string()))?,
            sha256: secret.sha256(),
            scopes: caller.principal.scopes.clone(),
            expires_at: Some(later(unit.now(), self.life)),
            rests_until: Some(later(unit.now(), self.rest)),
            is_for_pairing: false,
        };
        token::insert(unit, &new).await?;
        Ok(id)
    }
}

/// Ends the caller's own session.
pub struct EndSession;

impl UseCase for EndSession {
    const NAME: &'static str = "end_session";
    type Outcome = ();

    async fn carry_out(self, unit: &mut UnitOfWork, caller: &Caller) -> Result<(), Refusal> {
        if let Some(id) = caller.principal.token {
            token::revoke(unit, id).await?;
            unit.record(Change::of("session.ended", id));
        }
        Ok(())
    }
}

/// Begins a session of somebody who was recognised; its secret goes into his browser's cookie.
pub async fn begin_session(
    application: &Application,
    principal: Principal,
    request_id: String,
) -> Result<NewSecret, Refusal> {
    let secret = seal(application, &NewSecret::draw().0).await?;
    let caller = Caller { principal, request_id };
    application.perform(&caller, BeginSession { secret: secret.clone() }).await?;
    Ok(secret)
}

pub(crate) fn later(now: Timestamp, by: TimeDelta) -> Timestamp {
    Timestamp::new(now.instant() + by).unwrap_or(now)
}
