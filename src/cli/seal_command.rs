//! `stagebook seal`: holds fast what an act covers, and signs it.

use std::io::IsTerminal;
use std::path::{Path, PathBuf};

use clap::Args;
use ssh_key::{Algorithm, PrivateKey};
use zeroize::Zeroizing;

use super::layout::counted;
use super::today::TodayArgument;
use super::{Answer, SAFETY};
use crate::finding::printable;
use crate::workspace::{self, Options, SealedRecord, Wanted};

/// What the long help says.
pub const LONG: &str = "Adds to an act in a record (a release, a witness, a waiver, a review) the SHA-256 of what it covers: what \
stands above it in its stage with every log file and attachment, the design, the plan, the entries of the register that it \
rests on, the nonconformities; chained to the seal before it. From then on `stagebook check` finds every change \
of it, and names it where git holds the sealed text. Comments, blank lines and layout may change freely.\n\nWith --key \
the seal is signed with the OpenSSH Ed25519 key of the person who stands at the act; the register holds the public key. \
Only lines of seals are added to the record, and none where what is sealed has an error. `stagebook explain seals` says what a seal proves and what it \
does not.\n\n  stagebook seal H10 KFT-0412-1.ubr\n  stagebook seal all KFT-0412-1.ubr --key ~/.ssh/id_ed25519";

const EXIT: &str =
    "Exit status: 0 sealed, 2 could not run and nothing was written, 101 internal error.";

/// Largest key file that is read, in bytes.
const LARGEST_KEY: u64 = 64 * 1024;

/// The arguments of `seal`.
#[derive(Debug, Args)]
#[command(after_long_help = format!("{EXIT}\n\n{SAFETY}"))]
pub struct Arguments {
    /// The point whose act is sealed, such as H10; `all` seals every act that has no seal yet, in the order of time
    #[arg(value_name = "POINT")]
    pub point: String,
    /// The record
    #[arg(value_name = "FILE")]
    pub file: PathBuf,
    /// Sign with this OpenSSH private key (Ed25519); its passphrase is asked for on the terminal
    #[arg(long, value_name = "KEYFILE")]
    pub key: Option<PathBuf>,
    /// Write nothing to the record; show the text behind the seal: `seal`, or a part such as `stage`, `design`, `register`
    #[arg(long, value_name = "PART", conflicts_with = "key")]
    pub show: Option<String>,
    #[command(flatten)]
    pub today: TodayArgument,
}

/// Seals the record. Gives an error, with nothing written, when it cannot.
pub fn run(arguments: &Arguments) -> Result<Answer, String> {
    if let Some(part) = &arguments.show {
        let text = workspace::text_behind_seal(&arguments.file, &arguments.point, part)
            .map_err(|cannot_run| cannot_run.to_string())?;
        return Ok(Answer {
            text,
            failed: false,
            ..Answer::default()
        });
    }
    let key = arguments.key.as_deref().map(private_key).transpose()?;
    let wanted = match arguments.point.as_str() {
        "all" => Wanted::All,
        point => Wanted::Point(point),
    };
    let options = Options {
        today: arguments.today.counts(),
        ..Options::default()
    };
    let done = workspace::seal(&arguments.file, wanted, key.as_ref(), &options)
        .map_err(|cannot_run| cannot_run.to_string())?;
    Ok(Answer {
        text: page(&done),
        failed: false,
        ..Answer::default()
    })
}

fn page(done: &SealedRecord) -> String {
    let mut text = String::new();
    let serial = printable::text(&done.serial);
    for sealed in &done.sealed {
        let short: String = sealed.digest.chars().take(12).collect();
        let what = match (&sealed.signer, sealed.only_signed) {
            (Some(signer), true) => format!("signed by {}", printable::text(signer)),
            (Some(signer), false) => format!("sealed, signed by {}", printable::text(signer)),
            (None, true) => continue,
            (None, false) => "sealed".to_owned(),
        };
        text.push_str(&format!(
            "{serial}: {} of stage {} {what}  {short}\n",
            printable::text(&sealed.point),
            printable::text(&sealed.stage)
        ));
    }
    if text.is_empty() {
        text.push_str(&format!(
            "{serial}: nothing to seal, {} there already\n",
            counted(done.already, "seal")
        ));
    }
    if !done.by_others.is_empty() {
        text.push_str(&format!(
            "not signed, because somebody else than the owner of the key stands at the act: {}\n",
            done.by_others.join(", ")
        ));
    }
    text
}

/// Reads a private key and, where it is locked, unlocks it. No message says anything of what the file holds.
fn private_key(path: &Path) -> Result<PrivateKey, String> {
    let name = path.display();
    let data = std::fs::metadata(path).map_err(|error| match error.kind() {
        std::io::ErrorKind::NotFound => format!("cannot read the key {name}: no such file"),
        _ => format!("cannot read the key {name}: {error}"),
    })?;
    if !data.is_file() || data.len() > LARGEST_KEY {
        return Err(format!(
            "expected an OpenSSH private key at {name}, found something else"
        ));
    }
    let bytes = Zeroizing::new(
        std::fs::read(path).map_err(|error| format!("cannot read the key {name}: {error}"))?,
    );
    if bytes.starts_with(b"ssh-") {
        return Err(format!(
            "expected the private key, found the public one at {name}; it is the file without `.pub`"
        ));
    }
    let key = PrivateKey::from_openssh(&*bytes).map_err(|_| {
        format!("expected an OpenSSH private key at {name}, found something else; `ssh-keygen -t ed25519` makes one")
    })?;
    if key.algorithm() != Algorithm::Ed25519 {
        return Err(format!(
            "expected an Ed25519 key at {name}, found one of the kind {}; `ssh-keygen -t ed25519` makes one",
            key.algorithm()
        ));
    }
    if !key.is_encrypted() {
        return Ok(key);
    }
    if !std::io::stderr().is_terminal() && !std::io::stdin().is_terminal() {
        return Err(format!(
            "expected a terminal on which to ask for the passphrase of {name}, found none; run the command in a terminal"
        ));
    }
    let passphrase = rpassword::prompt_password(format!("passphrase of {name}: "))
        .map(Zeroizing::new)
        .map_err(|error| format!("cannot ask for the passphrase of {name}: {error}"))?;
    key.decrypt(passphrase.as_bytes()).map_err(|_| {
        format!("expected the passphrase of {name}, found another; nothing was written")
    })
}
