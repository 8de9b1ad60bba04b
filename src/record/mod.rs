//! Unit build records bound to their plan and register: what was recorded, where, by whom, with what,
//! when. Nothing is judged here.

mod acts;
mod bind;
mod domains;
mod header;
mod log;
mod log_times;
mod model;
mod moved;
mod patch;
mod table;
mod values;

pub use bind::bind;
pub use header::header;
pub use model::*;
pub use patch::{BoundBefore, Touched, patch};
