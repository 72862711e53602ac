//! Asking one question, whoever answers it.
//!
//! Comes in: a question, and a [`Desk`] at which someone sits. Goes out: the answer, read and kept. The story of the
//! questions is told from its beginning each time: what is answered already is passed over in silence, so going back,
//! going on another day and changing a part are one and the same thing. Knows no terminal and no file.

use super::answers::Answers;
use crate::case::single::{self, Form, Refusal};
use crate::finding::Sources;
use crate::law::Law;
use crate::wording::listed;
use jiff::civil::Date;
use std::collections::BTreeSet;
use std::rc::Rc;

/// Reads a typed answer and returns it as it is kept, or says what to write instead.
pub type Judge = Rc<dyn Fn(&str) -> Result<String, Refusal>>;

/// One question.
#[derive(Clone)]
pub struct Question {
    /// Its name, which no person sees: what it is about, in steps joined by points.
    pub id: String,
    /// The question in words.
    pub words: String,
    /// What may be chosen; empty where something is to be typed.
    pub choices: Vec<Choice>,
    /// What an empty answer means, as it would be typed.
    pub default: Option<String>,
    /// It may be left out.
    pub optional: bool,
    /// What `?` shows.
    pub explain: String,
    /// Reads the answer.
    pub judge: Judge,
    /// The beginning of the names of questions whose answers mean nothing once this one is answered otherwise.
    pub decides: Option<String>,
}

/// One thing to choose.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Choice {
    /// What is kept.
    pub word: String,
    /// What a person sees.
    pub label: String,
}

impl Choice {
    /// Makes a choice.
    pub fn new(word: impl Into<String>, label: impl Into<String>) -> Choice {
        Choice { word: word.into(), label: label.into() }
    }
}

/// What came back from the desk.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Reply {
    /// Something typed or chosen.
    Typed(String),
    /// One question back.
    Back,
    /// The person has gone: the input ended, or the key that interrupts was pressed.
    Gone,
}

/// Where someone sits and answers.
pub trait Desk {
    /// Shows a question and waits for the answer.
    fn ask(&mut self, question: &Question) -> Reply;
    /// Says something that needs no answer.
    fn say(&mut self, text: &str);
    /// Says why an answer cannot be taken.
    fn refuse(&mut self, refusal: &Refusal);
}

/// Why the telling stopped before its end.
#[derive(Debug)]
pub enum Stop {
    /// One question back.
    Back,
    /// Put off, or interrupted.
    Later,
    /// The answers could not be kept.
    NotKept(std::io::Error),
    /// A mistake of the program's own.
    Fault(String),
}

/// Keeps the answers given so far where the next run finds them.
pub type Keep<'a> = &'a mut dyn FnMut(&Answers) -> std::io::Result<()>;

/// The asking of one case.
pub struct Conversation<'a> {
    /// The law that decides what is asked.
    pub law: &'a Law,
    /// Today, for what is likely.
    pub today: Date,
    /// References that are taken.
    pub taken: &'a [String],
    desk: &'a mut dyn Desk,
    keep: Keep<'a>,
    answers: Answers,
    reopened: BTreeSet<String>,
    told: Vec<String>,
    heading: Option<String>,
    headed: String,
    live: bool,
}

/// The word that leaves an optional question without an answer.
const NOTHING: &str = "none";

