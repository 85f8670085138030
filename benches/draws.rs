//! How fast is a study of 100,000 draws, against direct runs and against NumPy?
//!
//! The stack has two lens groups with uniform strain between two sheets; uncertain are both path differences and both sheets'
//! azimuths, then the strains' azimuths too. Timed is the whole study: the table, the draws with the one more that each pair needs for
//! every tolerance, percentiles, Sobol indices and their bootstrap. Direct runs are timed on a sample and scaled. NumPy starts from the
//! light at the nodes, and does all else itself. All must agree before they are timed.
#![allow(clippy::print_stdout, reason = "a benchmark talks to its user")]

use std::f64::consts::FRAC_PI_3;
use std::hint::black_box;
use std::process::Command;
use std::sync::atomic::AtomicBool;
use std::time::Instant;

use polstack::color::ColorWeights;
use polstack::light_path::run;
use polstack::scenario::{self, Scenario};
use polstack::study::draws::{Draws, Plan, Watch, draws};
use polstack::study::predict::ACCURACY;
use polstack::study::quantity::{Quantity, QuantityKind};
use polstack::study::response::{Light, Response};
use rayon::prelude::*;
use rayon::{ThreadPool, ThreadPoolBuilder};
use serde::{Deserialize, Serialize};

/// Draws of the study.
const DRAWS: usize = 100_000;
/// Direct runs that are timed.
const SAMPLE: usize = 400;
/// Rounds in which all contenders take turns.
const ROUNDS: usize = 5;
/// How far two contenders may be apart, relatively.
const AGREE: f64 = 1e-9;

const STACK: &str = r#"
    light.source = "led-b3"
    aperture.na = 0.6
    [[part]]
    name = "lower polar"
    polarizer = { sheet = "iodine-medium", azimuth_deg = 0 }
    tolerance = { azimuth_deg = 0.5 }
    [[part]]
    name = "condenser"
    condenser = { na = 0.88, immersion = "air", surfaces = 4, glass = "N-BK7", coating = "none" }
    strain = [ { uniform = { path_difference_nm = 2, azimuth_deg = 30 } } ]
    tolerance = { path_difference_nm = 1 }
    [[part]]
    name = "objective"
    objective = { na = 0.65, immersion = "air", surfaces = 8, glass = "N-BK7", coating = "mgf2" }
    strain = [ { uniform = { path_difference_nm = 3, azimuth_deg = 50 } } ]
    tolerance = { path_difference_nm = 1, distribution = "uniform" }
    [[part]]
    name = "analyzer"
    analyzer = { sheet = "iodine-medium", azimuth_deg = 90 }
    tolerance = { azimuth_deg = 0.5 }
"#;

fn main() {
    let four = Job::new(STACK);
    let six = Job::new(&STACK.replace(
        "path_difference_nm = 1",
        "azimuth_deg = 10, path_difference_nm = 1",
    ));
    let numpy = Numpy::new(&four);
    four.agree(numpy.as_ref());
    six.agree(None);
    // Not under `cargo test`, which only wants to see that everything runs.
    if std::env::args().any(|argument| argument == "--bench") {
        summary(&four, &six, numpy.as_ref());
    }
}

/// A study with what it starts from.
struct Job {
    scenario: Scenario,
    response: Response,
    luminous: Vec<f64>,
}

impl Job {
    fn new(text: &str) -> Self {
        let scenario = scenario::parse(text, "bench.toml", &scenario::Memory::default())
            .expect("a good scenario");
        let weights =
            ColorWeights::new(&scenario.scene.grid, &scenario.scene.source).expect("a lamp");
        let luminous: Vec<f64> = weights.per_wavelength().iter().map(|w| w[1]).collect();
        let wavelengths_nm = scenario.scene.grid.wavelengths_nm();
        let path = &scenario.scene.path;
        let quadrature = run::quadrature(path, wavelengths_nm, &luminous, ACCURACY);
        let rays = quadrature.expect("a path that can be run").rays;
        let quantity = |part, kind| Quantity {
            part: Some(part),
            kind,
        };
        let mut quantities = vec![
            quantity(0, QuantityKind::Azimuth),
            quantity(1, QuantityKind::StrainAmount { profile: 0 }),
            quantity(2, QuantityKind::StrainAmount { profile: 0 }),
            quantity(3, QuantityKind::Azimuth),
        ];
        if (path.parts[1].tolerance).is_some_and(|t| t.azimuth_rad.is_some()) {
            quantities.extend(
                [1, 2].map(|part| quantity(part, QuantityKind::StrainAzimuth { profile: 0 })),
            );
        }
        let ranges = vec![(0.0, 0.0); quantities.len()];
        let response = Response::new(
            path,
            &quantities,
            &ranges,
            &rays,
            wavelengths_nm,
            &luminous,
            false,
        )
        .expect("a path that can be run");
        println!(
            "{} tolerances: {} rays, {} wavelengths, {} nodes",
            quantities.len(),
            rays.count(),
            wavelengths_nm.len(),
            response.nodes().expect("a path that can be tabulated")
        );
        Self {
            scenario,
            response,
            luminous,
        }
    }

