//! What is tried of each field, and what it costs.

use crate::files::error::Error;
use crate::files::kind::FileKind;
use crate::files::overrides::Override;
use crate::files::short_path;
use crate::files::tree::value_at;
use crate::inputs::candidates::{CandidatesFile, MOST};
use crate::inputs::price::PartPrice;
use crate::loaded::Loaded;
use crate::runs::failure::Failure;
use crate::studies::sweep::{Vary, value_of, values_of};
use cycles::short;
use serde_json::Value;
use std::path::{Path, PathBuf};

/// Parts that hold a price of their own, by their paths; also each item of `added` and `removed`.
const PRICED: [&str; 7] =
    ["motor", "controller", "pack", "pack.cell", "gearbox", "tyre", "charger"];

/// Fields that say how many cells there are: a price of the whole pack does not hold for another
/// number.
const COUNTS: [&str; 3] = ["pack.series", "pack.parallel", "pack.cell"];
/// The same of a box of a pack.
const COUNTS_OF_A_BOX: [&str; 3] = ["series", "parallel", "cell"];

/// What is tried: for each field its values, and what each of them costs.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Candidates {
    /// The fields with their values.
    pub varied: Vec<Vary>,
    /// The price of each value, where it has one of its own.
    prices: Vec<Vec<Option<f64>>>,
    /// The file that says so of each field, where it is one.
    files: Vec<Option<PathBuf>>,
}

impl Candidates {
    /// Takes `path=a,b,c` or `path=from..to:step`, where `@` and a number after a value say what it
    /// costs: `motor=shelf:one@900,shelf:two@1250`.
    ///
    /// # Errors
    /// [`Failure::Form`] where it has neither form, a price is less than nothing, or the field is
    /// tried already.
    pub fn take(&mut self, text: &str) -> Result<(), Failure> {
        let Vary { path, values } = Vary::parse(text)?;
        let (values, prices) = values
            .into_iter()
            .map(|value| {
                let Some((what, price)) = value.as_str().and_then(|text| text.rsplit_once('@'))
                else {
                    return Ok((value, None));
                };
                // A name may hold the sign as well.
                if !price.trim().starts_with(|c: char| c.is_ascii_digit() || "+-.".contains(c)) {
                    return Ok((value, None));
                }
                let read = price.trim().parse::<f64>().ok();
                let Some(price) = read.filter(|price| (0.0..=MOST).contains(price)) else {
                    let why = format!("a price of {}; allowed: 0 to {MOST}", short(price));
                    return Err(Failure::Form { text: short(text).to_string(), why });
                };
                Ok((value_of(what), Some(price)))
            })
            .collect::<Result<(Vec<_>, Vec<_>), Failure>>()?;
        self.add(Vary { path, values }, prices, None)
    }

    fn add(
        &mut self,
        vary: Vary,
        prices: Vec<Option<f64>>,
        file: Option<&Path>,
    ) -> Result<(), Failure> {
        let vary = Vary { path: vary.path.trim().to_owned(), ..vary };
        let whole = short_path::whole(&vary.path);
        if self.varied.iter().any(|known| short_path::whole(&known.path) == whole) {
            let why = "it is tried twice; needed: all its values in one list".to_owned();
            return Err(Failure::Form { text: vary.path, why });
        }
        let alike = |a: &Value, b: &Value| a == b || a.is_number() && a.as_f64() == b.as_f64();
        let mut values = vary.values.iter().enumerate();
        let twice = values.find(|(i, value)| vary.values[..*i].iter().any(|one| alike(one, value)));
        if let Some((_, value)) = twice {
            let why = format!("{} is tried twice; needed: each value once", shown(value));
            return Err(Failure::Form { text: vary.path, why });
        }
        self.varied.push(vary);
        self.prices.push(prices);
        self.files.push(file.map(Path::to_owned));
        Ok(())
    }

