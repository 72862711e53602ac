//! Reads the worksheet's layout: which sheets, which tables, which lines in which order, which words.
//!
//! Comes in: the text of `layouts/worksheet.yaml`, or of a firm's own copy. Goes out: [`Layout`], or all that is wrong
//! with it, each at its place. Strict: a key, a line, a fact, a blank or a rule that does not exist is refused. Knows
//! no case and no figures.

use crate::case::words;
use crate::credit::facts::{AMOUNT_NAMES, FACT_NAMES, Facts};
use crate::credit::line::{LINES, Line};
use crate::finding::{Finding, Sources};
use crate::law::Rule;
use crate::record::rule::Takes;
use crate::record::shape::{Keyed, Refused, Shape, Spot, Written, built_in, read_whole, records};
use crate::record::tree::Node;
use crate::record::{FileKind, Reading, near};
use crate::wording::capital;
use std::sync::OnceLock;

/// The layout built into the program: its name and text.
pub const BUILT_IN: (&str, &str) = ("layouts/worksheet.yaml", include_str!("../../layouts/worksheet.yaml"));

records! {
    /// The whole worksheet, in order.
    #[derive(Clone, Debug, PartialEq)]
    pub struct Layout, "layout" {
        /// The contract it is written for, with that of letters: the names of facts, amounts and lines.
        must kit: KitNumber, "1", "the number of the contract it is written for";
        /// What the dagger beside an official reference means.
        must dagger: Template, "Not read in print.", "what the dagger beside an official line means";
        /// The sheets.
        must sheets: Vec<Sheet>, "[..]", "the sheets, in order";
    }

    /// One sheet. Without content it does not appear.
    #[derive(Clone, Debug, PartialEq)]
    pub struct Sheet, "sheet" {
        /// Its title.
        must title: Template, "Summary", "its title";
        /// The fact that makes it appear.
        may show: Option<FactRef>, "carries_out", "the fact that makes it appear";
        /// The fact that keeps it away.
        may unless: Option<FactRef>, "draft", "the fact that keeps it away";
        /// A sentence or two before its tables.
        may intro: Option<Template>, "For tax year {year}.", "a sentence or two before its tables";
        /// Its tables and other parts.
        must content: Vec<Content>, "[..]", "its tables and other parts";
        /// Notes under them.
        may notes: Vec<Note>, "[..]", "notes under them";
    }

    /// One piece of a sheet.
    #[derive(Clone, Debug, PartialEq)]
    struct Piece, "piece of a sheet" {
        /// What it shows.
        may part: Option<Part>, "lines", "what it shows; a table of numbered lines where it is not said";
        /// A heading of its own.
        may title: Option<Template>, "Qualified cost", "a heading of its own";
        /// The fact that makes it appear.
        may show: Option<FactRef>, "carries_out", "the fact that makes it appear";
        /// The fact that keeps it away.
        may unless: Option<FactRef>, "draft", "the fact that keeps it away";
        /// The lines it shows.
        may lines: Vec<Line>, "[401, 402]", "the lines it shows, in order";
        /// What becomes of zeros.
        may zero: Option<Zero>, "hide", "what becomes of zeros";
        /// How rows are grouped.
        may by: Option<By>, "line", "how rows are grouped";
        /// Sentences.
        may say: Vec<Note>, "[{text: Nothing is left.}]", "sentences, each where its fact holds";
    }

    /// A sentence, or a rule of law.
    #[derive(Clone, Debug, PartialEq)]
    struct Sentence, "note" {
        /// Words.
        may text: Option<Template>, "Nothing is left.", "words";
        /// The name of a rule.
        may rule: Option<Rule>, "basis", "the name of a rule of law, which is told with its authority";
        /// The fact that makes it appear.
        may show: Option<FactRef>, "carries_out", "the fact that makes it appear";
        /// The fact that keeps it away.
        may unless: Option<FactRef>, "draft", "the fact that keeps it away";
    }
}

/// The code of all that is wrong with a layout.
const LAYOUT_FORM: &str = "layout-form";