    /// Values scattered over two or three tolerances either way.
    fn scattered(&self, count: usize) -> Vec<Vec<f64>> {
        let written = self.response.written();
        (0..count)
            .map(|row| {
                (written.iter().enumerate())
                    .map(|(number, value)| {
                        let t = ((row + 1) as f64 * ((number + 2) as f64).sqrt()).fract() - 0.5;
                        value + t * [0.05, 5.0, 2.0, 0.05, 1.0, 1.0][number]
                    })
                    .collect()
            })
            .collect()
    }

    /// Luminous extinction ratio.
    fn ratio(&self, light: &Light) -> f64 {
        let sum =
            |field: &[f64]| -> f64 { field.iter().zip(&self.luminous).map(|(t, w)| t * w).sum() };
        sum(&light.parallel) / sum(&light.crossed)
    }

    fn agree(&self, numpy: Option<&Numpy>) {
        let values = self.scattered(SAMPLE);
        let direct: Vec<f64> = (values.par_iter())
            .map(|values| self.ratio(&self.response.direct(values).expect("a run")))
            .collect();
        let told: Vec<f64> = (values.iter())
            .map(|values| self.ratio(&self.response.light(values).expect("light")))
            .collect();
        let mut all = vec![("the table", told)];
        if let Some(numpy) = numpy {
            all.push(("NumPy", numpy.run(0).ratios));
        }
        for (name, ratios) in all {
            let off = (ratios.iter().zip(&direct))
                .map(|(ratio, direct)| (ratio / direct - 1.0).abs())
                .fold(0.0, f64::max);
            println!("{name} and direct runs differ by {off:.1e}, {AGREE:.0e} allowed");
            assert!(off <= AGREE, "{name} and direct runs do not agree");
        }
    }

    fn study(&self) -> Draws {
        let stop = AtomicBool::new(false);
        let watch = Watch {
            progress: &|_| (),
            stop: &stop,
        };
        let plan = Plan {
            draws: DRAWS,
            seed: 1,
        };
        draws(
            &self.scenario.scene,
            plan,
            &|_, ratio| ratio >= 1000.0,
            watch,
        )
        .expect("a study")
    }

    /// Seconds of the runs that a study of direct runs needs, the draws shared between the threads.
    fn direct(&self) -> f64 {
        let values = self.scattered(SAMPLE);
        let seconds = seconds(|| {
            values.par_iter().for_each(|values| {
                black_box(self.response.direct(values)).expect("a run");
            });
        });
        seconds * (DRAWS + DRAWS / 2 * self.response.written().len()) as f64 / SAMPLE as f64
    }
}

