//! The rules with their pages, one file a subject.

mod acceptance;
mod files;
mod limits;
mod names;
mod plan;
mod points;
mod register;
mod text;

pub use acceptance::*;
pub use files::*;
pub use limits::*;
pub use names::*;
pub use plan::*;
pub use points::*;
pub use register::*;
pub use text::*;
