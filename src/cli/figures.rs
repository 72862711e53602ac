//! `figures`: the numbered lines of a year.

use super::{As, End, columns, complain, load, print, print_json, usage};
use crate::case::TaxYear;
use crate::law::Law;
use crate::sheet::terminal::{self, Shape};
use crate::sheet::{data, json};
use std::path::PathBuf;

/// Print the numbered lines of a year.
#[derive(clap::Args)]
pub(super) struct FiguresOf {
    /// The case file
    case: PathBuf,
    /// The tax year; without it the latest with a return
    #[arg(long, value_parser = usage::year, allow_negative_numbers = true)]
    year: Option<i16>,
    /// In which form
    #[arg(long = "as", value_enum, default_value = "table")]
    form: As,
    /// In a table: show lines of zero and empty sheets too
    #[arg(long)]
    all: bool,
    /// In a table: show under each line how its figure came about
    #[arg(long)]
    how: bool,
    /// Warnings and questions count as errors
    #[arg(long)]
    strict: bool,
}

impl FiguresOf {
    pub(super) fn run(self) -> End {
        let loaded = match load::load(&self.case) {
            Ok(loaded) => loaded,
            Err(end) => return end,
        };
        let computed = loaded.computed;
        let wanted = self.year.map(TaxYear).or_else(|| computed.latest_year());
        let findings = computed.findings_for(wanted);
        let end = End::of(&findings, self.strict);
        // JSON holds the findings too; why the command failed is said all the same.
        if self.form != As::Json || end != End::Done {
            complain(&findings, &computed.sources);
        }
        let (Some(case), Some(year)) = (&computed.case, wanted) else {
            return load::no_figures(&self.case, &computed);
        };
        let years = &computed.outcome.years;
        if years.is_empty() {
            return load::no_figures(&self.case, &computed);
        }
        if !years.contains(&year) {
            let years: Vec<String> = years.iter().map(ToString::to_string).collect();
            tell!(
                "error: the case has no figures for {year}\nhelp: it has {}; name one of these with --year, or none for the latest",
                years.join(", ")
            );
            return End::Usage;
        }
        let law = Law::built_in();
        match self.form {
            As::Json => {
                print_json(&json::figures(case, year, law, &computed.outcome, &computed.sources));
            }
            As::Csv => print(&data::figures_csv(year, &computed.outcome)),
            As::Table => {
                let columns = columns::of_output().unwrap_or(columns::WITHOUT_TERMINAL);
                let shape = Shape { columns, all: self.all, how: self.how };
                print(&terminal::figures(case, law, year, &computed.outcome, shape));
            }
        }
        end
    }
}
