//! Ways to make a sealed record say something else than what was released. Each is tried on the complete unit of the
//! example works, in a repository of its own, and each is found.

mod common;

use common::{Repository, Said, program, run, works};
use ssh_key::private::{Ed25519Keypair, KeypairData};
use ssh_key::{LineEnding, PrivateKey};
use std::io::Write;
use std::path::Path;
use std::process::{Command, Stdio};

const UNIT: &str = "units/KFT-0412-1.ubr";
const TODAY: &str = "2026-07-31";

/// The example works in a repository, with the sealed record of the complete unit as committed.
struct Works(Repository);

impl Works {
    fn new() -> Works {
        let works = Works(Repository::new());
        for name in ["plan.ubr", "register.ubr", UNIT] {
            works.copy(name);
        }
        for folder in ["units/logs", "units/papers"] {
            let entries =
                std::fs::read_dir(common::works().join(folder)).expect("the example has it");
            for entry in entries {
                let name = entry.expect("it can be listed").file_name();
                let name = name.to_str().expect("the names are plain");
                if name.starts_with("KFT-0412-1") {
                    works.copy(&format!("{folder}/{name}"));
                }
            }
        }
        works.0.commit("as sealed");
        works
    }

    fn copy(&self, name: &str) {
        let bytes = std::fs::read(works().join(name)).expect("the example has it");
        self.0.write(name, bytes);
    }

    fn path(&self) -> &Path {
        self.0.path()
    }

    fn read(&self, name: &str) -> String {
        std::fs::read_to_string(self.path().join(name)).expect("it was written")
    }

    /// Changes a file at the one place where `from` stands.
    #[track_caller]
    fn change(&self, name: &str, from: &str, to: &str) -> &Works {
        let text = self.read(name);
        assert_eq!(text.matches(from).count(), 1, "{from:?} in {name}");
        self.0.write(name, text.replace(from, to));
        self
    }

    fn stagebook(&self, arguments: &[&str]) -> Said {
        let mut all = arguments.to_vec();
        all.extend(["--today", TODAY]);
        run(program(self.path()).args(all))
    }

    fn check(&self) -> Said {
        self.stagebook(&["check", UNIT, "--as", "json"])
    }

    /// The release before dispatch is refused, and the check has a finding of this rule whose message has these words.
    #[track_caller]
    fn caught(&self, rule: &str, words: &[&str]) {
        self.stagebook(&["release", "dispatch", UNIT]).expect(1);
        let json = self.check().expect(1).json();
        let findings = json["findings"].as_array().expect("the schema says so");
        let caught = findings.iter().any(|finding| {
            let message = finding["message"].as_str().unwrap_or("");
            finding["rule"] == rule
                && finding["severity"] == "error"
                && words.iter().all(|word| message.contains(word))
        });
        let messages: Vec<String> = findings
            .iter()
            .filter(|finding| finding["severity"] != "pending")
            .map(|finding| format!("{} {}", finding["rule"], finding["message"]))
            .collect();
        assert!(caught, "{rule} {words:?} in\n{}", messages.join("\n"));
    }

    /// Takes every seal out of the record, so that it can be sealed anew in the test.
    fn unseal(&self) {
        let text = self.read(UNIT);
        let kept: Vec<&str> = text
            .lines()
            .filter(|line| {
                let line = line.trim_start();
                !["seal \"", "covers ", "signature \""]
                    .iter()
                    .any(|word| line.starts_with(word))
            })
            .collect();
        self.0.write(UNIT, kept.join("\n") + "\n");
    }

