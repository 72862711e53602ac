//! How long each stage of a packet takes, and many packets: `cargo bench --bench pipeline`.
//!
//! The stages are timed on a demo case that fills its worksheet. Figures of one run compare with each other; between
//! machines and days only their ratios do.

#![allow(missing_docs, reason = "the benchmark harness's macro makes an undocumented function")]

#[allow(dead_code, reason = "this target takes the cases alone")]
mod households;
#[allow(dead_code, reason = "this target counts no pages")]
mod stages;

use criterion::{Criterion, Throughput, criterion_group, criterion_main};
use gablework::many;
use households::{FIRM, household};
use stages::{Desk, STAGES};
use std::num::NonZeroUsize;
use std::sync::atomic::AtomicBool;
use std::time::Duration;

const CASE: &str = "solar-water-heater.case.yaml";

fn one_packet(criterion: &mut Criterion) {
    let path = format!("{}/demo/{CASE}", env!("CARGO_MANIFEST_DIR"));
    let bytes = std::fs::read(&path).unwrap_or_else(|error| panic!("{path}: {error}"));
    let desk = Desk::new(FIRM);
    let prepared = desk.prepare(&bytes);
    let mut group = criterion.benchmark_group("one packet");
    group.sample_size(40).measurement_time(Duration::from_secs(4));
    for (name, run) in STAGES {
        group.bench_function(name, |bench| bench.iter(|| run(&prepared)));
    }
}

/// A hundred different cases, from their text to the bytes of their packets, on one thread and on all.
fn many_packets(criterion: &mut Criterion) {
    const CASES: u32 = 100;
    let desk = Desk::new(FIRM);
    let texts: Vec<String> = (0..CASES).map(|number| household(1, number)).collect();
    let all = std::thread::available_parallelism().unwrap_or(NonZeroUsize::MIN);
    let mut group = criterion.benchmark_group("a hundred packets");
    group
        .sample_size(10)
        .measurement_time(Duration::from_secs(8))
        .throughput(Throughput::Elements(CASES.into()));
    for threads in [NonZeroUsize::MIN, all] {
        group.bench_function(format!("on {threads} threads"), |bench| {
            let stop = AtomicBool::new(false);
            let work = |_: usize, text: &String| desk.packet(text.as_bytes()).files.len();
            bench.iter(|| many::in_order(&texts, threads, &stop, work, |_, _| {}));
        });
    }
}

criterion_group!(benches, one_packet, many_packets);
criterion_main!(benches);
