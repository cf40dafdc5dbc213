use domain::id::TokenId;
use store::{Change, UnitOfWork, token};

use crate::{Caller, Refusal, UseCase};

/// Ends a token at once.
pub struct RevokeToken(pub TokenId);

impl UseCase for RevokeToken {
    const NAME: &'static str = "revoke_token";
    type Outcome = ();

    async fn carry_out(self, unit: &mut UnitOfWork, _: &Caller) -> Result<(), Refusal> {
        if !token::revoke(unit, self.0).await? {
            return Err(Refusal::NotFound { what: "token" });
        }
        unit.record(Change::of("token.revoked", self.0));
        Ok(())
    }
}
