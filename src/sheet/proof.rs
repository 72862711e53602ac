//! What proves each item: the papers that should be on file, which of them are, and until when they are kept.
//!
//! Comes in: the papers of the engine, for the year and before. Goes out: a table, and the same as data. Decides
//! nothing: which papers, what is on file and the day of keeping are the engine's.

use super::{Role, Writer, spanning, without_empty_columns};
use crate::credit::papers::{ItemPapers, Keep, Paper, papers};
use crate::document::{Align, Block, Row, Table, Width, body, column, plain};
use crate::wording::{capital, listed};

impl Writer<'_> {
    /// Writes the papers, each once for all items of a year that are kept alike; nothing where the case lists none,
    /// for then nobody said what is on file.
    pub(super) fn proof(&self) -> Vec<Block> {
        if self.case.evidence.is_empty() {
            return Vec::new();
        }
        let mut alike: Vec<Vec<ItemPapers>> = Vec::new();
        for one in papers(self.case, self.law, self.outcome, self.year) {
            if one.papers.is_empty() || self.case.item(&one.item).is_none() {
                continue;
            }
            let same = |of: &&mut Vec<ItemPapers>| of[0].year == one.year && of[0].keep == one.keep;
            match alike.iter_mut().find(same) {
                Some(items) => items.push(one),
                None => alike.push(vec![one]),
            }
        }
        let mut rows: Vec<Row> = Vec::new();
        let mut with_home = false;
        for items in &alike {
            let year = items[0].year;
            let whole_year = alike.iter().filter(|one| one[0].year == year).count() == 1;
            let name = match whole_year && items.len() > 2 {
                true => format!("All property of tax year {year}"),
                false => format!("{}, tax year {year}", self.named(items)),
            };
            rows.push(spanning(Role::Group, name));
            rows.extend(rows_of(items));
            rows.push(spanning(Role::Remark, until(&items[0])));
            with_home |= items.iter().flat_map(|one| &one.papers).any(|paper| paper.with_home);
        }
        if rows.is_empty() {
            return Vec::new();
        }
        let mut blocks = vec![Block::Table(without_empty_columns(Table {
            summary: "Papers that prove the items, which are on file, and until when they are kept"
                .to_string(),
            columns: vec![
                column("Paper", Width::Parts(5), Align::Left),
                column("On file", Width::Parts(5), Align::Left),
                column("Missing", Width::Parts(3), Align::Left),
                column("Keep until", Width::Content, Align::Left),
            ],
            rows,
        }))];
        if with_home {
            blocks.push(Block::Small(plain(WITH_HOME)));
        }
        blocks
    }

    /// Names one item in full, several by their keys.
    fn named(&self, items: &[ItemPapers]) -> String {
        let title = |one: &ItemPapers| self.case.item(&one.item).map(|item| self.item_title(item));
        match items {
            [one] => title(one).unwrap_or_default(),
            _ => listed(&items.iter().map(|one| one.item.to_string()).collect::<Vec<String>>()),
        }
    }
}

/// Writes a row for each paper that some items want, in the order in which they name it.
fn rows_of(items: &[ItemPapers]) -> Vec<Row> {
    let mut wanted: Vec<&Paper> = Vec::new();
    for paper in items.iter().flat_map(|one| &one.papers) {
        if !wanted.iter().any(|known| known.what == paper.what && known.with_home == paper.with_home) {
            wanted.push(paper);
        }
    }
    wanted.into_iter().map(|paper| row_of(paper, items)).collect()
}

fn row_of(paper: &Paper, items: &[ItemPapers]) -> Row {
    let mut on_file: Vec<(String, Vec<String>)> = Vec::new();
    let mut missing: Vec<String> = Vec::new();
    for one in items {
        let same = |own: &&Paper| own.what == paper.what && own.with_home == paper.with_home;
        let Some(own) = one.papers.iter().find(same) else { continue };
        let keys: Vec<&str> = own.on_file.iter().map(|key| key.as_str()).collect();
        let keys = keys.join(", ");
        if keys.is_empty() {
            missing.push(one.item.to_string());
        } else if let Some((_, of)) = on_file.iter_mut().find(|(known, _)| *known == keys) {
            of.push(one.item.to_string());
        } else {
            on_file.push((keys, vec![one.item.to_string()]));
        }
    }
    let several = items.len() > 1;
    let lies = |(keys, of): &(String, Vec<String>)| match several && of.len() < items.len() {
        true => format!("{keys} for {}", listed(of)),
        false => keys.clone(),
    };
    let lacks = match (missing.len(), several) {
        (0, _) => String::new(),
        (_, false) => "missing".to_string(),
        (count, true) if count == items.len() => "for all of them".to_string(),
        (count, true) if count > 3 && items.len() - count <= 2 => {
            let others = items.iter().map(|one| one.item.to_string()).filter(|item| !missing.contains(item));
            format!("for all but {}", listed(&others.collect::<Vec<String>>()))
        }
        _ => format!("for {}", listed(&missing)),
    };
    body(vec![
        capital(&paper.what),
        on_file.iter().map(lies).collect::<Vec<String>>().join("; "),
        lacks,
        match (paper.with_home, items[0].keep.day()) {
            (true, _) => "with the home".to_string(),
            (false, Some(day)) => day.to_string(),
            (false, None) => "no end yet".to_string(),
        },
    ])
}

/// What the words "with the home" mean.
const WITH_HOME: &str = "With the home: it shows what the home cost or what lowered that cost, so it stays as long as \
    the client owns the home, and then until three years after the return for the year of sale is filed or due; never \
    shorter than the day given for the item (Pub. 552 (2008); Pub. 530 (2012)).";

/// Says until when the papers of an item are kept, and why.
fn until(one: &ItemPapers) -> String {
    let when = match one.keep.day() {
        Some(day) => format!("At least until {day}"),
        None if one.keep == Keep::BasisOnly => "With the home".to_string(),
        None => "No end date yet".to_string(),
    };
    format!("{when}: {}.", one.keep.because())
}
