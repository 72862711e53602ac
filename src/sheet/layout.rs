//! Reads the worksheet's layout: which sheets, which tables, which lines in which order, which words.
//!
//! Comes in: the text of `layouts/worksheet.yaml`, or of a firm's own copy. Goes out: [`Layout`], or a complaint
//! with file and line. Strict: a key, a line, a fact, a blank or a rule that does not exist is refused. Knows no
//! case and no figures.

use crate::case::words;
use crate::credit::facts::{AMOUNT_NAMES, FACT_NAMES, Facts};
use crate::credit::line::{LINES, Line};
use crate::law::{Law, Rule};
use crate::wording::capital;
use crate::written::{Text, Written};
use serde::de::{Deserialize, Deserializer, Error};
use std::sync::OnceLock;

/// The layout built into the program: its name and text.
pub const BUILT_IN: (&str, &str) = ("layouts/worksheet.yaml", include_str!("../../layouts/worksheet.yaml"));

/// The whole worksheet, in order.
#[derive(Clone, Debug, PartialEq, serde::Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Layout {
    /// The contract it is written for, with that of letters: the names of facts, amounts and lines.
    pub kit: KitNumber,
    /// What the dagger beside an official reference means.
    pub dagger: Template,
    /// The sheets.
    pub sheets: Vec<Sheet>,
}

/// One sheet. Without content it does not appear.
#[derive(Clone, Debug, PartialEq, serde::Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Sheet {
    /// Its title.
    pub title: Template,
    /// The fact that makes it appear.
    #[serde(default)]
    pub show: Option<FactRef>,
    /// The fact that keeps it away.
    #[serde(default)]
    pub unless: Option<FactRef>,
    /// A sentence or two before its tables.
    #[serde(default)]
    pub intro: Option<Template>,
    /// Its tables and other parts.
    pub content: Vec<Content>,
    /// Notes under them.
    #[serde(default)]
    pub notes: Vec<Note>,
}

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
    Rule(String),
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
            Layout::read(BUILT_IN.0, BUILT_IN.1, Law::built_in()).unwrap_or_else(|complaint| {
                // The file is part of the program and a test reads it, so only a broken build comes here.
                panic!("the built-in layout cannot be read: {complaint}")
            })
        })
    }

    /// Reads a layout. `name` is what complaints call the file.
    ///
    /// Fails where the file departs from its shape, or names a line, a fact, a blank or a rule of law that does
    /// not exist; the complaint begins with file and line.
    pub fn read(name: &str, text: &str, law: &Law) -> Result<Layout, String> {
        let layout: Layout = crate::written::read(name, text)?;
        for rule in layout.rules() {
            let known = Rule::from_word(rule);
            if !known.is_some_and(|rule| law.all().rev().any(|year| year.rules.contains_key(&rule))) {
                let line = text
                    .lines()
                    .position(|line| line.contains("rule:") && line.contains(rule))
                    .map_or(1, |at| at + 1);
                return Err(format!("{name}:{line}: no year's law has a rule `{rule}`"));
            }
        }
        Ok(layout)
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

    fn rules(&self) -> impl Iterator<Item = &str> {
        let notes = self
            .sheets
            .iter()
            .flat_map(|sheet| sheet.notes.iter().chain(sheet.content.iter().flat_map(|one| &one.say)));
        notes.filter_map(|note| match &note.says {
            Says::Rule(rule) => Some(rule.as_str()),
            Says::Words(_) => None,
        })
    }
}

impl Template {
    /// Fills the blanks; `blank` answers those that are no amounts.
    pub fn fill(&self, facts: &Facts, blank: impl Fn(&str) -> String) -> String {
        let mut filled = String::new();
        let mut rest = self.0.as_str();
        while let Some((before, after)) = rest.split_once('{') {
            filled.push_str(before);
            let (name, after) = after.split_once('}').unwrap_or((after, ""));
            match AMOUNT_NAMES.iter().any(|(known, _)| *known == name) {
                true => filled.push_str(&facts.amount(name).spoken()),
                false => filled.push_str(&blank(name)),
            }
            rest = after;
        }
        filled.push_str(rest);
        capital(&filled)
    }
}

impl Written for Template {
    fn from_text(text: &str) -> Result<Template, String> {
        let text = String::from_text(text)?;
        for part in text.split('{').skip(1) {
            let Some((name, _)) = part.split_once('}') else {
                return Err("a `{` is not closed".to_string());
            };
            let amounts = AMOUNT_NAMES.iter().map(|(name, _)| *name);
            if !BLANKS.iter().copied().chain(amounts).any(|known| known == name) {
                return Err(format!(
                    "there is no blank `{{{name}}}`; known are {} and the names of amounts",
                    BLANKS.join(", ")
                ));
            }
        }
        Ok(Template(text))
    }
}

