//! TLS: the server's certificate and name verified, against what this computer trusts or the file
//! that was named.

use std::path::Path;
use std::sync::Arc;

use rustls::pki_types::pem::PemObject;
use rustls::pki_types::{CertificateDer, PrivateKeyDer};
use rustls::{AlertDescription, ClientConfig, RootCertStore};
use tokio_postgres_rustls::MakeRustlsConnect;

use crate::FirmError;

/// What makes a connection into one by TLS.
///
/// # Errors
/// [`FirmError::Tls`]: nothing is trusted here, or a file cannot be read.
pub(crate) fn connector(
    roots: Option<&Path>,
    own: Option<(&Path, &Path)>,
) -> Result<MakeRustlsConnect, FirmError> {
    let provider = Arc::new(rustls::crypto::ring::default_provider());
    let trusted = match roots {
        Some(path) => trusted_in(path)?,
        None => trusted_here()?,
    };
    let begun = ClientConfig::builder_with_provider(provider)
        .with_safe_default_protocol_versions()
        .map_err(|error| FirmError::Tls(format!("TLS cannot be used ({error}).")))?
        .with_root_certificates(trusted);
    let config = match own {
        None => begun.with_no_client_auth(),
        Some((certificate, key)) => {
            let chain = certificates(certificate)?;
            let secret = PrivateKeyDer::from_pem_file(key).map_err(|error| unread(key, &error))?;
            begun.with_client_auth_cert(chain, secret).map_err(|error| {
                let file = certificate.display();
                FirmError::Tls(format!("The certificate {file} cannot be used ({error})."))
            })?
        }
    };
    Ok(MakeRustlsConnect::new(config))
}

fn unread(path: &Path, error: &dyn std::fmt::Display) -> FirmError {
    FirmError::Tls(format!("{} cannot be read as a certificate or key ({error}).", path.display()))
}

fn certificates(path: &Path) -> Result<Vec<CertificateDer<'static>>, FirmError> {
    CertificateDer::pem_file_iter(path)
        .and_then(Iterator::collect)
        .map_err(|error| unread(path, &error))
}

fn trusted_in(path: &Path) -> Result<RootCertStore, FirmError> {
    let mut store = RootCertStore::empty();
    for certificate in certificates(path)? {
        store.add(certificate).map_err(|error| unread(path, &error))?;
    }
    if store.is_empty() {
        let file = path.display();
        return Err(FirmError::Tls(format!(
            "There is no certificate in {file}: nobody would be trusted."
        )));
    }
    Ok(store)
}

fn trusted_here() -> Result<RootCertStore, FirmError> {
    let mut store = RootCertStore::empty();
    let found = rustls_native_certs::load_native_certs();
    store.add_parsable_certificates(found.certs);
    if store.is_empty() {
        return Err(FirmError::Tls(
            "This computer trusts no certificates, so that the server of the firm's jobs cannot be told from another. Name the \
             firm's own with sslrootcert=FILE in the address."
                .to_owned(),
        ));
    }
    Ok(store)
}

/// Why two did not come together by TLS.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) enum Apart {
    /// Who answers is not shown to be the server of that name: why, and what to do.
    Server(String, &'static str),
    /// The server does not take the certificate that this computer shows, or wants one.
    Own(&'static str),
    /// Anything else of TLS.
    Other(String),
}

/// What TLS itself said of why a connection was not made; `None` where it was not for that.
pub(crate) fn apart(error: &postgres::Error) -> Option<Apart> {
    let mut next: Option<&(dyn std::error::Error + 'static)> = Some(error);
    while let Some(error) = next {
        let within = error.downcast_ref::<std::io::Error>().and_then(std::io::Error::get_ref);
        let tls = within.and_then(|inner| inner.downcast_ref()).or_else(|| error.downcast_ref());
        if let Some(tls) = tls {
            return Some(meant(tls));
        }
        next = error.source();
    }
    None
}

fn meant(error: &rustls::Error) -> Apart {
    use rustls::CertificateError as Wrong;
    let trusted = "A server's own certificate is trusted with sslrootcert=FILE in the address.";
    let named = "Give the name that the certificate is for as the host, a number beside it as hostaddr; a server's certificate has its \
                 name as subjectAltName.";
    let renewed = "Look whether this computer's clock is right; else whoever looks after the server renews it.";
    match error {
        rustls::Error::InvalidCertificate(wrong) => match wrong {
            Wrong::Expired | Wrong::ExpiredContext { .. } => {
                Apart::Server("its certificate has expired".to_owned(), renewed)
            }
            Wrong::NotValidYet | Wrong::NotValidYetContext { .. } => {
                Apart::Server("its certificate is not valid yet".to_owned(), renewed)
            }
            Wrong::UnknownIssuer | Wrong::BadSignature => Apart::Server(
                "nobody who is trusted here stands for its certificate".to_owned(),
                trusted,
            ),
            Wrong::NotValidForName => {
                Apart::Server("its certificate is for another name".to_owned(), named)
            }
            Wrong::NotValidForNameContext { presented, .. } => {
                let names = if presented.is_empty() {
                    "no name at all".to_owned()
                } else {
                    presented.join(", ")
                };
                Apart::Server(format!("its certificate is for another name: {names}"), named)
            }
            other if other.to_string().contains("CaUsedAsEndEntity") => Apart::Server(
                "its certificate is an authority's own, not a server's".to_owned(),
                "Whoever looks after the server has the authority make one for it, with the server's name as subjectAltName.",
            ),
            other => Apart::Server(other.to_string(), trusted),
        },
        rustls::Error::AlertReceived(alert) => match alert {
            AlertDescription::CertificateRequired | AlertDescription::NoCertificate => {
                Apart::Own("it wants one")
            }
            AlertDescription::UnknownCA => Apart::Own("nobody whom it trusts stands for it"),
            AlertDescription::CertificateExpired => Apart::Own("it has expired"),
            AlertDescription::CertificateRevoked => Apart::Own("it was withdrawn"),
            AlertDescription::BadCertificate
            | AlertDescription::UnsupportedCertificate
            | AlertDescription::CertificateUnknown
            | AlertDescription::AccessDenied
            | AlertDescription::DecryptError => Apart::Own("it is not one that it takes"),
            other => Apart::Other(format!("the server ended it: {other:?}")),
        },
        other => Apart::Other(other.to_string()),
    }
}
