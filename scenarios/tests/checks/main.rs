//! What the files, runs and searches are held to; one program, since each is linked anew.

mod any_input;
mod bad_inputs;
mod best_gear;
mod better_is_never_worse;
mod charge_and_cost;
mod coolant;
mod days;
mod demo;
mod drags;
mod every_run_ends;
mod figures_that_can_be;
mod imports;
mod learnt;
mod measured;
mod motors;
mod never_wins;
mod output_files;
mod overrides;
mod physics_of_files;
mod plausible;
mod questions;
mod shelf;
mod taken_in;
mod too_hot;
mod verdicts;
mod wltc_of_a_car;