impl Written for KitNumber {
    fn from_text(text: &str) -> Result<KitNumber, String> {
        match text {
            "1" => Ok(KitNumber),
            _ => {
                Err("this program has kit 1; copy the layout out afresh and carry your changes over"
                    .to_string())
            }
        }
    }
}

impl Written for FactRef {
    fn from_text(text: &str) -> Result<FactRef, String> {
        let known = FACT_NAMES.iter().find(|(name, _)| *name == text);
        known.map(|(name, _)| FactRef(name)).ok_or_else(|| {
            let near = FACT_NAMES
                .iter()
                .map(|(name, _)| *name)
                .max_by(|a, b| strsim::jaro(a, text).total_cmp(&strsim::jaro(b, text)));
            format!("there is no such fact; the nearest is `{}`", near.unwrap_or_default())
        })
    }
}

impl Written for Line {
    fn from_text(text: &str) -> Result<Line, String> {
        let plain = !text.is_empty() && text.bytes().all(|byte| byte.is_ascii_digit());
        let line = text.parse().ok().filter(|_| plain).map(Line);
        line.filter(|line| LINES.binary_search_by_key(line, |entry| entry.0).is_ok())
            .ok_or_else(|| "there is no such line".to_string())
    }
}

crate::written::written_words!(Part, Zero, By);

/// Lets a leaf of the layout be read from its text.
macro_rules! leaf {
    ($($name:ty),+) => {
        $(impl<'de> Deserialize<'de> for $name {
            fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
                Text::deserialize(deserializer).map(|text: Text<$name>| text.0)
            }
        })+
    };
}

leaf!(Template, FactRef, KitNumber);

impl<'de> Deserialize<'de> for Content {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Content, D::Error> {
        #[derive(serde::Deserialize)]
        #[serde(deny_unknown_fields)]
        struct File {
            #[serde(default)]
            part: Option<Text<Part>>,
            #[serde(default)]
            title: Option<Template>,
            #[serde(default)]
            show: Option<FactRef>,
            #[serde(default)]
            unless: Option<FactRef>,
            #[serde(default)]
            lines: Vec<Text<Line>>,
            #[serde(default)]
            zero: Option<Text<Zero>>,
            #[serde(default)]
            by: Option<Text<By>>,
            #[serde(default)]
            say: Vec<Note>,
        }
        let file = File::deserialize(deserializer)?;
        let part = file.part.map_or(Part::Lines, |part| part.0);
        let takes_lines = matches!(part, Part::Lines | Part::Panel);
        let takes_words = matches!(part, Part::Panel | Part::Sentences);
        if takes_lines == file.lines.is_empty() {
            return Err(D::Error::custom(match takes_lines {
                true => format!("the part `{part}` needs `lines:`"),
                false => format!("the part `{part}` chooses its own lines; remove `lines:`"),
            }));
        }
        if takes_words == file.say.is_empty() {
            return Err(D::Error::custom(match takes_words {
                true => format!("the part `{part}` needs `say:`"),
                false => format!("the part `{part}` has no sentences; remove `say:`"),
            }));
        }
        Ok(Content {
            part,
            title: file.title,
            show: file.show,
            unless: file.unless,
            lines: file.lines.into_iter().map(|line| line.0).collect(),
            zero: file.zero.map_or(Zero::Hide, |zero| zero.0),
            by: file.by.map_or(By::Line, |by| by.0),
            say: file.say,
        })
    }
}

impl<'de> Deserialize<'de> for Note {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Note, D::Error> {
        #[derive(serde::Deserialize)]
        #[serde(deny_unknown_fields)]
        struct File {
            #[serde(default)]
            text: Option<Template>,
            #[serde(default)]
            rule: Option<Text<String>>,
            #[serde(default)]
            show: Option<FactRef>,
            #[serde(default)]
            unless: Option<FactRef>,
        }
        let file = File::deserialize(deserializer)?;
        let says = match (file.text, file.rule) {
            (Some(text), None) => Says::Words(text),
            (None, Some(rule)) => Says::Rule(rule.0),
            _ => return Err(D::Error::custom("a note has either `text:` or `rule:`")),
        };
        Ok(Note { show: file.show, unless: file.unless, says })
    }
}
