//! The service's own certificate, taken up anew when its files change.

use std::path::{Path, PathBuf};
use std::sync::{Arc, PoisonError, RwLock};
use std::time::{Duration, SystemTime};

use tokio::net::TcpStream;
use tokio_rustls::TlsAcceptor;
use tokio_rustls::rustls::crypto::aws_lc_rs::default_provider;
use tokio_rustls::rustls::pki_types::pem::PemObject;
use tokio_rustls::rustls::pki_types::{CertificateDer, PrivateKeyDer};
use tokio_rustls::rustls::{ServerConfig, crypto::CryptoProvider, version};
use tokio_rustls::server::TlsStream;

/// Files are looked at so often.
const LOOKED_AT_EVERY: Duration = Duration::from_secs(30);

/// Why a certificate is not used.
#[derive(Debug, thiserror::Error)]
pub enum TlsFault {
    #[error("{what} {path} cannot be read: {reason}; give a PEM file")]
    Unreadable { what: &'static str, path: PathBuf, reason: String },
    #[error("{path} holds no certificate; give a PEM file that begins with the service's own")]
    Empty { path: PathBuf },
    #[error("the certificate {certificate} and the key {key} do not go together: {reason}")]
    Unusable { certificate: PathBuf, key: PathBuf, reason: String },
}

/// A certificate and its key, as they last could be used.
#[derive(Clone)]
pub struct Certificate(Arc<Inner>);

struct Inner {
    certificate: PathBuf,
    key: PathBuf,
    config: RwLock<Arc<ServerConfig>>,
}

impl Certificate {
    /// Reads the pair, which must go together.
    pub fn read(certificate: PathBuf, key: PathBuf) -> Result<Self, TlsFault> {
        let config = RwLock::new(config(&certificate, &key)?);
        Ok(Self(Arc::new(Inner { certificate, key, config })))
    }

    /// Agrees on TLS with a client.
    pub async fn accept(&self, stream: TcpStream) -> std::io::Result<TlsStream<TcpStream>> {
        let config = Arc::clone(&self.0.config.read().unwrap_or_else(PoisonError::into_inner));
        TlsAcceptor::from(config).accept(stream).await
    }

    /// Reads the files again and again when they have changed. Never ends.
    pub async fn keep_current(self) {
        let mut read = self.changed_at();
        loop {
            tokio::time::sleep(LOOKED_AT_EVERY).await;
            let now = self.changed_at();
            if now != read {
                self.renew();
                read = now;
            }
        }
    }

    /// Takes up what the files hold now; what cannot be used is told, and the pair before stays.
    fn renew(&self) {
        match config(&self.0.certificate, &self.0.key) {
            Ok(config) => {
                *self.0.config.write().unwrap_or_else(PoisonError::into_inner) = config;
                tracing::info!(certificate = %self.0.certificate.display(), "a new certificate is in use");
            }
            Err(fault) => tracing::error!(%fault, "the certificate before stays in use"),
        }
    }

    fn changed_at(&self) -> [Option<SystemTime>; 2] {
        let changed = |path: &Path| path.metadata().and_then(|file| file.modified()).ok();
        [changed(&self.0.certificate), changed(&self.0.key)]
    }
}

fn config(certificate: &Path, key: &Path) -> Result<Arc<ServerConfig>, TlsFault> {
    let unreadable = |what, path: &Path| {
        let path = path.to_owned();
        move |reason: &dyn std::fmt::Display| TlsFault::Unreadable { what, path, reason: reason.to_string() }
    };
    let chain = CertificateDer::pem_file_iter(certificate)
        .and_then(Iterator::collect::<Result<Vec<_>, _>>)
        .map_err(|reason| unreadable("the certificate", certificate)(&reason))?;
    if chain.is_empty() {
        return Err(TlsFault::Empty { path: certificate.to_owned() });
    }
    let private = PrivateKeyDer::from_pem_file(key).map_err(|reason| unreadable("the key", key)(&reason))?;
    let unusable = |reason: tokio_rustls::rustls::Error| TlsFault::Unusable {
        certificate: certificate.to_owned(),
        key: key.to_owned(),
        reason: reason.to_string(),
    };
    let provider: Arc<CryptoProvider> = Arc::new(default_provider());
    let mut config = ServerConfig::builder_with_provider(provider)
        .with_protocol_versions(&[&version::TLS13, &version::TLS12])
        .map_err(unusable)?
        .with_no_client_auth()
        .with_single_cert(chain, private)
        .map_err(unusable)?;
    config.alpn_protocols = vec![b"h2".to_vec(), b"http/1.1".to_vec()];
    Ok(Arc::new(config))
}

#[cfg(test)]
pub(crate) mod tests {
    use tokio::net::TcpListener;
    use tokio_rustls::TlsConnector;
    use tokio_rustls::rustls::pki_types::ServerName;
    use tokio_rustls::rustls::{ClientConfig, RootCertStore};