    /// Enters the public key of a person in the register and writes the private key to a file.
    fn key_of(&self, person: &str, seed: u8) -> PrivateKey {
        let pair = Ed25519Keypair::from_seed(&[seed; 32]);
        let key = PrivateKey::new(KeypairData::Ed25519(pair), "").expect("a key of a seed");
        let public = key.public_key().to_openssh().expect("it can be written");
        let text = self.read("register.ubr");
        let head = format!("person {person} \"");
        let line = text.lines().find(|line| line.starts_with(&head));
        let line = line.expect("the register has the person");
        let entry = format!("{line}\n  key \"{}\"", public.trim());
        self.0.write("register.ubr", text.replace(line, &entry));
        let private = key.to_openssh(LineEnding::LF).expect("it can be written");
        self.0.write(&format!("{person}.key"), &*private);
        key
    }
}

#[test]
fn the_sealed_unit_may_leave_the_works() {
    let works = Works::new();
    works.stagebook(&["release", "dispatch", UNIT]).expect(0);
    works.stagebook(&["check", UNIT]).expect(0);
}

#[test]
fn comments_and_layout_may_change() {
    let works = Works::new();
    let text = works.read(UNIT);
    let other: String = text
        .lines()
        .flat_map(|line| [line, "   # looked at", ""])
        .map(|line| match line.contains('"') {
            // Blanks in a text are part of it.
            true => format!(
                "{}{line} \r\n",
                " ".repeat(line.len() - line.trim_start().len())
            ),
            false => format!("{}\r\n", line.replace("  ", "    ")),
        })
        .collect();
    works.0.write(UNIT, other);
    works.stagebook(&["release", "dispatch", UNIT]).expect(0);
}

#[test]
fn a_reading_is_edited() {
    let works = Works::new();
    works.change(
        UNIT,
        "HV       1613.5  1614.0  1613.0",
        "HV       1613.5  1614.0  1613.1",
    );
    works.caught(
        "seal-broken",
        &[
            "`HV  1613.5  1614.0  1613.0`",
            "H20 was sealed",
            "`HV  1613.5  1614.0  1613.1`",
        ],
    );
}

#[test]
fn a_row_of_a_log_is_edited() {
    let works = Works::new();
    let log = "units/logs/KFT-0412-1-drying.csv";
    let text = works.read(log);
    let row = text.lines().nth(1500).expect("it has three thousand");
    let (start, last) = row.split_at(row.len() - 1);
    let other = if last == "1" { "2" } else { "1" };
    works.change(log, &format!("{row}\n"), &format!("{start}{other}\n"));
    works.caught(
        "seal-broken",
        &["file logs/KFT-0412-1-drying.csv", "H60 was sealed", row],
    );
}

#[test]
fn an_attachment_is_edited() {
    let works = Works::new();
    let list = "units/papers/KFT-0412-1-packing-list.csv";
    let text = works.read(list);
    let line = text.lines().nth(2).expect("it lists several things");
    works.change(list, &format!("{line}\n"), "");
    works.caught("seal-broken", &["packing-list.csv", line, "taken out"]);
}

#[test]
fn an_attachment_is_gone() {
    let works = Works::new();
    let list = works
        .path()
        .join("units/papers/KFT-0412-1-packing-list.csv");
    std::fs::remove_file(list).expect("it is there");
    works.caught("seal-broken", &["packing-list.csv", "found none"]);
}

#[test]
fn the_plan_is_edited() {
    let works = Works::new();
    works.change("plan.ubr", "limit <= 100 pC", "limit <= 180 pC");
    works.caught(
        "seal-broken",
        &[
            "`limit <= 100 pC`",
            "24 more of KFT-0412-1 were sealed",
            "`limit <= 180 pC`",
        ],
    );
}

#[test]
fn a_date_is_edited() {
    let works = Works::new();
    works.change(
        UNIT,
        "release H30 by D.Quill on 2026-03-04 15:05",
        "release H30 by D.Quill on 2026-03-04 16:05",
    );
    works.caught(
        "seal-broken",
        &["2026-03-04 15:05", "H30", "2026-03-04 16:05"],
    );
    let works = Works::new();
    works.change(UNIT, "  on 2026-02-25 by S.Rao", "  on 2026-02-24 by S.Rao");
    works.caught("seal-broken", &["`on 2026-02-25 by S.Rao`", "H20"]);
}

