//! One of several parts of many combinations, as machines share them.

use crate::files::bounds::SHARDS;
use crate::runs::failure::Failure;
use serde::{Deserialize, Serialize};
use std::fmt;
use std::ops::Range;

/// A part and how many there are: `3/16` is the third of sixteen.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub struct Shard {
    /// Which one, from 1.
    pub number: u64,
    /// How many there are.
    pub count: u64,
}

/// What an array job of Slurm tells each of its tasks.
const SLURM: [&str; 4] = [
    "SLURM_ARRAY_TASK_ID",
    "SLURM_ARRAY_TASK_COUNT",
    "SLURM_ARRAY_TASK_MIN",
    "SLURM_ARRAY_TASK_STEP",
];

/// What an indexed job of Kubernetes tells each of its pods: a number from 0.
const KUBERNETES: &str = "JOB_COMPLETION_INDEX";

const FORM: &str = "allowed: K/N with K from 1 to N, array/N, array";

impl Shard {
    /// All of it.
    pub const WHOLE: Self = Self { number: 1, count: 1 };

    /// Reads `3/16`; or, from what an array job tells its tasks in the environment, `array/16`, and
    /// `array` where the job tells the count as well.
    ///
    /// # Errors
    /// [`Failure::Form`] where it has none of these forms, there is no such part, or the environment
    /// does not say which one it is, or says something else.
    pub fn parse(text: &str, told: impl Fn(&str) -> Option<String>) -> Result<Self, Failure> {
        let refuse = |why: String| Failure::Form { text: text.to_owned(), why };
        let number = |text: &str| text.parse::<u64>().map_err(|_| refuse(FORM.to_owned()));
        let (which, count) = match text.split_once('/') {
            Some((which, count)) => (which, Some(number(count)?)),
            None if text == "array" => (text, None),
            None => return Err(refuse(FORM.to_owned())),
        };
        let shard = match which {
            "array" => Self::of_array(count, told).map_err(refuse)?,
            which => Self { number: number(which)?, count: count.unwrap_or(0) },
        };
        if shard.count == 0 || shard.count > SHARDS {
            let why = format!("{} shards; allowed: 1 to {SHARDS}", shard.count);
            return Err(refuse(why));
        }
        if !(1..=shard.count).contains(&shard.number) {
            let why = format!("there is no shard {} of {}; {FORM}", shard.number, shard.count);
            return Err(refuse(why));
        }
        Ok(shard)
    }

    /// What an array job says.
    fn of_array(
        stated: Option<u64>,
        told: impl Fn(&str) -> Option<String>,
    ) -> Result<Self, String> {
        let number = |name: &str| match told(name) {
            None => Ok(None),
            Some(text) => {
                let unfit = |_| format!("{name} is \"{}\" and no number", cycles::short(&text));
                text.parse::<u64>().map(Some).map_err(unfit)
            }
        };
        let [id, count, least, step] = SLURM.map(number);
        match (id?, number(KUBERNETES)?) {
            (Some(_), Some(_)) => {
                Err(format!("both {} and {KUBERNETES} are set; needed: K/N", SLURM[0]))
            }
            (None, None) => Err(format!(
                "neither {} nor {KUBERNETES} is set, so this is no task of an array",
                SLURM[0]
            )),
            (None, Some(index)) => match stated {
                Some(count) => Ok(Self { number: index.saturating_add(1), count }),
                None => Err(format!("{KUBERNETES} comes without a count; needed: array/N")),
            },
            (Some(id), None) => {
                let needed = |value: Option<u64>, name| value.ok_or(format!("{name} is not set"));
                let (count, least) = (needed(count?, SLURM[1])?, needed(least?, SLURM[2])?);
                if let Some(stated) = stated.filter(|stated| *stated != count) {
                    return Err(format!("{} is {count} and not {stated}", SLURM[1]));
                }
                let step = step?.unwrap_or(1).max(1);
                let above = id.checked_sub(least).filter(|above| above.is_multiple_of(step));
                let above = above.ok_or(format!(
                    "{} is {id}, which {step} after {step} from {least} does not meet",
                    SLURM[0]
                ))?;
                Ok(Self { number: above / step + 1, count })
            }
        }
    }

