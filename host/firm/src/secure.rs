//! TLS: the server's certificate and name verified, against what this computer trusts or the file
//! that was named.

use std::path::Path;
use std::sync::Arc;

use rustls::pki_types::pem::PemObject;
use rustls::pki_types::{CertificateDer, PrivateKeyDer};
use rustls::{ClientConfig, RootCertStore};
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
