//! The program as a person meets it; one test program, since each is linked anew.

mod abuse_of_input;
#[cfg(unix)]
mod abuse_of_output;
#[cfg(unix)]
mod at_scale;
mod begin;
mod book;
mod choose;
mod coast_downs;
mod command_line;
mod commands;
mod figures;
mod live;
mod measured;
mod pictures;
mod program;
mod questions;
mod recorded;
mod references;
mod report;
mod roads;
mod served;
mod shells;
mod widths;
