//! Two desks at which questions are answered: plain typed lines, and prompts on a terminal.
//!
//! Comes in: a question. Goes out: what was typed or chosen. Everything is said on standard error, as all that is no
//! data; the prompts themselves come from a library.

use crate::begin::asking::read;
use crate::begin::{Desk, Question, Reply};
use crate::case::single::{Refusal, without_numbers};
use inquire::ui::{RenderConfig, Styled};
use inquire::validator::Validation;
use inquire::{InquireError, Select, Text};
use std::io::{BufRead, IsTerminal};

/// Plain typed lines. Where nobody sees them being typed, they are printed again behind the question.
pub(super) struct Lines {
    echo: bool,
    /// The question whose choices stand right above.
    shown: String,
}

impl Lines {
    pub fn new() -> Lines {
        Lines { echo: !std::io::stdin().is_terminal(), shown: String::new() }
    }
}

impl Desk for Lines {
    fn ask(&mut self, question: &Question) -> Reply {
        tell!("{}", numbered(question));
        if self.shown != question.id {
            for (n, choice) in (1..).zip(&question.choices) {
                tell!("  {n:>2}  {}", choice.label);
            }
        }
        self.shown.clone_from(&question.id);
        tell_in_line!("> ");
        let mut line = Vec::new();
        let mut input = std::io::stdin().lock();
        match input.read_until(b'\n', &mut line) {
            Ok(read) if read > 0 => {
                let typed = String::from_utf8_lossy(&line).trim().to_string();
                if self.echo {
                    // Nine digits may be a number that is about to be refused.
                    tell!("{}", without_numbers(&format!("tin {typed}")).trim_start_matches("tin "));
                }
                Reply::Typed(typed)
            }
            _ => {
                tell!("");
                Reply::Gone
            }
        }
    }

    fn say(&mut self, text: &str) {
        self.shown.clear();
        tell!("{}", wrapped(text));
    }

    fn refuse(&mut self, refusal: &Refusal) {
        tell!("{}", wrapped(&refused(refusal)));
    }
}

/// Prompts on a terminal, with arrows to choose and to correct.
pub(super) struct Screen;

/// What a person sees beside the choices.
const EXPLAIN: &str = "? what is meant";
const LEAVE_OUT: &str = "leave out";

impl Screen {
    /// Says whether there is a terminal for prompts.
    pub fn fits() -> bool {
        let able = std::env::var_os("TERM").map_or(cfg!(windows), |kind| kind != "dumb");
        std::io::stdin().is_terminal() && std::io::stderr().is_terminal() && able
    }

    fn choose(question: &Question) -> Reply {
        let mut labels: Vec<&str> = question.choices.iter().map(|one| one.label.as_str()).collect();
        if question.optional {
            labels.push(LEAVE_OUT);
        }
        labels.push(EXPLAIN);
        let shown = question.default_shown();
        let cursor = shown.and_then(|shown| labels.iter().position(|label| *label == shown)).unwrap_or(0);
        let message = ending(question.words.clone());
        let select = Select::new(&message, labels)
            .with_render_config(colors())
            .with_page_size(16)
            .with_starting_cursor(cursor)
            .with_help_message(
                "arrows or letters, then Enter; ? explains, Esc goes back, Ctrl-C stops and keeps your answers",
            );
        match select.raw_prompt() {
            Ok(chosen) if chosen.value == EXPLAIN => Reply::Typed("?".to_string()),
            Ok(chosen) => match question.choices.get(chosen.index) {
                Some(choice) => Reply::Typed(choice.word.clone()),
                None => Reply::Typed("none".to_string()),
            },
            Err(error) => gone(&error),
        }
    }

    fn typed(question: &Question) -> Reply {
        let judged = question.clone();
        let message = ending(words(question));
        let text = Text::new(&message)
            .with_render_config(colors())
            .with_help_message("? explains, Esc goes back, Ctrl-C stops and keeps your answers")
            .with_validator(move |typed: &str| {
                Ok(match typed.trim().to_lowercase().as_str() {
                    "?" | "back" | "later" => Validation::Valid,
                    _ => match read(&judged, typed) {
                        Ok(_) => Validation::Valid,
                        // What can only be meant one way is proposed behind the next prompt.
                        Err(refusal) if refusal.instead.is_some() => Validation::Valid,
                        Err(refusal) => Validation::Invalid(wrapped(&refused(&refusal)).into()),
                    },
                })
            });
        match text.prompt() {
            Ok(typed) => Reply::Typed(typed),
            Err(error) => gone(&error),
        }
    }
}

/// Sets off the answer that stands on the same line.
fn ending(words: String) -> String {
    if words.ends_with(['?', ']']) { words } else { format!("{words}:") }
}

/// The library's own colors, which it leaves out where nobody wants them.
fn colors() -> RenderConfig<'static> {
    RenderConfig::default().with_canceled_prompt_indicator(Styled::new("(back)"))
}

fn gone(error: &InquireError) -> Reply {
    match error {
        InquireError::OperationCanceled => Reply::Back,
        _ => Reply::Gone,
    }
}

impl Desk for Screen {
    fn ask(&mut self, question: &Question) -> Reply {
        if question.choices.is_empty() { Screen::typed(question) } else { Screen::choose(question) }
    }

    fn say(&mut self, text: &str) {
        tell!("{}", wrapped(text));
    }

    fn refuse(&mut self, refusal: &Refusal) {
        tell!("{}", wrapped(&refused(refusal)));
    }
}

/// The question with the number of the choice that Enter takes, or the words.
fn numbered(question: &Question) -> String {
    let chosen =
        question.default.as_ref().and_then(|word| question.choices.iter().position(|one| one.word == *word));
    match chosen {
        Some(n) => format!("{} [{}]", question.words, n + 1),
        None => words(question),
    }
}

/// The question with what Enter takes.
fn words(question: &Question) -> String {
    match question.default_shown() {
        Some(default) => format!("{} [{default}]", question.words),
        None => question.words.clone(),
    }
}

fn refused(refusal: &Refusal) -> String {
    format!("{}; {}.", refusal.message.trim_end_matches('.'), refusal.help.trim_end_matches('.'))
}

/// How many characters a line of an explanation has at most.
const WIDTH: usize = 88;

/// Breaks long lines between words; a line that goes on is set in.
fn wrapped(text: &str) -> String {
    text.lines().map(wrapped_line).collect::<Vec<_>>().join("\n")
}

fn wrapped_line(line: &str) -> String {
    if line.chars().count() <= WIDTH {
        return line.to_string();
    }
    let mut out = String::new();
    let mut used = 0;
    for word in line.split(' ') {
        let length = word.chars().count();
        if used > 0 && used + 1 + length > WIDTH {
            out.push_str("\n  ");
            used = 2;
        } else if used > 0 {
            out.push(' ');
            used += 1;
        }
        out.push_str(word);
        used += length;
    }
    out
}
