//! Tokens that another service signs: JSON Web Tokens, judged as RFC 8725 asks.
//!
//! The key decides the algorithm and the token has no say; issuer, audience and expiry must be there and hold; the
//! person that the token names must be active here. What a token may do is the narrower of its `scope` and the
//! person's role.

mod keys;

use application::{Application, Principal, token};
use chrono::{DateTime, TimeDelta, Utc};
use domain::id::PersonId;
use domain::role::Scope;
use jsonwebtoken::{Validation, decode, decode_header};
use serde_json::{Map, Value};
use uuid::Uuid;

use crate::problem::{Kind, Problem};
pub use keys::NotAnAddress;
use keys::{Keys, NoKeys};

/// Whose tokens are taken.
#[derive(Debug, Clone)]
pub struct IssuerSettings {
    /// The `iss` that a token must have.
    pub issuer: String,
    /// The `aud` that a token must have.
    pub audience: String,
    /// Where the issuer's JSON Web Key Set lies: `https`, or `http` on this machine.
    pub keys_url: String,
    /// The claim that holds the id of the person in this service.
    pub person_claim: String,
    /// The issuer's keys are asked for again at the earliest after this time.
    pub keys_cooldown: std::time::Duration,
}

/// Clocks of two services may differ by so much.
const LEEWAY: TimeDelta = TimeDelta::seconds(30);

/// Judges the tokens of one issuer.
#[derive(Debug)]
pub struct Issuer {
    settings: IssuerSettings,
    keys: Keys,
}

impl Issuer {
    pub fn new(settings: IssuerSettings) -> Result<Self, NotAnAddress> {
        let keys = Keys::at(&settings.keys_url, settings.keys_cooldown)?;
        Ok(Self { settings, keys })
    }

    /// Whom the token names; nobody if it does not hold. Asks no database.
    pub async fn judge(&self, token: &str, now: DateTime<Utc>) -> Result<Option<Named>, Problem> {
        let claims = match self.claims(token).await {
            Ok(claims) => claims,
            Err(Fault::NoKeys(NoKeys)) => {
                let detail = "the issuer's keys cannot be fetched; try again shortly";
                return Err(Problem::unavailable(detail));
            }
            Err(Fault::Refused(reason)) => {
                tracing::debug!(reason, "a signed token was refused");
                return Ok(None);
            }
        };
        if let Some(reason) = untimely(&claims, now) {
            tracing::debug!(reason, "a signed token was refused");
            return Ok(None);
        }
        let named = claims.get(&self.settings.person_claim).and_then(Value::as_str).unwrap_or_default();
        let Some(person) = named.parse::<Uuid>().ok().and_then(|id| PersonId::try_from(id).ok()) else {
            tracing::debug!("a signed token names no person");
            return Ok(None);
        };
        Ok(Some(Named { person, scopes: scopes(&claims) }))
    }

    /// The claims of a token that its issuer signed for this service.
    async fn claims(&self, token: &str) -> Result<Map<String, Value>, Fault> {
        let header = decode_header(token).map_err(|_| Fault::Refused("it has no header"))?;
        // An explicit type keeps other tokens of the same issuer out (RFC 8725, 3.11; RFC 9068, 2.1).
        let kind = header.typ.as_deref().unwrap_or("JWT").to_ascii_lowercase();
        if !["at+jwt", "application/at+jwt", "jwt"].contains(&kind.as_str()) {
            return Err(Fault::Refused("it is of another type"));
        }
        if header.crit.is_some() {
            return Err(Fault::Refused("it has critical extensions, and none is known here"));
        }
        let kid = header.kid.as_deref().ok_or(Fault::Refused("it names no key"))?;
        let key = self.keys.find(kid).await?.ok_or(Fault::Refused("its key is unknown"))?;
        if key.algorithm != header.alg {
            return Err(Fault::Refused("its algorithm is not the key's"));
        }
        let mut validation = Validation::new(key.algorithm);
        validation.set_issuer(&[&self.settings.issuer]);
        validation.set_audience(&[&self.settings.audience]);
        validation.set_required_spec_claims(&["exp", "iss", "aud"]);
        // Times are held against the service's own clock.
        validation.validate_exp = false;
        let decoded = decode::<Map<String, Value>>(token, &key.decoding, &validation);
        decoded
            .map(|token| token.claims)
            .map_err(|_| Fault::Refused("signature, issuer or audience do not hold"))
    }
}

/// Whom a token that holds names, and what it allows.
#[derive(Debug, Clone)]
pub struct Named {
    pub person: PersonId,
    scopes: Vec<Scope>,
}

impl Named {
    /// The person, if he is active here.
    pub async fn principal(self, application: &Application) -> Result<Option<Principal>, Problem> {
        Ok(token::signed_for(application, self.person, self.scopes).await?)
    }
}

enum Fault {
    Refused(&'static str),
    NoKeys(NoKeys),
}

impl From<NoKeys> for Fault {
    fn from(no_keys: NoKeys) -> Self {
        Self::NoKeys(no_keys)
    }
}

/// Whether it has ended, or has not begun.
fn untimely(claims: &Map<String, Value>, now: DateTime<Utc>) -> Option<&'static str> {
    let instant = |claim: &Value| chrono::DateTime::from_timestamp(claim.as_f64()? as i64, 0);
    let Some(ends) = claims.get("exp").and_then(instant) else { return Some("it has no end") };
    if now - LEEWAY >= ends {
        return Some("it has expired");
    }
    match claims.get("nbf") {
        None => None,
        Some(begins) => match instant(begins) {
            Some(begins) if now + LEEWAY >= begins => None,
            _ => Some("it is not valid yet"),
        },
    }
}

/// The words of `scope` (RFC 8693, 4.2) that are scopes here.
fn scopes(claims: &Map<String, Value>) -> Vec<Scope> {
    let words = claims.get("scope").and_then(Value::as_str).unwrap_or_default();
    words
        .split(' ')
        .filter_map(|word| Scope::ALL.iter().copied().find(|scope| scope.word() == word))
        .collect()
}

/// A token of the service's own has no dots.
pub fn is_signed_elsewhere(token: &str) -> bool {
    token.bytes().filter(|byte| *byte == b'.').count() == 2
}

impl Problem {
    /// 503 with Retry-After.
    pub fn unavailable(detail: &str) -> Self {
        use axum::http::{HeaderValue, header};
        Self::new(Kind::OVERLOADED, detail).with_header(header::RETRY_AFTER, HeaderValue::from_static("5"))
    }
}
