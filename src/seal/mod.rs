//! Seals: what a release covers, held fast by a digest, chained to the seal before it, and signed if wanted.
//! Pure: bytes and trees in, findings and states out.

mod outcome;

pub use outcome::{Behind, Seals};
