//! Asks where the lower polar belongs, of a scenario from a file: `cargo run --release --example where_the_polar_goes`.

#![allow(clippy::print_stdout, reason = "an example shows its answer")]

use std::path::Path;

use polstack::scenario;
use polstack::study::place::place;

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let scenario = scenario::read(Path::new("scenarios/sheet-below-condenser.toml"))?;
    // The lower polar alone, not the analyzer too; and up to which aperture its sheet leaves an extinction ratio of 1000.
    let answer = place(&scenario.scene, false, 1000.0)?;
    let open = answer.iris_na.len() - 1;
    for (index, seen) in answer.lower.iter().enumerate() {
        let mark = match (index == answer.verdict.best, seen.placed.written) {
            (true, _) => "best",
            (false, true) => "as written",
            (false, false) => "",
        };
        let ratio = seen.at_iris[open]
            .as_ref()
            .and_then(|at| at.extinction_ratio);
        let ratio = ratio.map_or("cannot be".to_owned(), |ratio| format!("{ratio:.0}"));
        println!("{:30} {ratio:>9}  {mark}", seen.placed.place.words());
    }
    Ok(())
}
