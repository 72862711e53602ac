//! How long the main job takes, as a whole and per stage, on a demo case: `cargo bench`.
//!
//! Law, layouts, letters and fonts are loaded once by the first round, as they are in a run over many cases.

#![allow(missing_docs, reason = "the benchmark harness's macro makes an undocumented function")]

use criterion::{Criterion, criterion_group, criterion_main};
use gablework::assemble::{self, Material, Wanted};
use gablework::case::TaxYear;
use gablework::credit;
use gablework::credit::facts::facts;
use gablework::finding::Sources;
use gablework::law::Law;
use gablework::{letter, page, sheet};
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
        also: Vec::new(),
    }
}

fn pipeline(criterion: &mut Criterion) {
    let bytes = case_bytes();
    let law = Law::built_in();
    let wanted = wanted();
    let mut sources = Sources::default();
    let letters = letter::Kit::built_in(&mut sources);
    let material = Material {
        letters: &letters,
        layout: None,
        kit: &[],
        case_bytes: &bytes,
        firm: None,
        logo: None,
        papers: &[],
    };

    criterion.bench_function("read the case", |bench| {
        bench.iter(|| gablework::case::read(NAME, black_box(&bytes), &mut Sources::default()))
    });
    let (case, _) = gablework::case::read(NAME, &bytes, &mut Sources::default());
    let case = case.expect("the demo case reads");
    criterion.bench_function("compute all years", |bench| {
        bench.iter(|| credit::compute(black_box(&case), law).expect("the plan holds"))
    });
    let computed = assemble::compute(NAME, &bytes, law, sources.clone()).expect("the plan holds");
    let facts = facts(&case, law, &computed.outcome, wanted.year, false, wanted.dated);
    let stamps = sheet::Stamps {
        case_fingerprint: "c".repeat(64),
        figures_fingerprint: "f".repeat(64),
        law_edition: "bench".to_string(),
        draft: false,
        dated: Some(wanted.dated),
        replaces: None,
    };
    let worksheet =
        || sheet::write(&case, law, &computed.outcome, wanted.year, &facts, &computed.sources, &stamps);
    criterion.bench_function("write the worksheet", |bench| bench.iter(worksheet));
    let about = letter::Request {
        case: &case,
        law,
        outcome: &computed.outcome,
        year: wanted.year,
        facts: &facts,
        firm: None,
        logo: None,
        dated: wanted.dated,
    };
    criterion.bench_function("write the letters", |bench| bench.iter(|| letter::write(&about, &letters)));
    let document = worksheet();
    criterion
        .bench_function("lay the worksheet out", |bench| bench.iter(|| page::lay_out(black_box(&document))));
    let pages = page::lay_out(&document).expect("pages");
    let stamp = page::Stamp { id: [7; 16], date: wanted.dated };
    criterion.bench_function("worksheet pages to PDF", |bench| {
        bench.iter(|| page::to_pdf(black_box(&pages), &stamp))
    });
    criterion.bench_function("figures to JSON", |bench| {
        bench
            .iter(|| sheet::data::figures_json(&case, wanted.year, law, &computed.outcome, &computed.sources))
    });
    criterion.bench_function("case to packet bytes", |bench| {
        bench.iter(|| {
            let mut computed =
                assemble::compute(NAME, black_box(&bytes), law, sources.clone()).expect("the plan holds");
            assemble::packet(&mut computed, law, &wanted, &material).unwrap_or_else(|_| panic!("a packet"))
        })
    });
}

criterion_group!(benches, pipeline);
criterion_main!(benches);
