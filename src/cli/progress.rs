//! A progress display for work that takes over a second.

use std::io::Write;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc;
use std::thread;
use std::time::{Duration, Instant};

use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};

/// Work that will take longer than this says so, seconds.
const LONG_S: f64 = 5.0;

/// Says something on standard error.
pub(super) fn say(words: &str) {
    // An answer is no less true where nobody hears how long it took.
    let _ = writeln!(anstream::stderr(), "{words}");
}

/// Runs `work`; once it has taken a second, a moving mark with `what` shows on standard error until it ends. Nothing
/// shows when that is no terminal.
pub(super) fn shown<T>(what: &'static str, quiet: bool, work: impl FnOnce() -> T) -> T {
    if quiet {
        return work();
    }
    thread::scope(|scope| {
        let (done, waiting) = mpsc::channel::<()>();
        scope.spawn(move || {
            if waiting.recv_timeout(Duration::from_secs(1)) == Err(mpsc::RecvTimeoutError::Timeout)
            {
                let bar = ProgressBar::new_spinner().with_message(what);
                bar.enable_steady_tick(Duration::from_millis(100));
                let _ = waiting.recv();
                bar.finish_and_clear();
            }
        });
        let result = work();
        drop(done);
        result
    })
}

/// Runs `work`, which tells how many of `total` are done; once that has taken a second, a bar shows on standard error until it
/// ends. Nothing shows when that is no terminal.
pub(super) fn counted<T>(
    what: &'static str,
    quiet: bool,
    total: u64,
    work: impl FnOnce(&(dyn Fn(usize) + Sync)) -> T,
) -> T {
    bar(what, quiet, total, true, work)
}

/// The same for work that tells how many of 100 percent are done, though not evenly: how long it takes is not guessed.
pub(super) fn percent<T>(
    what: &'static str,
    quiet: bool,
    work: impl FnOnce(&(dyn Fn(usize) + Sync)) -> T,
) -> T {
    bar(what, quiet, 100, false, work)
}

fn bar<T>(
    what: &'static str,
    quiet: bool,
    total: u64,
    even: bool,
    work: impl FnOnce(&(dyn Fn(usize) + Sync)) -> T,
) -> T {
    if quiet {
        return work(&|_| {});
    }
    let style = ProgressStyle::with_template(match even {
        true => "{msg} {wide_bar} {pos}/{len}, {eta} left",
        false => "{msg} {wide_bar} {pos} %",
    });
    let bar = ProgressBar::with_draw_target(Some(total), ProgressDrawTarget::hidden())
        .with_message(what)
        .with_style(style.unwrap_or_else(|_| ProgressStyle::default_bar()));
    let start = Instant::now();
    let told = AtomicBool::new(false);
    let result = work(&|done| {
        let elapsed = start.elapsed().as_secs_f64();
        if even && elapsed > 1.0 && done > 0 && !told.swap(true, Ordering::Relaxed) {
            let whole = elapsed * total as f64 / done as f64;
            if whole > LONG_S {
                say(&format!("{what} takes about {whole:.0} s"));
            }
        }
        if bar.is_hidden() && start.elapsed() > Duration::from_secs(1) {
            bar.set_draw_target(ProgressDrawTarget::stderr());
        }
        bar.set_position(done as u64);
    });
    bar.finish_and_clear();
    result
}