/// The layout as a kind of file.
static FILE: FileKind =
    FileKind::data("a layout", "the layout", &[Layout::BLOCK, Sheet::BLOCK, Piece::BLOCK, Sentence::BLOCK]);

words! {
    /// What a piece of a sheet shows.
    Part {
        Lines = "lines", "a table of numbered lines";
        Panel = "panel", "the box of the first page: lines and sentences";
        Sentences = "sentences", "sentences, each where its fact holds";
        Journey = "journey", "the carryforward through the years, drawn and in words";
        NetWay = "net_way", "from the price to what the household bears, drawn and in words";
        Purchases = "purchases", "costs, a row each, by item";
        Incentives = "incentives", "incentives, a row each, by item";
        Chain = "chain", "the carryforward by the year it was earned in";
        Outlook = "outlook", "what later years would use of the credit, on an assumption about their tax";
        AsFiled = "as_filed", "computed, filed, difference";
        Amended = "amended", "Form 1040-X: as filed, net change, correct amount";
        Explanation = "explanation", "the explanation of changes for Form 1040-X, ready to paste";
        FiledYears = "filed_years", "what the changes of all filed returns come to, year by year";
        Transcription = "transcription", "entries in the order of the official form";
        Judgments = "judgments", "treatments the preparer chose";
        Unsettled = "unsettled", "readings taken where the law is not settled";
        Findings = "findings", "errors, warnings, questions and notes";
        Answers = "answers", "answers given";
        Papers = "papers", "papers the case lists";
        Proof = "proof", "papers that prove each item, what is missing, and until when they are kept";
        Property = "property", "facts about each item";
        Household = "household", "facts about client, homes and return";
        Authorities = "authorities", "documents cited";
    }
}

impl Part {
    /// Returns the numbered lines a part shows by itself, without the layout naming them.
    pub fn own_lines(self) -> &'static [u16] {
        match self {
            Part::Purchases => &[101, 102, 110, 111],
            Part::Incentives => &[201, 202, 210],
            Part::Chain => &[601, 602, 603, 604, 605, 610, 611, 612],
            Part::Outlook => &[651, 652, 653, 654, 655, 656, 657, 658, 661, 662],
            Part::AsFiled => &[905, 906, 907, 908, 909, 910],
            Part::Amended => &[911, 921, 922, 923, 924, 925, 926, 927, 928, 929, 931, 932],
            _ => &[],
        }
    }
}

words! {
    /// What becomes of amounts that are zero.
    Zero {
        Hide = "hide", "a zero that nothing led to is left out";
        Show = "show", "zeros are printed";
    }
}

words! {
    /// How the rows of a table are grouped.
    By {
        Line = "line", "line by line";
        Form = "form", "line by line, in the order of the year's Form 5695";
        Item = "item", "item by item, line by line within";
    }
}

/// One piece of a sheet.
#[derive(Clone, Debug, PartialEq)]
pub struct Content {
    /// What it shows.
    pub part: Part,
    /// A heading of its own.
    pub title: Option<Template>,
    /// The fact that makes it appear.
    pub show: Option<FactRef>,
    /// The fact that keeps it away.
    pub unless: Option<FactRef>,
    /// The lines it shows, in order; in the order of the year's form where the rows are grouped by form.
    pub lines: Vec<Line>,
    /// What becomes of zeros.
    pub zero: Zero,
    /// How rows are grouped.
    pub by: By,
    /// Sentences, each where its fact holds.
    pub say: Vec<Note>,
}

impl Content {
    /// Returns the lines that stand here and nowhere before: those of its table, and those of a part that chooses its own.
    pub fn own_lines(&self) -> Vec<Line> {
        let named = if self.part == Part::Lines { self.lines.as_slice() } else { &[] };
        named.iter().copied().chain(self.part.own_lines().iter().map(|number| Line(*number))).collect()
    }
}

/// A sentence, or a rule of law with its authority.
#[derive(Clone, Debug, PartialEq)]
pub struct Note {
    /// The fact that makes it appear.
    pub show: Option<FactRef>,
    /// The fact that keeps it away.
    pub unless: Option<FactRef>,
    /// What it says.
    pub says: Says,
}

