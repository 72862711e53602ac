//! `why`: a line's derivation.

use super::{AsText, End, complain, load, print, print_json, usage};
use crate::case::TaxYear;
use crate::credit::line::Place;
use crate::credit::why::{Reading, Why};
use crate::law::Law;
use std::path::PathBuf;

/// Show how a line came about.
#[derive(clap::Args)]
pub(super) struct WhyLine {
    /// The case file
    case: PathBuf,
    /// The line: 440, 2024:440, 2024:230@roof-array, 2024:101@roof-array.2; or a whole sheet: 400, 2024:400
    place: String,
    /// The tax year where the line does not name one; without it the latest with a return
    #[arg(long, value_parser = usage::year, allow_negative_numbers = true)]
    year: Option<i16>,
    /// How many steps back; without it to the receipts and the law
    #[arg(long, value_parser = usage::depth, allow_negative_numbers = true)]
    depth: Option<u16>,
    /// In which form
    #[arg(long = "as", value_enum, default_value = "text")]
    form: AsText,
}

impl WhyLine {
    pub(super) fn run(self) -> End {
        let loaded = match load::load(&self.case) {
            Ok(loaded) => loaded,
            Err(end) => return end,
        };
        let computed = loaded.computed;
        let end = End::of(&computed.outcome.findings, false);
        if end != End::Done {
            complain(&computed.outcome.findings, &computed.sources);
        }
        let (Some(case), Some(latest)) = (&computed.case, computed.latest_year()) else {
            return load::no_figures(&self.case, &computed);
        };
        if computed.outcome.years.is_empty() {
            return load::no_figures(&self.case, &computed);
        }
        let year = self.year.map_or(latest, TaxYear);
        let figures = &computed.outcome.figures;
        let why = Why {
            case,
            law: Law::built_in(),
            figures,
            answered: &computed.outcome.answered,
            sources: &computed.sources,
            depth: self.depth,
        };
        if let Some((year, sheet)) = sheet(&self.place, year) {
            let Some(reading) = why.sheet(year, sheet) else {
                tell!("error: the case has nothing on sheet {sheet} for {year}");
                return end.max(End::Usage);
            };
            return self.show(&reading, end);
        }
        let Some(place) = Place::read(&self.place, year) else {
            tell!(
                "error: `{}` names no line\nhelp: write a line as 440, 2024:440, 2024:230@ITEM or 2024:101@ITEM.2, or a whole sheet as 400; `gablework figures` lists them",
                self.place
            );
            return End::Usage;
        };
        let Some(reading) = why.line(&place) else {
            let mut near: Vec<String> = figures
                .all()
                .iter()
                .filter(|figure| figure.place.line == place.line)
                .map(|figure| figure.place.to_string())
                .take(8)
                .collect();
            near.dedup();
            let help = if near.is_empty() {
                "`gablework figures` lists the lines of a year".to_string()
            } else {
                format!("the case has {}", near.join(", "))
            };
            tell!("error: the case has no line {place}\nhelp: {help}");
            return end.max(End::Usage);
        };
        self.show(&reading, end)
    }

    fn show(&self, reading: &Reading, end: End) -> End {
        match self.form {
            AsText::Text => print(&reading.text()),
            AsText::Json => match serde_json::to_value(reading) {
                Ok(value) => print_json(&value),
                Err(error) => return super::our_fault(&error),
            },
        }
        end
    }
}

/// Reads the name of a sheet: its hundred, with or without a year.
fn sheet(text: &str, year: TaxYear) -> Option<(TaxYear, u16)> {
    let (year, number) = match text.split_once(':') {
        Some((year, number)) => (TaxYear(year.parse().ok()?), number),
        None => (year, text),
    };
    let hundred = number.len() == 3 && number.ends_with("00");
    number.parse().ok().filter(|number| hundred && (100..=900).contains(number)).map(|number| (year, number))
}
