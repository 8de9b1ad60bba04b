//! Signatures below seals: OpenSSH's format for signed files, with Ed25519 keys.
//!
//! What is signed is the seal's digest as it is written, 64 hexadecimal digits and a line feed, so that anybody
//! can verify it with `ssh-keygen -Y verify` alone.

use ssh_key::{HashAlg, LineEnding, PrivateKey, PublicKey, SshSig};

/// The namespace of the signatures: one made for another purpose is none for a seal.
pub const NAMESPACE: &str = "stagebook-seal";

const BEGIN: &str = "-----BEGIN SSH SIGNATURE-----";
const END: &str = "-----END SSH SIGNATURE-----";

/// What a signature came to.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Signed {
    /// Made over this seal with one of the keys.
    Valid,
    /// Made over this seal with a key that is none of them.
    OtherKey(String),
    /// Not a signature of this seal; why.
    Invalid(&'static str),
}

/// The message that is signed for a seal.
pub fn message(seal: &str) -> Vec<u8> {
    format!("{seal}\n").into_bytes()
}

/// Signs a seal: the signature in one line.
///
/// Source: OpenSSH, PROTOCOL.sshsig; RFC 8032.
pub fn sign(key: &PrivateKey, seal: &str) -> Result<String, ssh_key::Error> {
    let signature = key.sign(NAMESPACE, HashAlg::Sha512, &message(seal))?;
    let pem = signature.to_pem(LineEnding::LF)?;
    Ok(pem
        .lines()
        .filter(|line| !line.starts_with("-----"))
        .collect())
}

/// Verifies a signature of a seal against the keys of the person.
pub fn verify(written: &str, seal: &str, keys: &[PublicKey]) -> Signed {
    let Some(signature) = read(written) else {
        return Signed::Invalid("a text that is no signature");
    };
    if signature.namespace() != NAMESPACE {
        return Signed::Invalid("a signature that was made for another purpose");
    }
    let signer = PublicKey::new(signature.public_key().clone(), "");
    if signer
        .verify(NAMESPACE, &message(seal), &signature)
        .is_err()
    {
        return Signed::Invalid("a signature of something else");
    }
    match keys.iter().any(|key| key.key_data() == signer.key_data()) {
        true => Signed::Valid,
        false => Signed::OtherKey(signer.fingerprint(HashAlg::Sha256).to_string()),
    }
}

/// The signature in the armoured form that `ssh-keygen -Y verify` reads.
pub fn armoured(written: &str) -> String {
    const WIDTH: usize = 70;
    let digits: Vec<char> = written
        .chars()
        .filter(|digit| !digit.is_whitespace())
        .collect();
    let mut text = format!("{BEGIN}\n");
    for line in digits.chunks(WIDTH) {
        text.extend(line);
        text.push('\n');
    }
    text.push_str(END);
    text.push('\n');
    text
}

fn read(written: &str) -> Option<SshSig> {
    let base64 = |character: char| character.is_ascii_alphanumeric() || "+/=".contains(character);
    if written.is_empty() || !written.chars().all(base64) {
        return None;
    }
    SshSig::from_pem(armoured(written)).ok()
}

#[cfg(test)]
mod tests {
    use super::*;
    use ssh_key::private::{Ed25519Keypair, KeypairData};

    fn key(seed: u8) -> PrivateKey {
        let pair = Ed25519Keypair::from_seed(&[seed; 32]);
        PrivateKey::new(KeypairData::Ed25519(pair), "test").unwrap()
    }

    #[test]
    fn a_signature_holds_for_its_seal_and_its_key_only() {
        let (own, other) = (key(1), key(2));
        let seal = "ab".repeat(32);
        let written = sign(&own, &seal).unwrap();
        let keys = [own.public_key().clone()];
        assert_eq!(verify(&written, &seal, &keys), Signed::Valid);
        assert!(matches!(
            verify(&written, &"ac".repeat(32), &keys),
            Signed::Invalid(_)
        ));
        let strangers = [other.public_key().clone()];
        assert!(matches!(
            verify(&written, &seal, &strangers),
            Signed::OtherKey(_)
        ));
    }

    #[test]
    fn what_is_no_signature_is_told_apart() {
        let seal = "ab".repeat(32);
        for text in ["", "U1NIU0lH", "no signature", "====", "-----BEGIN"] {
            assert!(
                matches!(verify(text, &seal, &[]), Signed::Invalid(_)),
                "{text}"
            );
        }
        let own = key(1);
        let foreign = own.sign("file", HashAlg::Sha512, &message(&seal)).unwrap();
        let pem = foreign.to_pem(LineEnding::LF).unwrap();
        let line: String = pem.lines().filter(|line| !line.starts_with('-')).collect();
        assert_eq!(
            verify(&line, &seal, &[own.public_key().clone()]),
            Signed::Invalid("a signature that was made for another purpose")
        );
    }
}
