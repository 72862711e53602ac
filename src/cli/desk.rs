//! Two desks at which questions are answered: plain typed lines, and prompts on a terminal.
//!
//! Comes in: a question. Goes out: what was typed or chosen. Everything is said on standard error, as all that is no
//! data; the prompts are drawn by [`prompt`].

use super::prompt::{self, refused, words};
use super::size;
use crate::begin::{Desk, Question, Reply};
use crate::case::single::{Refusal, without_numbers};
use crate::wrap::wrapped_at;
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

/// Prompts on a terminal, with keys to choose and to correct.
pub(super) struct Screen;

impl Screen {
    /// Says whether there is a terminal for prompts.
    pub fn fits() -> bool {
        let able = std::env::var_os("TERM").map_or(cfg!(windows), |kind| kind != "dumb");
        std::io::stdin().is_terminal() && std::io::stderr().is_terminal() && able
    }
}

impl Desk for Screen {
    fn ask(&mut self, question: &Question) -> Reply {
        prompt::ask(question)
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

/// How many columns a line of an explanation has at most.
const WIDTH: usize = 88;

/// Breaks long lines between words, also at the width of the terminal; a line that goes on is set in.
fn wrapped(text: &str) -> String {
    wrapped_at(text, size::of_errors().map_or(WIDTH, |columns| WIDTH.min(columns - 1)), "  ")
}
