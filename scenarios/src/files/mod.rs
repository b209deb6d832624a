//! What a file says, before anyone knows what it means: text, references, values put in, faults.

pub mod allowed;
pub mod assumption;
pub mod bounds;
pub mod demo;
pub mod error;
pub mod field_path;
pub mod given;
pub mod kind;
pub mod origins;
pub mod output_file;
pub mod overrides;
pub mod part_file;
pub mod passing;
pub mod reading;
pub mod shelf;
pub mod short_path;
pub mod suggestion;
pub mod tree;
pub mod unfit;