    /// Takes what a file says.
    ///
    /// # Errors
    /// A file that cannot be read or says something else; what [`Self::take`] refuses.
    pub fn take_file(&mut self, path: &Path) -> Result<(), Error> {
        for (path_of_field, list) in CandidatesFile::open(path)?.tried {
            let (values, prices) = list.into_iter().map(|one| (one.value, one.price)).unzip();
            self.add(Vary { path: path_of_field, values }, prices, Some(path)).map_err(|e| {
                Error::File { file: path.display().to_string(), problem: e.to_string() }
            })?;
        }
        Ok(())
    }

    /// The price of each value of a combination.
    fn prices_of(&self, number: u64) -> Vec<Option<f64>> {
        let mut rest = number;
        let mut found = vec![None; self.varied.len()];
        for (price, all) in found.iter_mut().zip(&self.prices).rev() {
            let n = all.len() as u64;
            (*price, rest) = (all[(rest % n) as usize], rest / n);
        }
        found
    }

    /// What a combination costs besides its parts, value by value.
    pub fn besides(&self, number: u64) -> Vec<PartPrice> {
        let values = values_of(&self.varied, number).into_iter().zip(self.prices_of(number));
        let one = |(vary, (value, price)): (&Vary, (Value, Option<f64>))| {
            let part = format!("{}={}", vary.path, shown(&value));
            (price.is_some() && !priced(&vary.path)).then(|| PartPrice {
                path: vary.path.clone(),
                part,
                price,
            })
        };
        self.varied.iter().zip(values).filter_map(one).collect()
    }

    /// What a combination puts in, wide things before what is in them, and what it costs besides.
    pub fn overrides(&self, number: u64) -> Result<(Vec<Override>, f64), Error> {
        let mut found = Vec::new();
        let mut besides = 0.0;
        let values = values_of(&self.varied, number).into_iter().zip(self.prices_of(number));
        for (vary, (value, price)) in self.varied.iter().zip(values) {
            let path = &vary.path;
            found.push(Override::new(path, value)?);
            match (price, priced(path)) {
                (Some(price), true) => {
                    found.push(Override::number(&format!("{path}.price"), price)?)
                }
                (Some(price), false) => besides += price,
                (None, _) => {}
            }
        }
        found.sort_by_key(|one| one.path.len());
        Ok((found, besides))
    }

    /// Whether a value of a field that is no part has a price: then combinations cost something
    /// even where no part has a price.
    pub fn cost_besides(&self) -> bool {
        let fields = self.varied.iter().zip(&self.prices);
        fields
            .into_iter()
            .any(|(vary, prices)| !priced(&vary.path) && prices.iter().any(Option::is_some))
    }

    /// Whether a field lies within what is tried.
    pub fn tries(&self, path: &str) -> bool {
        let whole = short_path::whole(path);
        self.varied.iter().any(|vary| {
            let tried = short_path::whole(&vary.path);
            whole == tried || whole.strip_prefix(&tried).is_some_and(|rest| rest.starts_with('.'))
        })
    }

    /// Whether the numbers of cells have prices, which are those of the pack.
    pub fn prices_counts(&self) -> bool {
        let mut fields = self.varied.iter().zip(&self.prices);
        fields.any(|(vary, prices)| is_count(&vary.path) && prices.iter().any(Option::is_some))
    }

    /// Fields that cost nothing of their own, whichever value they have.
    pub fn without_price(&self) -> Vec<&str> {
        let fields = self.varied.iter().zip(&self.prices);
        let free = fields.filter(|(vary, prices)| {
            !priced(&vary.path) && !is_count(&vary.path) && prices.iter().all(Option::is_none)
        });
        free.map(|(vary, _)| vary.path.as_str()).collect()
    }

    /// The files that values name.
    pub fn files(&self, loaded: &Loaded) -> Vec<PathBuf> {
        let mut files = Vec::new();
        for vary in &self.varied {
            for value in vary.values.iter().filter(|value| value.is_string()) {
                let set = Override::new(&vary.path, value.clone()).ok();
                files.extend(set.into_iter().flat_map(|set| loaded.files_of(&set)));
            }
        }
        files
    }

