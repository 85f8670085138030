//! How fast is the kernel, against a plain program, against NumPy, and against what the core can do?
//!
//! The job has eight parts (two sheets, four retarders whose strain varies over the aperture, two lens groups), 81 wavelengths
//! and 1,536 rays: 124,416 chains. What comes out is the mean coherency matrix at each wavelength. All contenders start from tables of
//! what does not depend on both ray and wavelength, and must agree before they are timed.
//!
//! `cargo bench` gives criterion's statistics, then a table of best times from rounds in which all contenders take turns:
//! compare numbers of one such table only.
#![allow(clippy::print_stdout, reason = "a benchmark talks to its user")]

#[path = "kernel/job.rs"]
mod job;
#[path = "kernel/peak.rs"]
mod peak;
#[path = "kernel/plain.rs"]
mod plain;

use std::hint::black_box;
use std::path::Path;
use std::process::Command;
use std::time::{Duration, Instant};

use criterion::{Criterion, SamplingMode, Throughput};
use polstack::calculus::{Coherency, Stokes};
use polstack::light_path::{Chain, reference};
use polstack::scenario::{self, Scenario};
use polstack::study::predict::predict;
use rayon::{ThreadPool, ThreadPoolBuilder};
use serde::Deserialize;

use job::{Job, SETTING};
use plain::Tables;

/// Rounds in which all contenders take turns.
const ROUNDS: usize = 15;
/// Every so many rounds NumPy takes part.
const NUMPY_EVERY: usize = 5;
/// How far two contenders may be apart, as a fraction of the brighter vibration.
const AGREE: f64 = 1e-12;
/// All the clamps' forces times this leave no ray below a quarter wave.
const TIGHT: f64 = 1e4;

/// Operations of one chain of the job, counted in `src/light_path/kernel.rs`: (multiplications, additions and
/// subtractions). The lower polar comes before any ray differs from another and is crossed once, outside the loop.
const OPERATIONS: [(&str, usize, (usize, usize)); 6] = [
    // c x + s y and c y - s x, real and imaginary, two beams.
    ("into and out of the ray's own frame", 2, (16, 8)),
    // One complex product for each mode, two beams; two neighbouring lens halves are one link.
    ("surfaces", 3, (16, 8)),
    // Half phase 1 x; squares 2 x; polynomials 10 x 10 +; ends 4 x 4 + (one of them -); times C and S 2 x;
    // cos x - (p xi + q yi) and its like, four numbers, two beams: 24 x 16 +.
    ("strain below a quarter wave", 4, (43, 29)),
    // mean + half C, mean - half C, half S: 2 x 2 +; two products and a sum, four numbers, two beams.
    ("analyzer", 1, (18, 10)),
    // |Ex|^2, |Ey|^2, Re and Im Ex Ey*, two beams.
    ("coherency matrix", 1, (16, 12)),
    ("weighted sum", 1, (4, 4)),
];

/// Contenders, each on one thread and on two.
const ROWS: [&str; 5] = [
    "kernel",
    "kernel, every strain above a quarter wave",
    "kernel's tables (Chain::new)",
    "plain nalgebra",
    "NumPy",
];

fn main() {
    let job = Job::new(1.0);
    let contenders = Contenders {
        chain: job.chain(),
        tight: Job::new(TIGHT).chain(),
        plain: Tables::of(&job),
        pools: [1, 2].map(|threads| {
            let pool = ThreadPoolBuilder::new().num_threads(threads).build();
            pool.expect("a pool of threads")
        }),
        pond: scenario::read(
            &Path::new(env!("CARGO_MANIFEST_DIR")).join("../scenarios/pond-life.toml"),
        )
        .expect("a good scenario"),
        job,
    };
    let numpy = Numpy::new(&contenders.plain);
    contenders.agree(numpy.as_ref());

    let mut criterion = Criterion::default()
        .sample_size(10)
        .warm_up_time(Duration::from_millis(300))
        .measurement_time(Duration::from_secs(2))
        .configure_from_args();
    contenders.statistics(&mut criterion);
    criterion.final_summary();
    // Not under `cargo test`, which only wants to see that everything runs.
    if std::env::args().any(|argument| argument == "--bench") {
        contenders.summary(numpy.as_ref());
    }
}

struct Contenders {
    job: Job,
    chain: Chain,
    tight: Chain,
    plain: Tables,
    pools: [ThreadPool; 2],
    pond: Scenario,
}

