use std::time::Duration;

use api::sign_in::Issuer;
use api::{ApiState, IssuerSettings, Settings};

use crate::configuration::{DatabaseArguments, ServeArguments};
use crate::connections::{self, Bounds};
use crate::doors;
use crate::listener::{self, Listening};
use crate::tls::Certificate;
use crate::traces::Traces;
use crate::wiring::{Failure, application, awaited_database};

/// An issuer's keys are asked for again at the earliest after this time.
const KEYS_COOLDOWN: Duration = Duration::from_secs(30);

/// Serves until SIGINT or SIGTERM; then lets requests and writes under way end, for a bounded time.
pub async fn run(database_arguments: &DatabaseArguments, arguments: &ServeArguments) -> Result<(), Failure> {
    let patience = Duration::from_secs(arguments.database_patience);
    // A wrong certificate is told before anything is waited for.
    let certificate = certificate(arguments)?;
    let database = awaited_database(database_arguments, patience).await?;
    let traces = Traces::begin()?;
    let application = application(database.clone());
    let settings = settings(arguments, database.own_secret("cursors").await?);
    let mut state = ApiState::new(application.clone(), &settings);
    if let Some(issuer) = issuer(arguments)? {
        state = state.with_issuer(issuer);
    }
    let (draining, places) = (state.draining.clone(), state.places.clone());
    let router = doors::router(application.clone(), state, &settings);
    let patience = Duration::from_secs(arguments.stop_timeout);
    let learner = tokio::spawn(application.clone().keep_learning());
    let watcher = tokio::spawn(application.clone().keep_watch());
    let tidier = tokio::spawn(application.clone().keep_tidy());
    let teller = tokio::spawn(application.clone().keep_telling());
    let warmer = tokio::spawn(application.clone().keep_warm());
    let bounds = bounds(arguments, database_arguments.database_connections);
    let renewer = certificate.clone().map(|certificate| tokio::spawn(certificate.keep_current()));
    let listening = Listening { address: arguments.listen, certificate, bounds, patience };
    let served = listener::serve(listening, router, &places, || draining.begin()).await;
    renewer.inspect(tokio::task::JoinHandle::abort);
    // Its open page is undone; whoever starts next goes on there.
    learner.abort();
    watcher.abort();
    tidier.abort();
    teller.abort();
    warmer.abort();
    served?;
    if tokio::time::timeout(patience, application.drain()).await.is_err() {
        tracing::warn!("writes were still under way when the time to stop ran out; they are undone");
    }
    database.close().await;
    traces.end(patience).await;
    Ok(())
}

/// As many connections as were asked for, as far as the process's descriptors reach.
fn bounds(arguments: &ServeArguments, database_connections: u32) -> Bounds {
    let allowed = connections::allowed_by_descriptors(database_connections).unwrap_or(usize::MAX);
    if allowed < arguments.connections {
        tracing::warn!(
            allowed,
            asked_for = arguments.connections,
            "open files bound the connections; see `ulimit -n`"
        );
    }
    Bounds {
        in_all: arguments.connections.min(allowed),
        by_address: arguments.connections_per_address,
        proxies: arguments.trusted_proxies.clone(),
    }
}

fn certificate(arguments: &ServeArguments) -> Result<Option<Certificate>, Failure> {
    let (Some(certificate), Some(key)) = (&arguments.tls_certificate, &arguments.tls_key) else {
        return Ok(None);
    };
    let read = Certificate::read(certificate.clone(), key.clone());
    read.map(Some).map_err(|error| Failure::Other(error.to_string()))
}

fn issuer(arguments: &ServeArguments) -> Result<Option<Issuer>, Failure> {
    let (Some(issuer), Some(audience), Some(keys_url)) =
        (&arguments.issuer, &arguments.issuer_audience, &arguments.issuer_keys)
    else {
        return Ok(None);
    };
    let settings = IssuerSettings {
        issuer: issuer.clone(),
        audience: audience.clone(),
        keys_url: keys_url.clone(),
        person_claim: arguments.issuer_person_claim.clone(),
        keys_cooldown: KEYS_COOLDOWN,
    };
    Issuer::new(settings)
        .map(Some)
        .map_err(|error| Failure::Other(format!("OVENWRIGHT_ISSUER_KEYS: {error}")))
}

fn settings(arguments: &ServeArguments, own_secret: Vec<u8>) -> Settings {
    let cursor_secret = arguments.cursor_secret.clone().map_or(own_secret, String::into_bytes);
    Settings {
        cursor_secret,
        request_timeout: Duration::from_secs(arguments.request_timeout),
        concurrency: arguments.concurrency,
        requests_per_minute: arguments.requests_per_minute,
        stranger_requests_per_minute: arguments.stranger_requests_per_minute,
        trusted_proxies: arguments.trusted_proxies.clone(),
        allowed_origins: arguments.allowed_origins.clone(),
        ..Settings::default()
    }
}