    /// Refuses what cannot be chosen: paths that lead nowhere, parts that there are not, and parts
    /// without a price.
    ///
    /// # Errors
    /// [`Error`] of the first of them.
    pub fn check(&self, loaded: &Loaded) -> Result<(), Error> {
        let base = loaded.prepare()?;
        let parts_cost = base.scenario.money.as_ref().and_then(|money| money.parts_cost);
        if parts_cost.is_some() {
            let problem = "is the price of all parts together, which says nothing of one in place of \
                           another; needed: null, and prices of the parts";
            let path = "money.parts_cost".to_owned();
            return Err(Error::Path { path, problem: problem.to_owned() });
        }
        let mut any = base.prices.price.is_some() || self.cost_besides();
        for (i, vary) in self.varied.iter().enumerate() {
            // What has to have a price has one.
            any |= priced(&vary.path) || self.prices[i].iter().any(Option::is_some);
            self.check_field(i, loaded).map_err(|e| match &self.files[i] {
                Some(file) => {
                    Error::File { file: file.display().to_string(), problem: e.to_string() }
                }
                None => e,
            })?;
        }
        if !any {
            let problem = "has no price, nor has any part of the build; needed: a price, such as @PRICE \
                           after each value or motor.price";
            let path = self.varied.first().map(|vary| vary.path.clone()).unwrap_or_default();
            return Err(Error::Path { path, problem: problem.to_owned() });
        }
        Ok(())
    }

    /// Refuses what cannot be chosen of a field: each of its values by itself.
    fn check_field(&self, i: usize, loaded: &Loaded) -> Result<(), Error> {
        let (vary, prices) = (&self.varied[i], &self.prices[i]);
        let path = short_path::short(&short_path::whole(&vary.path)).to_owned();
        for (value, price) in vary.values.iter().zip(prices) {
            let one = Override::new(&vary.path, value.clone())?;
            let put = loaded.put(std::slice::from_ref(&one))?;
            put.check_form()?;
            let has_price = |part: &str| {
                let price = value_at(put.root(), &format!("build.{part}.price"));
                price.is_some_and(Value::is_number)
            };
            let is_of_cells = path == "pack.cell" || path == "pack.cell.price";
            if is_of_cells && (has_price("pack") || self.brings_price_of("pack")) {
                return Err(whole_pack(format!("{path}={}", shown(value))));
            }
            let has_cells_alone = has_price("pack.cell") && !has_price("pack");
            if is_count(&path) && price.is_some() && has_cells_alone {
                let one = format!("{path}={}", shown(value));
                return Err(counted_twice(one, "that of each cell", "pack.cell.price=null"));
            }
            // What a charger gives is what it is sold by.
            let is_of_charger = path.starts_with("charger.") && price.is_some();
            if is_of_charger && (has_price("charger") || self.brings_price_of("charger")) {
                let one = format!("{path}={}", shown(value));
                return Err(counted_twice(one, "that of the charger", "charger.price=null"));
            }
            if price.is_none() {
                self.check_price(&path, value, &put)?;
            } else if path == "pack" {
                self.check_counts(&path, value)?;
            }
        }
        let first = Override::new(&vary.path, vary.values[0].clone())?;
        match loaded.with(&[first]) {
            Err(e) if e.is_of_path() => Err(e),
            _ => Ok(()),
        }
    }

    /// Refuses a value without a price of its own, where its part has none either.
    fn check_price(&self, path: &str, value: &Value, put: &Loaded) -> Result<(), Error> {
        let at = |path: &str| {
            let found = value_at(put.root(), &format!("build.{path}.price"));
            found.is_some_and(Value::is_number)
        };
        let text = format!("{path}={}", shown(value));
        let missing = |needed: String| {
            Err(Error::Path {
                path: text.clone(),
                problem: format!("has no price; needed: {needed}"),
            })
        };
        let own = format!("{}@PRICE, or `price` in its file", shown(value));
        match path {
            "pack" if at("pack") => self.check_counts(path, value),
            "pack" if at("pack.cell") => Ok(()),
            "pack" => missing(format!("{own} or in that of its cell")),
            _ if is_count(path) => {
                if at("pack") && !self.tries_price_of("pack") {
                    return Err(whole_pack(text));
                }
                match at("pack.cell") || self.tries_price_of("pack.cell") {
                    true => Ok(()),
                    false => missing("pack.cell.price".to_owned()),
                }
            }
            _ if priced(path) && !at(path) => missing(own),
            _ => Ok(()),
        }
    }

