//! `figures`: the numbered lines of a year.

use super::access::Access;
use super::answering::{Answering, Source};
use super::streams::print_painted;
use super::{As, End, complain, days, load, our_fault, place, print, print_json, size, usage};
use crate::assemble;
use crate::case::TaxYear;
use crate::packet::write;
use crate::sheet::terminal::{self, Shape};
use crate::sheet::{data, json};
use jiff::civil::Date;
use std::path::PathBuf;

/// Print the numbered lines of a year.
#[derive(clap::Args)]
pub(super) struct FiguresOf {
    #[command(flatten)]
    source: Source,
    /// The tax year; without it the latest with a return
    #[arg(long, value_parser = usage::year, allow_negative_numbers = true)]
    year: Option<i16>,
    /// Output format
    #[arg(long = "as", value_enum, default_value = "table")]
    form: As,
    /// In a table: show lines of zero and empty sheets too
    #[arg(long)]
    all: bool,
    /// In a table: show under each line how its figure came about
    #[arg(long)]
    how: bool,
    /// The file a spreadsheet is written to, which must not exist yet
    #[arg(long, value_name = "FILE")]
    out: Option<PathBuf>,
    /// The date on a spreadsheet [default: today]
    #[arg(long, value_name = "DATE", value_parser = usage::date)]
    dated: Option<Date>,
    /// Warnings and questions count as errors
    #[arg(long)]
    strict: bool,
    #[command(flatten)]
    access: Access,
}

impl FiguresOf {
    pub(super) fn run(self) -> End {
        if let Err(end) = self.fit() {
            return end;
        }
        let answering = match self.source.open(self.year.map(TaxYear)) {
            Ok(answering) => answering,
            Err(end) => return end,
        };
        let computed = answering.computed();
        let wanted = self.year.map(TaxYear).or_else(|| answering.year());
        let findings = computed.findings_for(wanted);
        let end = End::of(&findings, self.strict);
        // JSON holds the findings too; why the command failed is said all the same.
        if self.form != As::Json || end != End::Done {
            complain(&findings, &computed.sources);
        }
        let end = end.max(answering.judged());
        let (Some(case), Some(year)) = (&computed.case, wanted) else {
            return load::no_figures(self.source.path(), computed);
        };
        let years = &computed.outcome.years;
        if years.is_empty() {
            return load::no_figures(self.source.path(), computed);
        }
        if !years.contains(&year) {
            tell!("{}", load::no_figures_for("the case", year, years));
            return End::Usage;
        }
        let law = answering.law();
        match self.form {
            As::Json => {
                print_json(&json::figures(case, year, law, &computed.outcome, &computed.sources));
            }
            As::Csv => print(&data::figures_csv(year, &computed.outcome)),
            As::Table => {
                let columns = size::of_output().unwrap_or(size::WITHOUT_TERMINAL);
                print_painted(&answering.heading().unwrap_or_default());
                let shape = Shape { columns, all: self.all, how: self.how };
                print(&terminal::figures(case, law, year, &computed.outcome, shape));
            }
            As::Xlsx => return end.max(self.spreadsheet(&answering, year)),
        }
        end
    }

    /// Refuses a form without its file, a file without its form, and a file that stands.
    fn fit(&self) -> Result<(), End> {
        match (&self.out, self.form) {
            (None, As::Xlsx) => {
                tell!(
                    "error: a spreadsheet needs a file to be written to\nhelp: add --out FILE, such as --out worksheet.xlsx"
                );
                Err(End::Usage)
            }
            (Some(_), As::Table | As::Json | As::Csv) => {
                tell!(
                    "error: --out is for a spreadsheet, and this form is printed\nhelp: add --as xlsx, or leave --out out"
                );
                Err(End::Usage)
            }
            (None, _) => Ok(()),
            (Some(out), As::Xlsx) => {
                place::fit(out)?;
                if out.symlink_metadata().is_ok() { Err(place::standing(out)) } else { Ok(()) }
            }
        }
    }

    /// Writes the worksheet as a spreadsheet.
    fn spreadsheet(&self, answering: &Answering, year: TaxYear) -> End {
        let Some(out) = &self.out else { return End::Usage };
        let dated = match self.dated.map(|day| days::plausible("--dated", day)) {
            Some(Ok(day)) => day,
            Some(Err(end)) => return end,
            None => days::today(),
        };
        let (computed, case) = (answering.computed(), answering.case_bytes());
        match assemble::live_worksheet(computed, answering.law(), case, year, dated) {
            Ok(bytes) => place::put(out, write::put_file(out, &bytes, false, self.access.readers())),
            Err(why) => our_fault(&why.to_string()),
        }
    }
}