    /// Which of so many combinations are its own.
    pub fn range(self, total: u64) -> Range<u64> {
        let from = |number: u64| {
            let share = u128::from(total) * u128::from(number) / u128::from(self.count.max(1));
            u64::try_from(share).unwrap_or(total)
        };
        from(self.number.saturating_sub(1))..from(self.number)
    }
}

impl fmt::Display for Shard {
    fn fmt(&self, f: &mut fmt::Formatter) -> fmt::Result {
        write!(f, "{}/{}", self.number, self.count)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn every_combination_is_in_one_shard(total in 0_u64..5000, count in 1_u64..300) {
            let mut next = 0;
            for number in 1..=count {
                let range = Shard { number, count }.range(total);
                prop_assert_eq!(range.start, next);
                prop_assert!(range.end - range.start <= total / count + 1);
                next = range.end;
            }
            prop_assert_eq!(next, total);
        }
    }

    /// The variables are those of the manual of sbatch and of the documentation of indexed jobs,
    /// from memory.
    #[test]
    fn what_array_jobs_say_counts_only_where_it_is_asked_for() {
        let said = |text: &str, told: &[(&str, &str)]| {
            let told = |name: &str| {
                told.iter().find(|(known, _)| *known == name).map(|(_, value)| (*value).to_owned())
            };
            Shard::parse(text, told).map(|shard| shard.to_string()).map_err(|e| e.to_string())
        };
        let slurm = |id: &'static str, count, least, step| {
            let values = [id, count, least, step];
            SLURM.into_iter().zip(values).filter(|(_, value)| !value.is_empty())
        };
        let task: Vec<_> = slurm("7", "3", "5", "").collect();
        assert_eq!(said("2/4", &task).unwrap(), "2/4");
        assert_eq!(said("array", &task).unwrap(), "3/3");
        assert_eq!(said("array/3", &task).unwrap(), "3/3");
        assert_eq!(said("array", &slurm("5", "3", "1", "2").collect::<Vec<_>>()).unwrap(), "3/3");
        let pod = [(KUBERNETES, "0")];
        assert_eq!(said("array/16", &pod).unwrap(), "1/16");
        let both: Vec<_> = task.iter().copied().chain(pod).collect();
        let none: &[(&str, &str)] = &[];
        for (text, told, words) in [
            ("array/4", &task[..], "SLURM_ARRAY_TASK_COUNT is 3 and not 4"),
            ("array", &pod, "needed: array/N"),
            ("array", &both, "both"),
            ("array/3", none, "no task of an array"),
            ("array", &[(KUBERNETES, "x")], "\"x\" and no number"),
            ("array/2", &[(KUBERNETES, "2")], "no shard 3 of 2"),
            ("array", &slurm("9", "3", "1", "").collect::<Vec<_>>(), "no shard 9 of 3"),
            ("array", &slurm("4", "3", "1", "2").collect::<Vec<_>>(), "does not meet"),
            ("array", &slurm("0", "3", "1", "").collect::<Vec<_>>(), "does not meet"),
            ("array", &slurm("1", "", "1", "").collect::<Vec<_>>(), "TASK_COUNT is not set"),
            ("0/16", none, "no shard 0 of 16"),
            ("17/16", none, "no shard 17 of 16"),
            ("1/0", none, "0 shards"),
            ("1/100001", none, "1 to 100000"),
            ("3", none, "K/N"),
            ("-1/3", none, "K/N"),
            ("1/3/5", none, "K/N"),
            ("", none, "K/N"),
        ] {
            let refusal = said(text, told).unwrap_err();
            assert!(refusal.contains(words), "{text}: {refusal}");
        }
    }
}
