//! What handlers share.

use std::num::NonZeroU32;
use std::sync::Arc;

use application::Application;
use axum::extract::FromRef;
use domain::id::PersonId;
use tokio::sync::watch;

use crate::changes::Followers;
use crate::client_address::Network;
use crate::contract::Contract;
use crate::cursor::CursorKey;
use crate::figures::Figures;
use crate::limits::{RateLimit, StrangerLimit};
use crate::places::Places;
use crate::sign_in::Issuer;

/// What the operator sets.
#[derive(Debug, Clone)]
pub struct Settings {
    /// Signs list cursors; the same in all copies of the service.
    pub cursor_secret: Vec<u8>,
    /// A request's body may have at most this many bytes.
    pub body_limit: usize,
    pub request_timeout: std::time::Duration,
    /// Requests worked on at once; more wait for a place, and are answered 503 if none gets free.
    pub concurrency: usize,
    /// So long a request waits for a place.
    pub longest_wait: std::time::Duration,
    /// Requests a minute of one person or program; one more is answered 429.
    pub requests_per_minute: NonZeroU32,
    /// Requests a minute without a good token from one address; one more is answered 429.
    pub stranger_requests_per_minute: NonZeroU32,
    /// Proxies that may say in `Forwarded` or `X-Forwarded-For` where a request came from.
    pub trusted_proxies: Vec<Network>,
    /// Browser origins that may call the interface.
    pub allowed_origins: Vec<String>,
}

const REQUESTS_PER_MINUTE: NonZeroU32 = NonZeroU32::new(6000).unwrap();
const STRANGER_REQUESTS_PER_MINUTE: NonZeroU32 = NonZeroU32::new(600).unwrap();

impl Default for Settings {
    fn default() -> Self {
        Self {
            cursor_secret: Vec::new(),
            body_limit: 1 << 20,
            request_timeout: std::time::Duration::from_secs(30),
            concurrency: 64,
            longest_wait: std::time::Duration::from_secs(2),
            requests_per_minute: REQUESTS_PER_MINUTE,
            stranger_requests_per_minute: STRANGER_REQUESTS_PER_MINUTE,
            trusted_proxies: Vec::new(),
            allowed_origins: Vec::new(),
        }
    }
}

#[derive(Debug, Clone, FromRef)]
pub struct ApiState {
    pub application: Application,
    pub contract: Arc<Contract>,
    pub cursor_key: CursorKey,
    pub draining: Draining,
    pub rate_limit: RateLimit<PersonId>,
    pub stranger_limit: StrangerLimit,
    pub places: Places,
    pub followers: Followers,
    pub figures: Figures,
    /// Whose signed tokens are taken beside the service's own.
    pub issuer: Option<Arc<Issuer>>,
}

/// Set when the service is told to stop: `/readyz` says no from then on, and streams end.
#[derive(Debug, Clone)]
pub struct Draining(Arc<watch::Sender<bool>>);

impl Default for Draining {
    fn default() -> Self {
        Self(Arc::new(watch::Sender::new(false)))
    }
}

impl Draining {
    pub fn begin(&self) {
        self.0.send_replace(true);
    }

    pub fn is_on(&self) -> bool {
        *self.0.borrow()
    }

    /// Returns when it begins.
    pub async fn begun(&self) {
        // It fails when nobody can begin it any more, and this is somebody.
        let _ = self.0.subscribe().wait_for(|is_on| *is_on).await;
    }
}

impl ApiState {
    /// Takes the tokens of this issuer too.
    #[must_use]
    pub fn with_issuer(mut self, issuer: Issuer) -> Self {
        self.issuer = Some(Arc::new(issuer));
        self
    }

    pub fn new(application: Application, settings: &Settings) -> Self {
        Self {
            application,
            contract: Arc::new(Contract::of_document()),
            cursor_key: CursorKey::new(&settings.cursor_secret),
            draining: Draining::default(),
            rate_limit: RateLimit::new(settings.requests_per_minute, "person"),
            stranger_limit: RateLimit::new(settings.stranger_requests_per_minute, "address"),
            places: Places::new(settings.concurrency, settings.longest_wait),
            followers: Followers::default(),
            figures: Figures::install(),
            issuer: None,
        }
    }
}
