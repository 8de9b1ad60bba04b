//! stagebook: judges the build record of a power transformer against its inspection plan.
//!
//! Data flows one way: text, syntax, quantity and physics, then plan, register and record, then
//! verdict, finding, workspace, and last the command line. A room uses only rooms named before it.

pub mod syntax;
pub mod text;
