//! The command line: clap commands, words on the terminal, exit codes. The only place that sees a clock, a file
//! name or a terminal.

/// Tells people a line on standard error. Unlike `eprintln!` it does not end the program where nobody can read it.
macro_rules! tell {
    ($($words:tt)*) => { $crate::cli::streams::told(format_args!($($words)*), "\n") };
}

/// Tells people something on standard error without ending the line.
macro_rules! tell_in_line {
    ($($words:tt)*) => { $crate::cli::streams::told(format_args!($($words)*), "") };
}

mod access;
mod answering;
mod begin;
mod check;
mod color;
mod days;
mod desk;
mod figures;
mod intake;
mod keep;
mod kit;
mod law;
mod load;
mod log;
mod packet;
mod place;
mod progress;
mod prompt;
mod register;
mod remind;
mod said;
mod schema;
mod shell;
mod size;
mod streams;
mod suppose;
mod usage;
mod verify;
mod why;

use crate::finding::{Finding, Severity, Sources};
use crate::folder::senders::Broken;
use clap::error::ErrorKind;
use clap::{Parser, Subcommand, ValueEnum};
use std::ffi::OsString;
use std::io::{self, Write};
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::process::ExitCode;
use streams::{print, print_json};

/// Assembles worksheets, client letters and an archive folder for the US residential energy credits
/// (IRC 25C and 25D, Form 5695), from one YAML case per household.
#[derive(Parser)]
#[command(name = "gablework", version, max_term_width = 100, after_help = EXIT_CODES)]
struct Arguments {
    #[command(subcommand)]
    command: Command,
}

const EXIT_CODES: &str = "\
Exit codes:
  0   done, also with warnings or questions
  1   a case or table has errors, or has to be answered first (--strict: any warning or question)
  2   the command line is not understood, or asks for what is not there
  3   a seal or the figures do not verify
  4   a file cannot be read or written, or is not overwritten, or what is printed is cut off
  70  a fault of the program; please report it
  130 interrupted; the same command goes on, and answers given to `begin` are kept
  134 the system gave no more memory

Not tax or legal advice. The official form and its instructions, and a licensed preparer, decide.";

#[derive(Subcommand)]
enum Command {
    /// Make a new case, one question at a time; never overwrites anything
    Begin(begin::Begin),
    /// Take a table of clients, from a spreadsheet, into the cases of a folder
    Intake(intake::Intake),
    /// Make the packet of a case: worksheet, letters, data, in one folder
    Packet(packet::Packet),
    /// Write to every client who has credit left for a tax year: lots for the printer, a mailing list, a report
    Remind(remind::Remind),
    /// Show every finding of one or more cases; writes nothing
    Check(check::Check),
    /// Print the numbered lines of a year
    Figures(figures::FiguresOf),
    /// Show how a line came about, back to receipts and law
    Why(why::WhyLine),
    /// Show what years to come would use of the carried credit, on a tax that is assumed for them
    Suppose(suppose::Suppose),
    /// Show what every client has left, lacks, and can still claim: one row for each case of a folder
    Register(register::RegisterOf),
    /// Check sealed packets: the seal, the figures, the pages
    Verify(verify::Verify),
    /// Print the law of a tax year with its sources, or all years side by side
    Law(law::LawOf),
    /// Copy letters and layout out, for a firm to edit and use with `--kit`
    Kit(kit::Kit),
    /// Print the JSON Schema of the case file, the firm file, the figures or the register, for editors and other programs
    Schema(schema::Schema),
    /// Print a script for a shell that completes commands and options
    Completions(shell::Completions),
    /// Print the manual page of the program or of one command
    Manual(shell::Manual),
}

/// In which form output is printed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
enum As {
    /// A table for reading.
    Table,
    /// JSON for other programs.
    Json,
    /// Comma-separated values for a spreadsheet.
    Csv,
    /// The worksheet as a spreadsheet that computes; needs --out.
    Xlsx,
}

/// In which form findings or a derivation are printed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
enum AsText {
    /// Text for reading.
    Text,
    /// JSON for other programs.
    Json,
}

