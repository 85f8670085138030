//! Spoiled scenarios and tables by the million: none may make the reader, or a prediction of what it took, panic.
//!
//! A short run is part of every `cargo test`. `cargo test --test fuzz -- --ignored` runs as long as `POLSTACK_FUZZ_SECONDS` says (a target each,
//! 30 where it is not set), or as many inputs as `POLSTACK_FUZZ_INPUTS` says; `.ci/run` does so with overflow checks.
//! What was run for good is kept in DEVELOPERS.md.

use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::atomic::{AtomicU64, Ordering};
use std::thread;
use std::time::{Duration, Instant};

use polstack::scenario::{Memory, Scenario, ScenarioError, parse};
use polstack::spectrum::WavelengthGrid;
use polstack::study::predict::predict;

/// What scenarios are spoiled from: all that are shipped, and one with a table of every kind.
const SCENARIOS: [&str; 18] = [
    include_str!("../../scenarios/bench-built.toml"),
    include_str!("../../scenarios/circular-polars.toml"),
    include_str!("../../scenarios/crystal-across-axis.toml"),
    include_str!("../../scenarios/crystal-along-axis.toml"),
    include_str!("../../scenarios/flat-field.toml"),
    include_str!("../../scenarios/high-grade-stand.toml"),
    include_str!("../../scenarios/muscovite-figure.toml"),
    include_str!("../../scenarios/calcite-askew.toml"),
    include_str!("../../scenarios/oil-immersion.toml"),
    include_str!("../../scenarios/pond-life.toml"),
    include_str!("../../scenarios/quartz-across-axis.toml"),
    include_str!("../../scenarios/sheet-above-condenser-wide.toml"),
    include_str!("../../scenarios/sheet-above-condenser.toml"),
    include_str!("../../scenarios/sheet-below-condenser.toml"),
    include_str!("../../scenarios/strained-objective.toml"),
    include_str!("../../scenarios/two-lens-condenser.toml"),
    include_str!("../../scenarios/urate-needle.toml"),
    TABLES,
];

/// A scenario that reads a table of every kind.
const TABLES: &str = r#"
light.source = { csv = "lamp.csv" }
aperture.na = 0.5
spectrum = { from_nm = 450, to_nm = 650, step_nm = 50 }
[[part]]
name = "lower polar"
polarizer = { sheet = { csv = "sheet.csv" }, azimuth_deg = 0 }
[[part]]
name = "condenser"
condenser = { prescription = { csv = "lens.csv" } }
strain = [ { radial = { edge_nm = 20, along = "ray" } } ]
[[part]]
name = "objective"
objective = { na = 0.5, surfaces = 4, glass = 1.52, coating = "mgf2" }
strain = [ { map = { csv = "map.csv" } } ]
strain_dispersion = { csv = "dispersion.csv" }
[[part]]
name = "analyzer"
analyzer = { sheet = { csv = "sheet.csv" }, azimuth_deg = 90 }
"#;

/// The tables that it reads, good ones.
const GOOD: [(&str, &str); 5] = [
    (
        "lamp.csv",
        "wavelength_nm,power\n450,1\n500,2\n550,3.5\n600,3\n650,1e0\n",
    ),
    (
        "sheet.csv",
        "# invented\nwavelength_nm,k1,k2\n440,0.6,1e-4\n480,0.7,5e-5\n520,0.72,2e-5\n560,0.7,2e-5\n600,0.7,2e-5\n650,0.71,3e-5\n",
    ),
    (
        "map.csv",
        "x,y,path_difference_nm,azimuth_deg\n-1,-1,2,0\n-1,0,1,10\n-1,1,2,20\n0,-1,1,30\n0,0,0,40\n0,1,1,50\n1,-1,2,60\n1,0,1,70\n1,1,2,80\n",
    ),
    (
        "lens.csv",
        "radius_mm,thickness_mm,glass,half_diameter_mm,conic,a4,coating\n20,11,B270,13.5,-1,0,\n,1,air,13.5,0,,none\n10,9,1.52,9,-0.2,1e-6,mgf2\n0,,,9,0,,\n",
    ),
    (
        "dispersion.csv",
        "wavelength_nm,factor\n450,1.05\n490,1.02\n530,1\n570,0.99\n610,0.98\n650,0.97\n",
    ),
];

