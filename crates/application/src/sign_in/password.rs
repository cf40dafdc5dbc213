//! Passwords are kept as argon2id hashes, never as they are.

use std::sync::LazyLock;

use argon2::password_hash::phc::PasswordHash;
use argon2::{Argon2, PasswordHasher, PasswordVerifier};
use tokio::sync::Semaphore;

use crate::Refusal;

/// Hashing takes 19 MiB and a good part of a second's work each: so many at once.
static AT_ONCE: Semaphore = Semaphore::const_new(2);

pub(crate) const SHORTEST_PASSWORD: usize = 10;
const MOST: usize = 200;

/// What is wrong with a password that somebody chose.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum PasswordFault {
    #[error("a password has at least {SHORTEST_PASSWORD} characters; four unrelated words are a good one")]
    TooShort,
    #[error("a password has at most {MOST} characters")]
    TooLong,
    #[error("choose a password that does not hold the name that you sign in by")]
    HoldsTheName,
}

/// Length decides, as NIST SP 800-63B advises [from memory]: no rules of digits and signs.
pub(super) fn check(password: &str, name: &str) -> Result<(), PasswordFault> {
    match password.chars().count() {
        ..SHORTEST_PASSWORD => Err(PasswordFault::TooShort),
        SHORTEST_PASSWORD..=MOST if password.to_lowercase().contains(name) => {
            Err(PasswordFault::HoldsTheName)
        }
        SHORTEST_PASSWORD..=MOST => Ok(()),
        _ => Err(PasswordFault::TooLong),
    }
}

/// The hash of a password, with a salt of its own.
pub(super) async fn hashed(password: String) -> Result<String, Refusal> {
    #[expect(clippy::disallowed_methods, reason = "a salt must not be foreseeable")]
    let salt = uuid::Uuid::new_v4().into_bytes();
    at_leisure(move || Ok(Argon2::default().hash_password_with_salt(password.as_bytes(), &salt)?.to_string()))
        .await
}

/// Whether this is the password of that hash.
pub(super) async fn is_right(password: String, phc: String) -> Result<bool, Refusal> {
    if password.len() > 4 * MOST {
        return Ok(false);
    }
    at_leisure(move || {
        let known = PasswordHash::new(&phc)?;
        Ok(Argon2::default().verify_password(password.as_bytes(), &known).is_ok())
    })
    .await
}

/// Takes as long as [`is_right`], so that nobody learns by the clock which names there are.
pub(super) async fn pretend(password: String) -> Result<(), Refusal> {
    static NOBODYS: LazyLock<Option<String>> = LazyLock::new(|| {
        let hash = Argon2::default().hash_password_with_salt(b"nobody has it", b"and nobody's salt");
        hash.ok().map(|hash| hash.to_string())
    });
    if let Some(phc) = NOBODYS.clone() {
        is_right(password, phc).await?;
    }
    Ok(())
}

async fn at_leisure<T: Send + 'static>(
    work: impl FnOnce() -> Result<T, argon2::password_hash::Error> + Send + 'static,
) -> Result<T, Refusal> {
    let failed = |what: String| Refusal::Internal(format!("a password could not be worked on: {what}"));
    let _place = AT_ONCE.acquire().await.map_err(|error| failed(error.to_string()))?;
    let worked = tokio::task::spawn_blocking(work).await.map_err(|error| failed(error.to_string()))?;
    worked.map_err(|error| failed(error.to_string()))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn length_decides() {
        assert_eq!(check("123456789", "dana"), Err(PasswordFault::TooShort));
        assert_eq!(check("ÄÖÜäöüßÄÖÜ", "dana"), Ok(()));
        assert_eq!(check(&"x".repeat(201), "dana"), Err(PasswordFault::TooLong));
        assert_eq!(check("I am Dana, me", "dana"), Err(PasswordFault::HoldsTheName));
    }

    #[tokio::test]
    async fn a_hash_knows_its_password_and_no_other_and_names_its_algorithm() {
        let phc = hashed("correct horse battery".to_owned()).await.unwrap();
        assert!(phc.starts_with("$argon2id$v=19$m=19456,t=2,p=1$"), "{phc}");
        assert!(is_right("correct horse battery".to_owned(), phc.clone()).await.unwrap());
        assert!(!is_right("correct horse batterx".to_owned(), phc.clone()).await.unwrap());
        assert_ne!(hashed("correct horse battery".to_owned()).await.unwrap(), phc, "each has its own salt");
    }
}
