//! What proves each item: the papers that should be on file, which of them are, and until when they are kept.
//!
//! Comes in: the papers of the engine, for the year and before. Goes out: a table, and the same as data. Decides
//! nothing: which papers, what is on file and the day of keeping are the engine's.

use super::{Role, Writer, body, column, spanning};
use crate::case::{Case, TaxYear};
use crate::credit::Outcome;
use crate::credit::papers::{ItemPapers, Keep, Paper, papers};
use crate::document::{Align, Block, Row, Table, Width, plain};
use crate::law::Law;
use serde_json::{Value, json};

impl Writer<'_> {
    /// Writes for each item its papers; nothing where the case lists none, for then nobody said what is on file.
    pub(super) fn proof(&self) -> Vec<Block> {
        if self.case.evidence.is_empty() {
            return Vec::new();
        }
        let mut rows: Vec<Row> = Vec::new();
        let mut with_home = false;
        for one in papers(self.case, self.law, self.outcome, self.year) {
            let Some(item) = self.case.item(&one.item).filter(|_| !one.papers.is_empty()) else { continue };
            rows.push(spanning(Role::Group, format!("{}, tax year {}", self.item_title(item), one.year)));
            rows.extend(one.papers.iter().map(|paper| row(paper, one.keep)));
            rows.push(spanning(Role::Remark, until(&one)));
            with_home |= one.papers.iter().any(|paper| paper.with_home);
        }
        if rows.is_empty() {
            return Vec::new();
        }
        let mut blocks = vec![Block::Table(Table {
            summary: "Papers that prove each item, whether they are on file, and until when they are kept"
                .to_string(),
            columns: vec![
                column("Paper", Width::Parts(5), Align::Left),
                column("On file", Width::Parts(2), Align::Left),
                column("Keep until", Width::Parts(2), Align::Left),
            ],
            rows,
        })];
        if with_home {
            blocks.push(Block::Small(plain(WITH_HOME)));
        }
        blocks
    }
}

/// What the words "with the home" mean.
const WITH_HOME: &str = "With the home: it shows what the home cost or what lowered that cost, so it stays as long as \
    the client owns the home, and then until three years after the return for the year of sale is filed or due; never \
    shorter than the day given for the item (Pub. 552 (2008); Pub. 530 (2012)).";

fn row(paper: &Paper, keep: Keep) -> Row {
    let on_file: Vec<&str> = paper.on_file.iter().map(|key| key.as_str()).collect();
    body(vec![
        super::layout::capital(&paper.what),
        if on_file.is_empty() { "missing".to_string() } else { on_file.join(", ") },
        match (paper.with_home, keep.day()) {
            (true, _) => "with the home".to_string(),
            (false, Some(day)) => day.to_string(),
            (false, None) => "no end yet".to_string(),
        },
    ])
}

/// Says until when the papers of an item are kept, and why.
fn until(one: &ItemPapers) -> String {
    let when = match one.keep.day() {
        Some(day) => format!("At least until {day}"),
        None if one.keep == Keep::BasisOnly => "With the home".to_string(),
        None => "No end date yet".to_string(),
    };
    format!("{when}: {}.", one.keep.because())
}

/// Returns the papers as data.
pub(super) fn papers_json(case: &Case, law: &Law, outcome: &Outcome, year: TaxYear) -> Value {
    let of_item = |one: ItemPapers| {
        let papers = one.papers.iter().map(|paper| {
            json!({
                "paper": paper.what,
                "on_file": paper.on_file.iter().map(|key| key.as_str()).collect::<Vec<_>>(),
                "with_home": paper.with_home,
                "source": paper.source,
                "standing": paper.standing.label(),
            })
        });
        json!({
            "item": one.item.as_str(),
            "year": one.year,
            "keep_until": one.keep.day().map(|day| day.to_string()),
            "because": one.keep.because(),
            "papers": papers.collect::<Vec<Value>>(),
        })
    };
    papers(case, law, outcome, year).into_iter().map(of_item).collect()
}
