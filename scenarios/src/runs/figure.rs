//! Figures: named numbers that a run boils down to.
//!
//! A figure is declared once, in the table of its run: what it is called, in what unit, which way
//! is better, what it means, and how it is [read](Reading) from the run's report. Goals, sorting,
//! comparisons, bands and the list of figures all follow from that entry.

use schemars::JsonSchema;
use serde::{Serialize, Serializer};

/// Which way is better.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Better {
    /// More is better.
    Higher,
    /// Less is better.
    Lower,
    /// Neither.
    Neither,
}

/// What the value of a figure tells.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum FigureKind {
    /// A number of something.
    Number,
    /// How far or how fast a run got: it counts also of one that was not carried out.
    Reach,
    /// 1 for yes, 0 for no.
    YesNo,
    /// A check of the simulation rather than of the car.
    Check,
}

/// The unit of a figure.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(into = "&'static str")]
#[schemars(with = "String")]
pub enum Unit {
    /// A count, a share, yes or no.
    Plain,
    /// A.
    A,
    /// °C.
    C,
    /// h.
    H,
    /// kg.
    Kg,
    /// kJ.
    Kj,
    /// km.
    Km,
    /// km/h.
    Kmh,
    /// Kilometres for each hour that something else takes.
    KmPerH,
    /// kW.
    Kw,
    /// kWh.
    Kwh,
    /// min.
    Min,
    /// A sum of money.
    Money,
    /// m/s².
    Mps2,
    /// %.
    Pct,
    /// Money for 100 km.
    Per100Km,
    /// s.
    S,
    /// V.
    V,
    /// Wh/km.
    WhPerKm,
}

impl Unit {
    /// How the names of figures in it end, and its sign.
    fn ending_and_sign(self) -> (&'static str, &'static str) {
        match self {
            Unit::Plain => ("", ""),
            Unit::A => ("a", "A"),
            Unit::C => ("c", "°C"),
            Unit::H => ("h", "h"),
            Unit::Kg => ("kg", "kg"),
            Unit::Kj => ("kj", "kJ"),
            Unit::Km => ("km", "km"),
            Unit::Kmh => ("kmh", "km/h"),
            Unit::KmPerH => ("km_per_h", "km per h"),
            Unit::Kw => ("kw", "kW"),
            Unit::Kwh => ("kwh", "kWh"),
            Unit::Min => ("min", "min"),
            Unit::Money => ("", ""),
            Unit::Mps2 => ("mps2", "m/s²"),
            Unit::Pct => ("pct", "%"),
            Unit::Per100Km => ("per_100km", "per 100 km"),
            Unit::S => ("s", "s"),
            Unit::V => ("v", "V"),
            Unit::WhPerKm => ("wh_per_km", "Wh/km"),
        }
    }

    /// How the names of figures in this unit end.
    pub fn ending(self) -> &'static str {
        self.ending_and_sign().0
    }

    /// Its sign.
    pub fn sign(self) -> &'static str {
        self.ending_and_sign().1
    }
}

impl From<Unit> for &'static str {
    fn from(unit: Unit) -> Self {
        unit.sign()
    }
}

/// A named number; or, with another `V`, what is known of it without a value.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, JsonSchema)]
#[schemars(rename = "Figure")]
pub struct Figure<V = f64> {
    /// Name, ending in its unit.
    pub name: &'static str,
    /// Value; `null` in JSON where it is never reached.
    #[schemars(with = "Option<f64>")]
    pub value: V,
    /// Unit.
    pub unit: Unit,
    /// Which way is better.
    pub better: Better,
    /// What the value tells.
    #[serde(skip)]
    pub kind: FigureKind,
    /// What it is, in a few words.
    #[serde(skip)]
    pub meaning: &'static str,
    /// Why the run was not carried out, where it was not.
    pub not_done: Option<&'static str>,
}

/// What a run reports, as far as its figures go.
pub trait Report {
    /// Why the run was not carried out to its end, if it was not: a car that does not drive takes
    /// little energy and stays cool, and no such figure may count for it.
    fn not_done(&self) -> Option<&'static str> {
        None
    }
}

/// A figure of a run, and how it is read from the run's report.
///
/// Not a number stands for what is never reached (also because the run was [not carried
/// out](Report::not_done)), infinity for what never happens; nothing at all for what the report does
/// not know, as when a price is missing.
pub type Reading<R> = Figure<fn(&R) -> Option<f64>>;

