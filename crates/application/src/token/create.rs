use domain::id::{PersonId, TokenId};
use domain::role::Scope;
use domain::text::Name;
use domain::time::Timestamp;
use sha2::{Digest, Sha256};
use store::token::{self, NewToken};
use store::{Change, UnitOfWork, person};

use crate::use_case::written;
use crate::{Caller, Refusal, UseCase};

/// Random bits as text, and their tag ([`super::seal()`]). Drawn by the front, so that the use case stays a function of its
/// input.
#[derive(Clone)]
pub struct NewSecret(pub String);

impl NewSecret {
    /// 244 random bits; a version 4 UUID draws 122 from the operating system.
    #[expect(clippy::disallowed_methods, reason = "a secret must not be foreseeable")]
    pub fn draw() -> Self {
        Self(format!("{}{}", uuid::Uuid::new_v4().simple(), uuid::Uuid::new_v4().simple()))
    }

    pub fn sha256(&self) -> [u8; 32] {
        Sha256::digest(self.0.as_bytes()).into()
    }
}

/// Makes a token for a person; its secret is known to the caller alone.
pub struct CreateToken {
    pub person: PersonId,
    pub name: Name,
    pub scopes: Vec<Scope>,
    pub expires_at: Option<Timestamp>,
    pub secret: NewSecret,
}

impl UseCase for CreateToken {
    const NAME: &'static str = "create_token";
    type Outcome = TokenId;

    async fn carry_out(self, unit: &mut UnitOfWork, _: &Caller) -> Result<TokenId, Refusal> {
        if self.scopes.is_empty() {
            return Err(Refusal::invalid("/scopes", "name at least one scope"));
        }
        if self.expires_at.is_some_and(|expires_at| expires_at <= unit.now()) {
            return Err(Refusal::invalid("/expires_at", "must lie in the future"));
        }
        if person::get(unit, self.person).await?.is_none() {
            return Err(Refusal::NotFound { what: "person" });
        }
        let id = written(TokenId::try_from(unit.next_id()).ok(), "token's id")?;
        let new = NewToken {
            id,
            person: self.person,
            name: self.name,
            sha256: self.secret.sha256(),
            scopes: self.scopes,
            expires_at: self.expires_at,
            rests_until: None,
            is_for_pairing: false,
        };
        token::insert(unit, &new).await?;
        unit.record(Change::of("token.created", id));
        Ok(id)
    }
}