/// What is put in: numbers at the edge, words of the format, and pieces of syntax.
const PIECES: [&str; 48] = [
    "nan",
    "-inf",
    "-1",
    "0",
    "-0.0",
    "1e400",
    "5e-324",
    "1.7976931348623157e308",
    "9e99",
    "0.1",
    "1.5",
    "90",
    "550",
    "1000000",
    "99999999999999999999",
    "0x7f",
    "\"text\"",
    "\"\"",
    "true",
    "[]",
    "{}",
    "[[",
    "]]",
    "}",
    "{",
    "\"",
    "'''",
    "#",
    "\n",
    "\r\n",
    ",",
    ";",
    "=",
    ".",
    "\u{0}",
    "\u{e9}",
    "na",
    "k1",
    "k2",
    "csv",
    "part",
    "strain",
    "surfaces",
    "\"oil\"",
    "\"calcite\"",
    "slow",
    "name = ",
    "azimuth_deg",
];

/// Steele, Lea and Flood's SplitMix64 (from memory): enough for choosing what to spoil.
struct Chance(u64);

impl Chance {
    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    fn below(&mut self, end: usize) -> usize {
        (self.next() % end.max(1) as u64) as usize
    }

    fn of<'a>(&mut self, all: &[&'a str]) -> &'a str {
        all[self.below(all.len())]
    }
}

/// A text spoiled in one to four places.
fn spoiled(text: &str, chance: &mut Chance) -> Vec<u8> {
    let mut bytes = text.as_bytes().to_vec();
    for _ in 0..=chance.below(4) {
        let (at, length) = (chance.below(bytes.len() + 1), chance.below(12));
        let end = (at + length).min(bytes.len());
        match chance.below(8) {
            0 => {
                bytes.drain(at..end);
            }
            1 => bytes
                .splice(at..end, chance.of(&PIECES).bytes())
                .for_each(drop),
            2 => bytes
                .splice(at..at, chance.of(&PIECES).bytes())
                .for_each(drop),
            3 => {
                if let Some(byte) = bytes.get_mut(at) {
                    *byte ^= 1 << chance.below(8);
                }
            }
            // A number in place of a number.
            4 | 5 => {
                let is_number = |byte: &u8| byte.is_ascii_digit() || *byte == b'.' || *byte == b'-';
                if let Some(from) = (at..bytes.len()).find(|k| is_number(&bytes[*k])) {
                    let to = (from..bytes.len()).find(|k| !is_number(&bytes[*k]));
                    let number = match chance.below(3) {
                        0 => chance.of(&PIECES[..15]).to_owned(),
                        1 => (chance.below(2000) as f64 / 500.0).to_string(),
                        _ => chance.below(1200).to_string(),
                    };
                    bytes
                        .splice(from..to.unwrap_or(bytes.len()), number.bytes())
                        .for_each(drop);
                }
            }
            // A line twice, or another's place.
            6 => {
                let lines: Vec<&[u8]> = bytes.split_inclusive(|b| *b == b'\n').collect();
                let (from, to) = (chance.below(lines.len()), chance.below(lines.len()));
                let mut lines = lines.clone();
                lines.insert(to, lines[from.min(lines.len() - 1)]);
                bytes = lines.concat();
            }
            _ => {
                let piece = bytes[at..end].to_vec();
                bytes.splice(at..at, piece).for_each(drop);
            }
        }
        if bytes.is_empty() {
            bytes.push(b'\n');
        }
    }
    bytes
}

/// What a reader's answer must be.
fn is_sound(result: &Result<Scenario, ScenarioError>) -> bool {
    match result {
        Ok(scenario) => {
            let wavelengths = scenario.scene.grid.wavelengths_nm();
            scenario.scene.path.check(wavelengths).is_ok() && scenario.scene.path.na() > 0.0
        }
        Err(error) => {
            let message = error.to_string();
            message.starts_with("error: ") && message.len() < 10_000 && !message.contains('\u{1b}')
        }
    }
}

