//! How much work something is, whatever else the machine does meanwhile.

use std::time::{Duration, Instant};

/// Does something and returns how long the processor was at it.
///
/// On Linux this is the time of this thread alone, so that a loaded machine makes no test fail and a slow way of
/// doing things still does; elsewhere it is the time by the clock.
pub fn spent<T>(work: impl FnOnce() -> T) -> (T, Duration) {
    let before = processor();
    let start = Instant::now();
    let done = work();
    let spent = match (before, processor()) {
        (Some(before), Some(after)) => after.saturating_sub(before),
        _ => start.elapsed(),
    };
    (done, spent)
}

/// The time that this thread has run for, as the kernel counts it.
fn processor() -> Option<Duration> {
    let counted = std::fs::read_to_string("/proc/thread-self/schedstat").ok()?;
    counted.split(' ').next()?.parse().ok().map(Duration::from_nanos)
}
