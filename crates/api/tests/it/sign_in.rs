//! Tokens that another service signs.

use std::sync::atomic::{AtomicBool, AtomicU32, Ordering};
use std::sync::{Arc, Mutex};
use std::time::Duration;

use api::sign_in::Issuer;
use api::{IssuerSettings, Settings};
use aws_lc_rs::rand::SystemRandom;
use aws_lc_rs::signature::{ECDSA_P256_SHA256_FIXED_SIGNING, EcdsaKeyPair, Ed25519KeyPair, KeyPair as _};
use axum::Router;
use axum::http::StatusCode;
use axum::routing::get;
use base64::Engine as _;
use base64::engine::general_purpose::URL_SAFE_NO_PAD;
use domain::role::Role;
use jsonwebtoken::jwk::Jwk;
use jsonwebtoken::{Algorithm, EncodingKey, Header, encode};
use serde_json::{Value, json};
use sqlx::PgPool;

use crate::service::{Answered, Service};

struct Signer {
    kid: &'static str,
    algorithm: Algorithm,
    key: EncodingKey,
    public: Value,
}

impl Signer {
    fn edwards(kid: &'static str) -> Self {
        let document = Ed25519KeyPair::generate_pkcs8(&SystemRandom::new()).unwrap();
        let pair = Ed25519KeyPair::from_pkcs8(document.as_ref()).unwrap();
        let public = URL_SAFE_NO_PAD.encode(pair.public_key().as_ref());
        let public = json!({"kty": "OKP", "crv": "Ed25519", "alg": "EdDSA", "x": public});
        Self { kid, algorithm: Algorithm::EdDSA, key: EncodingKey::from_ed_der(document.as_ref()), public }
    }

    fn elliptic(kid: &'static str) -> Self {
        let document =
            EcdsaKeyPair::generate_pkcs8(&ECDSA_P256_SHA256_FIXED_SIGNING, &SystemRandom::new()).unwrap();
        let key = EncodingKey::from_ec_der(document.as_ref());
        let public = json!(Jwk::from_encoding_key(&key, Algorithm::ES256).unwrap());
        Self { kid, algorithm: Algorithm::ES256, key, public }
    }

    fn public(&self) -> Value {
        let mut jwk = self.public.clone();
        jwk["kid"] = json!(self.kid);
        jwk["use"] = json!("sig");
        jwk
    }

    fn sign(&self, claims: &Value) -> String {
        self.sign_as(claims, |_| ())
    }

    fn sign_as(&self, claims: &Value, change: impl FnOnce(&mut Header)) -> String {
        let mut header = Header::new(self.algorithm);
        header.typ = Some("at+jwt".to_owned());
        header.kid = Some(self.kid.to_owned());
        change(&mut header);
        encode(&header, claims, &self.key).unwrap()
    }
}

/// A server of the issuer's key set, on this machine.
#[derive(Clone, Default)]
struct KeyServer {
    keys: Arc<Mutex<Vec<Value>>>,
    asked: Arc<AtomicU32>,
    is_down: Arc<AtomicBool>,
}

impl KeyServer {
    async fn start(&self) -> String {
        let this = self.clone();
        let answer = move || async move {
            this.asked.fetch_add(1, Ordering::SeqCst);
            let status = if this.is_down.load(Ordering::SeqCst) {
                StatusCode::SERVICE_UNAVAILABLE
            } else {
                StatusCode::OK
            };
            (status, json!({"keys": *this.keys.lock().unwrap()}).to_string())
        };
        let listener = tokio::net::TcpListener::bind("127.0.0.1:0").await.unwrap();
        let address = listener.local_addr().unwrap();
        tokio::spawn(async move { axum::serve(listener, Router::new().route("/keys", get(answer))).await });
        format!("http://{address}/keys")
    }

    fn asked(&self) -> u32 {
        self.asked.load(Ordering::SeqCst)
    }
}

const ISSUER: &str = "https://sign-in.example";
const AUDIENCE: &str = "ovenwright";

