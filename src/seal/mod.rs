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

pub use changes::{Change, Told, Version, changes_in, changes_in_plan, finding_of};
pub use cover::{Ground, Part, PlanText, Shared, Source, Standing, parts};
pub use outcome::{Behind, Seals};
pub use text::{Before, act_lines, seal_text};
pub use used::Used;
pub use verify::{Break, Reason, Verified, text_in_place, verify};
pub use write::{NewSeal, before_new, head, insertion, insertion_below, signature_line};
pub use written::{ActLine, Cover, Seal, acts, is_act, part_name, seals};

/// What a seal proves and what it does not, for people.
pub const PAGE: &str = include_str!("page.txt");