/// Three wavelengths, so that a prediction is short.
fn predicted(scenario: &Scenario) {
    if let Ok(grid) = WavelengthGrid::new(450.0, 650.0, 100.0)
        && scenario.scene.path.check(grid.wavelengths_nm()).is_ok()
        && scenario.scene.path.contacts_near_rim().is_none()
        && scenario.scene.path.parts.len() < 12
    {
        // That a stack cannot be answered is an answer.
        let _ = predict(&scenario.scene.with_grid(grid));
    }
}

/// How long, or how much.
enum Run {
    Inputs(u64),
    For(Duration),
}

impl Run {
    fn asked() -> Self {
        let number = |name: &str| std::env::var(name).ok()?.parse().ok();
        match number("POLSTACK_FUZZ_INPUTS") {
            Some(inputs) => Self::Inputs(inputs),
            None => {
                let seconds = number("POLSTACK_FUZZ_SECONDS").unwrap_or(30);
                Self::For(Duration::from_secs(seconds))
            }
        }
    }
}

/// Runs a target on all cores; each input has a number, from which it is made.
#[allow(
    clippy::print_stdout,
    reason = "how much was run is what a long run is for"
)]
fn fuzz(what: &str, run: &Run, target: impl Fn(u64) + Sync) {
    let (next, start) = (AtomicU64::new(0), Instant::now());
    let goes_on = |number: u64| match run {
        Run::Inputs(inputs) => number < *inputs,
        Run::For(time) => !number.is_multiple_of(64) || start.elapsed() < *time,
    };
    thread::scope(|scope| {
        for _ in 0..thread::available_parallelism().map_or(1, usize::from) {
            scope.spawn(|| {
                loop {
                    let number = next.fetch_add(1, Ordering::Relaxed);
                    if !goes_on(number) {
                        break;
                    }
                    if catch_unwind(AssertUnwindSafe(|| target(number))).is_err() {
                        panic!("{what}: input {number} makes it panic");
                    }
                }
            });
        }
    });
    println!(
        "{what}: {} inputs in {:.0} s",
        next.into_inner(),
        start.elapsed().as_secs_f64()
    );
}

/// Input `number` of the scenario texts.
fn scenario_text(number: u64) {
    let mut chance = Chance(number);
    let bytes = spoiled(chance.of(&SCENARIOS), &mut chance);
    let text = String::from_utf8_lossy(&bytes);
    let result = parse(&text, "spoiled.toml", &Memory::default());
    assert!(is_sound(&result), "input {number}:\n{text}");
    if let (Ok(scenario), 0) = (&result, number % 150) {
        predicted(scenario);
    }
}

/// Input `number` of the tables.
fn table_text(number: u64) {
    let mut chance = Chance(number ^ 0x7ab1e);
    let which = chance.below(GOOD.len());
    let bytes = spoiled(GOOD[which].1, &mut chance);
    let mut tables = GOOD.map(|(name, good)| (name, good.as_bytes()));
    tables[which].1 = &bytes;
    let result = parse(TABLES, "tables.toml", &Memory::from(tables));
    assert!(
        is_sound(&result),
        "input {number}: {}",
        String::from_utf8_lossy(&bytes)
    );
    if let (Ok(scenario), 0) = (&result, number % 150) {
        predicted(scenario);
    }
}

#[test]
fn a_few_spoiled_inputs_are_read_or_refused() {
    fuzz("scenarios", &Run::Inputs(6000), scenario_text);
    fuzz("tables", &Run::Inputs(3000), table_text);
}

#[test]
#[ignore = "as long as POLSTACK_FUZZ_SECONDS says"]
fn spoiled_scenarios_are_read_or_refused() {
    fuzz("scenarios", &Run::asked(), scenario_text);
}

#[test]
#[ignore = "as long as POLSTACK_FUZZ_SECONDS says"]
fn spoiled_tables_are_read_or_refused() {
    fuzz("tables", &Run::asked(), table_text);
}
