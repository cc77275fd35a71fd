//! TLS: the server's certificate and name verified, this computer's own shown where the server wants
//! one, a password by SCRAM from the password file. All certificates are made here.

use rcgen::{
    BasicConstraints, CertificateParams, CertifiedIssuer, DnType, ExtendedKeyUsagePurpose, IsCa,
    KeyPair, date_time_ymd,
};
use skimgauge_firm::address::{Around, Tls};
use skimgauge_firm::{Address, Base, FirmError};
use skimgauge_firm_tests::server::{Server, Setup, address, give};
use std::path::{Path, PathBuf};

type Issuer = CertifiedIssuer<'static, KeyPair>;

/// A certificate's file and its key's.
type Pair = (PathBuf, PathBuf);

fn issuer(name: &str) -> Issuer {
    let mut params = CertificateParams::new(Vec::new()).unwrap();
    params.distinguished_name.push(DnType::CommonName, name);
    params.is_ca = IsCa::Ca(BasicConstraints::Unconstrained);
    CertifiedIssuer::self_signed(params, KeyPair::generate().unwrap()).unwrap()
}

/// What a certificate says: for which servers, for which user; whether its time is over.
#[derive(Default)]
struct Says<'a> {
    servers: &'a [&'a str],
    user: &'a str,
    over: bool,
}

/// Certificates and keys in a folder.
struct Papers {
    folder: tempfile::TempDir,
    firm: Issuer,
    other: Issuer,
}

impl Papers {
    fn new() -> Self {
        let folder = tempfile::tempdir().unwrap();
        let open = std::os::unix::fs::PermissionsExt::from_mode(0o755);
        std::fs::set_permissions(folder.path(), open).unwrap();
        let papers = Self { folder, firm: issuer("the firm's own"), other: issuer("another") };
        std::fs::write(papers.at("firm.pem"), papers.firm.pem()).unwrap();
        std::fs::write(papers.at("other.pem"), papers.other.pem()).unwrap();
        papers
    }