/// What a note says.
#[derive(Clone, Debug, PartialEq)]
pub enum Says {
    /// Words.
    Words(Template),
    /// The rule of that name in the year's law.
    Rule(Rule),
}

/// The number of the contract between the program and what a firm edits; always 1.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct KitNumber;

/// The name of a fact, known to exist.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct FactRef(&'static str);

/// Words with blanks: `{year}`, `{before}`, `{after}`, `{improvement}`, `{clean}`, or the name of an amount.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Template(String);

/// The blanks that are no amounts.
const BLANKS: &[&str] = &["year", "before", "after", "improvement", "clean"];

/// Says whether something with these conditions appears.
pub fn appears(show: Option<FactRef>, unless: Option<FactRef>, facts: &Facts) -> bool {
    let holds = |fact: FactRef| facts.holds(fact.0).unwrap_or(false);
    show.is_none_or(holds) && !unless.is_some_and(holds)
}

impl Layout {
    /// Returns the layout built into the program, read once.
    pub fn built_in() -> &'static Layout {
        static LAYOUT: OnceLock<Layout> = OnceLock::new();
        LAYOUT.get_or_init(|| {
            let (_, layout) = built_in(BUILT_IN.0, BUILT_IN.1, &FILE);
            layout
        })
    }

    /// Reads a layout, whose text joins `sources`. `name` is what findings call the file.
    ///
    /// The layout is `None` where it departs from its shape, or names a line, a fact, a blank or a rule of law that
    /// does not exist: the findings say where, and what to write instead.
    pub fn read(name: &str, text: &str, sources: &mut Sources) -> (Option<Layout>, Vec<Finding>) {
        let (read, findings) = read_whole(name, text, &FILE, LAYOUT_FORM, sources);
        (read.map(|(_, layout)| layout), findings)
    }

    /// Returns every line that has its place on the worksheet.
    pub fn lines(&self) -> Vec<Line> {
        let content = self.sheets.iter().flat_map(|sheet| &sheet.content);
        content
            .flat_map(|content| {
                let own = content.part.own_lines().iter().map(|number| Line(*number));
                content.lines.iter().copied().chain(own)
            })
            .collect()
    }
}

impl Template {
    /// Fills the blanks; `blank` answers those that are no amounts.
    pub fn fill(&self, facts: &Facts, blank: impl Fn(&str) -> String) -> String {
        self.fill_with(|name| match AMOUNT_NAMES.iter().any(|(known, _)| *known == name) {
            true => facts.amount(name).spoken(),
            false => blank(name),
        })
    }

    /// Fills the blanks, each with what `value` says of its name.
    pub fn fill_with(&self, value: impl Fn(&str) -> String) -> String {
        let mut filled = String::new();
        let mut rest = self.0.as_str();
        while let Some((before, after)) = rest.split_once('{') {
            filled.push_str(before);
            let (name, after) = after.split_once('}').unwrap_or((after, ""));
            filled.push_str(&value(name));
            rest = after;
        }
        filled.push_str(rest);
        capital(&filled)
    }
}

impl Written for Template {
    const WRITTEN: Takes = Takes::Text;

    fn of(text: &str) -> Result<Template, Refused> {
        for part in text.split('{').skip(1) {
            let Some((name, _)) = part.split_once('}') else {
                return Err(Refused::new("a `{` is not closed", "close it, as in `{year}`, or leave it out"));
            };
            let known: Vec<&str> =
                BLANKS.iter().copied().chain(AMOUNT_NAMES.iter().map(|(name, _)| *name)).collect();
            if !known.contains(&name) {
                let help = match near(name, &known).first() {
                    Some(near) => format!("did you mean `{{{near}}}`?"),
                    None => format!("blanks are {} and the names of amounts", BLANKS.join(", ")),
                };
                return Err(Refused::new(format!("there is no blank `{{{name}}}`"), help));
            }
        }
        Ok(Template(text.to_string()))
    }
}

impl Written for KitNumber {
    const WRITTEN: Takes = Takes::FormatNumber;

