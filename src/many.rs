//! Works through many inputs in parallel and hands the results on in order.
//!
//! Memory stays flat: no worker starts an input that lies further ahead than a fixed distance from the first result
//! still missing, so results never pile up behind a slow one.

use std::collections::BTreeMap;
use std::num::NonZeroUsize;
use std::panic::{AssertUnwindSafe, catch_unwind, resume_unwind};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Condvar, Mutex, MutexGuard, PoisonError, mpsc};

/// How many inputs may be under way or waiting, for each thread.
const AHEAD: usize = 8;

/// How far the work has come: which input is next, and how many results were handed on.
#[derive(Default)]
struct Pace {
    next: usize,
    handed_on: usize,
}

/// Works on each input and hands each result to `done`, in the order of the inputs, whatever the number of threads.
///
/// `done` runs on the calling thread. Once `stop` is set no further input is started; those under way are finished
/// and handed on. Returns how many were handed on; fewer than there are inputs only after a stop.
///
/// A panic in `work` or `done` ends the run and is passed on.
pub fn in_order<T: Sync, R: Send>(
    inputs: &[T],
    threads: NonZeroUsize,
    stop: &AtomicBool,
    work: impl Fn(usize, &T) -> R + Sync,
    mut done: impl FnMut(usize, R),
) -> usize {
    let threads = threads.get().min(inputs.len()).max(1);
    if threads == 1 {
        return in_series(inputs, stop, work, done);
    }
    let pace = Mutex::new(Pace::default());
    let moved_on = Condvar::new();
    // Set when the calling thread has gone, so that no worker waits for it.
    let given_up = AtomicBool::new(false);
    let take = || {
        let mut now = held(&pace);
        loop {
            let over = stop.load(Ordering::Relaxed) || given_up.load(Ordering::Relaxed);
            if over || now.next == inputs.len() {
                return None;
            }
            if now.next < now.handed_on + threads * AHEAD {
                now.next += 1;
                return Some(now.next - 1);
            }
            now = moved_on.wait(now).unwrap_or_else(PoisonError::into_inner);
        }
    };
    let hand_on = |results: mpsc::Receiver<(usize, std::thread::Result<R>)>,
                   done: &mut dyn FnMut(usize, R)| {
        let _given_up = GivingUp { flag: &given_up, pace: &pace, moved_on: &moved_on };
        let mut waiting = BTreeMap::new();
        let mut handed_on = 0;
        for (n, result) in results {
            waiting.insert(n, result.unwrap_or_else(|panic| resume_unwind(panic)));
            while let Some(result) = waiting.remove(&handed_on) {
                done(handed_on, result);
                handed_on += 1;
                held(&pace).handed_on = handed_on;
                moved_on.notify_all();
            }
        }
        handed_on
    };
    std::thread::scope(|scope| {
        let (send, receive) = mpsc::channel();
        let start = |_: &usize| {
            let (send, take, work) = (send.clone(), &take, &work);
            let run = move || {
                while let Some(n) = take() {
                    let result = catch_unwind(AssertUnwindSafe(|| work(n, &inputs[n])));
                    if send.send((n, result)).is_err() {
                        return;
                    }
                }
            };
            std::thread::Builder::new().spawn_scoped(scope, run).is_ok()
        };
        // Where the system allows no more threads, fewer do the work.
        let started = (0..threads).take_while(start).count();
        drop(send);
        if started == 0 { in_series(inputs, stop, &work, &mut done) } else { hand_on(receive, &mut done) }
    })
}

/// Works on the inputs one after the other, on the calling thread.
fn in_series<T, R>(
    inputs: &[T],
    stop: &AtomicBool,
    work: impl Fn(usize, &T) -> R,
    mut done: impl FnMut(usize, R),
) -> usize {
    for (n, input) in inputs.iter().enumerate() {
        if stop.load(Ordering::Relaxed) {
            return n;
        }
        done(n, work(n, input));
    }
    inputs.len()
}

/// Tells the workers to end when the calling thread leaves, also by a panic: else one might wait for it for ever.
struct GivingUp<'a> {
    flag: &'a AtomicBool,
    pace: &'a Mutex<Pace>,
    moved_on: &'a Condvar,
}

impl Drop for GivingUp<'_> {
    fn drop(&mut self) {
        // Under the lock, so that no worker misses it between looking and waiting.
        let _pace = held(self.pace);
        self.flag.store(true, Ordering::Relaxed);
        self.moved_on.notify_all();
    }
}

fn held<'a>(pace: &'a Mutex<Pace>) -> MutexGuard<'a, Pace> {
    pace.lock().unwrap_or_else(PoisonError::into_inner)
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::sync::atomic::AtomicUsize;
    use std::time::Duration;

    fn threads(n: usize) -> NonZeroUsize {
        NonZeroUsize::new(n).unwrap()
    }

    #[test]
    fn results_come_in_order_whatever_the_number_of_threads() {
        let inputs: Vec<u64> = (0..500).collect();
        for n in [1, 2, 7] {
            let mut seen = Vec::new();
            let work = |n: usize, input: &u64| {
                std::thread::sleep(Duration::from_micros((input * 37) % 200));
                (n, input * 2)
            };
            let handed_on = in_order(&inputs, threads(n), &AtomicBool::new(false), work, |at, result| {
                seen.push((at, result))
            });
            assert_eq!(handed_on, 500);
            assert!(
                seen.iter()
                    .enumerate()
                    .all(|(n, (at, (given, twice)))| { n == *at && n == *given && *twice == 2 * n as u64 })
            );
        }
    }

    #[test]
    fn nobody_runs_far_ahead_of_a_slow_first() {
        let started = AtomicUsize::new(0);
        let inputs = [(); 400];
        let most_ahead = AtomicUsize::new(0);
        let work = |n: usize, (): &()| {
            started.fetch_add(1, Ordering::SeqCst);
            if n == 0 {
                std::thread::sleep(Duration::from_millis(60));
                most_ahead.store(started.load(Ordering::SeqCst), Ordering::SeqCst);
            }
        };
        in_order(&inputs, threads(4), &AtomicBool::new(false), work, |_, ()| {});
        assert!(most_ahead.load(Ordering::SeqCst) <= 4 * AHEAD);
    }

    #[test]
    fn a_stop_starts_nothing_more_and_finishes_what_is_under_way() {
        let (stop, started) = (AtomicBool::new(false), AtomicUsize::new(0));
        let mut seen = 0;
        let work = |_: usize, (): &()| {
            started.fetch_add(1, Ordering::SeqCst);
        };
        let handed_on = in_order(&[(); 1000], threads(3), &stop, work, |n, ()| {
            seen += 1;
            if n == 10 {
                stop.store(true, Ordering::Relaxed);
            }
        });
        assert_eq!(handed_on, seen);
        assert_eq!(handed_on, started.load(Ordering::SeqCst));
        assert!(handed_on < 1000);
    }

    #[test]
    fn a_panic_of_a_worker_is_passed_on_and_nobody_waits_for_ever() {
        let inputs: Vec<usize> = (0..300).collect();
        let run =
            || in_order(&inputs, threads(4), &AtomicBool::new(false), |_, n| assert_ne!(*n, 100), |_, ()| {});
        assert!(catch_unwind(AssertUnwindSafe(run)).is_err());
    }
}
