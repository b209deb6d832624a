//! Placeholder for the first commit; the parts follow.
