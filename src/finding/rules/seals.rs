//! Rules about seals and signatures: is the record as it was when it was released?

use crate::finding::{Rule, Severity};

/// `seal-broken`: something that a seal covers was changed since.
pub static SEAL_BROKEN: Rule = Rule {
    name: "seal-broken",
    severity: Severity::Error,
    summary: "Something that a seal covers was changed since it was set.",
    why: "The person who released the point saw another record, plan, register or file than the one that \
        lies here now. Whatever was changed, nobody has released it.",
    wrong: "height[HV, U] = 1614 mm          # 1613 mm when H10 was sealed
release H10 by M.Okafor on 2026-02-27 16:20
  seal \"3f0c…\" after nothing",
    mend: "Put back what was sealed; the finding names what changed where it can be had from the version \
        history. A reading that was wrong is corrected by `amend` below the release, and the point is released \
        and sealed anew.",
    reference: "ISO 9001:2015, 7.5.3; FIPS 180-4 for the digest",
    caution: "A hold point protects people as well as the unit. Work past it only when it is released; local \
        codes, the works' rules and licensed practice come first, and this tool authorises nothing.",
};

/// `seal-chain-broken`: a seal is missing from the chain, or the chain forks or closes to a ring.
pub static SEAL_CHAIN_BROKEN: Rule = Rule {
    name: "seal-chain-broken",
    severity: Severity::Error,
    summary: "The chain of seals has a gap, a fork or a ring.",
    why: "Each seal names the one before it, so that none can be taken out, put in or exchanged unseen. \
        Where the chain does not hold, a release was removed or sealed again.",
    wrong: "release H20 by M.Okafor on 2026-03-31 09:00
  seal \"9a41…\" after \"3f0c…\"          # no seal of this record is 3f0c…",
    mend: "Put back the seal that is missing, from the version history or a copy. Two seals after the same one come \
        from two people sealing at once: one of them takes theirs out and seals again.",
    reference: "common practice, no source",
    caution: "",
};

/// `seal-missing`: a point that the plan wants sealed is released and not sealed.
pub static SEAL_MISSING: Rule = Rule {
    name: "seal-missing",
    severity: Severity::Pending,
    summary: "A point that the plan wants sealed is released and not sealed.",
    why: "Until it is sealed, nothing shows that the record is still the one that was released.",
    wrong: "release H10 by M.Okafor on 2026-02-27 16:20     # the plan: hold H10 … by quality sealed",
    mend: "Seal it when the record is complete: `stagebook seal H10 FILE`, with `--key` to sign it too.",
    reference: "the plan",
    caution: "",
};

/// `signature-invalid`: the signature below a seal does not verify.
pub static SIGNATURE_INVALID: Rule = Rule {
    name: "signature-invalid",
    severity: Severity::Error,
    summary: "The signature below a seal does not verify.",
    why: "It was made over another text, for another purpose, or was damaged. It proves nothing.",
    wrong: "seal \"3f0c…\" after nothing
  signature \"U1NIU0lH…\"               # of another seal",
    mend: "Have the person sign again: take the seal out and run `stagebook seal POINT FILE --key KEY`.",
    reference: "OpenSSH, PROTOCOL.sshsig; RFC 8032 for Ed25519",
    caution: "",
};

/// `signer-unknown`: the key that signed is not one of that person's in the register.
pub static SIGNER_UNKNOWN: Rule = Rule {
    name: "signer-unknown",
    severity: Severity::Error,
    summary: "The key that signed a seal is not that person's in the register.",
    why: "A signature proves only that somebody held the key. Whose key it is stands in the register.",
    wrong: "release H10 by M.Okafor on 2026-02-27 16:20
  seal \"3f0c…\" after nothing
    signature \"U1NIU0lH…\"             # made with the key of L.Novak",
    mend: "Find out who signed. If the key is the person's own, the quality office enters it in the register; \
        else the point is released and sealed again by the person whose name it bears.",
    reference: "common practice, no source",
    caution: "",
};

/// `recorded-behind-seal`: something was added to a stage below its sealed release.
pub static RECORDED_BEHIND_SEAL: Rule = Rule {
    name: "recorded-behind-seal",
    severity: Severity::Error,
    summary: "Something was added to a stage below its sealed release.",
    why: "What stands below the release was not there when the point was released, and no later release \
        covers it.",
    wrong: "release H10 by M.Okafor on 2026-02-27 16:20
  seal \"3f0c…\" after nothing
height[LV, U] = 1612 mm",
    mend: "If the work was done again, record it as a round of its own: `stage NAME round 2`. A correction \
        is an `amend`, followed by a new release.",
    reference: "ISO 9001:2015, 8.6",
    caution: "A hold point protects people as well as the unit. Work past it only when it is released; local \
        codes, the works' rules and licensed practice come first, and this tool authorises nothing.",
};

/// `design-revised-behind-seal`: a later design is in force than the one that was sealed.
pub static DESIGN_REVISED_BEHIND_SEAL: Rule = Rule {
    name: "design-revised-behind-seal",
    severity: Severity::Warning,
    summary: "A later design is in force than the one that a sealed release was given on.",
    why: "The release stands as it was given. Whether it still holds for the new design is for the person \
        who released it to say.",
    wrong: "design rev D on 2026-01-19
design rev E on 2026-03-15          # H10 was sealed on rev D",
    mend: "Have the released stages looked at against the new design; accept the finding with a reason, or \
        release a new round and seal it.",
    reference: "ISO 9001:2015, 8.3.6 and 8.5.6",
    caution: "",
};

/// `public-key-unreadable`: a key line of the register is no Ed25519 public key.
pub static PUBLIC_KEY_UNREADABLE: Rule = Rule {
    name: "public-key-unreadable",
    severity: Severity::Error,
    summary: "A key line of the register is no Ed25519 public key.",
    why: "With it no signature of that person can be verified.",
    wrong: "person M.Okafor \"Mary Okafor\"
  key \"ssh-rsa AAAAB3NzaC1yc2E…\"",
    mend: "Copy the one line of the public key file as it stands, such as id_ed25519.pub. `ssh-keygen -t ed25519` makes a \
        key; the private half never leaves its owner.",
    reference: "RFC 8709 for the form of the key",
    caution: "",
};