    /// Refuses a pack with a price of its own where the number of its cells is tried as well.
    fn check_counts(&self, path: &str, value: &Value) -> Result<(), Error> {
        let mut fields = self.varied.iter().zip(&self.prices);
        let free = |(vary, prices): (&Vary, &Vec<Option<f64>>)| {
            is_count(&vary.path) && prices.iter().any(Option::is_none)
        };
        match fields.any(free) {
            true => Err(whole_pack(format!("{path}={}", shown(value)))),
            false => Ok(()),
        }
    }

    /// Whether candidates of a part have prices of their own.
    fn brings_price_of(&self, part: &str) -> bool {
        let is_it = |vary: &Vary| short_path::short(&short_path::whole(&vary.path)) == part;
        let mut all = self.varied.iter().zip(&self.prices);
        all.any(|(vary, prices)| is_it(vary) && prices.iter().any(Option::is_some))
    }

    /// Whether candidates bring the price of a part along.
    fn tries_price_of(&self, part: &str) -> bool {
        let path = short_path::whole(part);
        let inner = |vary: &Vary| path.starts_with(&short_path::whole(&vary.path));
        self.varied.iter().any(|vary| kind_at(&vary.path).is_some() && inner(vary))
    }
}

/// The refusal of a price beside another of the same thing.
fn counted_twice(path: String, other: &str, none: &str) -> Error {
    let problem =
        format!("has a price beside {other}, and both would count; needed: no price, or {none}");
    Error::Path { path, problem }
}

/// The refusal of a price that does not follow the number of cells.
fn whole_pack(path: String) -> Error {
    let problem = "has a price of the whole pack, which does not follow the number of its cells; \
                   needed: pack.cell.price in place of pack.price, or a price for each number";
    Error::Path { path, problem: problem.to_owned() }
}

/// The part at a path.
fn kind_at(path: &str) -> Option<FileKind> {
    let steps: Vec<String> = short_path::whole(path).split('.').map(str::to_owned).collect();
    FileKind::at(&steps)
}

/// Whether what stands at a path holds its own price.
fn priced(path: &str) -> bool {
    let whole = short_path::whole(path);
    let path = whole.strip_prefix("build.").unwrap_or(&whole);
    let is_item = |list: &str| {
        let item = path.strip_prefix(list);
        item.is_some_and(|item| item.parse::<usize>().is_ok())
    };
    PRICED.contains(&path) || is_item("added.") || is_item("removed.")
}

/// Whether it decides how many cells there are, or which.
fn is_count(path: &str) -> bool {
    let whole = short_path::whole(path);
    let path = short_path::short(&whole);
    let in_box = path.strip_prefix("pack.boxes.").and_then(|rest| rest.split_once('.'));
    let is_of_box = in_box.is_some_and(|(_, field)| COUNTS_OF_A_BOX.contains(&field));
    COUNTS.contains(&path) || is_of_box
}

