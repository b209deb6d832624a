//! The most of everything that is read and run, so that no input takes all memory or all day.

/// The longest JSON file that is read, bytes.
pub const FILE_LIMIT_BYTES: u64 = 3_000_000;
/// How deep objects and lists of a JSON file may stand within one another: what `serde_json` reads.
pub const JSON_DEPTH: u64 = 127;
/// Points of a curve, such as a torque curve or an open-circuit curve.
pub const CURVE_POINTS: u64 = 1000;
/// Points of efficiency that losses are fitted to.
pub const EFFICIENCY_POINTS: u64 = 10_000;
/// Speeds, and torques, of a map of efficiency.
pub const MAP_AXIS: u64 = 500;
/// Gears of a gearbox.
pub const GEARS: u64 = 24;
/// Things that are removed, added or loaded, each.
pub const MASSES: u64 = 1000;
/// Loads on the low-voltage net.
pub const LOADS: u64 = 1000;
/// Speeds or distances to which a full-throttle run is timed, each.
pub const TARGETS: u64 = 100;
/// Legs of a day.
pub const LEGS: u64 = 200;
/// Limits, or stops, of a road without times.
pub const SECTIONS: u64 = 1000;
/// Hours of the weather by hour.
pub const HOURS: u64 = 1000;
/// Seasons of a scenario.
pub const SEASONS: u64 = 50;
/// Bytes of the path of a value that is put in.
pub const PATH_BYTES: u64 = 1000;
/// Values of one varied field.
pub const VALUES: u64 = 1_000_000;
/// Combinations of a sweep.
pub const COMBINATIONS: u64 = 10_000_000;
/// Rows of a sweep that are held in memory, for a table or to be sorted.
pub const ROWS_HELD: u64 = 100_000;
/// Shards of a sweep.
pub const SHARDS: u64 = 100_000;
/// Figures that `choose` prefers, besides the price.
pub const PREFERRED: u64 = 6;
/// Choices that are drawn, of those that no other beats.
pub const DRAWN: u64 = 60;
/// Combinations that are chosen from beside a page, which is not to be waited for long.
pub const CHOSEN_BESIDE: u64 = 2000;
/// Choices that are drawn beside them, as they may hold the goals more surely.
pub const DRAWN_BESIDE: u64 = 40;
/// Builds side by side.
pub const COMPARED: u64 = 26;
/// Cars that are drawn for bands.
pub const SAMPLES: u64 = 100_000;
/// Files of what was learnt from a car.
pub const MEASURED: u64 = 100;
/// Uncertain inputs of bands.
pub const UNCERTAIN: u64 = 1000;
/// Speeds, and grades, of a map of endurance.
pub const MAP_LIST: u64 = 60;
/// Lift-off, and brake-pedal, settings of regen that are compared.
pub const REGEN_LIST: u64 = 50;

/// All of them with those of road files: what there can be so much of, how much, and of what.
pub const ALL: [(&str, u64, &str); 35] = [
    ("JSON file (scenario, build, part, spreads, what was learnt)", FILE_LIMIT_BYTES, "bytes"),
    ("objects and lists within one another in JSON", JSON_DEPTH, "deep"),
    ("road file (CSV or GPX)", cycles::FILE_LIMIT_BYTES, "bytes"),
    ("table or track", cycles::ROW_LIMIT as u64, "rows or points"),
    ("recording of a car", cycles::RECORDING_ROW_LIMIT as u64, "rows"),
    ("table", cycles::COLUMN_LIMIT as u64, "columns"),
    ("track, or road of speed limits", cycles::DURATION_LIMIT_S as u64, "s"),
    ("elements within one another in GPX", cycles::GPX_DEPTH_LIMIT as u64, "deep"),
    ("curve of a part", CURVE_POINTS, "points"),
    ("`motor.efficiency_points`", EFFICIENCY_POINTS, "points"),
    ("`motor.efficiency_map`", MAP_AXIS, "speeds, and as many torques"),
    ("`gearbox.gears`", GEARS, "gears"),
    ("`removed`, `added` and `load`, each", MASSES, "things"),
    ("`auxiliaries.low_voltage`", LOADS, "loads"),
    ("`to_kmh` and `distances_m` of `runs.pull`, each", TARGETS, "numbers"),
    ("day", LEGS, "legs"),
    ("`limits` and `stops` of a `pace`, each", SECTIONS, "of them"),
    ("`conditions.by_hour`", HOURS, "hours"),
    ("`seasons`", SEASONS, "seasons"),
    ("`measured`", MEASURED, "files"),
    ("path of a value that is put in", PATH_BYTES, "bytes"),
    ("one field of `--vary`", VALUES, "values"),
    ("`sweep`", COMBINATIONS, "combinations"),
    ("`sweep` as a table, or shown with `--sort`", ROWS_HELD, "rows"),
    ("`sweep --shard`", SHARDS, "shards"),
    ("`choose`", COMBINATIONS, "combinations"),
    ("`choose --prefer`", PREFERRED, "figures besides the price"),
    ("`choose`, of what no other beats", DRAWN, "that are drawn"),
    ("`report --candidates` and `live --candidates`", CHOSEN_BESIDE, "combinations"),
    ("`choose`, of what may hold the goals more surely", DRAWN_BESIDE, "that are drawn beside"),
    ("`compare`", COMPARED, "builds"),
    ("`bands --samples`", SAMPLES, "cars"),
    ("`bands`", UNCERTAIN, "uncertain inputs"),
    ("`endurance --speeds` and `--grades`, each", MAP_LIST, "numbers"),
    ("`regen --lift-off` and `--brake`, each", REGEN_LIST, "settings"),
];