impl Contenders {
    /// All contenders, and the readable route through [`reference`], give the same numbers.
    fn agree(&self, numpy: Option<&Numpy>) {
        let kernel = &self.chain.mean_coherency()[0];
        let whole = 0..self.job.path.parts.len();
        let readable: Vec<Coherency> = (self.job.wavelengths_nm.iter())
            .map(|&nm| {
                let (whole, rays) = (whole.clone(), &self.job.rays);
                let mueller = reference::mean_mueller(&self.job.path, whole, SETTING, rays, nm);
                let light = mueller.expect("a path that can be run");
                Coherency::from_stokes(&light.apply(&Stokes::UNPOLARIZED))
            })
            .collect();
        let mut others = vec![
            ("the readable route", readable),
            ("plain nalgebra", self.plain.mean_coherency()),
        ];
        if let Some(numpy) = numpy {
            others.push(("NumPy", numpy.run(1).coherency()));
        }
        for (name, other) in others {
            let off = (kernel.iter().zip(&other))
                .map(|(kernel, other)| difference(kernel, other))
                .fold(0.0, f64::max);
            println!("kernel and {name} differ by {off:.1e}, {AGREE:.0e} allowed");
            assert!(off <= AGREE, "the kernel and {name} do not agree");
        }
    }

    /// Runs one row once.
    fn run(&self, row: usize) {
        match row {
            0 => drop(black_box(self.chain.mean_coherency())),
            1 => drop(black_box(self.tight.mean_coherency())),
            2 => drop(black_box(self.job.chain())),
            _ => drop(black_box(self.plain.mean_coherency())),
        }
    }

    fn predict(&self) {
        black_box(predict(&self.pond.scene)).expect("a path that can be run");
    }

    fn statistics(&self, criterion: &mut Criterion) {
        let mut group = criterion.benchmark_group("eight parts");
        group
            .sampling_mode(SamplingMode::Flat)
            .throughput(Throughput::Elements(self.job.chains() as u64));
        for (pool, threads) in self.pools.iter().zip(["one thread", "two threads"]) {
            for row in [0, 1, 3] {
                let name = format!("{}, {threads}", ROWS[row]);
                group.bench_function(name, |bench| pool.install(|| bench.iter(|| self.run(row))));
            }
        }
        group.finish();
        criterion.bench_function("predict scenarios/pond-life.toml", |bench| {
            self.pools[1].install(|| bench.iter(|| self.predict()));
        });
    }

    /// Best times of rounds in which all take turns.
    fn summary(&self, numpy: Option<&Numpy>) {
        let mut best = [[f64::INFINITY; 2]; ROWS.len()];
        let mut predict_ms = [f64::INFINITY; 2];
        let mut peak = peak::measure(1);
        let mut fastest_block = 0;
        for round in 0..ROUNDS {
            peak = peak.better(peak::measure(20));
            for (threads, pool) in self.pools.iter().enumerate() {
                pool.install(|| {
                    for (row, best) in best.iter_mut().take(4).enumerate() {
                        // The quick ones more often, for as good a chance of an undisturbed moment.
                        for _ in 0..if row == 3 { 1 } else { 8 } {
                            let seconds = seconds(|| self.run(row));
                            let ns = seconds * 1e9 / self.job.chains() as f64;
                            best[threads] = best[threads].min(ns);
                        }
                    }
                    predict_ms[threads] = predict_ms[threads].min(1e3 * seconds(|| self.predict()));
                });
            }
            if let Some(numpy) = numpy.filter(|_| round % NUMPY_EVERY == 0) {
                let answer = numpy.run(2);
                if answer.one.0 < best[4][0] {
                    fastest_block = answer.one.1;
                }
                best[4] = [best[4][0].min(answer.one.0), best[4][1].min(answer.two.0)];
            }
        }
        println!("\nns a chain, best of {ROUNDS} rounds; x: times the kernel's on as many threads");
        println!(
            "{:44}{:>10}{:>8}{:>13}{:>8}",
            "", "one thread", "x", "two threads", "x"
        );
        for (row, [one, two]) in ROWS.iter().zip(best) {
            if one.is_finite() {
                let [x_one, x_two] = [one / best[0][0], two / best[0][1]];
                println!("{row:44}{one:10.2}{x_one:8.2}{two:13.2}{x_two:8.2}");
            }
        }
        if fastest_block > 0 {
            println!("NumPy: entrywise, at its best with {fastest_block} rays at a time");
        }
        let gentle = 100.0 * self.job.gentle();
        println!("rays whose strains stay below a quarter wave: {gentle:.1} %");
        self.bound(best[0][0], peak);
        let [one, two] = predict_ms;
        let verdict = if two < 100.0 { "under" } else { "NOT UNDER" };
        println!(
            "\npredict scenarios/pond-life.toml, leak shares included: {one:.1} ms on one thread, {two:.1} ms on two: {verdict} 100 ms"
        );
    }

