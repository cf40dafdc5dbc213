//! The tag at the end of every token's secret, by which guesses are told from tokens without asking the database.
//!
//! It keeps load off; whether a token is good the database alone says. The key is the database's own
//! ([`store::Database::own_secret`]), so that all copies of the service, and a restored database, know the same tokens.

use hmac::{Hmac, KeyInit, Mac};
use sha2::Sha256;

use super::NewSecret;
use crate::{Application, Refusal};

/// 64 bits as hexadecimal digits: one guess in 2^64 reaches the database.
const TAG_DIGITS: usize = 16;

/// The secret of a new token, from 244 or more bits that were drawn for it.
pub async fn seal(application: &Application, drawn: &str) -> Result<NewSecret, Refusal> {
    let mut tag = [0; TAG_DIGITS / 2];
    tag.copy_from_slice(&mac(application, drawn).await?.finalize().into_bytes()[..TAG_DIGITS / 2]);
    Ok(NewSecret(format!("{drawn}{:016x}", u64::from_be_bytes(tag))))
}

/// Whether this service made the secret. It may be expired or revoked all the same.
pub async fn is_sealed(application: &Application, secret: &str) -> Result<bool, Refusal> {
    let cut = secret.len().saturating_sub(TAG_DIGITS);
    let Some((drawn, digits)) = secret.split_at_checked(cut) else { return Ok(false) };
    let Ok(tag) = u64::from_str_radix(digits, 16) else { return Ok(false) };
    Ok(mac(application, drawn).await?.verify_truncated_left(&tag.to_be_bytes()).is_ok())
}

async fn mac(application: &Application, drawn: &str) -> Result<Hmac<Sha256>, Refusal> {
    let key = application.token_key().await?;
    #[expect(clippy::expect_used, reason = "HMAC takes a key of any length")]
    let mut mac = Hmac::<Sha256>::new_from_slice(key).expect("a key of any length");
    mac.update(drawn.as_bytes());
    Ok(mac)
}
