//! What the work on one case says, kept until it is its turn: cases are worked on side by side, and their words never
//! mix.

use super::{End, color, streams};
use crate::finding::{Finding, Sources};

/// Words for the terminal, in order.
#[derive(Clone, Debug, Default)]
pub(super) struct Said(Vec<(Stream, String)>);

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Stream {
    Out,
    Errors,
    /// Findings, with their colors.
    Findings,
}

impl Said {
    /// Adds data.
    pub fn data(&mut self, text: &str) {
        self.0.push((Stream::Out, text.to_string()));
    }

    /// Adds lines for people, apart from data.
    pub fn tell(&mut self, text: &str) {
        self.0.push((Stream::Errors, format!("{text}\n")));
    }

    /// Adds findings.
    pub fn complain(&mut self, findings: &[Finding], sources: &Sources) {
        for finding in findings {
            self.0.push((Stream::Findings, color::for_errors(finding, sources) + "\n"));
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
        for (stream, text) in &self.0 {
            match stream {
                Stream::Out => streams::print(text),
                Stream::Errors => tell_in_line!("{text}"),
                Stream::Findings => streams::told_painted(text),
            }
        }
    }
}
