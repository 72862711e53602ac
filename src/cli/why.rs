//! `why`: a line's derivation.

use super::{AsText, End, complain, load, print};
use crate::case::TaxYear;
use crate::credit::line::Place;
use crate::credit::why::Why;
use crate::law::Law;
use std::path::PathBuf;

/// Show how a line came about.
#[derive(clap::Args)]
pub(super) struct WhyLine {
    /// The case file
    case: PathBuf,
    /// The line: 440, 2024:440, 2024:230@roof-array, 2024:101@roof-array.2
    place: String,
    /// The tax year where the line does not name one; without it the latest with a return
    #[arg(long)]
    year: Option<i16>,
    /// How many steps back; without it to the receipts and the law
    #[arg(long)]
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
        let end = End::of(&computed.findings, false);
        let (Some(case), Some(latest)) = (&computed.case, computed.latest_year()) else {
            complain(&computed.findings, &computed.sources);
            return end.max(End::CaseErrors);
        };
        let year = self.year.map_or(latest, TaxYear);
        let Some(place) = Place::read(&self.place, year) else {
            eprintln!(
                "error: `{}` names no line\nhelp: write a line as 440, 2024:440, 2024:230@ITEM or 2024:101@ITEM.2; `gablework figures` lists them",
                self.place
            );
            return End::Usage;
        };
        let figures = &computed.outcome.figures;
        let why = Why { case, law: Law::built_in(), figures, sources: &computed.sources, depth: self.depth };
        let Some(derivation) = why.walk(&place) else {
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
            eprintln!("error: the case has no line {place}\nhelp: {help}");
            return end.max(End::CaseErrors);
        };
        match self.form {
            AsText::Text => print(&derivation.text()),
            AsText::Json => match serde_json::to_string_pretty(&derivation) {
                Ok(text) => print(&format!("{text}\n")),
                Err(error) => return super::our_fault(&error),
            },
        }
        end
    }
}