impl<'a> Conversation<'a> {
    /// Begins, with the answers of an earlier run if there are any.
    pub fn new(
        law: &'a Law,
        today: Date,
        taken: &'a [String],
        desk: &'a mut dyn Desk,
        keep: Keep<'a>,
        answers: Answers,
    ) -> Conversation<'a> {
        Conversation {
            law,
            today,
            taken,
            desk,
            keep,
            answers,
            reopened: BTreeSet::new(),
            told: Vec::new(),
            heading: None,
            headed: String::new(),
            live: false,
        }
    }

    /// Returns to the beginning of the story.
    pub(super) fn again(&mut self) {
        self.told.clear();
        self.heading = None;
        self.live = false;
    }

    /// Opens the question before the last one told again.
    pub(super) fn back(&mut self) {
        match self.told.len().checked_sub(2).map(|n| self.told[n].clone()) {
            Some(before) => drop(self.reopened.insert(before)),
            None => self.desk.say("This is the first question."),
        }
    }

    /// Opens every question of a part again; the answers stay as what Enter takes.
    pub(super) fn reopen(&mut self, part: &str) {
        let inside = |id: &&String| part.split(' ').any(|begins| id.starts_with(begins));
        let ids: Vec<String> = self.told.iter().filter(inside).cloned().collect();
        self.reopened.extend(ids);
    }

    /// Says something, but only to someone who is answering at this point.
    pub(super) fn note(&mut self, text: &str) {
        if self.live {
            self.desk.say(text);
        }
    }

    /// Says something in any case.
    pub(super) fn say(&mut self, text: &str) {
        self.desk.say(text);
    }

    /// Names the part that begins, once one of its questions is really asked.
    pub(super) fn heading(&mut self, text: impl Into<String>) {
        self.heading = Some(text.into());
    }

    /// Asks, unless it is answered already. An optional answer left out is an empty text.
    pub(super) fn ask(&mut self, mut question: Question) -> Result<String, Stop> {
        self.told.push(question.id.clone());
        let mut no_longer = None;
        let before = self.answers.get(&question.id).map(str::to_string);
        if let Some(known) = before.clone() {
            let left_out = known.is_empty() && question.optional;
            match (question.judge)(&known) {
                Err(refusal) if !left_out => no_longer = Some(refusal),
                _ if !self.reopened.contains(&question.id) => {
                    self.live = false;
                    return Ok(known);
                }
                _ => question.default = Some(known).filter(|known| !known.is_empty()),
            }
        }
        self.show_heading();
        // An answer of an earlier run may not fit any more, such as a reference that has been used since.
        match no_longer {
            Some(_) if !question.choices.is_empty() => {
                self.desk.say("What was chosen here before no longer fits.")
            }
            Some(refusal) => self.desk.refuse(&refusal),
            None => {}
        }
        let answer = self.until_answered(question.clone())?;
        self.live = true;
        self.reopened.remove(&question.id);
        self.answers.put(&question.id, &answer);
        if let Some(part) = question.decides.filter(|_| before.is_some_and(|before| before != answer)) {
            // What was answered on the way that is left would be offered, or taken in silence, on another.
            let told = &self.told;
            self.answers.forget(|id| id.starts_with(&part) && !told.iter().any(|one| one == id));
        }
        (self.keep)(&self.answers).map_err(Stop::NotKept)?;
        Ok(answer)
    }

    /// Returns the answer to a question of this telling.
    pub(super) fn answered(&self, id: &str) -> Option<&str> {
        self.answers.get(id)
    }

    /// Asks in any case, and keeps no answer.
    pub(super) fn afresh(&mut self, question: Question) -> Result<String, Stop> {
        self.told.push(question.id.clone());
        self.until_answered(question)
    }

    fn show_heading(&mut self) {
        // A step back within a part does not begin it again.
        if let Some(heading) = self.heading.take().filter(|heading| *heading != self.headed) {
            self.headed.clone_from(&heading);
            self.desk.say(&format!("\n{heading}"));
        }
    }

    fn until_answered(&mut self, mut question: Question) -> Result<String, Stop> {
        loop {
            let typed = match self.desk.ask(&question) {
                Reply::Back => return Err(Stop::Back),
                Reply::Gone => return Err(Stop::Later),
                Reply::Typed(typed) => typed.trim().to_string(),
            };
            match typed.to_lowercase().as_str() {
                "back" => return Err(Stop::Back),
                "later" => return Err(Stop::Later),
                "?" => self.desk.say(&question.explain),
                _ => match read(&question, &typed) {
                    Ok(answer) => return Ok(answer),
                    Err(refusal) => {
                        self.desk.refuse(&refusal);
                        question.default = refusal.instead.or(question.default);
                    }
                },
            }
        }
    }
}

