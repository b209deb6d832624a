//! Placeholder for the first commit; the parts follow.
pub use cycles::units;
pub mod runs;
