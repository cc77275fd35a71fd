//! A signature under a closed job: Ed25519 (RFC 8032) in OpenSSH's signature format, with a key
//! that the user holds.
//!
//! What is signed is one line of text that names the hash of the closing event, and with it
//! everything before: `skimgauge-record sha256:<64 digits>` and a line feed, in the namespace
//! `skimgauge-record`. `ssh-keygen -Y verify` checks the same signature without this program.

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
    /// [`RecordError::Key`] when it is no such key, of another kind, or its passphrase is missing
    /// or wrong.
    pub fn from_openssh(text: &str, passphrase: Option<&str>) -> Result<Self, RecordError> {
        let say = |what: &str| RecordError::Key(format!("This key cannot sign: {what}."));
        let key = PrivateKey::from_openssh(text).map_err(|_| {
            say("it is no OpenSSH private key. Choose the file without .pub, or make one with `ssh-keygen -t ed25519`")
        })?;
        let key = match (key.is_encrypted(), passphrase) {
            (false, _) => key,
            (true, None) => return Err(say("it is locked with a passphrase, and none was given")),
            (true, Some(passphrase)) => {
                key.decrypt(passphrase).map_err(|_| say("the passphrase does not open it"))?
            }
        };
        if key.algorithm() != Algorithm::Ed25519 {
            return Err(say(
                "it is not of the kind ed25519. Make one with `ssh-keygen -t ed25519`",
            ));
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

pub(crate) fn signed(signer: &Signer, hash: Hash) -> Result<Signed, RecordError> {
    let failed = |error: ssh_key::Error| {
        RecordError::Key(format!("The signature could not be made: {error}."))
    };
    let signature =
        signer.0.sign(NAMESPACE, HashAlg::Sha512, line(hash).as_bytes()).map_err(failed)?;
    Ok(Signed {
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
    let signature = SshSig::from_pem(&signed.signature)
        .map_err(|error| format!("the signature cannot be read ({error})"))?;
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
        .map_err(|_| {
            RecordError::Key(
                "This is no OpenSSH public key: give the text of the .pub file.".to_owned(),
            )
        })
}

#[cfg(test)]
pub(crate) mod tests {
    use super::*;
    use ssh_key::private::{Ed25519Keypair, KeypairData};

    fn bytes<const N: usize>(hex: &str) -> [u8; N] {
        std::array::from_fn(|n| u8::from_str_radix(&hex[2 * n..2 * n + 2], 16).unwrap())
    }

    fn signer(seed: [u8; 32]) -> Signer {
        Signer(
            PrivateKey::new(KeypairData::Ed25519(Ed25519Keypair::from_seed(&seed)), "A. Fitter")
                .unwrap(),
        )
    }

    /// RFC 8032, section 7.1, TEST 2; from memory.
    #[test]
    fn the_scheme_is_ed25519() {
        let seed = bytes("4ccd089b28ff96da9db6c346ec114e0f5b8a319f35aba624da8cf6ed4fb8a6fb");
        let pair = Ed25519Keypair::from_seed(&seed);
        assert_eq!(
            pair.public.0,
            bytes("3d4017c3e843895a92b70aa74d1b7ebc9c982ccf2ec4968cc0cd55f12af4660c")
        );
        let key = PrivateKey::new(KeypairData::Ed25519(pair), "").unwrap();
        let signature = signature::Signer::try_sign(&key, &[0x72]).unwrap();
        assert_eq!(
            signature.as_bytes(),
            bytes::<64>(
                "92a009a9f0d4cab8720e820b5f642540a2b27b5416503f8fb3762223ebdb69da085ac1e43e15996e458f3613d0f11d8c387b2eaeb4302aeeb00d291612bb0c00"
            )
        );
    }

    #[test]
    fn a_signature_holds_for_its_own_hash_alone() {
        let hash = Hash::of(b"closing event");
        let good = signed(&signer([7; 32]), hash).unwrap();
        assert_eq!(check(&good), Ok(()));
        let other_hash = Signed { hash: Hash::of(b"another"), ..good.clone() };
        let other_key =
            Signed { public_key: signer([8; 32]).public_key().unwrap(), ..good.clone() };
        let garbage = Signed { signature: "-----BEGIN".to_owned(), ..good.clone() };
        let no_key = Signed { public_key: "ssh-ed25519 AAAA".to_owned(), ..good };
        for wrong in [other_hash, other_key, garbage, no_key] {
            assert!(check(&wrong).is_err(), "{wrong:?}");
        }
    }

    #[test]
    fn keys_that_cannot_sign_are_refused_with_advice() {
        let open = signer([7; 32]);
        let kdf = ssh_key::Kdf::Bcrypt { salt: vec![1; 16], rounds: 1 };
        let locked = open.0.encrypt_with(ssh_key::Cipher::Aes256Ctr, kdf, 1, "ladder").unwrap();
        let locked = locked.to_openssh(LineEnding::LF).unwrap();
        for (text, passphrase, says) in [
            ("", None, "no OpenSSH private key"),
            (&*open.public_key().unwrap(), None, "without .pub"),
            (&*locked, None, "none was given"),
            (&*locked, Some("wrong"), "does not open"),
        ] {
            let error = Signer::from_openssh(text, passphrase).unwrap_err();
            assert!(error.to_string().contains(says), "{error}");
        }
        let unlocked = Signer::from_openssh(&locked, Some("ladder")).unwrap();
        assert_eq!(unlocked.public_key().unwrap(), open.public_key().unwrap());
    }
}
