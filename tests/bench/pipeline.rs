//! How long the main job takes, as a whole and per stage, on a demo case: `cargo bench`.
//!
//! Law, layouts, letters and fonts are loaded once by the first round, as they are in a run over many cases.

#![allow(missing_docs, reason = "the benchmark harness's macro makes an undocumented function")]

use criterion::{Criterion, criterion_group, criterion_main};
use gablework::assemble::{self, Material, Wanted};
use gablework::case::TaxYear;
use gablework::credit;
use gablework::finding::Sources;
use gablework::law::Law;
use gablework::letter;
use std::hint::black_box;

const NAME: &str = "solar-water-heater.case.yaml";

fn case_bytes() -> Vec<u8> {
    let path = format!("{}/demo/{NAME}", env!("CARGO_MANIFEST_DIR"));
    std::fs::read(&path).unwrap_or_else(|error| panic!("{path}: {error}"))
}

fn wanted() -> Wanted {
    Wanted {
        year: TaxYear(2024),
        dated: jiff::civil::date(2026, 11, 25),
        draft: false,
        case_file: NAME.to_string(),
        replaces: None,
        name: "BENCH-2024".to_string(),
    }
}

fn pipeline(criterion: &mut Criterion) {
    let bytes = case_bytes();
    let law = Law::built_in();
    let wanted = wanted();
    let (letters, _) = letter::Kit::built_in(&mut Sources::default());
    let material = Material { letters: &letters, case_bytes: &bytes, firm: None, papers: &[] };

    criterion.bench_function("read the case", |bench| {
        bench.iter(|| gablework::case::read(NAME, black_box(&bytes), &mut Sources::default()))
    });
    let (case, _) = gablework::case::read(NAME, &bytes, &mut Sources::default());
    let case = case.expect("the demo case reads");
    criterion.bench_function("compute all years", |bench| {
        bench.iter(|| credit::compute(black_box(&case), law).expect("the plan holds"))
    });
    criterion.bench_function("case to packet bytes", |bench| {
        bench.iter(|| {
            let mut computed = assemble::compute(NAME, black_box(&bytes), law).expect("the plan holds");
            assemble::packet(&mut computed, law, &wanted, &material).unwrap_or_else(|_| panic!("a packet"))
        })
    });
}

criterion_group!(benches, pipeline);
criterion_main!(benches);