#[test]
fn two_seals_are_exchanged() {
    let works = Works::new();
    let text = works.read(UNIT);
    let seal_of = |act: &str| {
        let behind = text.split_once(act).expect("it is released").1;
        let lines = behind.split_inclusive('\n').skip(1);
        lines
            .take_while(|line| line.starts_with("    "))
            .collect::<String>()
    };
    let first = seal_of("release H30 by");
    let second = seal_of("release H40 by");
    let exchanged = text
        .replace(&first, "\u{1}")
        .replace(&second, &first)
        .replace('\u{1}', &second);
    works.0.write(UNIT, exchanged);
    works.caught("seal-broken", &["a seal of H30", "the seal of H40"]);
    works.caught("seal-broken", &["a seal of H40", "the seal of H30"]);
}

#[test]
fn a_nonconformity_is_deleted() {
    let works = Works::new();
    works.unseal();
    let with = "nonconformity NC-1 on 2026-02-25 by S.Rao
  against winding-pressing.shims[LV, U]
  found \"a shim of the wrong lot, same thickness\"
  disposition use-as-is
  agreed by A.Brandt on 2026-02-25
  closed by M.Okafor on 2026-02-25
";
    works.0.write(UNIT, works.read(UNIT) + "\n" + with);
    works.stagebook(&["seal", "all", UNIT]).expect(0);
    works.0.commit("sealed with its nonconformity");
    works.stagebook(&["release", "dispatch", UNIT]).expect(0);
    works.change(UNIT, with, "");
    works.caught("seal-broken", &["nonconformity NC-1", "found none"]);
}

#[test]
fn a_seal_is_signed_with_another_key() {
    let works = Works::new();
    works.key_of("M.Okafor", 1);
    let other = works.key_of("L.Novak", 2);
    works.unseal();
    works
        .stagebook(&["seal", "H20", UNIT, "--key", "L.Novak.key"])
        .expect(2);
    works
        .stagebook(&["seal", "all", UNIT, "--key", "M.Okafor.key"])
        .expect(0);
    works.stagebook(&["release", "dispatch", UNIT]).expect(0);
    let text = works.read(UNIT);
    let behind = text.split_once("release H20 by").expect("it is released").1;
    let quoted = |word: &str| {
        let rest = behind.split_once(word).expect("it is sealed and signed").1;
        rest.split_once('"').expect("a text ends").0.to_owned()
    };
    let (seal, signature) = (quoted("seal \""), quoted("signature \""));
    let forged = stagebook::seal::signature::sign(&other, &seal).expect("a key can sign");
    works.change(UNIT, &signature, &forged);
    works.caught("signer-unknown", &["H20", "a key of M.Okafor"]);
    // A signature of another seal by the right key is none.
    let first = text.split_once("signature \"").expect("H10 is signed").1;
    let first = first.split_once('"').expect("a text ends").0;
    works.change(UNIT, &forged, first);
    works.caught(
        "signature-invalid",
        &["H20", "a signature of something else"],
    );
}

#[test]
fn a_calibration_is_backdated() {
    let works = Works::new();
    works.change(
        "register.ubr",
        "calibrated 2026-02-09 due 2027-02-09 certificate \"C-2244\"",
        "calibrated 2026-02-01 due 2027-02-09 certificate \"C-2244\"",
    );
    works.caught(
        "seal-broken",
        &[
            "calibrated 2026-02-09",
            "of KFT-0412-1",
            "calibrated 2026-02-01",
        ],
    );
}

