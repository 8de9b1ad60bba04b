//! Rules about what the register and the plan say of people, instruments and nonconformities on a day.

use crate::finding::{Rule, Severity};

/// `instrument-not-in-service`: the instrument was used outside its time of service.
pub static INSTRUMENT_NOT_IN_SERVICE: Rule = Rule {
    name: "instrument-not-in-service",
    severity: Severity::Error,
    summary: "The instrument was used before or after its time of service.",
    why: "An instrument is retired because it was dropped, drifts or was replaced. Its calibration may still \
        run; its readings are not to be relied on.",
    wrong: "instrument TTR-3 \"turns ratio meter\"
  retired 2026-03-01 \"dropped\"               # used on 2026-03-30",
    mend: "Measure again with an instrument in service. If it was still in service, have the register mended.",
    reference: "ISO 9001:2015, 7.1.5.2; ISO/IEC 17025:2017, 6.4.9, from memory",
    caution: "",
};

/// `calibration-without-certificate`: a calibration that names no certificate.
pub static CALIBRATION_WITHOUT_CERTIFICATE: Rule = Rule {
    name: "calibration-without-certificate",
    severity: Severity::Note,
    summary: "A calibration that readings rest on names no certificate.",
    why: "The certificate is the link to national standards. Without its number the calibration cannot be \
        looked up when a reading is disputed.",
    wrong: "instrument TP-11 \"steel tape\"
  calibrated 2026-01-12 due 2027-01-12",
    mend: "Add the certificate's number: `calibrated 2026-01-12 due 2027-01-12 certificate \"C-11\"`.",
    reference: "ISO 9001:2015, 7.1.5.2; ISO/IEC 17025:2017, 6.5, from memory",
    caution: "",
};

/// `disposition-not-authorised`: somebody agreed to a disposition who may not.
pub static DISPOSITION_NOT_AUTHORISED: Rule = Rule {
    name: "disposition-not-authorised",
    severity: Severity::Error,
    summary: "The person who agreed to a disposition has no role that may, or raised it, which the plan forbids.",
    why: "A concession lets out of the works what does not meet its requirements. The plan says who may \
        decide that; an agreement by anybody else is none.",
    wrong: "# the plan: concessions by quality, design other than raiser
nonconformity NC-3 on 2026-03-05 by L.Novak
  agreed by L.Novak on 2026-03-06",
    mend: "Have the disposition agreed by a person with the role who did not raise it.",
    reference: "ISO 9001:2015, 8.7.1 and 8.7.2 d)",
    caution: "",
};

/// `rework-without-new-reading`: a nonconformity is closed as reworked, and nothing was measured since.
pub static REWORK_WITHOUT_NEW_READING: Rule = Rule {
    name: "rework-without-new-reading",
    severity: Severity::Error,
    summary: "A nonconformity is closed as reworked, and nothing it is against was measured since it was raised.",
    why: "Rework brings the part back to what was required, and only a new reading can show that it did.",
    wrong: "winding.height[HV, W] = 1619 mm on 2026-03-04 10:00
nonconformity NC-3 on 2026-03-05 by L.Novak
  against winding.height[HV, W]
  disposition rework
  closed by M.Okafor on 2026-03-07",
    mend: "Measure again and record it in a new round of the stage: `stage winding round 2`.",
    reference: "ISO 9001:2015, 8.7.1, last sentence",
    caution: "",
};
