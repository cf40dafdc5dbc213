//! How people come in by the pages: by a name and a password, into a session that ends when it rests.

mod pairing;
mod password;
mod recognise;
mod session;
mod set;

use domain::role::{Role, Scope};

pub use pairing::{OfferPairing, PAIRING_LIFE, PHONE_LIFE, may_pair, offered_to, pair_phone};
pub use password::PasswordFault;
pub(crate) use password::SHORTEST_PASSWORD;
pub use recognise::{Guest, by_password, by_token, guests, welcome_guest};
pub use session::{BeginSession, EndSession, begin_session};
pub(crate) use session::{LIFE, REST, later};
pub use set::{OpenSignIn, OwnSignIn, SetSignIn};

/// What people may do with a session: all that their role may.
pub fn usual_scopes(role: Role) -> &'static [Scope] {
    match role {
        Role::Administrator => Scope::ALL,
        _ => &[Scope::Read, Scope::Write],
    }
}
