//! The rules with their pages, one file a subject.

mod acceptance;
mod entitled;
mod files;
mod instruments;
mod limits;
mod lots;
mod names;
mod plan;
mod points;
mod register;
mod seals;
mod text;
mod time;

pub use acceptance::*;
pub use entitled::*;
pub use files::*;
pub use instruments::*;
pub use limits::*;
pub use lots::*;
pub use names::*;
pub use plan::*;
pub use points::*;
pub use register::*;
pub use seals::*;
pub use text::*;
pub use time::*;