/// Reads what was typed at a question: the default where nothing was, a choice by number or label, or a value.
pub fn read(question: &Question, typed: &str) -> Result<String, Refusal> {
    let typed = typed.trim();
    if typed.is_empty() {
        return match &question.default {
            Some(default) => (question.judge)(default),
            None if question.optional => Ok(String::new()),
            None if !question.choices.is_empty() => {
                Err(Refusal::new("a choice is needed here", numbers(question)))
            }
            None => Err(Refusal::new("an answer is needed here", "write ? to see what is meant")),
        };
    }
    if question.optional && typed.eq_ignore_ascii_case(NOTHING) {
        return Ok(String::new());
    }
    (question.judge)(typed)
}

fn numbers(question: &Question) -> String {
    format!("write a number from 1 to {}, or ? to see what is meant", question.choices.len())
}

/// Finds the choice that was meant: by its number, its word, its label, or the beginning of just one label.
fn chosen(choices: &[Choice], typed: &str) -> Result<String, Refusal> {
    let wanted = typed.to_lowercase();
    let number = wanted.parse::<usize>().ok().and_then(|n| choices.get(n.checked_sub(1)?));
    let whole = || {
        choices
            .iter()
            .find(|one| one.word.eq_ignore_ascii_case(&wanted) || one.label.to_lowercase() == wanted)
    };
    let begun = || {
        let mut all = choices.iter().filter(|one| one.label.to_lowercase().starts_with(&wanted));
        all.next().filter(|_| all.next().is_none())
    };
    // The word stands first, so that an answer kept from an earlier run is never taken for a number.
    match whole().or(number).or_else(begun) {
        Some(one) => Ok(one.word.clone()),
        None => Err(not_chosen(choices, typed, &wanted)),
    }
}

/// Says which choices may be meant by words that name no single one, by their numbers.
fn not_chosen(choices: &[Choice], typed: &str, wanted: &str) -> Refusal {
    let numbers = |fits: &dyn Fn(&str) -> bool| -> Vec<String> {
        let fitting = (1..).zip(choices).filter(|(_, one)| fits(&one.label.to_lowercase()));
        fitting.map(|(n, _)| n.to_string()).collect()
    };
    let help = format!("write a number from 1 to {}, or the first letters of one of them", choices.len());
    let shown = single::without_numbers(typed);
    let begun = numbers(&|label| label.starts_with(wanted));
    // Two letters stand in nearly every choice.
    let within = numbers(&|label| wanted.len() > 2 && label.contains(wanted));
    match (begun.as_slice(), within.as_slice()) {
        ([], []) => Refusal::new(format!("`{shown}` is none of the choices"), help),
        ([], [one]) => Refusal::new(format!("`{shown}` begins no choice, and stands in number {one}"), help),
        ([], several) => {
            Refusal::new(format!("`{shown}` stands in several choices: {}", listed(several)), help)
        }
        (several, _) => {
            Refusal::new(format!("several choices begin with `{shown}`: {}", listed(several)), help)
        }
    }
}

impl Question {
    /// Asks for one of several things.
    pub(super) fn choice(id: impl Into<String>, words: impl Into<String>, choices: Vec<Choice>) -> Question {
        let all = choices.clone();
        let judge: Judge = Rc::new(move |typed| chosen(&all, typed));
        Question { choices, ..Question::with(id, words, judge) }
    }

    /// A menu that stands outside the story, with its first choice as what Enter takes.
    pub fn menu(words: impl Into<String>, choices: Vec<Choice>) -> Question {
        let first = choices.first().map(|one| one.word.clone());
        Question::choice("menu", words, choices).maybe(first).explain("Choose one and press Enter.")
    }

    /// Asks for a value of a form.
    pub(super) fn value(id: impl Into<String>, words: impl Into<String>, form: Form) -> Question {
        Question::with(id, words, Rc::new(move |typed| single::read(form, typed)))
    }

