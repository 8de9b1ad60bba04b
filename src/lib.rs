//! stagebook: judges the build record of a power transformer against its inspection plan.
//!
//! Data flows one way: text, syntax, quantity and physics, then finding (what can be said), plan,
//! register and record, then verdict, workspace, and last the command line and the language server. A room uses only rooms
//! named before it.

pub mod cli;
pub mod finding;
pub mod pages;
pub mod physics;
pub mod plan;
pub mod quantity;
pub mod record;
pub mod register;
pub mod seal;
pub mod server;
pub mod syntax;
pub mod text;
pub mod verdict;
pub mod workspace;
