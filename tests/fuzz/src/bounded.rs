//! What every target is held to: panics and memory. Time and the process's memory are bounded by libFuzzer's own options.
//!
//! Must not know: what is read.

use std::cell::RefCell;
use std::panic::{AssertUnwindSafe, catch_unwind, set_hook};

thread_local! {
    static LAST_PANIC: RefCell<String> = const { RefCell::new(String::new()) };
}

/// Takes the place of libFuzzer's hook, which ends the process at every panic: one of a library's decoder may be caught and become damage.
pub fn tell_only_panics_that_escape() {
    set_hook(Box::new(|panic| {
        let words = panic.to_string();
        LAST_PANIC.with(|last| *last.borrow_mut() = words);
    }));
}

/// Ends the process, as libFuzzer wants it, where a panic escapes.
pub fn hold(look: impl FnOnce()) {
    if catch_unwind(AssertUnwindSafe(look)).is_err() {
        LAST_PANIC.with(|last| eprintln!("{}", last.borrow()));
        std::process::abort();
    }
}

/// What this gives, taken with no more octets from the heap at any time.
pub fn within<T>(most: usize, read: impl FnOnce() -> T) -> T {
    let mut given = None;
    let taken = allocation_counter::measure(|| given = Some(read()));
    assert!(
        taken.bytes_max <= most as u64,
        "{} octets were taken from the heap, {most} are enough",
        taken.bytes_max
    );
    given.expect("the closure ran")
}
