//! The unnumbered sheets of words: summary box, judgments, findings, answers.

use super::layout::Content;
use super::{Writer, row_of, short_date, unmarked};
use crate::credit::credits::CREDITS;
use crate::credit::line::{self, Subject};
use crate::credit::{Figure, Ruling, Value};
use crate::document::{Align, Block, Row, Table, Width, body, column, plain, valued};
use crate::finding::{Finding, Severity, Span};
use crate::money::{Money, Printer};
use crate::wording::capital;

impl Writer<'_> {
    /// Writes the box a client reads first: some lines under their plain names, and what to do.
    pub(super) fn panel(&self, content: &Content) -> Vec<Block> {
        // A client reads what there is. A zero is said only of a credit that something was spent on.
        let spent_on = |line| match line {
            line::IMPROVEMENT_ALLOWED => self.facts.holds("has_improvement").unwrap_or(false),
            line::CLEAN_ALLOWED => self.facts.holds("has_clean").unwrap_or(false),
            _ => false,
        };
        let figures: Vec<(&Figure, Money)> = content
            .lines
            .iter()
            .filter_map(|line| self.of_return(*line))
            .filter_map(|figure| Some((figure, figure.value.money()?)))
            .filter(|(figure, amount)| !amount.is_zero() || spent_on(figure.place.line))
            .collect();
        let printer = Printer::of(figures.iter().map(|(_, amount)| *amount));
        let rows: Vec<Row> = figures
            .into_iter()
            .map(|(figure, amount)| {
                row_of(vec![
                    plain(self.plain_name(figure)),
                    valued(printer.print(amount), figure.place.to_string()),
                    plain(figure.place.line.to_string()),
                ])
            })
            .collect();
        let mut blocks = Vec::new();
        if !rows.is_empty() {
            blocks.push(Block::Table(Table {
                summary: "The credits of the year and what is carried forward".to_string(),
                columns: vec![
                    column("What it is", Width::Parts(1), Align::Left),
                    column("Dollars", Width::Content, Align::Decimal),
                    column("Our\u{A0}line", Width::Content, Align::Left),
                ],
                rows,
            }));
        }
        blocks.extend(self.notes(&content.say).into_iter().map(Block::Paragraph));
        if blocks.is_empty() {
            return blocks;
        }
        vec![Block::Panel(blocks)]
    }

    /// Writes sentences whose facts hold, as a list.
    pub(super) fn sentences(&self, content: &Content) -> Vec<Block> {
        let items: Vec<Vec<Block>> =
            self.notes(&content.say).into_iter().map(|words| vec![Block::Paragraph(words)]).collect();
        if items.is_empty() {
            return Vec::new();
        }
        vec![Block::List { ordered: false, items }]
    }

    /// Writes every treatment the preparer chose.
    pub(super) fn judgments(&self) -> Vec<Block> {
        let rows = self.ruled(|ruling| ruling.chosen.is_some());
        let rows = rows
            .into_iter()
            .map(|(figure, ruling)| {
                let place = ruling.chosen.map_or_else(String::new, |span| self.place_in_case(span));
                body(vec![
                    self.place_words(figure),
                    figure.about.clone().unwrap_or_default(),
                    treatment(figure, ruling),
                    self.reason(ruling),
                    place,
                ])
            })
            .collect::<Vec<Row>>();
        decisions("Treatments chosen by the preparer", "Where in the case", rows)
    }

    /// Writes every reading taken by default where the law is not settled.
    pub(super) fn unsettled(&self) -> Vec<Block> {
        let rows = self.ruled(|ruling| !ruling.settled && ruling.chosen.is_none());
        let rows = rows
            .into_iter()
            .map(|(figure, ruling)| {
                body(vec![
                    self.place_words(figure),
                    figure.about.clone().unwrap_or_default(),
                    treatment(figure, ruling),
                    capital(&unmarked(&ruling.because)),
                    self.note(&ruling.authority).trim_start().to_string(),
                ])
            })
            .collect::<Vec<Row>>();
        decisions("Readings taken where the law is not settled", "Authority", rows)
    }

    /// Writes the findings in the order in which they are told everywhere, each with its place in the case.
    pub(super) fn findings(&self) -> Vec<Block> {
        // Readings where the law is open have a table of their own among the judgments.
        let apart = |finding: &&Finding| finding.code != "law-not-settled";
        let rows: Vec<Row> = self
            .outcome
            .findings
            .iter()
            .filter(apart)
            .map(|finding| {
                let mut words = format!("{}.", sentence(&finding.message));
                if finding.message.ends_with(['.', '?']) {
                    words.pop();
                }
                if let Some(help) = &finding.help {
                    words.push_str(&format!(" {}.", sentence(help)));
                }
                words.push_str(&self.note(&finding.authority));
                body(vec![
                    severity(finding.severity).to_string(),
                    words,
                    finding.at.map_or_else(String::new, |span| self.place_in_case(span)),
                ])
            })
            .collect();
        if rows.is_empty() {
            return Vec::new();
        }
        vec![Block::Table(Table {
            summary: "What was found in the case, and where".to_string(),
            columns: vec![
                column("Kind", Width::Content, Align::Left),
                column("What was found", Width::Parts(1), Align::Left),
                column("Where in the case", Width::Content, Align::Left),
            ],
            rows,
        })]
    }

    /// Writes the answers that the case gives to questions.
    pub(super) fn answers(&self) -> Vec<Block> {
        let rows: Vec<Row> = self
            .case
            .answers
            .iter()
            .enumerate()
            .map(|(n, answer)| {
                // The question in its own words, where this computation asked it.
                let asked = self.outcome.answered.iter().find(|(answered_by, _)| *answered_by == n);
                let code = &answer.question.value;
                let again = || {
                    let open = self.outcome.findings.iter().flat_map(|one| &one.related);
                    answer
                        .given
                        .as_ref()
                        .is_some_and(|given| open.clone().any(|(span, _)| *span == given.span))
                };
                let mut question = match asked {
                    Some((_, question)) => format!("{} ({code})", sentence(&question.message)),
                    None if again() => format!("{code}: asked again, since what it was about has changed"),
                    None => format!("{code}: not asked any more"),
                };
                if let Some(given) = &answer.given {
                    question.push_str(&format!(" Given for: {}.", given.value));
                }
                let about = answer.about.as_ref().map_or("", |about| about.value.as_str());
                let by = answer.by.as_ref().map(|by| by.value.clone());
                let on = answer.on.as_ref().map(|on| short_date(on.value));
                let given: Vec<String> = by.into_iter().chain(on).collect();
                let because = answer.because.as_ref().map_or("", |because| because.value.as_str());
                body(vec![
                    question,
                    about.to_string(),
                    answer.answer.value.clone(),
                    given.join(", "),
                    because.to_string(),
                ])
            })
            .collect();
        if rows.is_empty() {
            return Vec::new();
        }
        vec![Block::Table(super::without_empty_columns(Table {
            summary: "Answers given to questions".to_string(),
            columns: vec![
                column("Question", Width::Parts(7), Align::Left),
                column("About", Width::Parts(3), Align::Left),
                column("Answer", Width::Parts(3), Align::Left),
                column("By and on", Width::Parts(2), Align::Left),
                column("Because", Width::Parts(4), Align::Left),
            ],
            rows,
        }))]
    }

    /// Returns the decisions of this year of some kind, each with the figure it bears on, each place once.
    fn ruled(&self, wanted: impl Fn(&Ruling) -> bool) -> Vec<(&Figure, &Ruling)> {
        let mut found = Vec::new();
        for figure in &self.figures {
            for ruling in figure.rulings().into_iter().filter(|ruling| wanted(ruling)) {
                found.push((*figure, ruling));
            }
        }
        found
    }

    fn place_words(&self, figure: &Figure) -> String {
        let place = figure.place.to_string();
        let year = format!("{}:", self.year);
        place.strip_prefix(&year).unwrap_or(&place).to_string()
    }

    /// Prints a place of the case: the file's name without its folders, and the line.
    pub(super) fn place_in_case(&self, span: Span) -> String {
        let source = self.sources.get(span.source);
        let name = source.name.rsplit(['/', '\\']).next().unwrap_or(&source.name);
        format!("{name}, line {}", self.sources.line_column(span).line)
    }

    /// Names a line of the summary as a client knows it, with the year's name of the credit.
    fn plain_name(&self, figure: &Figure) -> String {
        let (Some(law), year) = (self.year_law, self.year) else {
            return capital(&figure.label);
        };
        let estimate = match self.facts.holds("is_estimate") {
            Some(true) => ", an estimate",
            _ => "",
        };
        let here = figure.place.line;
        let plain = CREDITS.iter().find_map(|of| {
            let name = law.name(of.credit);
            match here {
                _ if here == of.allowed => Some(format!("{name} allowed for {year}")),
                _ if Some(here) == of.lost => Some(format!("{name} lost to the tax limit")),
                _ if of.carried.is_some_and(|carried| carried.into == here) => {
                    Some(format!("{name} carried in from {}", year.before()))
                }
                _ => None,
            }
        });
        let name = capital(&plain.unwrap_or_else(|| figure.label.clone()));
        match figure.place.line {
            line::CARRIED_IN => name,
            _ => format!("{name}{estimate}"),
        }
    }
}

