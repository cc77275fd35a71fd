//! A signature under a closed job: Ed25519 (RFC 8032) in OpenSSH's signature format, with a key that the user holds.
//!
//! What is signed is one line of text that names the hash of the closing event, and with it everything before:
//! `skimgauge-record sha256:<64 digits>` and a line feed, in the namespace `skimgauge-record`. `ssh-keygen -Y verify`
//! checks the same signature without this program.

use ssh_key::{Algorithm, HashAlg, LineEnding, PrivateKey, PublicKey, SshSig};

use crate::RecordError;
use crate::chain::Hash;
use crate::event::Signed;

/// The namespace in which OpenSSH signs and checks.
pub const NAMESPACE: &str = "skimgauge-record";

/// The line that is signed for a job whose closing event has this hash.
pub fn line(closing: Hash) -> String {
    format!("skimgauge-record sha256:{closing}\n")
}

/// A key that can sign.
#[derive(Debug)]
pub struct Signer(PrivateKey);

impl Signer {
    /// From an OpenSSH private key file's text, as `ssh-keygen -t ed25519` writes it.
    ///
    /// # Errors
    /// [`RecordError::Key`] when it is no such key, of another kind, or its passphrase is missing or wrong.
    pub fn from_openssh(text: &str, passphrase: Option<&str>) -> Result<Self, RecordError> {
        let say = |what: &str| RecordError::Key(format!("This key cannot sign: {what}."));
        let key = PrivateKey::from_openssh(text).map_err(|_| {
            say("it is no OpenSSH private key. Choose the file without .pub, or make one with `ssh-keygen -t ed25519`")
        })?;
        let key = match (key.is_encrypted(), passphrase) {
            (false, _) => key,
            (true, None) => return Err(say("it is locked with a passphrase, and none was given")),
            (true, Some(passphrase)) => key.decrypt(passphrase).map_err(|_| say("the passphrase does not open it"))?,
        };
        if key.algorithm() != Algorithm::Ed25519 {
            return Err(say("it is not of the kind ed25519. Make one with `ssh-keygen -t ed25519`"));
        }
        Ok(Self(key))
    }

    /// The public half, as OpenSSH writes it on one line.
    ///
    /// # Errors
    /// [`RecordError::Key`] when it can't be written.
    pub fn public_key(&self) -> Result<String, RecordError> {
        self.0
            .public_key()
            .to_openssh()
            .map_err(|error| RecordError::Key(format!("This key cannot be written: {error}.")))
    }
}

pub(crate) fn signed(signer: &Signer, seq: u32, hash: Hash) -> Result<Signed, RecordError> {
    let failed = |error: ssh_key::Error| RecordError::Key(format!("The signature could not be made: {error}."));
    let signature = signer.0.sign(NAMESPACE, HashAlg::Sha512, line(hash).as_bytes()).map_err(failed)?;
    Ok(Signed {
        seq,
        hash,
        public_key: signer.public_key()?,
        signature: signature.to_pem(LineEnding::LF).map_err(failed)?,
    })
}

/// Checks a signature against the key that stands beside it.
///
/// # Errors
/// What does not fit, as a clause.
pub fn check(signed: &Signed) -> Result<(), String> {
    let key = PublicKey::from_openssh(&signed.public_key)
        .map_err(|error| format!("its public key cannot be read ({error})"))?;
    let signature =
        SshSig::from_pem(&signed.signature).map_err(|error| format!("the signature cannot be read ({error})"))?;
    key.verify(NAMESPACE, line(signed.hash).as_bytes(), &signature)
        .map_err(|_| "the signature does not fit its key and the closing event's hash".to_owned())
}

/// The fingerprint by which people compare keys, `SHA256:...`.
///
/// # Errors
/// [`RecordError::Key`] when the text is no public key.
pub fn fingerprint(public_key: &str) -> Result<String, RecordError> {
    PublicKey::from_openssh(public_key)
        .map(|key| key.fingerprint(HashAlg::Sha256).to_string())
        .map_err(|_| RecordError::Key("This is no OpenSSH public key: give the text of the .pub file.".to_owned()))
}
