//! A progress display for work that takes over a second.

use std::sync::mpsc;
use std::thread;
use std::time::{Duration, Instant};

use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};

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
    if quiet {
        return work(&|_| {});
    }
    let style = ProgressStyle::with_template("{msg} {wide_bar} {pos}/{len}, {eta} left");
    let bar = ProgressBar::with_draw_target(Some(total), ProgressDrawTarget::hidden())
        .with_message(what)
        .with_style(style.unwrap_or_else(|_| ProgressStyle::default_bar()));
    let start = Instant::now();
    let result = work(&|done| {
        if bar.is_hidden() && start.elapsed() > Duration::from_secs(1) {
            bar.set_draw_target(ProgressDrawTarget::stderr());
        }
        bar.set_position(done as u64);
    });
    bar.finish_and_clear();
    result
}
