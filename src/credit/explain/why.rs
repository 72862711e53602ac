//! A line's derivation, walked back to receipts, answers and law.
//!
//! Comes in: the figures and one place, or the places of a sheet. Goes out: [`Reading`], a tree for each line with no
//! more in it than was evaluated, and the documents it cites; it prints itself as text and serialises as data.

use crate::case::Case;
use crate::credit::evaluate::expression::Value;
use crate::credit::evaluate::line::{Place, Subject};
use crate::credit::evaluate::{Figure, Figures, Used};
use crate::finding::{Finding, Sources, Span};
use crate::law::Law;
use serde::Serialize;
use std::collections::{BTreeMap, HashSet};

/// Derivations of one line or of a whole sheet, and the documents they rest on.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Reading {
    /// The format of this data.
    pub format: u8,
    /// The lines, each with its derivation.
    pub lines: Vec<Derivation>,
    /// Lines of a sheet on which there is nothing.
    pub nothing: Vec<Nothing>,
    /// The documents behind the keys of sources.
    pub sources: BTreeMap<String, String>,
}

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
        /// Questions about it that the case answers.
        answers: Vec<String>,
        /// The rules it rests on besides those of its decisions and values of the law.
        authority: Vec<String>,
        /// Its operands; empty where they are shown elsewhere.
        operands: Vec<Derivation>,
        /// Operands on which there is nothing, all the way back.
        nothing: Vec<Nothing>,
        /// Where the operands are shown, if not here.
        shown: Shown,
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
        /// Questions about it that the case answers.
        answers: Vec<String>,
    },
}

/// Where the operands of a line are shown.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Shown {
    /// Below it.
    Here,
    /// Further up already.
    Above,
    /// Where the line stands on the sheet that is shown.
    OnSheet,
    /// Deeper than was asked for.
    Deeper,
}

/// A line on which there is nothing.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Nothing {
    /// Where it stands.
    pub place: String,
    /// What it is called.
    pub label: String,
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
    /// The questions that the case answers, each with the number of its answer.
    pub answered: &'a [(usize, Finding)],
    /// The texts that facts stand in.
    pub sources: &'a Sources,
    /// How many steps back; none means to the end.
    pub depth: Option<u16>,
}

/// What has been shown so far.
#[derive(Default)]
struct Seen {
    figures: HashSet<Place>,
    answers: HashSet<usize>,
    /// The lines of the sheet that is shown as a whole.
    sheet: HashSet<Place>,
    sources: BTreeMap<String, String>,
}

