//! What the work on one case says, kept until it is its turn: cases are worked on side by side, and their words never
//! mix.

use super::{End, color};
use crate::finding::{Finding, Sources};
use std::io::Write;

/// Words for the terminal, in order.
#[derive(Clone, Debug, Default)]
pub(super) struct Said(Vec<(Stream, String)>);

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Stream {
    Out,
    Errors,
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
            self.tell(&color::for_errors(finding, sources));
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

    /// Adds what something else said.
    pub fn append(&mut self, other: &Said) {
        self.0.extend(other.0.iter().cloned());
    }

    /// Prints all of it. A reader that has gone away, or a full disk behind it, is no reason to fail.
    pub fn print(&self) {
        let (mut out, mut errors) = (std::io::stdout().lock(), std::io::stderr().lock());
        for (stream, text) in &self.0 {
            let _ = match stream {
                Stream::Out => out.write_all(text.as_bytes()).and_then(|()| out.flush()),
                Stream::Errors => errors.write_all(text.as_bytes()),
            };
        }
    }
}