#[test]
fn the_register_may_grow() {
    let works = Works::new();
    let grown = works
        .read("register.ubr")
        .replace(
            "certificate \"C-2244\"\n",
            "certificate \"C-2244\"\n  calibrated 2027-02-08 due 2028-02-08 certificate \"C-2601\"\n",
        )
        .replace(
            "roles quality\n  valid 2022-01-01 .. 2027-12-31",
            "roles quality\n  valid 2022-01-01 .. 2031-12-31\n  retired 2029-06-30",
        )
        + "\nperson N.Ferris \"Nell Ferris\"\n  roles quality\n";
    works.0.write("register.ubr", grown);
    works.stagebook(&["release", "dispatch", UNIT]).expect(0);
}

#[test]
fn stages_are_put_into_another_order() {
    let works = Works::new();
    let text = works.read(UNIT);
    let at = |word: &str| text.find(word).expect("the record has it");
    let (pressing, core, assembly) = (
        at("stage winding-pressing"),
        at("stage core\n"),
        at("stage core-and-winding-assembly"),
    );
    let other = [
        &text[..pressing],
        &text[core..assembly],
        &text[pressing..core],
        &text[assembly..],
    ];
    works.0.write(UNIT, other.concat());
    works.caught("seal-chain-broken", &["H20", "another order"]);
}

#[test]
fn an_error_is_accepted() {
    let works = Works::new();
    works.change(
        UNIT,
        "    U      88\n    V      88\n",
        "    accept out-of-limit because \"small\" by M.Okafor on 2026-03-04\n    U      87\n    V      88\n",
    );
    works.caught("accept-refused", &["out-of-limit"]);
    works.caught("seal-broken", &["`U  88`", "H10"]);
}

#[test]
fn a_person_releases_their_own_reading() {
    let works = Works::new();
    works.change(
        UNIT,
        "release H110 by M.Okafor on",
        "release H110 by L.Novak on",
    );
    works.caught("released-own-reading", &["H110", "L.Novak"]);
    works.caught("seal-broken", &["release H110 by M.Okafor"]);
    // Sealing anew hides the change of the seal, not what is wrong; and it is refused.
    works.unseal();
    let said = works.stagebook(&["seal", "all", UNIT]).expect(2);
    assert!(said.err.contains("nothing was written"), "{}", said.err);
    works.caught("released-own-reading", &["H110", "L.Novak"]);
}

#[test]
fn a_sealed_release_is_taken_out() {
    let works = Works::new();
    let text = works.read(UNIT);
    let from = text.find("  release H30 by").expect("it is released");
    let to = text[from..].find("\nstage ").expect("a stage follows") + from;
    works
        .0
        .write(UNIT, format!("{}{}", &text[..from], &text[to..]));
    works.caught(
        "seal-chain-broken",
        &["the seal that was set before that of H40"],
    );
}

#[test]
fn seals_are_taken_out() {
    let works = Works::new();
    works.unseal();
    let said = works.stagebook(&["release", "dispatch", UNIT]).expect(1);
    assert!(
        said.out.contains("expected H130 to be sealed"),
        "{}",
        said.out
    );
}

#[test]
fn something_is_added_below_a_sealed_release() {
    let works = Works::new();
    works.change(
        UNIT,
        "\nstage winding-pressing\n",
        "  note \"seen later\"\n\nstage winding-pressing\n",
    );
    works.caught("recorded-behind-seal", &["stage `winding`"]);
}

#[test]
fn what_a_seal_covers_is_cut_down() {
    let works = Works::new();
    let text = works.read(UNIT);
    let line = text
        .lines()
        .find(|line| line.ends_with("  winding\""))
        .expect("H10 covers its stage");
    works.change(UNIT, &format!("{line}\n"), "");
    works.caught("seal-broken", &["H10"]);
}

#[test]
fn a_change_is_found_without_a_version_history() {
    let works = Works::new();
    std::fs::remove_dir_all(works.path().join(".git")).expect("it is a repository");
    works.change(
        UNIT,
        "  burr       = 0.016 mm  with MM-3",
        "  burr       = 0.015 mm  with MM-3",
    );
    works.caught("seal-broken", &["stage core", "found it changed"]);
}

