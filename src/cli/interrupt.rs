//! Ctrl-C asks a long study to end and to tell what it has; a second one ends the program.

use std::process;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

/// Exit status after a second Ctrl-C: 128 and the number of the signal, as shells have it.
const INTERRUPTED: i32 = 130;

/// A flag that Ctrl-C sets from now on. Where the system does not let it be caught, Ctrl-C ends the program as ever.
pub(super) fn flag() -> Arc<AtomicBool> {
    let flag = Arc::new(AtomicBool::new(false));
    let set = Arc::clone(&flag);
    let _ = ctrlc::set_handler(move || {
        if set.swap(true, Ordering::Relaxed) {
            process::exit(INTERRUPTED);
        }
    });
    flag
}
