//! Rows of many combinations, computed in parallel, handed on in order, and kept in a part file that
//! a later run goes on with.
//!
//! A study gives each combination a number from 0 and knows what it is of that number alone, so
//! that nothing grows with how many there are. [`Part::open`] goes on where a stopped run ended,
//! [`Part::run`] computes what is missing, [`Rows`] reads all of it again to write the file that was
//! asked for. Parts of several machines ([`Shard`]) are found by [`parts_beside`] and read one after
//! the other, so that the file is the same as that of a single run.

use crate::files::error::Error;
use crate::files::part_file::{PartFile, PartLines, part_of, summed};
use crate::runs::figure::{Figure, find};
use crate::runs::run::Run;
use crate::studies::shard::Shard;
use rayon::prelude::*;
use serde::{Deserialize, Serialize};
use std::fs;
use std::ops::Range;
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

/// Combinations that are worked on before their rows are handed on, at most: the memory of a study.
const MOST_AT_ONCE: u64 = 2048;

/// How long it should take to work on them, at least: where it takes twice as long, they get fewer.
const AT_ONCE: Duration = Duration::from_millis(100);

/// Computes something of each number in parallel and hands it on in order, with the number of the
/// first, a few at a time.
///
/// # Errors
/// What `take` returns.
pub fn in_order<T: Send, E>(
    numbers: Range<u64>,
    compute: impl Fn(u64) -> T + Sync,
    mut take: impl FnMut(u64, Vec<T>) -> Result<(), E>,
) -> Result<(), E> {
    let least = 4 * rayon::current_num_threads() as u64;
    let (mut from, mut many) = (numbers.start, least);
    while from < numbers.end {
        let to = from.saturating_add(many).min(numbers.end);
        let begun = Instant::now();
        take(from, (from..to).into_par_iter().map(&compute).collect())?;
        let took = begun.elapsed();
        if took < AT_ONCE {
            many = (2 * many).min(MOST_AT_ONCE.max(least));
        } else if took > 4 * AT_ONCE {
            many = (many / 2).max(least);
        }
        from = to;
    }
    Ok(())
}

/// What came of a combination: the values of the columns, and which runs were not carried out.
#[derive(Debug, Clone, PartialEq)]
pub struct Found {
    /// The value of each column, where it has one; not a number where it is never reached, infinite
    /// where something never happens.
    pub values: Vec<Option<f64>>,
    /// The runs that were not carried out, and why.
    pub not_done: Vec<(Run, String)>,
}

impl Found {
    /// Of the figures of a car those that are the columns.
    pub fn of(figures: &[Figure], columns: &[&str]) -> Self {
        let value = |name: &&str| find(figures, name).map(|figure| figure.value);
        // A run may be carried out as far as some of its figures go.
        let shown = figures.iter().filter(|figure| columns.contains(&figure.name));
        let not_done = Run::not_done(&shown.copied().collect::<Vec<_>>());
        Self {
            values: columns.iter().map(value).collect(),
            not_done: not_done.into_iter().map(|(run, why)| (run, why.to_owned())).collect(),
        }
    }

    /// Of the values in some columns those in others of them, in their order.
    pub fn picked(&self, columns: &[&str], others: &[&str]) -> Self {
        let place = |name: &&str| columns.iter().position(|known| known == name);
        let values = others.iter().map(|name| *self.values.get(place(name)?)?).collect();
        Self { values, not_done: self.not_done.clone() }
    }
}

/// A combination and what came of it, or why nothing did.
#[derive(Debug, Clone, PartialEq)]
pub struct Row {
    /// Number of the combination, from 0.
    pub number: u64,
    /// What came of it.
    pub outcome: Result<Found, String>,
}

impl Row {
    /// As it stands in a part: the number, then the values, or the problem.
    fn line(&self) -> String {
        let text = |text: &str| serde_json::Value::from(text).to_string();
        let mut line = self.number.to_string();
        match &self.outcome {
            Ok(found) => {
                line.push_str("\tfound");
                for value in &found.values {
                    line.push('\t');
                    if let Some(value) = value {
                        // As few digits as it takes to read the same number again.
                        line.push_str(&format!("{value:?}"));
                    }
                }
                for (run, why) in &found.not_done {
                    line.push_str(&format!("\t{} {}", run.name(), text(why)));
                }
            }
            Err(problem) => line.push_str(&format!("\trefused\t{}", text(problem))),
        }
        line
    }