    /// Asks for yes or no.
    pub(super) fn yes_no(id: impl Into<String>, words: impl Into<String>, default: bool) -> Question {
        let judge: Judge = Rc::new(|typed| match typed.to_lowercase().as_str() {
            "y" | "yes" | "true" => Ok("yes".to_string()),
            "n" | "no" | "false" => Ok("no".to_string()),
            _ => {
                let shown = single::without_numbers(typed);
                Err(Refusal::new(format!("`{shown}` is neither yes nor no"), "write yes or no"))
            }
        });
        Question::with(id, words, judge).or(if default { "yes" } else { "no" })
    }

    fn with(id: impl Into<String>, words: impl Into<String>, judge: Judge) -> Question {
        Question {
            id: id.into(),
            words: words.into(),
            choices: Vec::new(),
            default: None,
            optional: false,
            explain: "Write the answer and press Enter.".to_string(),
            judge,
            decides: None,
        }
    }

    /// Sets what Enter takes.
    pub(super) fn or(self, default: impl Into<String>) -> Question {
        Question { default: Some(default.into()), ..self }
    }

    /// Sets what Enter takes, where there is something likely.
    pub(super) fn maybe(self, default: Option<String>) -> Question {
        Question { default, ..self }
    }

    /// Allows no answer.
    pub(super) fn optional(self) -> Question {
        Question { optional: true, ..self }
    }

    /// Says which answers to forget when this one changes, by the beginning of their names.
    pub(super) fn decides(self, part: impl Into<String>) -> Question {
        Question { decides: Some(part.into()), ..self }
    }

    /// Sets what `?` shows.
    pub(super) fn explain(self, text: impl Into<String>) -> Question {
        Question { explain: text.into(), ..self }
    }

    /// Reads a text further.
    pub(super) fn and_read(self, further: impl Fn(&str) -> Result<String, Refusal> + 'static) -> Question {
        let before = self.judge.clone();
        let judge: Judge = Rc::new(move |typed| further(&before(typed)?));
        Question { judge, ..self }
    }

    /// Adds a condition on an answer that could be read.
    pub(super) fn when(self, condition: impl Fn(&str) -> Result<(), Refusal> + 'static) -> Question {
        let before = self.judge.clone();
        let judge: Judge = Rc::new(move |typed| {
            let answer = before(typed)?;
            condition(&answer)?;
            Ok(answer)
        });
        Question { judge, ..self }
    }

    /// Returns what Enter takes, as a person reads it.
    pub fn default_shown(&self) -> Option<String> {
        match &self.default {
            Some(word) => {
                let choice = self.choices.iter().find(|one| one.word == *word);
                Some(choice.map_or_else(|| word.clone(), |one| one.label.clone()))
            }
            None => self.optional.then(|| "leave out".to_string()),
        }
    }
}

impl Conversation<'_> {
    /// Asks for yes or no.
    pub(super) fn yes_no(&mut self, question: Question) -> Result<bool, Stop> {
        Ok(self.ask(question)? == "yes")
    }

    /// Asks for something that may be left out.
    pub(super) fn maybe(&mut self, question: Question) -> Result<Option<String>, Stop> {
        let answer = self.ask(question.optional())?;
        Ok(Some(answer).filter(|answer| !answer.is_empty()))
    }

    /// Asks for a day.
    pub(super) fn day(&mut self, question: Question) -> Result<Date, Stop> {
        let text = self.ask(question)?;
        text.parse().map_err(|_| Stop::Fault(format!("{text} was taken for a day")))
    }

    /// Computes a case that is not written yet.
    pub(super) fn computed(&self, text: &str) -> Result<crate::assemble::Computed, Stop> {
        let computed = crate::assemble::compute("", text.as_bytes(), self.law, Sources::default());
        computed.map_err(|fault| Stop::Fault(fault.to_string()))
    }
}