    /// How near the kernel comes to what the core can do, and what holds it.
    fn bound(&self, ns: f64, peak: peak::Peak) {
        let count = |pick: fn((usize, usize)) -> usize| -> usize {
            OPERATIONS
                .iter()
                .map(|&(_, times, of)| times * pick(of))
                .sum()
        };
        let (multiplications, additions) = (count(|of| of.0), count(|of| of.1));
        let flops = (multiplications + additions) as f64;
        let wavelengths = self.job.wavelengths_nm.len();
        let padding = wavelengths.next_multiple_of(8) as f64 / wavelengths as f64;
        let rate = flops / ns;
        println!(
            "\na chain: {multiplications} multiplications and {additions} additions, none fused"
        );
        println!(
            "the core's peak: {:.1} GFLOP/s fused, {:.1} not fused",
            peak.fused, peak.separate
        );
        println!(
            "the kernel: {rate:.1} GFLOP/s, {:.0} % of the fused peak, {:.0} % of the other; padding not counted as work",
            100.0 * rate / peak.fused,
            100.0 * rate / peak.separate
        );
        // A multiplication takes the place of one fused operation, which counts as two.
        let least = multiplications as f64 * padding / (0.5 * peak.fused);
        println!(
            "bound: its multiplications alone, with {wavelengths} wavelengths padded to whole vectors, need {least:.1} ns ({:.0} %)",
            100.0 * least / ns
        );
    }
}

fn seconds(work: impl FnOnce()) -> f64 {
    let start = Instant::now();
    work();
    start.elapsed().as_secs_f64()
}

/// The largest difference of an element, as a fraction of the brighter vibration.
fn difference(a: &Coherency, b: &Coherency) -> f64 {
    let numbers = |c: &Coherency| [c.xx, c.yy, c.xy_re, c.xy_im];
    (numbers(a).into_iter().zip(numbers(b)))
        .map(|(a, b)| (a - b).abs())
        .fold(0.0, f64::max)
        / a.xx.max(a.yy)
}

/// The script, with the tables that it reads.
struct Numpy {
    tables: tempfile::NamedTempFile,
}

/// What the script prints: times in ns with the rays in a block, and the result.
#[derive(Deserialize)]
struct NumpyAnswer {
    numpy: String,
    one: (f64, usize),
    two: (f64, usize),
    coherency: Vec<[f64; 4]>,
}

impl Numpy {
    /// `None`, with a word why, where there is no NumPy.
    fn new(plain: &Tables) -> Option<Self> {
        let found = Command::new("python3")
            .args(["-c", "import numpy"])
            .output();
        if !found.is_ok_and(|output| output.status.success()) {
            println!("no python3 with NumPy on this machine: NumPy is left out");
            return None;
        }
        let tables = tempfile::NamedTempFile::new().expect("a temporary file");
        serde_json::to_writer(&tables, plain).expect("room for the tables");
        Some(Self { tables })
    }

    fn run(&self, repeats: usize) -> NumpyAnswer {
        let output = Command::new("python3")
            .arg(concat!(env!("CARGO_MANIFEST_DIR"), "/chain_numpy.py"))
            .arg(self.tables.path())
            .arg(repeats.to_string())
            .output()
            .expect("python3, found before");
        let error = String::from_utf8_lossy(&output.stderr);
        assert!(output.status.success(), "the NumPy script failed: {error}");
        serde_json::from_slice(&output.stdout).expect("the script's line of JSON")
    }
}

impl NumpyAnswer {
    fn coherency(&self) -> Vec<Coherency> {
        println!("NumPy {}", self.numpy);
        let of = |&[xx, yy, xy_re, xy_im]: &[f64; 4]| Coherency {
            xx,
            yy,
            xy_re,
            xy_im,
        };
        self.coherency.iter().map(of).collect()
    }
}