    /// Reads a line with so many values.
    fn read(line: &str, columns: usize) -> Option<Self> {
        let mut cells = line.split('\t');
        let number = cells.next()?.parse().ok()?;
        let outcome = match cells.next()? {
            "found" => {
                let value = |cell: &str| match cell {
                    "" => Some(None),
                    number => Some(Some(number.parse().ok()?)),
                };
                let values: Option<Vec<_>> = cells.by_ref().take(columns).map(value).collect();
                let not_done = |cell: &str| {
                    let (run, why) = cell.split_once(' ')?;
                    Some((Run::named(run)?, serde_json::from_str(why).ok()?))
                };
                let not_done = cells.map(not_done).collect::<Option<_>>()?;
                Ok(Found { values: values.filter(|v| v.len() == columns)?, not_done })
            }
            "refused" => Err(serde_json::from_str(cells.next()?).ok()?),
            _ => return None,
        };
        Some(Self { number, outcome })
    }
}

/// Something that rows rest on, and the sum of its content.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Ground {
    /// What it is, such as "the command" or the name of a file.
    pub what: String,
    /// The sum by which it is known again.
    pub sum: String,
}

/// What rows there are and what they rest on. Parts of equal plans belong together.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Plan {
    /// How many combinations there are.
    pub total: u64,
    /// Names of the columns.
    pub columns: Vec<String>,
    /// What they rest on.
    pub grounds: Vec<Ground>,
}

impl Plan {
    /// What of another plan is not as in this one.
    fn differs(&self, other: &Self) -> Option<String> {
        let grounds = self.grounds.iter().zip(&other.grounds);
        let changed = grounds.filter(|(a, b)| a.sum != b.sum).map(|(a, _)| a.what.clone());
        let whole = || "the command".to_owned();
        changed.chain((self.total != other.total).then(whole)).next().or_else(|| {
            let alike = self.grounds.len() == other.grounds.len() && self.columns == other.columns;
            (!alike).then(whole)
        })
    }
}

/// The first line of a part.
#[derive(Debug, Serialize, Deserialize)]
struct Head {
    shard: Shard,
    plan: Plan,
}

/// How the head begins, so that a person who looks into the file learns what it is.
const TITLE: &str = "rows of shakedown ";

impl Head {
    fn line(&self) -> Result<String, Error> {
        let no_json = |e: serde_json::Error| Error::File {
            file: "the rows' plan".to_owned(),
            problem: e.to_string(),
        };
        Ok(format!("{TITLE}{}", serde_json::to_string(self).map_err(no_json)?))
    }

    fn read(line: &str) -> Option<Self> {
        serde_json::from_str(line.strip_prefix(TITLE)?).ok()
    }

    /// What it holds, and whether that is this shard of this plan.
    fn check(line: &str, path: &Path, plan: &Plan, shard: Shard) -> Result<(), Error> {
        let refuse = |problem: String| Error::File { file: path.display().to_string(), problem };
        let head = Self::read(line)
            .ok_or_else(|| refuse("is not what a stopped run leaves".to_owned()))?;
        if let Some(what) = plan.differs(&head.plan) {
            return Err(refuse(format!(
                "holds rows from before {what} changed; remove it to begin anew"
            )));
        }
        if head.shard != shard {
            return Err(refuse(format!("holds shard {} and not {shard}", head.shard)));
        }
        Ok(())
    }
}

/// Rows of a plan, or of a shard of it, on their way into a part file.
#[derive(Debug)]
pub struct Part {
    file: PartFile,
    /// Numbers whose rows are not there yet.
    rest: Range<u64>,
}

impl Part {
    /// Where a part stands: beside the file that comes of it.
    pub fn path(file: &Path, shard: Option<Shard>) -> PathBuf {
        let piece = shard.map(|it| format!(".{}-of-{}", it.number, it.count));
        part_of(file, &piece.unwrap_or_default())
    }

    /// Goes on with a part, whose rows are handed to `take`, or begins it.
    ///
    /// # Errors
    /// [`Error::File`] where it holds rows of something else, another run writes it, or the
    /// operating system refuses; what `take` returns.
    pub fn open<E: From<Error>>(
        path: &Path,
        plan: &Plan,
        shard: Shard,
        mut take: impl FnMut(Row) -> Result<(), E>,
    ) -> Result<Self, E> {
        let head = Head { shard, plan: plan.clone() }.line()?;
        let numbers = shard.range(plan.total);
        let (mut next, mut has_head) = (numbers.start, false);
        let file = PartFile::open(path, &head, |line| {
            if !has_head {
                Head::check(line, path, plan, shard)?;
                has_head = true;
                return Ok(true);
            }
            let row = Row::read(line, plan.columns.len());
            match row.filter(|row| row.number == next && next < numbers.end) {
                Some(row) => {
                    next += 1;
                    take(row).map(|()| true)
                }
                None => Ok(false),
            }
        })?;
        Ok(Self { file, rest: next..numbers.end })
    }

