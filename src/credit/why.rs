//! A line's derivation, walked back to receipts, answers and law.
//!
//! Comes in: the figures and a place. Goes out: [`Derivation`], a tree with no more in it than was evaluated, which
//! prints itself as text and serialises as data.

use super::evaluate::{Figure, Figures, Used};
use super::line::Place;
use crate::case::Case;
use crate::finding::Sources;
use crate::law::Law;
use serde::Serialize;
use std::collections::HashSet;

/// One step of a derivation.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[serde(tag = "from", rename_all = "snake_case")]
pub enum Derivation {
    /// A figure and what it was made of.
    Line {
        /// Where it stands.
        place: String,
        /// What it is called.
        label: String,
        /// Its value.
        value: String,
        /// How it was made, in words.
        how: String,
        /// The same with its numbers.
        worked: String,
        /// Decisions inside it.
        rulings: Vec<Decision>,
        /// The rules it rests on.
        authority: Vec<String>,
        /// Its operands; empty where they are shown elsewhere.
        operands: Vec<Derivation>,
        /// The operands have been shown already, further up.
        shown_above: bool,
        /// The operands lie deeper than was asked for.
        deeper: bool,
    },
    /// A value of the law.
    Law {
        /// The year.
        year: i16,
        /// The name of the value.
        key: String,
        /// What it is.
        label: String,
        /// Its value.
        value: String,
        /// Where it stands.
        source: Vec<String>,
        /// What it rests on.
        standing: String,
        /// Whether nobody disputes it.
        settled: bool,
    },
    /// A fact of the case.
    Fact {
        /// Its path.
        path: String,
        /// What it is.
        words: String,
        /// Its value.
        value: String,
        /// File, line and column.
        at: String,
        /// The paper that shows it, and where it is.
        evidence: Option<String>,
    },
}

/// A decision inside a figure.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Decision {
    /// Whether the amount counts.
    pub counts: bool,
    /// Why.
    pub because: String,
    /// Under which authority.
    pub authority: Vec<String>,
    /// Whether the law is settled here.
    pub settled: bool,
    /// Whether the preparer chose it, and where.
    pub chosen: Option<String>,
}

/// What a derivation is made from.
pub struct Why<'a> {
    /// The case.
    pub case: &'a Case,
    /// The law.
    pub law: &'a Law,
    /// The figures.
    pub figures: &'a Figures,
    /// The texts that facts stand in.
    pub sources: &'a Sources,
    /// How many steps back; none means to the end.
    pub depth: Option<u16>,
}

impl Why<'_> {
    /// Walks a figure back. None where there is no such figure.
    pub fn walk(&self, place: &Place) -> Option<Derivation> {
        let figure = self.figures.get(place)?;
        Some(self.line(figure, 0, &mut HashSet::new()))
    }

    fn line(&self, figure: &Figure, depth: u16, seen: &mut HashSet<Place>) -> Derivation {
        let deeper = self.depth.is_some_and(|most| depth >= most) && !figure.used.is_empty();
        let shown_above = !seen.insert(figure.place.clone()) && !figure.used.is_empty();
        let operands = if deeper || shown_above {
            Vec::new()
        } else {
            let mut once = HashSet::new();
            let fresh = figure.used.iter().filter(|used| match used {
                Used::Figure(place, _) => once.insert(place.clone()),
                _ => true,
            });
            fresh.filter_map(|used| self.operand(used, depth, seen)).collect()
        };
        let about = figure.about.as_ref().map(|about| format!(": {about}")).unwrap_or_default();
        Derivation::Line {
            place: figure.place.to_string(),
            label: format!("{}{about}", figure.label),
            value: figure.value.shown(),
            how: figure.how.clone(),
            worked: worked(figure),
            rulings: figure.rulings().into_iter().map(|ruling| self.decision(ruling)).collect(),
            authority: figure.authority.iter().map(|source| self.document(figure, source)).collect(),
            operands,
            shown_above,
            deeper: deeper && !shown_above,
        }
    }

    fn operand(&self, used: &Used, depth: u16, seen: &mut HashSet<Place>) -> Option<Derivation> {
        Some(match used {
            Used::Figure(place, _) => self.line(self.figures.get(place)?, depth + 1, seen),
            Used::Law(year, key, value) => {
                let entry = self.law.year(*year)?.values.get(key)?;
                Derivation::Law {
                    year: year.0,
                    key: key.word().to_string(),
                    label: key.label().to_string(),
                    value: value.shown(),
                    source: entry.authority.source.clone(),
                    standing: entry.authority.standing.label().to_string(),
                    settled: entry.authority.settled,
                }
            }
            Used::Fact(fact) => Derivation::Fact {
                path: fact.path.clone(),
                words: fact.words.clone(),
                value: fact.value.shown(),
                at: self.position(fact.span),
                evidence: fact.evidence.as_ref().map(|key| self.paper(key)),
            },
        })
    }

    fn decision(&self, ruling: &super::Ruling) -> Decision {
        Decision {
            counts: ruling.counts,
            because: ruling.because.clone(),
            authority: ruling.authority.clone(),
            settled: ruling.settled,
            chosen: ruling.chosen.map(|span| self.position(span)),
        }
    }

    /// Names a source and the document behind it.
    fn document(&self, figure: &Figure, source: &str) -> String {
        let key = source.split(' ').next().unwrap_or(source);
        match self.law.year(figure.place.year).and_then(|law| law.sources.get(key)) {
            Some(document) => format!("{source}: {document}"),
            None => source.to_string(),
        }
    }

    fn position(&self, span: crate::finding::Span) -> String {
        let at = self.sources.line_column(span);
        format!("{}:{}:{}", self.sources.get(span.source).name, at.line, at.column)
    }

    fn paper(&self, key: &str) -> String {
        let Some(paper) = self.case.evidence.iter().find(|one| one.key.value.as_str() == key) else {
            return format!("{key} (not listed under `evidence`)");
        };
        let kept = match (paper.on_file.value, &paper.kept_at) {
            (true, Some(place)) => format!("on file, {}", place.value),
            (true, None) => "on file".to_string(),
            (false, _) => "not on file".to_string(),
        };
        format!("{key} ({}, {kept})", paper.kind.value.label())
    }
}

