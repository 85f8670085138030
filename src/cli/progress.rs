//! A progress display for work that takes over a second.

use std::sync::mpsc;
use std::thread;
use std::time::Duration;

use indicatif::ProgressBar;

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