/// Best times of rounds in which all take turns.
fn summary(four: &Job, six: &Job, numpy: Option<&Numpy>) {
    let pools: Vec<ThreadPool> = [1, 2]
        .map(|threads| {
            let pool = ThreadPoolBuilder::new().num_threads(threads).build();
            pool.expect("a pool of threads")
        })
        .into();
    let rows = [
        "the study",
        "with the strains' azimuths",
        "direct runs",
        "NumPy",
    ];
    let mut best = [[f64::INFINITY; 2]; 4];
    let mut block = 0;
    for round in 0..ROUNDS {
        for (threads, pool) in pools.iter().enumerate() {
            let times = pool.install(|| {
                let four_s = seconds(|| drop(black_box(four.study())));
                let six_s = seconds(|| drop(black_box(six.study())));
                [four_s, six_s, four.direct()]
            });
            for (best, time) in best.iter_mut().zip(times) {
                best[threads] = best[threads].min(time);
            }
        }
        if let Some(numpy) = numpy.filter(|_| round % 2 == 0) {
            let answer = numpy.run(DRAWS);
            if answer.one.0 < best[3][0] {
                block = answer.one.1;
            }
            best[3] = [best[3][0].min(answer.one.0), best[3][1].min(answer.two.0)];
        }
    }
    println!(
        "\nseconds for {DRAWS} draws, best of {ROUNDS} rounds; x: times the study's on as many threads"
    );
    println!(
        "{:30}{:>10}{:>8}{:>13}{:>8}",
        "", "one thread", "x", "two threads", "x"
    );
    for (row, [one, two]) in rows.iter().zip(best) {
        if one.is_finite() {
            let [x_one, x_two] = [one / best[0][0], two / best[0][1]];
            println!("{row:30}{one:10.3}{x_one:8.1}{two:13.3}{x_two:8.1}");
        }
    }
    if block > 0 {
        println!("NumPy: at its best with {block} draws at a time");
    }
    let verdict = if best[0][1] < 2.0 {
        "under"
    } else {
        "NOT UNDER"
    };
    println!("the study on two threads: {verdict} 2 s");
}

fn seconds(work: impl FnOnce()) -> f64 {
    let start = Instant::now();
    work();
    start.elapsed().as_secs_f64()
}

/// The script, with the light at the nodes that it reads.
struct Numpy {
    nodes: tempfile::NamedTempFile,
}

#[derive(Serialize)]
struct Nodes {
    wavelengths_nm: Vec<f64>,
    luminous: Vec<f64>,
    /// As written: azimuth, path differences, azimuth.
    written: Vec<f64>,
    /// Path difference of the strains' nodes, nm: 0, this, minus this. Azimuths: as written, 60 degrees more, 60 degrees less.
    node_nm: f64,
    /// The light behind the analyzer: `[lower polar][condenser][objective][analyzer][wavelength]`.
    light: Vec<Vec<f64>>,
    /// Where its light is compared.
    compared: Vec<Vec<f64>>,
}

/// What the script prints: extinction ratios where they are compared; seconds with the draws in a block.
#[derive(Deserialize)]
struct NumpyAnswer {
    numpy: String,
    ratios: Vec<f64>,
    one: (f64, usize),
    two: (f64, usize),
}

impl Numpy {
    /// `None`, with a word why, where there is no NumPy.
    fn new(job: &Job) -> Option<Self> {
        let found = Command::new("python3")
            .args(["-c", "import numpy"])
            .output();
        if !found.is_ok_and(|output| output.status.success()) {
            println!("no python3 with NumPy on this machine: NumPy is left out");
            return None;
        }
        let written = job.response.written();
        let node_nm = 130.0;
        let turns = [0.0, FRAC_PI_3, -FRAC_PI_3];
        let amounts = [0.0, node_nm, -node_nm];
        let mut light = Vec::new();
        for low in turns {
            for below in amounts {
                for above in amounts {
                    for high in turns {
                        let values = [written[0] + low, below, above, written[3] + high];
                        light.push(job.response.direct(&values).expect("a run").crossed);
                    }
                }
            }
        }
        let nodes = tempfile::NamedTempFile::new().expect("a temporary file");
        let all = Nodes {
            wavelengths_nm: job.scenario.scene.grid.wavelengths_nm().to_vec(),
            luminous: job.luminous.clone(),
            written,
            node_nm,
            light,
            compared: job.scattered(SAMPLE),
        };
        serde_json::to_writer(&nodes, &all).expect("room for the nodes");
        Some(Self { nodes })
    }

    /// With no draws only the comparison.
    fn run(&self, draws: usize) -> NumpyAnswer {
        let output = Command::new("python3")
            .arg(concat!(env!("CARGO_MANIFEST_DIR"), "/draws_numpy.py"))
            .arg(self.nodes.path())
            .arg(draws.to_string())
            .env("OMP_NUM_THREADS", "1")
            .env("OPENBLAS_NUM_THREADS", "1")
            .output()
            .expect("python3, found before");
        let error = String::from_utf8_lossy(&output.stderr);
        assert!(output.status.success(), "the NumPy script failed: {error}");
        let answer: NumpyAnswer =
            serde_json::from_slice(&output.stdout).expect("the script's line of JSON");
        if draws == 0 {
            println!("NumPy {}", answer.numpy);
        }
        answer
    }
}