    use super::*;

    /// A certificate for `localhost` and its key, in a folder of their own.
    pub(crate) struct Pair {
        folder: PathBuf,
        der: CertificateDer<'static>,
    }

    impl Pair {
        pub(crate) fn new(name: &str) -> Self {
            let folder = std::env::temp_dir().join(format!("ovenwright-tls-{}-{name}", std::process::id()));
            std::fs::create_dir_all(&folder).unwrap();
            let mut pair = Self { folder, der: CertificateDer::from(Vec::new()) };
            pair.make_anew();
            pair
        }

        fn make_anew(&mut self) {
            let made = rcgen::generate_simple_self_signed(vec!["localhost".to_owned()]).unwrap();
            std::fs::write(self.path("certificate.pem"), made.cert.pem()).unwrap();
            std::fs::write(self.path("key.pem"), made.signing_key.serialize_pem()).unwrap();
            self.der = made.cert.der().clone();
        }

        fn path(&self, name: &str) -> PathBuf {
            self.folder.join(name)
        }

        pub(crate) fn certificate(&self) -> Certificate {
            Certificate::read(self.path("certificate.pem"), self.path("key.pem")).unwrap()
        }
    }

    impl Drop for Pair {
        fn drop(&mut self) {
            let _ = std::fs::remove_dir_all(&self.folder);
        }
    }

    /// The protocol that a client agrees on who trusts this certificate alone; None if it refuses.
    async fn agreed(certificate: &Certificate, trusted: &CertificateDer<'static>) -> Option<Vec<u8>> {
        let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
        let address = listener.local_addr().unwrap();
        let mut roots = RootCertStore::empty();
        roots.add(trusted.clone()).unwrap();
        let mut client = ClientConfig::builder_with_provider(Arc::new(default_provider()))
            .with_safe_default_protocol_versions()
            .unwrap()
            .with_root_certificates(roots)
            .with_no_client_auth();
        client.alpn_protocols = vec![b"h2".to_vec()];
        let stream = TcpStream::connect(address).await.unwrap();
        let (accepted, _) = listener.accept().await.unwrap();
        let name = ServerName::try_from("localhost").unwrap();
        let (_, connected) = tokio::join!(
            certificate.accept(accepted),
            TlsConnector::from(Arc::new(client)).connect(name, stream)
        );
        Some(connected.ok()?.get_ref().1.alpn_protocol().unwrap_or_default().to_vec())
    }

    #[tokio::test]
    async fn a_new_certificate_is_taken_up_and_a_broken_one_never() {
        let mut pair = Pair::new("renewed");
        let certificate = pair.certificate();
        let first = pair.der.clone();
        assert_eq!(agreed(&certificate, &first).await.as_deref(), Some(&b"h2"[..]));
        let before = certificate.changed_at();
        pair.make_anew();
        assert_ne!(certificate.changed_at(), before);
        certificate.renew();
        assert_eq!(agreed(&certificate, &first).await, None, "the old one is gone");
        assert!(agreed(&certificate, &pair.der).await.is_some());
        std::fs::write(pair.path("certificate.pem"), "half a file").unwrap();
        certificate.renew();
        assert!(agreed(&certificate, &pair.der).await.is_some(), "the one before stays");
    }

    #[test]
    fn what_is_wrong_with_a_pair_is_said_with_its_file() {
        let (pair, other) = (Pair::new("one"), Pair::new("other"));
        let fault = |certificate: PathBuf, key: PathBuf| match Certificate::read(certificate, key) {
            Ok(_) => panic!("such a pair is not taken"),
            Err(fault) => fault.to_string(),
        };
        let (certificate, key) = (pair.path("certificate.pem"), pair.path("key.pem"));
        let missing = fault(pair.path("missing.pem"), key.clone());
        assert!(missing.contains("missing.pem cannot be read"), "{missing}");
        let swapped = fault(key.clone(), key);
        assert!(swapped.contains("holds no certificate"), "{swapped}");
        let strange = fault(certificate.clone(), other.path("key.pem"));
        assert!(strange.contains("do not go together"), "{strange}");
        let no_key = fault(certificate.clone(), certificate);
        assert!(no_key.contains("the key") && no_key.contains("cannot be read"), "{no_key}");
    }
}
