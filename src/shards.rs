//! Rows of many combinations by several machines, as options ask for it.

use crate::failure::{Failure, of};
use crate::output::{Output, complain};
use scenarios::studies::shard::Shard;
use std::env;
use std::path::Path;

/// Options of commands that write a row for each combination.
#[derive(Debug, clap::Args)]
pub struct ShardArgs {
    /// Computes one of several parts of the file: `3/16`, or `array/16` or `array` for what an array
    /// job of Slurm or Kubernetes tells its tasks.
    #[arg(long, value_name = "K/N", requires = "out")]
    shard: Option<String>,

    /// Joins the parts that `--shard` left beside the file, or says which are missing.
    #[arg(long, requires = "out", conflicts_with = "shard")]
    pub merge: bool,
}

impl ShardArgs {
    /// Whether rows are parted.
    pub fn parts(&self) -> bool {
        self.shard.is_some() || self.merge
    }

    /// The shard that is asked for.
    pub fn shard(&self) -> Result<Option<Shard>, Failure> {
        let environment = |name: &str| env::var(name).ok();
        let shard = self.shard.as_deref().map(|text| Shard::parse(text, environment));
        shard.transpose().map_err(of("--shard"))
    }
}

/// What is said when a shard of so many combinations is done.
pub fn done(shard: Shard, total: u64, part: &Path) -> String {
    let numbers = shard.range(total);
    format!(
        "shard {shard}: {} of {total} combinations, in {}; --merge joins all {}",
        numbers.end - numbers.start,
        part.display(),
        shard.count
    )
}

/// Says what was done, where it is not mixed with what a program reads.
pub fn say(text: String, output: &mut Output) -> Result<(), Failure> {
    if output.json {
        complain(&format!("note: {text}"));
        return Ok(());
    }
    output.line(text)
}