async fn service(pool: PgPool, keys_url: &str, cooldown: Duration) -> Service {
    let settings = IssuerSettings {
        issuer: ISSUER.to_owned(),
        audience: AUDIENCE.to_owned(),
        keys_url: keys_url.to_owned(),
        person_claim: "sub".to_owned(),
        keys_cooldown: cooldown,
    };
    Service::with_issuer(pool, &Settings::default(), Issuer::new(settings).unwrap()).await
}

fn claims(service: &Service) -> Value {
    let now = service.application.now().instant().timestamp();
    let person = service.people[&Role::Dispatcher].to_string();
    json!({"iss": ISSUER, "aud": AUDIENCE, "sub": person, "exp": now + 300, "nbf": now - 5, "scope": "openid read"})
}

async fn me(service: &Service, token: &str) -> Answered {
    service.administrator().secret(token).get("/v1/me").await
}

#[sqlx::test(migrations = "../../migrations")]
async fn a_token_of_the_issuer_stands_for_its_person_as_far_as_its_scope(pool: PgPool) {
    let (edwards, elliptic) = (Signer::edwards("one"), Signer::elliptic("two"));
    let server = KeyServer::default();
    server.keys.lock().unwrap().extend([edwards.public(), elliptic.public()]);
    let service = service(pool, &server.start().await, Duration::ZERO).await;
    let claims = claims(&service);
    for signer in [&edwards, &elliptic] {
        let answer = me(&service, &signer.sign(&claims)).await;
        answer.assert(200);
        assert_eq!(answer.body["person_id"], claims["sub"]);
        assert_eq!(answer.body["role"], json!("dispatcher"));
        assert_eq!(answer.body["scopes"], json!(["read"]));
    }
    assert_eq!(server.asked(), 1, "keys are kept");
    let write = json!({"id": service.id(), "name": "Bay"});
    let write = service.administrator().secret(&edwards.sign(&claims)).post("/v1/customers", write).await;
    write.assert_problem(403, "insufficient-scope");
    me(&service, &service.tokens[&Role::Manager]).await.assert(200);
}

#[sqlx::test(migrations = "../../migrations")]
async fn what_rfc_8725_warns_of_is_refused(pool: PgPool) {
    let (signer, other) = (Signer::edwards("one"), Signer::elliptic("two"));
    let stranger = Signer::edwards("one");
    let server = KeyServer::default();
    let shared_secret =
        json!({"kty": "oct", "kid": "shared", "k": "c2VjcmV0LXNlY3JldC1zZWNyZXQ", "alg": "HS256"});
    server.keys.lock().unwrap().extend([signer.public(), other.public(), shared_secret]);
    let service = service(pool, &server.start().await, Duration::from_hours(1)).await;
    let good = claims(&service);
    me(&service, &signer.sign(&good)).await.assert(200);
    let now = service.application.now().instant().timestamp();
    let with = |name: &str, value: Value| {
        let mut claims = good.clone();
        claims[name] = value;
        signer.sign(&claims)
    };
    let without = |name: &str| {
        let mut claims = good.clone();
        claims.as_object_mut().unwrap().remove(name);
        signer.sign(&claims)
    };
    let base64 = |value: Value| URL_SAFE_NO_PAD.encode(value.to_string());
    let secret = EncodingKey::from_base64_secret("c2VjcmV0LXNlY3JldC1zZWNyZXQ=").unwrap();
    let mut shared = Header::new(Algorithm::HS256);
    shared.kid = Some("shared".to_owned());
    let mut confused = Header::new(Algorithm::HS256);
    confused.kid = Some("one".to_owned());
    let refused = [
        ("issuer", with("iss", json!("https://elsewhere.example"))),
        ("no issuer", without("iss")),
        ("audience", with("aud", json!("another service"))),
        ("no audience", without("aud")),
        ("expired", with("exp", json!(now - 60))),
        ("no expiry", without("exp")),
        ("not yet", with("nbf", json!(now + 120))),
        ("nobody", with("sub", json!("01890a5d-ac96-774b-bcce-b302099a8057"))),
        ("no id", with("sub", json!("cook"))),
        ("another's signature", stranger.sign(&good)),
        ("another's key", other.sign_as(&good, |header| header.kid = Some("one".to_owned()))),
        ("unknown key", signer.sign_as(&good, |header| header.kid = Some("three".to_owned()))),
        ("no key", signer.sign_as(&good, |header| header.kid = None)),
        ("another type", signer.sign_as(&good, |header| header.typ = Some("logout+jwt".to_owned()))),
        ("critical", signer.sign_as(&good, |header| header.crit = Some(vec!["kitchen".to_owned()]))),
        (
            "no signature",
            format!("{}.{}.", base64(json!({"alg": "none", "kid": "one"})), base64(good.clone())),
        ),
        ("a shared secret", encode(&shared, &good, &secret).unwrap()),
        ("the algorithm changed", encode(&confused, &good, &secret).unwrap()),
        ("not a token", "a.b.c".to_owned()),
    ];
    for (what, token) in refused {
        let answer = me(&service, &token).await;
        assert_eq!(answer.status, 401, "{what}: {}", answer.body);
        assert!(answer.header("www-authenticate").contains("invalid_token"), "{what}");
    }
    assert_eq!(server.asked(), 1, "unknown keys do not make the service ask before its cooldown has passed");
    let path = format!("/v1/people/{}", service.people[&Role::Dispatcher]);
    let tag = service.administrator().get(&path).await.etag();
    service.administrator().header("if-match", tag).patch(&path, json!({"active": false})).await.assert(200);
    me(&service, &signer.sign(&good)).await.assert_problem(401, "unauthenticated");
}