    fn of(text: &str) -> Result<KitNumber, Refused> {
        let help = "copy the layout out afresh and carry your changes over";
        let other = || {
            Refused::new(format!("the layout is written for kit {text}, and this program has kit 1"), help)
        };
        (text == "1").then_some(KitNumber).ok_or_else(other)
    }
}

impl Written for FactRef {
    fn of(text: &str) -> Result<FactRef, Refused> {
        let known = || FACT_NAMES.iter().map(|(name, _)| *name);
        let fact = known().find(|name| *name == text).map(FactRef);
        fact.ok_or_else(|| {
            let help = match near(text, &known().collect::<Vec<&str>>()).first() {
                Some(near) => format!("did you mean `{near}`?"),
                None => "`gablework schema` lists the names of facts".to_string(),
            };
            Refused::new(format!("there is no fact named `{text}`"), help)
        })
    }
}

impl Written for Line {
    const WRITTEN: Takes = Takes::Count;

    fn of(text: &str) -> Result<Line, Refused> {
        let plain = !text.is_empty() && text.bytes().all(|byte| byte.is_ascii_digit());
        let line = text.parse().ok().filter(|_| plain).map(Line);
        let line = line.filter(|line| LINES.binary_search_by_key(line, |entry| entry.0).is_ok());
        line.ok_or_else(|| {
            Refused::new(
                format!("there is no line {text}"),
                "`gablework figures` prints a case's lines with their numbers",
            )
        })
    }
}

impl Shape for Content {
    const TAKES: Takes = Piece::TAKES;

    fn read(reading: &mut Reading<'_>, node: &Node, spot: &Spot<'_>) -> Option<Content> {
        let piece = Piece::read(reading, node, spot)?;
        let part = piece.part.unwrap_or(Part::Lines);
        let takes_lines = matches!(part, Part::Lines | Part::Panel);
        let takes_words = matches!(part, Part::Panel | Part::Sentences);
        let mut wrong = |key: &str, message: String, help: &str| {
            let at = node.key_span(key).or_else(|| node.key_span("part")).unwrap_or(spot.head);
            reading.findings.push(Finding::error(LAYOUT_FORM, message).at(at).help(help));
        };
        let before = (takes_lines == piece.lines.is_empty(), takes_words == piece.say.is_empty());
        match before.0 {
            true if takes_lines => wrong(
                "lines",
                format!("the part `{part}` needs `lines:`"),
                "add its lines, as in `lines: [401, 402]`",
            ),
            true => wrong("lines", format!("the part `{part}` chooses its own lines"), "remove `lines:`"),
            false => {}
        }
        match before.1 {
            true if takes_words => {
                wrong("say", format!("the part `{part}` needs `say:`"), "add its sentences below `say:`")
            }
            true => wrong("say", format!("the part `{part}` has no sentences"), "remove `say:`"),
            false => {}
        }
        (before == (false, false)).then_some(Content {
            part,
            title: piece.title,
            show: piece.show,
            unless: piece.unless,
            lines: piece.lines,
            zero: piece.zero.unwrap_or(Zero::Hide),
            by: piece.by.unwrap_or(By::Line),
            say: piece.say,
        })
    }
}

impl Shape for Note {
    const TAKES: Takes = Sentence::TAKES;

    fn read(reading: &mut Reading<'_>, node: &Node, spot: &Spot<'_>) -> Option<Note> {
        let sentence = Sentence::read(reading, node, spot)?;
        let says = match (sentence.text, sentence.rule) {
            (Some(text), None) => Says::Words(text),
            (None, Some(rule)) => Says::Rule(rule),
            (text, _) => {
                let at = if text.is_some() { node.key_span("rule") } else { None };
                let (message, help) = match at {
                    Some(_) => {
                        ("a note has either `text:` or `rule:`, and here stand both", "keep one of the two")
                    }
                    None => ("a note has `text:` or `rule:`, and here stands neither", "add one of the two"),
                };
                reading
                    .findings
                    .push(Finding::error(LAYOUT_FORM, message).at(at.unwrap_or(node.span)).help(help));
                return None;
            }
        };
        Some(Note { show: sentence.show, unless: sentence.unless, says })
    }
}