/// How a command ended; the worst of several stands.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
enum End {
    #[default]
    Done,
    CaseErrors,
    Usage,
    /// A seal or figures do not verify.
    Unsealed,
    Files,
    OurFault,
    Interrupted,
}

impl End {
    fn code(self) -> u8 {
        match self {
            End::Done => 0,
            End::CaseErrors => 1,
            End::Usage => 2,
            End::Unsealed => 3,
            End::Files => 4,
            End::OurFault => 70,
            End::Interrupted => 130,
        }
    }

    /// How a command ends that needs a firm file which cannot be used.
    fn of_firm(broken: &Broken) -> End {
        if broken.unreadable { End::Files } else { End::CaseErrors }
    }

    /// What findings make of an otherwise good end.
    fn of(findings: &[Finding], strict: bool) -> End {
        match findings.iter().map(|finding| finding.severity).max() {
            Some(Severity::Error) => End::CaseErrors,
            Some(Severity::Warning | Severity::Question) if strict => End::CaseErrors,
            _ => End::Done,
        }
    }
}

/// Runs the command line and returns its exit code.
pub fn run(arguments: impl IntoIterator<Item = OsString>) -> ExitCode {
    limits_are_told();
    let end = catch_unwind(AssertUnwindSafe(|| ended(arguments)));
    let end = end.unwrap_or_else(|_| our_fault(&"the program stumbled"));
    ExitCode::from(streams::close(end).code())
}

/// Lets a write past the limit on the size of files fail, and so be reported; else the system ends the program without a
/// word.
fn limits_are_told() {
    #[cfg(unix)]
    {
        use signal_hook::{consts::signal::SIGXFSZ, flag};
        use std::sync::{Arc, atomic::AtomicBool};
        // Nobody asks whether it came: the write that caused it fails. Where the system refuses, all is as without.
        let _ = flag::register(SIGXFSZ, Arc::new(AtomicBool::new(false)));
    }
}

fn ended(arguments: impl IntoIterator<Item = OsString>) -> End {
    let arguments = match Arguments::try_parse_from(arguments) {
        Ok(arguments) => arguments,
        // Nothing was asked for: what there is to ask for.
        Err(error) if error.kind() == ErrorKind::DisplayHelpOnMissingArgumentOrSubcommand => {
            let _ = error.print();
            return End::Usage;
        }
        Err(error) if error.use_stderr() => {
            tell!("{}", usage::told(&error));
            return End::Usage;
        }
        // Help or the version was asked for.
        Err(error) => {
            streams::note(error.print().and_then(|()| io::stdout().flush()));
            return End::Done;
        }
    };
    match arguments.command {
        Command::Begin(command) => command.run(),
        Command::Intake(command) => command.run(),
        Command::Packet(command) => command.run(),
        Command::Remind(command) => command.run(),
        Command::Check(command) => command.run(),
        Command::Figures(command) => command.run(),
        Command::Why(command) => command.run(),
        Command::Suppose(command) => command.run(),
        Command::Register(command) => command.run(),
        Command::Verify(command) => command.run(),
        Command::Law(command) => command.run(),
        Command::Kit(command) => command.run(),
        Command::Schema(command) => command.run(),
        Command::Completions(command) => command.run(),
        Command::Manual(command) => command.run(),
    }
}

/// Prints findings to where people read them, apart from data.
fn complain(findings: &[Finding], sources: &Sources) {
    for finding in findings {
        streams::told_painted(&format!("{}\n", color::for_errors(finding, sources).to_print()));
    }
}

/// Reports a mistake of the program.
fn our_fault(what: &dyn std::fmt::Display) -> End {
    tell!("{}", fault_text(what));
    End::OurFault
}

fn fault_text(what: &dyn std::fmt::Display) -> String {
    format!(
        "fault: {what}\nThis is a mistake of the program, not of the case. Please report it with the case's structure."
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_fault_of_the_program_asks_to_be_reported_and_ends_with_70() {
        assert_eq!(our_fault(&"example").code(), 70);
        assert!(fault_text(&"example").contains("Please report it"));
        assert!(
            [End::Done, End::CaseErrors, End::Usage, End::Unsealed, End::Files]
                .iter()
                .all(|end| *end < End::OurFault)
        );
    }
}