#[sqlx::test(migrations = "../../migrations")]
async fn new_keys_are_found_and_the_last_good_ones_outlive_the_issuer(pool: PgPool) {
    let (first, second) = (Signer::edwards("one"), Signer::edwards("two"));
    let server = KeyServer::default();
    server.is_down.store(true, Ordering::SeqCst);
    let service = service(pool, &server.start().await, Duration::ZERO).await;
    let claims = claims(&service);
    let unavailable = me(&service, &first.sign(&claims)).await;
    unavailable.assert_problem(503, "overloaded");
    assert_eq!(unavailable.header("retry-after"), "5");
    server.keys.lock().unwrap().push(first.public());
    server.is_down.store(false, Ordering::SeqCst);
    me(&service, &first.sign(&claims)).await.assert(200);
    me(&service, &second.sign(&claims)).await.assert_problem(401, "unauthenticated");
    *server.keys.lock().unwrap() = vec![second.public()];
    me(&service, &second.sign(&claims)).await.assert(200);
    me(&service, &first.sign(&claims)).await.assert_problem(401, "unauthenticated");
    server.is_down.store(true, Ordering::SeqCst);
    me(&service, &second.sign(&claims)).await.assert(200);
    me(&service, &first.sign(&claims)).await.assert_problem(401, "unauthenticated");
}

#[test]
fn keys_come_over_tls_or_from_this_machine() {
    let at = |keys_url: &str| {
        let keys_url = keys_url.to_owned();
        let (issuer, audience) = (ISSUER.to_owned(), AUDIENCE.to_owned());
        let keys_cooldown = Duration::ZERO;
        Issuer::new(IssuerSettings {
            issuer,
            audience,
            keys_url,
            person_claim: "sub".to_owned(),
            keys_cooldown,
        })
    };
    for good in ["https://sign-in.example/keys", "http://127.0.0.1:8000/keys", "http://localhost/keys"] {
        assert!(at(good).is_ok(), "{good}");
    }
    for odd in ["http://sign-in.example/keys", "ftp://127.0.0.1/keys", "keys"] {
        assert!(at(odd).is_err(), "{odd}");
    }
}