    fn at(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    /// A certificate that an issuer stands for.
    fn made(&self, name: &str, issuer: &Issuer, says: &Says<'_>) -> Pair {
        let key = KeyPair::generate().unwrap();
        let servers: Vec<String> = says.servers.iter().map(|name| (*name).to_owned()).collect();
        let mut params = CertificateParams::new(servers).unwrap();
        params.distinguished_name.push(DnType::CommonName, says.user);
        params.extended_key_usages = vec![if says.user.is_empty() {
            ExtendedKeyUsagePurpose::ServerAuth
        } else {
            ExtendedKeyUsagePurpose::ClientAuth
        }];
        if says.over {
            params.not_before = date_time_ymd(2019, 1, 1);
            params.not_after = date_time_ymd(2020, 1, 1);
        }
        let signed = params.signed_by(&key, issuer).unwrap();
        self.kept(name, &signed.pem(), &key.serialize_pem())
    }

    fn kept(&self, name: &str, certificate: &str, key: &str) -> Pair {
        use std::os::unix::fs::PermissionsExt;
        let pair = (self.at(&format!("{name}.crt")), self.at(&format!("{name}.key")));
        std::fs::write(&pair.0, certificate).unwrap();
        std::fs::write(&pair.1, key).unwrap();
        std::fs::set_permissions(&pair.1, std::fs::Permissions::from_mode(0o600)).unwrap();
        pair
    }

    /// A server that shows this certificate. `north` comes in by password over TLS alone, `south` by
    /// a certificate that the firm stands for.
    fn server(&self, shown: &Pair) -> Server {
        // Its files have to be its own.
        let mine = self.at(&format!("{} of the server", shown.0.display()).replace('/', " "));
        std::fs::create_dir(&mine).unwrap();
        let own = |from: &Path, name: &str| {
            std::fs::copy(from, mine.join(name)).unwrap();
            format!("'{}'", mine.join(name).display())
        };
        let setup = Setup {
            lets_in: vec![
                "hostssl all north 127.0.0.1/32 scram-sha-256".to_owned(),
                "hostssl all south 127.0.0.1/32 cert".to_owned(),
            ],
            ..Setup::default()
        };
        let setup = setup
            .set("ssl = on")
            .set(&format!("ssl_cert_file = {}", own(&shown.0, "server.crt")))
            .set(&format!("ssl_key_file = {}", own(&shown.1, "server.key")))
            .set(&format!("ssl_ca_file = {}", own(&self.at("firm.pem"), "trusted.pem")));
        give(&mine);
        let server = Server::start(&setup);
        server.prepared("jobs");
        server.user("north", "skimgauge_crew");
        server.user("south", "skimgauge_crew");
        server
    }

    /// The address of a server by this name; whom to trust, by the file's name.
    fn url(&self, user: &str, host: &str, port: u16, roots: &str, own: Option<&Pair>) -> String {
        let roots = self.at(roots).display().to_string();
        let own = own.map_or_else(String::new, |(certificate, key)| {
            format!("&sslcert={}&sslkey={}", certificate.display(), key.display())
        });
        format!(
            "postgresql://{user}@{host}:{port}/jobs?sslmode=verify-full&sslrootcert={roots}{own}"
        )
    }
}

fn open_to_others(path: &Path) -> bool {
    use std::os::unix::fs::PermissionsExt;
    std::fs::metadata(path).is_ok_and(|about| about.permissions().mode() & 0o077 != 0)
}

/// An address, with a line in the password file.
fn with_password(url: &str, line: &str) -> Result<Address, FirmError> {
    let file = |path: &Path| (path == Path::new("/h/.pgpass")).then(|| line.to_owned());
    let around = Around {
        variable: &|_| None,
        file: &file,
        open_to_others: &open_to_others,
        home: Some("/h".into()),
        settings: None,
        account: None,
    };
    Address::find_in(Some(url), &around)
}

const LINE: &str = "*:*:jobs:north:secret-north";

fn opened(url: &str, line: &str) -> Result<Base, FirmError> {
    Base::open(&with_password(url, line)?)
}

#[track_caller]
fn refused(url: &str, words: &[&str]) {
    let error = opened(url, LINE).unwrap_err();
    let said = error.to_string();
    assert!(matches!(error, FirmError::Tls(_)) && !error.passes(), "{error:?}");
    assert!(words.iter().all(|word| said.contains(word)), "{said}");
}

#[test]
fn only_the_server_of_that_name_is_spoken_to() {
    let papers = Papers::new();
    let localhost = Says { servers: &["localhost"], ..Says::default() };
    let shown = papers.made("good", &papers.firm, &localhost);
    let server = papers.server(&shown);
    let url = |host: &str, roots: &str| papers.url("north", host, server.port(), roots, None);
    opened(&url("localhost", "firm.pem"), LINE).unwrap();
    refused(&url("localhost", "other.pem"), &["nobody who is trusted here", "sslrootcert"]);
    refused(&url("127.0.0.1", "firm.pem"), &["for another name", "localhost"]);
    refused(&url("localhost", "good.key"), &["no certificate in"]);
    refused(&url("localhost", "none.pem"), &["none.pem", "cannot be read"]);
    for line in ["*:*:jobs:north:wrong", "*:*:jobs:south:secret-north"] {
        let error = opened(&url("localhost", "firm.pem"), line).unwrap_err();
        assert!(matches!(error, FirmError::Stranger { .. }), "{error:?}");
        assert!(!error.to_string().contains("secret"));
    }
    // A server that does not speak it is not spoken to in the open.
    let plain = Server::start(&Setup::default());
    let url = papers.url("postgres", "localhost", plain.port(), "firm.pem", None);
    let error = Base::open(&address(&url)).unwrap_err();
    assert!(error.to_string().contains("TLS"), "{error}");
    assert!(matches!(error, FirmError::Tls(_)), "{error:?}");
}

#[test]
fn a_certificate_that_is_over_or_no_servers_is_refused_in_words() {
    let papers = Papers::new();
    let localhost = Says { servers: &["localhost"], ..Says::default() };
    let over = papers.made("over", &papers.firm, &Says { over: true, ..localhost });
    let own = issuer("a server that stands for itself");
    let own = papers.kept("itself", &own.pem(), &own.key().serialize_pem());
    let nameless = papers.made("nameless", &papers.firm, &Says::default());
    for (shown, roots, words) in [
        (over, "firm.pem", ["has expired", "clock"]),
        (own, "itself.crt", ["an authority's own, not a server's", "subjectAltName"]),
        (nameless, "firm.pem", ["for another name", "no name at all"]),
    ] {
        let server = papers.server(&shown);
        refused(&papers.url("north", "localhost", server.port(), roots, None), &words);
    }
}

/// Nothing said of TLS: to another computer it is TLS, and the server's name is looked at.
#[test]
fn to_another_computer_it_is_verified_without_being_asked() {
    let papers = Papers::new();
    let says = Says { servers: &["db.example.com"], ..Says::default() };
    let server = papers.server(&papers.made("away", &papers.firm, &says));
    let here = |url: &str| {
        let mut address = with_password(url, LINE).unwrap();
        assert!(matches!(address.tls, Tls::Verified { .. }), "{address}");
        // In the place of a name server.
        address.hosts[0].number = Some([127, 0, 0, 1].into());
        address.hosts[0].port = server.port();
        Base::open(&address)
    };
    let roots = papers.at("firm.pem").display().to_string();
    here(&format!("postgresql://north@db.example.com/jobs?sslrootcert={roots}")).unwrap();
    for url in [
        "postgresql://north@db.example.com/jobs?sslrootcert=system".to_owned(),
        format!("postgresql://north@other.example.com/jobs?sslrootcert={roots}"),
        format!("postgresql://north@other.example.com/jobs?sslmode=prefer&sslrootcert={roots}"),
    ] {
        let error = here(&url).unwrap_err();
        assert!(matches!(error, FirmError::Tls(_)), "{url}: {error:?}");
    }
}

/// A crew that comes in by a certificate of its own.
#[test]
fn a_computer_shows_its_own_certificate_where_the_server_wants_one() {
    let papers = Papers::new();
    let localhost = Says { servers: &["localhost"], ..Says::default() };
    let server = papers.server(&papers.made("server", &papers.firm, &localhost));
    let url = |own: Option<&Pair>| papers.url("south", "localhost", server.port(), "firm.pem", own);
    let south = Says { user: "south", ..Says::default() };
    let good = papers.made("south", &papers.firm, &south);
    let base = opened(&url(Some(&good)), LINE).unwrap();
    drop(base);
    let strange = papers.made("strange", &papers.other, &south);
    refused(&url(Some(&strange)), &["does not take", "nobody whom it trusts", "sslcert"]);
    let over = papers.made("southover", &papers.firm, &Says { over: true, ..south });
    refused(&url(Some(&over)), &["does not take", "expired"]);
    // Its key fits another certificate; others may read it; there is none.
    refused(&url(Some(&(good.0.clone(), over.1.clone()))), &["south.crt", "cannot be used"]);
    let open = papers.made("open", &papers.firm, &south);
    std::fs::set_permissions(&open.1, std::os::unix::fs::PermissionsExt::from_mode(0o644)).unwrap();
    refused(&url(Some(&open)), &["open.key", "chmod 600"]);
    refused(&url(Some(&(good.0.clone(), papers.at("none.key")))), &["none.key", "cannot be read"]);
    let lone = url(None) + &format!("&sslcert={}", good.0.display());
    refused(&lone, &["sslkey"]);
    // None at all, or another user's.
    let another = papers.made("east", &papers.firm, &Says { user: "east", ..Says::default() });
    for own in [None, Some(&another)] {
        let error = opened(&url(own), LINE).unwrap_err();
        assert!(matches!(error, FirmError::Stranger { .. }), "{error:?}");
        assert!(error.to_string().contains("certificate"), "{error}");
    }
}
