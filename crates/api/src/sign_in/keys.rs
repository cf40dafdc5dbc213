//! The issuer's keys: fetched when they are first needed, again for a key that is unknown or when they are old, but
//! not more often than the cooldown allows, so that forged tokens cause no traffic. The last good set is kept.

use std::collections::HashMap;
use std::net::IpAddr;
use std::sync::{Arc, PoisonError, RwLock};
use std::time::{Duration, Instant};

use jsonwebtoken::jwk::{AlgorithmParameters, EllipticCurve, Jwk, JwkSet, PublicKeyUse};
use jsonwebtoken::{Algorithm, DecodingKey};
use reqwest::Url;
use tokio::sync::Mutex;

/// A key and the one algorithm that it is for.
pub struct Key {
    pub algorithm: Algorithm,
    pub decoding: DecodingKey,
}

#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error(
    "{0} is no address for keys; it begins with https://, or with http:// on this machine's loopback address"
)]
pub struct NotAnAddress(String);

/// No set of keys could ever be fetched.
#[derive(Debug)]
pub struct NoKeys;

pub struct Keys {
    url: Url,
    client: reqwest::Client,
    cooldown: Duration,
    kept: RwLock<Option<Kept>>,
    /// When it was last tried, by whoever holds the lock.
    tried: Mutex<Option<Instant>>,
}

struct Kept {
    keys: HashMap<String, Arc<Key>>,
    since: Instant,
}

/// An issuer withdraws a key by leaving it out: a set is not trusted for longer without asking.
const OLD: Duration = Duration::from_hours(1);
const PATIENCE: Duration = Duration::from_secs(5);
const MOST_BYTES: usize = 1 << 20;

impl std::fmt::Debug for Keys {
    fn fmt(&self, formatter: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(formatter, "Keys({})", self.url)
    }
}

impl Keys {
    pub fn at(address: &str, cooldown: Duration) -> Result<Self, NotAnAddress> {
        let fault = || NotAnAddress(address.to_owned());
        let url: Url = address.parse().map_err(|_| fault())?;
        let is_loopback = url
            .host_str()
            .is_some_and(|host| host == "localhost" || host.parse().is_ok_and(|ip: IpAddr| ip.is_loopback()));
        if url.scheme() != "https" && !(url.scheme() == "http" && is_loopback) {
            return Err(fault());
        }
        let client = reqwest::Client::builder()
            .timeout(PATIENCE)
            .redirect(reqwest::redirect::Policy::none())
            .build()
            .map_err(|_| fault())?;
        Ok(Self { url, client, cooldown, kept: RwLock::default(), tried: Mutex::default() })
    }

    /// The key of this name, after asking the issuer if need be.
    pub async fn find(&self, kid: &str) -> Result<Option<Arc<Key>>, NoKeys> {
        let (known, is_old) = self.kept(kid);
        if known.is_some() && !is_old {
            return Ok(known);
        }
        // One asks at a time; those who waited find what the first one brought.
        let mut tried = self.tried.lock().await;
        let (known, is_old) = self.kept(kid);
        let may_ask = tried.is_none_or(|tried| tried.elapsed() >= self.cooldown);
        if may_ask && (known.is_none() || is_old) {
            *tried = Some(Instant::now());
            match self.fetch().await {
                Ok(keys) => {
                    let kept = Kept { keys, since: Instant::now() };
                    *self.kept.write().unwrap_or_else(PoisonError::into_inner) = Some(kept);
                }
                Err(error) => tracing::warn!(error, "the issuer's keys could not be fetched"),
            }
        }
        drop(tried);
        if self.kept.read().unwrap_or_else(PoisonError::into_inner).is_none() {
            return Err(NoKeys);
        }
        Ok(self.kept(kid).0)
    }

    fn kept(&self, kid: &str) -> (Option<Arc<Key>>, bool) {
        let kept = self.kept.read().unwrap_or_else(PoisonError::into_inner);
        kept.as_ref().map_or((None, true), |kept| (kept.keys.get(kid).cloned(), kept.since.elapsed() > OLD))
    }

    async fn fetch(&self) -> Result<HashMap<String, Arc<Key>>, String> {
        let answer =
            self.client.get(self.url.clone()).send().await.and_then(reqwest::Response::error_for_status);
        let mut answer = answer.map_err(|error| error.to_string())?;
        let mut bytes = Vec::new();
        while let Some(chunk) = answer.chunk().await.map_err(|error| error.to_string())? {
            bytes.extend_from_slice(&chunk);
            if bytes.len() > MOST_BYTES {
                return Err("the key set is longer than a mebibyte".to_owned());
            }
        }
        let set: JwkSet = serde_json::from_slice(&bytes).map_err(|error| error.to_string())?;
        Ok(set.keys.iter().filter_map(usable).collect())
    }
}

/// A key that verifies signatures with a public key of a known kind; others in the set are passed over.
fn usable(jwk: &Jwk) -> Option<(String, Arc<Key>)> {
    let kid = jwk.common.key_id.clone()?;
    if jwk.common.public_key_use.as_ref().is_some_and(|used| *used != PublicKeyUse::Signature) {
        return None;
    }
    let fits: &[Algorithm] = match &jwk.algorithm {
        AlgorithmParameters::RSA(_) => &[
            Algorithm::RS256,
            Algorithm::RS384,
            Algorithm::RS512,
            Algorithm::PS256,
            Algorithm::PS384,
            Algorithm::PS512,
        ],
        AlgorithmParameters::EllipticCurve(key) if key.curve == EllipticCurve::P256 => &[Algorithm::ES256],
        AlgorithmParameters::EllipticCurve(key) if key.curve == EllipticCurve::P384 => &[Algorithm::ES384],
        AlgorithmParameters::OctetKeyPair(key) if key.curve == EllipticCurve::Ed25519 => &[Algorithm::EdDSA],
        // A shared secret is no public key.
        _ => return None,
    };
    let algorithm = match jwk.common.key_algorithm {
        Some(named) => Algorithm::try_from(named).ok().filter(|named| fits.contains(named))?,
        None => *fits.first()?,
    };
    let decoding = DecodingKey::from_jwk(jwk).ok()?;
    Some((kid, Arc::new(Key { algorithm, decoding })))
}
