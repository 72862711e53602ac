//! What is said of a table: what is wrong or was understood, at which cell, and what to do.
//!
//! Comes in: places of a table, and words. Goes out: text in the form of the findings of a case, without a number that
//! must not be shown.

use super::cells::Letters;
use crate::case::covered;
use crate::characters::visible;
use crate::finding::Severity;
use std::fmt;

/// A place of a table.
#[derive(Clone, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub struct Spot {
    /// The row, from one; none for the table as a whole.
    pub row: Option<usize>,
    /// The column, from zero, with its heading.
    pub column: Option<(Letters, String)>,
}

impl Spot {
    /// A whole row.
    pub fn row(number: usize) -> Spot {
        Spot { row: Some(number), column: None }
    }
}

impl fmt::Display for Spot {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let mut apart = "";
        if let Some(row) = self.row {
            write!(f, "row {row}")?;
            apart = ", ";
        }
        if let Some((letters, heading)) = &self.column {
            write!(f, "{apart}column {letters}")?;
            if !heading.is_empty() {
                write!(f, " ({heading})")?;
            }
        }
        Ok(())
    }
}

/// One thing that is said.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Remark {
    /// How much it weighs.
    pub severity: Severity,
    /// Its stable name.
    pub code: &'static str,
    /// Where.
    pub at: Spot,
    /// What is wrong or was understood, in a sentence without a final period.
    pub message: String,
    /// What to do.
    pub help: Option<String>,
}

impl Remark {
    /// Starts an error.
    pub fn error(code: &'static str, at: Spot, message: impl Into<String>) -> Remark {
        Remark { severity: Severity::Error, code, at, message: message.into(), help: None }
    }

    /// Starts a warning.
    pub fn warning(code: &'static str, at: Spot, message: impl Into<String>) -> Remark {
        Remark { severity: Severity::Warning, ..Remark::error(code, at, message) }
    }

    /// Starts a note.
    pub fn note(code: &'static str, at: Spot, message: impl Into<String>) -> Remark {
        Remark { severity: Severity::Note, ..Remark::error(code, at, message) }
    }

    /// Adds what to do.
    pub fn help(mut self, help: impl Into<String>) -> Remark {
        self.help = Some(help.into());
        self
    }

    /// Writes it, after the name of the file and of its sheet.
    pub fn render(&self, table: &str) -> String {
        let at = self.at.to_string();
        let apart = if at.is_empty() { "" } else { ", " };
        let mut text = format!("{}[{}] {table}{apart}{at}\n", self.severity, self.code);
        for line in self.message.lines() {
            text.push_str(&format!("   {line}\n"));
        }
        for (n, line) in self.help.iter().flat_map(|help| help.lines().enumerate()) {
            text.push_str(&format!("   {}{line}\n", if n == 0 { "help: " } else { "      " }));
        }
        let lines: Vec<String> = text.lines().map(|line| covered(&visible(line))).collect();
        lines.join("\n") + "\n"
    }
}