    /// Numbers whose rows are not there yet.
    pub fn rest(&self) -> Range<u64> {
        self.rest.clone()
    }

    /// Computes the rows that are not there yet in parallel, keeps them and hands them to `take` in
    /// order. When it ends, all of them are on the disk.
    ///
    /// # Errors
    /// [`Error::File`] where they cannot be written; those before stay. What `take` returns.
    pub fn run<E: From<Error>>(
        &mut self,
        evaluate: impl Fn(u64) -> Result<Found, String> + Sync,
        mut take: impl FnMut(Row) -> Result<(), E>,
    ) -> Result<(), E> {
        let compute = |number| {
            let row = Row { number, outcome: evaluate(number) };
            (summed(&row.line()), row)
        };
        let (file, rest) = (&mut self.file, &mut self.rest);
        in_order(rest.clone(), compute, |first, rows: Vec<(String, Row)>| {
            let lines: String = rows.iter().map(|(line, _)| line.as_str()).collect();
            file.add(&lines)?;
            rest.start = first + rows.len() as u64;
            rows.into_iter().try_for_each(|(_, row)| take(row))
        })?;
        Ok(file.sync()?)
    }

    /// Removes it, when what was made of it is whole.
    ///
    /// # Errors
    /// [`Error::File`] with what the operating system says.
    pub fn remove(self) -> Result<(), Error> {
        self.file.remove()
    }
}

/// The rows of one part after the other.
#[derive(Debug)]
pub struct Rows {
    paths: std::vec::IntoIter<PathBuf>,
    lines: Option<PartLines>,
    columns: usize,
    next: u64,
    total: u64,
}

impl Rows {
    /// All rows of a plan, in the parts at these paths.
    pub fn of(plan: &Plan, paths: Vec<PathBuf>) -> Self {
        let (columns, total) = (plan.columns.len(), plan.total);
        Self { paths: paths.into_iter(), lines: None, columns, next: 0, total }
    }

    /// Hands each of them on, in order.
    ///
    /// # Errors
    /// [`Error::File`] where one cannot be read or is missing; what `take` returns.
    pub fn each<E: From<Error>>(
        mut self,
        mut take: impl FnMut(Row) -> Result<(), E>,
    ) -> Result<(), E> {
        let mut path = PathBuf::new();
        while self.next < self.total {
            let line = match &mut self.lines {
                Some(lines) => lines.next_line()?,
                None => None,
            };
            match line {
                Some(line) => {
                    let row = Row::read(line, self.columns).filter(|row| row.number == self.next);
                    let row = row.ok_or_else(|| Error::File {
                        file: path.display().to_string(),
                        problem: format!("the row of combination {} is missing", self.next),
                    })?;
                    self.next += 1;
                    take(row)?;
                }
                None => {
                    path = self.paths.next().ok_or_else(|| Error::File {
                        file: path.display().to_string(),
                        problem: format!("ends before combination {}", self.next),
                    })?;
                    let mut lines = PartLines::open(&path)?;
                    lines.next_line()?;
                    self.lines = Some(lines);
                }
            }
        }
        Ok(())
    }
}

/// The parts of a file's shards that stand beside it, all of them, in order.
///
/// # Errors
/// [`Error::File`] that names what is missing or not done, or what does not belong together.
pub fn parts_beside(file: &Path, plan: &Plan) -> Result<Vec<PathBuf>, Error> {
    let refuse = |problem: String| Error::File { file: file.display().to_string(), problem };
    let found = shards_beside(file).map_err(|e| refuse(e.to_string()))?;
    let Some(Shard { count, .. }) = found.first().copied() else {
        return Err(refuse("no part of a shard stands beside it; --shard makes them".to_owned()));
    };
    if let Some(other) = found.iter().find(|shard| shard.count != count) {
        return Err(refuse(format!(
            "parts of {count} and of {} shards stand beside it; those of one of them must go",
            other.count
        )));
    }
    let path = |number| Part::path(file, Some(Shard { number, count }));
    let mut not_done = Vec::new();
    for shard in &found {
        let (done, all) = (done(&path(shard.number), plan, *shard)?, shard.range(plan.total));
        let many = all.end - all.start;
        if done < many {
            not_done.push(format!("{} has {done} of {many} rows", shard.number));
        }
    }
    let missing: Vec<u64> = (1..=count)
        .filter(|number| found.binary_search(&Shard { number: *number, count }).is_err())
        .collect();
    if missing.is_empty() && not_done.is_empty() {
        return Ok((1..=count).map(path).collect());
    }
    let missing = (!missing.is_empty()).then(|| format!("missing: {}", listed(&missing)));
    let not_done = (!not_done.is_empty()).then(|| format!("not done: {}", not_done.join(", ")));
    let what: Vec<String> = missing.into_iter().chain(not_done).collect();
    Err(refuse(format!("of its {count} shards {}", what.join("; "))))
}

