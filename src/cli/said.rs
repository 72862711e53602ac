//! What the work on one case says, kept until it is its turn: cases are worked on side by side, and their words never
//! mix.

use super::{End, color, streams};
use crate::finding::{Finding, Sources};

/// Words for the terminal, in order.
#[derive(Clone, Debug, Default)]
pub(super) struct Said(Vec<Saying>);

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Stream {
    Out,
    Errors,
}

/// One thing that is said.
#[derive(Clone, Debug)]
enum Saying {
    Words(Stream, String),
    /// A finding, with its colors.
    Finding(color::Rendered),
}

impl Said {
    /// Adds data.
    pub fn data(&mut self, text: &str) {
        self.0.push(Saying::Words(Stream::Out, text.to_string()));
    }

    /// Adds lines for people, apart from data.
    pub fn tell(&mut self, text: &str) {
        self.0.push(Saying::Words(Stream::Errors, format!("{text}\n")));
    }

    /// Adds findings.
    pub fn complain(&mut self, findings: &[Finding], sources: &Sources) {
        for finding in findings {
            self.0.push(Saying::Finding(color::for_errors(finding, sources)));
        }
    }

    /// Adds a mistake of the program.
    pub fn our_fault(&mut self, what: &dyn std::fmt::Display) -> End {
        self.tell(&super::fault_text(what));
        End::OurFault
    }

    /// Says whether there is nothing to say.
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    /// Prints all of it.
    pub fn print(&self) {
        for one in &self.0 {
            match one {
                Saying::Words(Stream::Out, text) => streams::print(text),
                Saying::Words(Stream::Errors, text) => tell_in_line!("{text}"),
                Saying::Finding(finding) => streams::told_painted(&format!("{}\n", finding.to_print())),
            }
        }
    }
}