const fn number<V: Copy>(
    name: &'static str,
    unit: Unit,
    better: Better,
    (meaning, value): (&'static str, V),
) -> Figure<V> {
    Figure { name, value, unit, better, kind: FigureKind::Number, meaning, not_done: None }
}

/// How far or how fast a run got, of which more is better.
pub const fn reach<V: Copy>(
    name: &'static str,
    unit: Unit,
    meaning: &'static str,
    value: V,
) -> Figure<V> {
    Figure { kind: FigureKind::Reach, ..number(name, unit, Better::Higher, (meaning, value)) }
}

/// A figure of which more is better.
pub const fn higher<V: Copy>(
    name: &'static str,
    unit: Unit,
    meaning: &'static str,
    value: V,
) -> Figure<V> {
    number(name, unit, Better::Higher, (meaning, value))
}

/// A figure of which less is better.
pub const fn lower<V: Copy>(
    name: &'static str,
    unit: Unit,
    meaning: &'static str,
    value: V,
) -> Figure<V> {
    number(name, unit, Better::Lower, (meaning, value))
}

/// A figure that only describes.
pub const fn plain<V: Copy>(
    name: &'static str,
    unit: Unit,
    meaning: &'static str,
    value: V,
) -> Figure<V> {
    number(name, unit, Better::Neither, (meaning, value))
}

/// A figure that is 1 for yes, which is better, and 0 for no.
pub const fn yes_no<V: Copy>(name: &'static str, meaning: &'static str, value: V) -> Figure<V> {
    let (unit, better, kind) = (Unit::Plain, Better::Higher, FigureKind::YesNo);
    Figure { name, value, unit, better, kind, meaning, not_done: None }
}

/// A figure that checks the simulation: how far a ledger is from closing.
pub const fn residual<V: Copy>(name: &'static str, value: V) -> Figure<V> {
    let (unit, better, kind) = (Unit::Plain, Better::Neither, FigureKind::Check);
    let meaning = "energy that the ledger does not account for, as a share of the throughput";
    Figure { name, value, unit, better, kind, meaning, not_done: None }
}

/// Writes a number of a report that may have no end or no meaning: nothing where it has none.
pub(crate) fn or_nothing<S: Serializer>(value: &f64, serializer: S) -> Result<S::Ok, S::Error> {
    value.is_finite().then_some(*value).serialize(serializer)
}

/// What was taken for each km; not a number where the car stood.
pub(crate) fn per_km(taken: f64, distance_km: f64) -> f64 {
    // A car that rocks on its tyres has gone nowhere.
    if distance_km >= 1e-3 { taken / distance_km } else { f64::NAN }
}

/// The value of a yes or a no.
pub fn yes(answer: bool) -> Option<f64> {
    Some(f64::from(u8::from(answer)))
}

impl<V: Copy> Figure<V> {
    /// The same figure with something else for a value.
    pub fn with<W>(&self, value: W) -> Figure<W> {
        let Self { name, unit, better, kind, meaning, not_done, .. } = *self;
        Figure { name, value, unit, better, kind, meaning, not_done }
    }

    /// Whether it says something good or bad only of a run that was carried out.
    fn needs_the_run(&self) -> bool {
        self.kind == FigureKind::Number && self.better != Better::Neither
    }
}

impl Figure {
    /// The figure as it counts: of a run that was not carried out, one that could be good is never
    /// reached, unless such runs count all the same.
    pub fn counted(self, wanted: NotDone) -> Self {
        let hidden = self.not_done.is_some() && wanted == NotDone::Fails && self.needs_the_run();
        if hidden { self.with(f64::NAN) } else { self }
    }

    /// Whether it has no value for the one reason that the run was not carried out.
    pub fn is_hidden(&self) -> bool {
        self.not_done.is_some() && self.needs_the_run() && self.value.is_nan()
    }
}

/// The figures of a report as they are, also of a run that was not carried out.
pub fn read<R: Report>(table: &[Reading<R>], report: &R) -> Vec<Figure> {
    let not_done = report.not_done();
    let of =
        |figure: &Reading<R>| Some(Figure { not_done, ..figure.with((figure.value)(report)?) });
    table.iter().filter_map(of).collect()
}

/// What the figures of a run that was not carried out are worth.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub enum NotDone {
    /// Those that could be good are never reached.
    #[default]
    Fails,
    /// As much as any others.
    Counts,
}

/// The figures of a table without values.
pub fn declared<R>(table: &[Reading<R>]) -> Vec<Figure<()>> {
    table.iter().map(|figure| figure.with(())).collect()
}

/// The figure of a name.
pub fn find<'a, V>(figures: &'a [Figure<V>], name: &str) -> Option<&'a Figure<V>> {
    figures.iter().find(|figure| figure.name == name)
}