/// The shards of which a part stands beside a file, in order.
fn shards_beside(file: &Path) -> std::io::Result<Vec<Shard>> {
    let like = Part::path(file, None);
    let stem = like.file_name().and_then(|name| name.to_str()?.strip_suffix(".part"));
    let Some(prefix) = stem.map(|stem| format!("{stem}.")) else { return Ok(Vec::new()) };
    let folder = like.parent().filter(|folder| !folder.as_os_str().is_empty());
    let mut found = Vec::new();
    for entry in fs::read_dir(folder.unwrap_or(Path::new(".")))? {
        let name = entry?.file_name();
        let piece = name.to_str().and_then(|n| n.strip_prefix(&prefix)?.strip_suffix(".part"));
        let number = |text: &str| {
            let number = text.parse::<u64>().ok()?;
            (number.to_string() == text).then_some(number)
        };
        found.extend(piece.and_then(|piece| {
            let (number_of, count) = piece.split_once("-of-")?;
            Some(Shard { number: number(number_of)?, count: number(count)? })
        }));
    }
    found.sort_unstable();
    Ok(found)
}

/// How many rows of a shard a part holds.
fn done(path: &Path, plan: &Plan, shard: Shard) -> Result<u64, Error> {
    let mut lines = PartLines::open(path)?;
    Head::check(lines.next_line()?.unwrap_or_default(), path, plan, shard)?;
    let mut next = shard.range(plan.total);
    while let Some(line) = lines.next_line()? {
        let row = Row::read(line, plan.columns.len());
        if next.next().is_none_or(|number| row.is_none_or(|row| row.number != number)) {
            let problem = "holds rows that are not its own".to_owned();
            return Err(Error::File { file: path.display().to_string(), problem });
        }
    }
    Ok(next.start - shard.range(plan.total).start)
}

/// Numbers in order as people list them: `3, 7 to 9`.
fn listed(numbers: &[u64]) -> String {
    let mut runs: Vec<Range<u64>> = Vec::new();
    for number in numbers {
        match runs.last_mut() {
            Some(run) if run.end == *number => run.end += 1,
            _ => runs.push(*number..number + 1),
        }
    }
    let run = |run: &Range<u64>| match run.end - run.start {
        1 => run.start.to_string(),
        2 => format!("{}, {}", run.start, run.start + 1),
        _ => format!("{} to {}", run.start, run.end - 1),
    };
    runs.iter().map(run).collect::<Vec<_>>().join(", ")
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;
    use std::thread::sleep;

    proptest! {
        /// Whatever a row holds, its line is one line, and is read as the same row.
        #[test]
        fn a_row_is_read_as_it_was_written(
            number in any::<u64>(),
            values in prop::collection::vec(prop::option::of(any::<f64>()), 0..6),
            runs in prop::collection::vec((0..Run::ALL.len(), ".*"), 0..3),
            problem in prop::option::of("(?s).*"),
        ) {
            let columns = values.len();
            let not_done = runs.into_iter().map(|(i, why)| (Run::ALL[i], why)).collect();
            let outcome = problem.map_or(Ok(Found { values, not_done }), Err);
            let row = Row { number, outcome };
            let line = row.line();
            prop_assert!(!line.contains('\n'));
            let read = Row::read(&line, columns);
            // Not a number is not equal to itself.
            prop_assert_eq!(format!("{read:?}"), format!("{:?}", Some(row)));
        }
    }

    #[test]
    fn what_takes_longer_is_handed_on_in_order_all_the_same() {
        let compute = |number| {
            sleep(Duration::from_micros(number * 37 % 500));
            number
        };
        let mut next = 5;
        in_order(5..3000, compute, |first, all| {
            assert_eq!(first, next);
            assert!(all.len() as u64 <= MOST_AT_ONCE.max(4 * rayon::current_num_threads() as u64));
            for number in all {
                assert_eq!(number, next);
                next += 1;
            }
            if next < 2000 { Ok(()) } else { Err(()) }
        })
        .unwrap_err();
        assert!((2000..2000 + MOST_AT_ONCE).contains(&next), "{next}");
    }

    #[test]
    fn numbers_are_listed_as_people_do() {
        assert_eq!(listed(&[3, 7, 8, 9, 12, 13]), "3, 7 to 9, 12, 13");
    }
}
