//! TLS: the server's certificate and name verified, a password by SCRAM from the password file.

use rcgen::{BasicConstraints, CertificateParams, CertifiedIssuer, IsCa, KeyPair};
use skimgauge_firm::address::Around;
use skimgauge_firm::{Address, Base, FirmError};
use skimgauge_firm_tests::server::{Server, Setup, address};
use std::path::Path;

fn issuer(name: &str) -> CertifiedIssuer<'static, KeyPair> {
    let mut params = CertificateParams::new(Vec::new()).unwrap();
    params.distinguished_name.push(rcgen::DnType::CommonName, name);
    params.is_ca = IsCa::Ca(BasicConstraints::Unconstrained);
    CertifiedIssuer::self_signed(params, KeyPair::generate().unwrap()).unwrap()
}

/// A server that shows a certificate for `localhost`, and lets in by password over TLS alone.
fn server(folder: &Path) -> Server {
    let authority = issuer("the firm's own");
    let key = KeyPair::generate().unwrap();
    let params = CertificateParams::new(vec!["localhost".to_owned()]).unwrap();
    let shown = params.signed_by(&key, &authority).unwrap();
    for (name, text) in [
        ("ca.pem", authority.pem()),
        ("other.pem", issuer("another").pem()),
        ("server.pem", shown.pem()),
        ("server.key", key.serialize_pem()),
    ] {
        std::fs::write(folder.join(name), text).unwrap();
    }
    let setup = Setup {
        lets_in: vec!["hostssl all all 127.0.0.1/32 scram-sha-256".to_owned()],
        ..Setup::default()
    };
    // Its files have to be its own.
    let mine = folder.join("of the server");
    std::fs::create_dir(&mine).unwrap();
    for name in ["server.pem", "server.key"] {
        std::fs::copy(folder.join(name), mine.join(name)).unwrap();
    }
    skimgauge_firm_tests::server::give(&mine);
    let at = |name: &str| mine.join(name).display().to_string();
    let setup = setup
        .set("ssl = on")
        .set(&format!("ssl_cert_file = '{}'", at("server.pem")))
        .set(&format!("ssl_key_file = '{}'", at("server.key")));
    let server = Server::start(&setup);
    server.prepared("jobs");
    server.user("north", "skimgauge_crew");
    server
}

fn with_password(url: &str, line: &str) -> Address {
    let file = |path: &Path| (path == Path::new("/h/.pgpass")).then(|| line.to_owned());
    let around = Around {
        variable: &|_| None,
        file: &file,
        open_to_others: &|_| false,
        home: Some("/h".into()),
        settings: None,
        account: None,
    };
    Address::find_in(Some(url), &around).unwrap()
}

#[test]
fn only_the_server_of_that_name_is_spoken_to() {
    let folder = tempfile::tempdir().unwrap();
    let open = std::os::unix::fs::PermissionsExt::from_mode(0o755);
    std::fs::set_permissions(folder.path(), open).unwrap();
    let server = server(folder.path());
    let url = |host: &str, roots: &str| {
        let roots = folder.path().join(roots).display().to_string();
        format!(
            "postgresql://north@{host}:{}/jobs?sslmode=verify-full&sslrootcert={roots}",
            server.port()
        )
    };
    let line = "*:*:jobs:north:secret-north";
    Base::open(&with_password(&url("localhost", "ca.pem"), line)).unwrap();
    for (what, url, line) in [
        ("another's certificate", url("localhost", "other.pem"), line),
        ("another name", url("127.0.0.1", "ca.pem"), line),
        ("no certificate trusted", url("localhost", "server.key"), line),
    ] {
        let error = Base::open(&with_password(&url, line)).unwrap_err();
        assert!(matches!(error, FirmError::Tls(_)), "{what}: {error:?}");
    }
    for line in ["*:*:jobs:north:wrong", "*:*:jobs:south:secret-north"] {
        let error = Base::open(&with_password(&url("localhost", "ca.pem"), line)).unwrap_err();
        assert!(matches!(error, FirmError::Stranger { .. }), "{error:?}");
        assert!(!error.to_string().contains("secret"));
    }
    // A server that does not speak it is not spoken to in the open.
    let plain = Server::start(&Setup::default());
    let roots = folder.path().join("ca.pem").display().to_string();
    let url = format!(
        "postgresql://postgres@localhost:{}/postgres?sslmode=require&sslrootcert={roots}",
        plain.port()
    );
    let error = Base::open(&address(&url)).unwrap_err();
    assert!(!matches!(error, FirmError::NotPrepared { .. }), "{error:?}");
}