/// Makes a table of decisions.
fn decisions(summary: &str, last: &str, rows: Vec<Row>) -> Vec<Block> {
    if rows.is_empty() {
        return Vec::new();
    }
    vec![Block::Table(Table {
        summary: summary.to_string(),
        columns: vec![
            column("Place", Width::Parts(3), Align::Left),
            column("What it is", Width::Parts(4), Align::Left),
            column("Treatment", Width::Parts(2), Align::Left),
            column("Because", Width::Parts(5), Align::Left),
            column(last, Width::Parts(3), Align::Left),
        ],
        rows,
    })]
}

/// Says in words what a decision does to an amount.
fn treatment(figure: &Figure, ruling: &Ruling) -> String {
    let words = match (&figure.place.of, ruling.counts) {
        (Subject::Incentive(..), true) => "reduces the cost",
        (Subject::Incentive(..), false) => "leaves the cost alone",
        (_, true) => "counts",
        (_, false) => "does not count",
    };
    match (&figure.value, ruling.counts) {
        (Value::Money(amount), true) => format!("{words}: {}", amount.spoken()),
        _ => words.to_string(),
    }
}

/// Begins a finding's words as a sentence; a name of the case keeps its small first letter.
fn sentence(words: &str) -> String {
    match words.starts_with('`') {
        true => unmarked(words),
        false => capital(&unmarked(words)),
    }
}

fn severity(severity: Severity) -> &'static str {
    match severity {
        Severity::Error => "Error",
        Severity::Warning => "Warning",
        Severity::Question => "Question",
        Severity::Note => "Note",
    }
}