/// Prints a figure's expression with its numbers in place of its lines.
fn worked(figure: &Figure) -> String {
    let numbers: Vec<String> = figure
        .used
        .iter()
        .map(|used| match used {
            Used::Figure(place, value) => format!("{} = {}", short(place, &figure.place), value.shown()),
            Used::Law(_, key, value) => format!("{} = {}", key.label(), value.shown()),
            Used::Fact(fact) => format!("{} = {}", fact.words, fact.value.shown()),
        })
        .collect();
    numbers.join("; ")
}

/// Names a place as shortly as its neighbour allows.
fn short(place: &Place, here: &Place) -> String {
    let text = place.to_string();
    match text.strip_prefix(&format!("{}:", here.year)) {
        Some(rest) => rest.to_string(),
        None => text,
    }
}

impl Derivation {
    /// Prints the tree as indented text, one thought a line.
    pub fn text(&self) -> String {
        let mut out = String::new();
        self.write(&mut out, 0);
        out
    }

    fn write(&self, out: &mut String, depth: usize) {
        let pad = "  ".repeat(depth);
        let mut say = |text: String| {
            out.push_str(&pad);
            out.push_str(&text);
            out.push('\n');
        };
        match self {
            Derivation::Line {
                place,
                label,
                value,
                how,
                worked,
                rulings,
                authority,
                operands,
                shown_above,
                deeper,
            } => {
                say(format!("{place}  {label}  =  {value}"));
                if *shown_above {
                    say("  (shown above)".to_string());
                    return;
                }
                say(format!("  how: {how}"));
                if !worked.is_empty() {
                    say(format!("  with: {worked}"));
                }
                for ruling in rulings {
                    let verb = if ruling.counts { "counts" } else { "does not count" };
                    let open = if ruling.settled { "" } else { " [not settled]" };
                    let chosen =
                        ruling.chosen.as_ref().map(|at| format!(" [chosen at {at}]")).unwrap_or_default();
                    let under = if ruling.authority.is_empty() {
                        String::new()
                    } else {
                        format!(" ({})", ruling.authority.join("; "))
                    };
                    say(format!("  {verb}: {}{under}{open}{chosen}", ruling.because));
                }
                for source in authority {
                    say(format!("  rests on: {source}"));
                }
                if *deeper {
                    say("  (more below; ask for a greater depth)".to_string());
                }
                for operand in operands {
                    operand.write(out, depth + 1);
                }
            }
            Derivation::Law { year, key, label, value, source, standing, settled } => {
                let open = if *settled { "" } else { ", not settled" };
                say(format!(
                    "law of {year}: {label} ({key})  =  {value}  [{}; {standing}{open}]",
                    source.join("; ")
                ));
            }
            Derivation::Fact { path, words, value, at, evidence } => {
                let paper = evidence.as_ref().map(|paper| format!("; paper: {paper}")).unwrap_or_default();
                say(format!("case: {words}  =  {value}  [{path}, {at}{paper}]"));
            }
        }
    }
}
