//! Seals: what a release covers, held fast by a digest, chained to the seal before it, and signed if wanted.
//! Pure: bytes and trees in, findings and states out.

pub mod canonical;
mod chain;
mod changes;
mod cover;
mod outcome;
pub mod signature;
mod text;
mod used;
mod verify;
mod write;
mod written;

pub use changes::{Change, Told, Version, changes_in, finding_of};
pub use cover::{Ground, Part, PlanText, Source, Standing, document_lines, parts, plan_label};
pub use outcome::{Behind, Seals};
pub use text::{Before, act_lines, seal_text};
pub use used::Used;
pub use verify::{Break, Reason, Verified, verify};
pub use write::{NewSeal, before_new, head, insertion, insertion_below, signature_line};
pub use written::{ActLine, Cover, Seal, acts, is_act, part_name, seals};