/// A value as it is given in an option.
pub fn shown(value: &Value) -> String {
    match value {
        Value::String(text) => short(text).to_string(),
        Value::Object(part) => match part.get("name").and_then(Value::as_str) {
            Some(name) => short(name).to_string(),
            None => "a part that stands there".to_owned(),
        },
        other => short(&other.to_string()).to_string(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_price_stands_behind_its_value() {
        let mut all = Candidates::default();
        all.take("motor=shelf:one@900,my@home.json,two.json@12.5").unwrap();
        all.take("gearbox.final_drive=3.5@120,3.9").unwrap();
        assert_eq!(
            all.varied[0].values,
            ["shelf:one", "my@home.json", "two.json"].map(Value::from)
        );
        assert_eq!(all.prices[0], [Some(900.0), None, Some(12.5)]);
        assert_eq!(all.varied[1].values, [3.5, 3.9].map(Value::from));
        assert_eq!(all.prices[1], [Some(120.0), None]);
        assert!(all.cost_besides());
        let (found, besides) = all.overrides(0).unwrap();
        let paths: Vec<&str> = found.iter().map(Override::path).collect();
        assert_eq!(paths, ["motor", "motor.price", "gearbox.final_drive"]);
        assert_eq!(besides, 120.0);
        assert_eq!(all.overrides(3).unwrap().1, 0.0);
        let beside = all.besides(0);
        assert_eq!((beside.len(), beside[0].part.as_str()), (1, "gearbox.final_drive=3.5"));
        assert!(all.tries("motor.mass_kg") && all.tries("build.motor") && !all.tries("motors.x"));
        for bad in [
            "motor=x",
            " motor=x",
            "build.motor=x",
            "tyre=a@-3",
            "tyre=a@1e99",
            "tyre=a@9€",
            "tyre",
            "tyre=",
        ] {
            assert!(all.take(bad).is_err(), "{bad}");
        }
    }

    #[test]
    fn parts_without_a_price_are_named() {
        let demo = Loaded::demo().unwrap();
        let check = |loaded: &Loaded, list: &[&str]| -> Result<(), String> {
            let mut all = Candidates::default();
            for text in list {
                all.take(text).unwrap();
            }
            all.check(loaded).map_err(|e| e.to_string())
        };
        let no_price = check(&demo, &["motor=shelf:induction-air-small"]).unwrap_err();
        assert!(no_price.starts_with("motor=shelf:induction-air-small: has no price"));
        check(&demo, &["motor=shelf:induction-air-small@5"]).unwrap();
        let free = check(&demo, &["gearbox.final_drive=3.5,3.9"]).unwrap_err();
        assert!(free.contains("nor has any part"), "{free}");
        check(&demo, &["gearbox.final_drive=3.5@9,3.9@0"]).unwrap();
        let some = demo.put(&["controller.price=9".parse().unwrap()]).unwrap();
        check(&some, &["gearbox.final_drive=3.5,3.9"]).unwrap();
        let whole = demo.put(&["money.parts_cost=9".parse().unwrap()]).unwrap();
        assert!(check(&whole, &["motor=shelf:induction-air-small@5"]).is_err());
        assert!(check(&demo, &["motor=shelf:no-such@5"]).unwrap_err().contains("no-such"));
        let cells = demo.put(&["pack.cell.price=3".parse().unwrap()]).unwrap();
        check(&cells, &["pack.parallel=1,2"]).unwrap();
        assert!(check(&demo, &["pack.parallel=1,2"]).unwrap_err().contains("pack.cell.price"));
        let whole = cells.put(&["pack.price=30".parse().unwrap()]).unwrap();
        assert!(check(&whole, &["pack.parallel=1,2"]).unwrap_err().contains("the whole pack"));
        let both = ["pack=shelf:blend-355v-50ah@900", "pack.parallel=1,2"];
        assert!(check(&demo, &both).unwrap_err().contains("the whole pack"));
        check(&whole, &["pack.parallel=1@20,2@90"]).unwrap();
        // What is counted twice, or not at all.
        let twice = check(&cells, &["pack.parallel=1@20,2@90"]).unwrap_err();
        assert!(twice.contains("both would count"), "{twice}");
        let none = check(&whole, &["pack.cell=shelf:blend-50ah@4"]).unwrap_err();
        assert!(none.contains("the whole pack"), "{none}");
        let both = ["pack=shelf:blend-355v-50ah@900", "pack.cell=shelf:blend-50ah@4"];
        assert!(check(&demo, &both).unwrap_err().contains("the whole pack"));
        check(&demo, &["pack.parallel=1,2", "pack.cell=shelf:blend-50ah@4"]).unwrap();
        let dear = demo.put(&["charger.price=300".parse().unwrap()]).unwrap();
        check(&demo, &["charger.power_kw=3@100,6@400"]).unwrap();
        let twice = check(&dear, &["charger.power_kw=3@100,6@400"]).unwrap_err();
        assert!(twice.contains("that of the charger"), "{twice}");
        // A value that is of another kind than its field.
        let kind = check(&demo, &["gearbox.final_drive=3.5@1,long@2"]).unwrap_err();
        assert!(
            kind.contains("gearbox.final_drive is the text \"long\"; allowed: a number"),
            "{kind}"
        );
    }
}
