//! Case files and firm files: whatever the bytes, an answer, and figures that hang together where there are any.

use gablework::assemble::{self, Computed};
use gablework::case::firm;
use gablework::credit::LineKind;
use gablework::credit::why::Why;
use gablework::finding::{Finding, Severity, Sources};
use gablework::law::Law;
use gablework::sheet::terminal::{self, Shape};
use gablework::sheet::{data, json};

/// A case file, read, computed and told of in every way.
pub fn case(bytes: &[u8]) {
    told(bytes);
}

/// Computes a case, checks what must hold of every answer, and returns it.
pub fn told(bytes: &[u8]) -> Computed {
    told_beside(bytes, Sources::default())
}

/// The same, with other texts that findings may point into.
pub fn told_beside(bytes: &[u8], sources: Sources) -> Computed {
    let law = Law::built_in();
    let computed = assemble::compute("fuzzed.case.yaml", bytes, law, sources)
        .unwrap_or_else(|fault| panic!("a fault of the program: {fault}"));
    well_told(&computed.outcome.findings, &computed.sources);
    let Some(case) = &computed.case else {
        assert!(computed.has_errors(), "no case, and nobody says why");
        return computed;
    };
    for year in &computed.outcome.years {
        let json = json::figures(case, *year, law, &computed.outcome, &computed.sources);
        assert_eq!(
            json["lines"].as_array().map(Vec::len),
            Some(computed.outcome.figures.of_year(*year).len())
        );
        data::figures_csv(*year, &computed.outcome);
        for columns in [0, 80, 200] {
            let shape = Shape { columns, all: columns == 0, how: columns == 200 };
            terminal::figures(case, law, *year, &computed.outcome, shape);
        }
    }
    let why = Why {
        case,
        law,
        figures: &computed.outcome.figures,
        answered: &computed.outcome.answered,
        sources: &computed.sources,
        depth: Some(3),
    };
    for figure in computed.outcome.figures.all() {
        if figure.place.line.kind() == LineKind::Money {
            assert!(figure.value.money().is_some(), "{} is no amount", figure.place);
        }
    }
    for figure in computed.outcome.figures.all().iter().take(40) {
        let reading = why.line(&figure.place);
        assert!(
            reading.is_some_and(|reading| !reading.text().is_empty()),
            "{} cannot be walked back",
            figure.place
        );
    }
    computed
}

/// A firm's file.
pub fn firm(bytes: &[u8]) {
    let mut sources = Sources::default();
    let (firm, findings) = firm::read("firm.yaml", bytes, &mut sources);
    well_told(&findings, &sources);
    assert!(firm.is_some() || findings.iter().any(|one| one.severity == Severity::Error));
}

/// Checks that findings can be shown, and that what is shown holds no secret and no order to a terminal.
pub fn well_told(findings: &[Finding], sources: &Sources) {
    for finding in findings {
        let shown = finding.render(sources);
        assert!(!shown.is_empty() && !finding.message.is_empty());
        assert!(!shown.chars().any(is_order), "an order to the terminal: {shown:?}");
        assert!(!holds_full_number(&shown), "a full number is shown: {shown}");
        let json = finding.to_json(sources).to_string();
        assert!(!holds_full_number(&json), "a full number is told: {json}");
    }
}

/// A character that a terminal obeys.
fn is_order(c: char) -> bool {
    c.is_control() && c != '\n'
}

/// Says whether digits grouped 3-2-4 stand free in a text, apart from the program's own way of finding them.
pub fn holds_full_number(text: &str) -> bool {
    let bytes = text.as_bytes();
    let digit = |at: usize| bytes.get(at).is_some_and(u8::is_ascii_digit);
    let near = |at: usize| bytes.get(at).is_some_and(|byte| byte.is_ascii_digit() || b"-./_".contains(byte));
    (0..bytes.len().saturating_sub(10)).any(|at| {
        (0..11).all(|n| if n == 3 || n == 6 { bytes[at + n] == b'-' } else { digit(at + n) })
            && !(at > 0 && near(at - 1))
            && !near(at + 11)
    })
}