#[test]
fn any_one_digit_of_any_reading() {
    let works = Works::new();
    let text = works.read(UNIT);
    let tree = stagebook::syntax::parse(&*text);
    let mut digits: Vec<usize> = Vec::new();
    let mut node_of = |kind| {
        (0..tree.len() as u32)
            .map(stagebook::syntax::NodeId)
            .filter(|node| tree.kind(*node) == kind)
            .for_each(|node| {
                let range = tree.span(node).range();
                let own = text[range.clone()].bytes().enumerate();
                let own = own.filter(|(_, byte)| byte.is_ascii_digit());
                digits.extend(own.map(|(at, _)| range.start + at));
            });
    };
    node_of(stagebook::syntax::NodeKind::Reading);
    node_of(stagebook::syntax::NodeKind::Row);
    assert!(digits.len() > 2000, "{}", digits.len());
    // Each sixtieth, another one in each run of the list: every stage and every kind of line is among them.
    for at in digits.into_iter().step_by(61) {
        let digit = text.as_bytes()[at];
        let other = if digit == b'9' {
            '8'
        } else {
            (digit + 1) as char
        };
        let changed = format!("{}{other}{}", &text[..at], &text[at + 1..]);
        let path = works.path().join(UNIT);
        let outcome = common::check_text(&path, &changed);
        let standings = stagebook::workspace::gate(&outcome, "dispatch");
        let clear = standings.is_ok_and(|all| all.iter().all(|one| one.obstacles.is_empty()));
        let line = text[..at].lines().count();
        assert!(!clear, "the digit {at} of line {line} may be any other");
    }
}

/// What `sha256sum` and `ssh-keygen` say of a sealed and signed release, neither of which knows this program.
#[test]
fn other_programs_verify_a_seal_and_its_signature() {
    let works = Works::new();
    let public = works.key_of("M.Okafor", 1).public_key().clone();
    works.unseal();
    works
        .stagebook(&["seal", "H10", UNIT, "--key", "M.Okafor.key"])
        .expect(0);
    let text = works.read(UNIT);
    let quoted = |word: &str| {
        let rest = text.split_once(word).expect("it is sealed and signed").1;
        rest.split_once('"').expect("a text ends").0.to_owned()
    };
    let (seal, signature) = (quoted("seal \""), quoted("signature \""));
    let shown = works
        .stagebook(&["seal", "H10", UNIT, "--show", "seal"])
        .expect(0);
    let ask = |program: &str, arguments: &[&str], input: &str| {
        let mut child = match Command::new(program)
            .args(arguments)
            .current_dir(works.path())
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
        {
            Ok(child) => child,
            Err(error) => {
                println!("skipped: {program} does not start ({error})");
                return None;
            }
        };
        let mut pipe = child.stdin.take().expect("it was asked for");
        pipe.write_all(input.as_bytes())
            .expect("it reads its input");
        drop(pipe);
        Some(child.wait_with_output().expect("it was started"))
    };
    if let Some(said) = ask("sha256sum", &[], &shown.out) {
        assert!(String::from_utf8_lossy(&said.stdout).starts_with(&seal));
    }
    let public = public.to_openssh().expect("it can be written");
    works.0.write("allowed", format!("M.Okafor {public}\n"));
    let armoured = stagebook::seal::signature::armoured(&signature);
    works.0.write("H10.sig", armoured);
    let verify = [
        "-Y",
        "verify",
        "-f",
        "allowed",
        "-I",
        "M.Okafor",
        "-n",
        "stagebook-seal",
        "-s",
        "H10.sig",
    ];
    if let Some(said) = ask("ssh-keygen", &verify, &format!("{seal}\n")) {
        assert!(
            said.status.success(),
            "{}",
            String::from_utf8_lossy(&said.stderr)
        );
        let other = ask("ssh-keygen", &verify, &format!("{}\n", "0".repeat(64)));
        assert!(other.is_some_and(|said| !said.status.success()));
    }
}
