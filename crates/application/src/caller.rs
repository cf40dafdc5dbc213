//! Who asks.

use domain::id::{PersonId, TokenId};
use domain::role::{Role, Scope};
use store::ReadScope;

use crate::refusal::Refusal;
use crate::rights;

/// A person (or a program) and what its token allows.
#[derive(Debug, Clone)]
pub struct Principal {
    pub person: PersonId,
    pub token: Option<TokenId>,
    pub name: String,
    pub role: Role,
    pub scopes: Vec<Scope>,
}

/// A principal and the request that it makes.
#[derive(Debug, Clone)]
pub struct Caller {
    pub principal: Principal,
    pub request_id: String,
}

impl Caller {
    /// What this caller may see.
    pub fn read_scope(&self) -> ReadScope {
        match self.principal.role {
            Role::Technician => ReadScope::orders_of(self.principal.person),
            _ => ReadScope::everything(),
        }
    }

    /// Refuses unless the operation's row in [`rights`] has the caller's role and scope.
    pub fn require(&self, operation: &str) -> Result<(), Refusal> {
        let right = rights::of(operation).ok_or_else(|| {
            Refusal::Internal(format!("operation {operation} has no row in the table of rights"))
        })?;
        if !self.principal.scopes.contains(&right.scope) {
            return Err(Refusal::InsufficientScope { needed: right.scope });
        }
        if !right.roles.contains(&self.principal.role) {
            return Err(Refusal::WrongRole { role: self.principal.role, allowed: right.roles });
        }
        Ok(())
    }
}