impl Why<'_> {
    /// Walks a figure back. None where there is no such figure.
    pub fn line(&self, place: &Place) -> Option<Reading> {
        self.figures.get(place).map(|_| self.lines(&[place]))
    }

    /// Walks several figures back, each once; places without a figure are left out.
    pub fn lines(&self, places: &[&Place]) -> Reading {
        let mut seen = Seen::default();
        let figures = places.iter().filter_map(|place| self.figures.get(place));
        let lines = figures.map(|figure| self.walk(figure, 0, &mut seen)).collect();
        Reading { format: 1, lines, nothing: Vec::new(), sources: seen.sources }
    }

    /// Walks every line of a sheet back, each once and in its order. None where the year has no such line.
    pub fn sheet(&self, year: crate::case::TaxYear, sheet: u16) -> Option<Reading> {
        let on_sheet = |figure: &&Figure| figure.place.line.sheet() == sheet;
        let figures: Vec<&Figure> = self.figures.of_year(year).into_iter().filter(on_sheet).collect();
        if figures.is_empty() {
            return None;
        }
        let mut seen =
            Seen { sheet: figures.iter().map(|figure| figure.place.clone()).collect(), ..Seen::default() };
        let (empty, full): (Vec<&Figure>, Vec<&Figure>) =
            figures.into_iter().partition(|figure| self.is_empty(figure));
        let lines = full.into_iter().map(|figure| self.walk(figure, 0, &mut seen)).collect();
        let nothing = empty.into_iter().map(nothing).collect();
        Some(Reading { format: 1, lines, nothing, sources: seen.sources })
    }

    fn walk(&self, figure: &Figure, depth: u16, seen: &mut Seen) -> Derivation {
        let leads_on = !figure.used.is_empty();
        let shown = if depth > 0 && seen.sheet.contains(&figure.place) && leads_on {
            Shown::OnSheet
        } else if !seen.figures.insert(figure.place.clone()) && leads_on {
            Shown::Above
        } else if self.depth.is_some_and(|most| depth >= most) && leads_on {
            Shown::Deeper
        } else {
            Shown::Here
        };
        let mut operands = Vec::new();
        let mut empty = Vec::new();
        if shown == Shown::Here {
            let mut once = HashSet::new();
            for used in &figure.used {
                match used {
                    Used::Figure(place, _) => {
                        let Some(other) = self.figures.get(place).filter(|_| once.insert(place.clone()))
                        else {
                            continue;
                        };
                        match self.is_empty(other) {
                            true => empty.push(nothing(other)),
                            false => operands.push(self.walk(other, depth + 1, seen)),
                        }
                    }
                    other => operands.extend(self.leaf(other, seen)),
                }
            }
        }
        let rulings: Vec<Decision> =
            figure.rulings().into_iter().map(|ruling| self.decision(ruling)).collect();
        // What a decision or a value of the law cites stands beside it.
        let mut beside: Vec<&String> = rulings.iter().flat_map(|ruling| &ruling.authority).collect();
        beside.extend(operands.iter().flat_map(|operand| match operand {
            Derivation::Law { source, .. } => source.as_slice(),
            _ => &[],
        }));
        let authority: Vec<String> =
            figure.authority.iter().filter(|source| !beside.contains(source)).cloned().collect();
        if shown == Shown::Here || shown == Shown::Deeper {
            for source in &figure.authority {
                self.document(figure.place.year, source, seen);
            }
        }
        let values = |place: &Place| -> Option<Value> { Some(self.figures.get(place)?.value.clone()) };
        Derivation::Line {
            place: figure.place.to_string(),
            label: label(figure),
            value: figure.value.shown(),
            how: figure.how.clone(),
            worked: figure.expr.worked(&figure.place, self.law, &values),
            rulings,
            answers: match &figure.place.of {
                Subject::Item(key) => self.answers(&format!("property.{key}"), true, seen),
                _ => Vec::new(),
            },
            authority,
            operands,
            nothing: empty,
            shown,
        }
    }

    /// Says whether nothing led to a figure: it is zero, and so is all behind it, with no fact and no decision.
    fn is_empty(&self, figure: &Figure) -> bool {
        let zero = figure.value.money().is_some_and(|money| money.is_zero());
        zero && figure.rulings().is_empty()
            && figure.used.iter().all(|used| match used {
                Used::Figure(place, _) => self.figures.get(place).is_some_and(|other| self.is_empty(other)),
                Used::Law(..) => true,
                Used::Fact(_) => false,
            })
    }

    fn leaf(&self, used: &Used, seen: &mut Seen) -> Option<Derivation> {
        Some(match used {
            Used::Figure(..) => return None,
            Used::Law(year, key, value) => {
                let entry = self.law.year(*year)?.values.get(key)?;
                for source in &entry.authority.source {
                    self.document(*year, source, seen);
                }
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
                answers: self.answers(&fact.path, false, seen),
            },
        })
    }

    /// Returns the answered questions about a path: exactly about it, or also about what lies around it; each once.
    fn answers(&self, path: &str, exactly: bool, seen: &mut Seen) -> Vec<String> {
        let mut found = Vec::new();
        for (n, question) in self.answered {
            let about = question.about.as_deref().unwrap_or("");
            // A fact answers for the row it stands in; what is about a whole item stands with the item.
            let row = about.split('.').count() > 2
                && path.strip_prefix(about).is_some_and(|rest| rest.starts_with('.'));
            let fits = about == path || !exactly && row;
            if !fits || !seen.answers.insert(*n) {
                continue;
            }
            let Some(answer) = self.case.answers.get(*n) else { continue };
            let by = answer.by.iter().map(|by| by.value.clone());
            let on = answer.on.iter().map(|on| on.value.to_string());
            let signed: Vec<String> = by.chain(on).collect();
            let signed = if signed.is_empty() { String::new() } else { format!(" ({})", signed.join(", ")) };
            found.push(format!(
                "{} Answered: {}{signed}",
                ended(&question.message.replace('`', "")),
                answer.answer.value
            ));
        }
        found
    }

    fn decision(&self, ruling: &crate::credit::evaluate::Ruling) -> Decision {
        Decision {
            counts: ruling.counts,
            because: ruling.because.clone(),
            authority: ruling.authority.clone(),
            settled: ruling.settled,
            chosen: ruling.chosen.map(|span| self.position(span)),
        }
    }

    /// Notes the document behind a source's key.
    fn document(&self, year: crate::case::TaxYear, source: &str, seen: &mut Seen) {
        let key = source.split(' ').next().unwrap_or(source);
        if let Some(document) = self.law.year(year).and_then(|law| law.sources.get(key)) {
            seen.sources.insert(key.to_string(), document.clone());
        }
    }

    fn position(&self, span: Span) -> String {
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

fn label(figure: &Figure) -> String {
    let about = figure.about.as_ref().map(|about| format!(": {about}")).unwrap_or_default();
    format!("{}{about}", figure.label)
}

fn nothing(figure: &Figure) -> Nothing {
    Nothing { place: figure.place.to_string(), label: label(figure) }
}

/// Ends a sentence that has no end yet.
fn ended(words: &str) -> String {
    match words.ends_with(['.', '?', '!']) {
        true => words.to_string(),
        false => format!("{words}."),
    }
}

impl Reading {
    /// Prints the trees as indented text, one thought a line, and behind them the documents that the keys stand for.
    pub fn text(&self) -> String {
        let mut out = String::new();
        for (n, line) in self.lines.iter().enumerate() {
            if n > 0 {
                out.push('\n');
            }
            line.write(&mut out, 0, "");
        }
        if !self.nothing.is_empty() {
            out.push_str(&format!("\nnothing of: {}\n", listed(&self.nothing, "")));
        }
        if !self.sources.is_empty() {
            out.push_str("\nSources\n");
            for (key, document) in &self.sources {
                out.push_str(&format!("  {key}: {document}\n"));
            }
        }
        out
    }
}

/// Names lines on which there is nothing, their year left out where it is the same.
fn listed(nothing: &[Nothing], here: &str) -> String {
    let year = here.split(':').next().unwrap_or("");
    let names = nothing.iter().map(|one| {
        let place =
            one.place.strip_prefix(year).and_then(|rest| rest.strip_prefix(':')).unwrap_or(&one.place);
        format!("{place} {}", one.label)
    });
    names.collect::<Vec<_>>().join("; ")
}

impl Derivation {
    /// `lead`: words in front of the first line.
    fn write(&self, out: &mut String, depth: usize, lead: &str) {
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
                worked,
                rulings,
                answers,
                authority,
                operands,
                nothing,
                shown,
                ..
            } => {
                let elsewhere = match shown {
                    Shown::Here => "",
                    Shown::Above => "  (shown above)",
                    Shown::OnSheet => "  (in its own place)",
                    Shown::Deeper => "  (more behind it; ask for a greater depth)",
                };
                let from_case = match operands.as_slice() {
                    [Derivation::Fact { value: same, words, at, evidence, answers: told, .. }]
                        if same == value && rulings.is_empty() && answers.is_empty() && told.is_empty() =>
                    {
                        Some(stands(words, at, evidence.as_ref()))
                    }
                    _ => None,
                };
                if let Some(from) = from_case {
                    say(format!("{lead}{place}  {label}  =  {value}  <- {from}"));
                    if !authority.is_empty() {
                        say(format!("  rests on: {}", authority.join("; ")));
                    }
                    return;
                }
                say(format!("{lead}{place}  {label}  =  {value}{elsewhere}"));
                if matches!(shown, Shown::Above | Shown::OnSheet) {
                    return;
                }
                // A line that only takes over another one is followed by it at once.
                let same = match operands.as_slice() {
                    [one @ Derivation::Line { value: other, .. }] if other == value && nothing.is_empty() => {
                        Some(one)
                    }
                    _ => None,
                };
                if same.is_none() && worked != "does not count" {
                    say(format!("  = {worked}"));
                }
                for ruling in rulings {
                    let verb = if ruling.counts { "counts" } else { "does not count" };
                    let open = if ruling.settled { "" } else { " [not settled]" };
                    let chosen =
                        ruling.chosen.as_ref().map(|at| format!(" [chosen at {at}]")).unwrap_or_default();
                    let under = match ruling.authority.is_empty() {
                        true => String::new(),
                        false => format!(" [{}]", ruling.authority.join("; ")),
                    };
                    say(format!("  {verb}: {}{under}{open}{chosen}", ruling.because));
                }
                for answer in answers {
                    say(format!("  asked: {answer}"));
                }
                if !authority.is_empty() {
                    say(format!("  rests on: {}", authority.join("; ")));
                }
                if let Some(same) = same {
                    same.write(out, depth, "which is ");
                    return;
                }
                if !nothing.is_empty() {
                    say(format!("  nothing of: {}", listed(nothing, place)));
                }
                for operand in operands {
                    operand.write(out, depth + 1, "");
                }
            }
            Derivation::Law { year, label, value, source, standing, settled, .. } => {
                let open = if *settled { "" } else { ", not settled" };
                say(format!("law of {year}: {label}  =  {value}  [{}; {standing}{open}]", source.join("; ")));
            }
            Derivation::Fact { words, value, at, evidence, answers, .. } => {
                say(format!("case: {words}  =  {value}  ({at}{})", paper_words(evidence.as_ref())));
                for answer in answers {
                    say(format!("  asked: {answer}"));
                }
            }
        }
    }
}

fn stands(words: &str, at: &str, evidence: Option<&String>) -> String {
    format!("case: {words} ({at}{})", paper_words(evidence))
}

fn paper_words(evidence: Option<&String>) -> String {
    evidence.map(|paper| format!("; paper: {paper}")).unwrap_or_default()
}
