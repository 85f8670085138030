//! The engine of the live page behind plain WebAssembly exports, so that no tool but the compiler makes it.
//!
//! JavaScript asks for room ([`take`]), writes a request there as UTF-8, calls [`answer`] and reads the answer where that says it lies. One request at
//! a time: a worker runs them one after the other.

use std::cell::RefCell;

thread_local! {
    /// The request, and the last answer.
    static REQUEST: RefCell<Vec<u8>> = const { RefCell::new(Vec::new()) };
    static ANSWER: RefCell<String> = const { RefCell::new(String::new()) };
}

#[link(wasm_import_module = "env")]
unsafe extern "C" {
    /// Hears percent of a long work.
    safe fn progress(percent: f64);
}

/// Room for a request of so many bytes; gives back its address.
#[unsafe(no_mangle)]
pub extern "C" fn take(length: usize) -> *mut u8 {
    REQUEST.with_borrow_mut(|request| {
        request.clear();
        request.resize(length, 0);
        request.as_mut_ptr()
    })
}

/// Answers the request that was written; gives back the answer's address times 2^32 plus its length. It stays until the next answer.
#[unsafe(no_mangle)]
pub extern "C" fn answer() -> u64 {
    let request = REQUEST.with_borrow(|request| String::from_utf8_lossy(request).into_owned());
    let text = polstack::page::answer(&request, &|percent| progress(percent as f64));
    ANSWER.with_borrow_mut(|answer| {
        *answer = text;
        (answer.as_ptr() as u64) << 32 | answer.len() as u64
    })
}
