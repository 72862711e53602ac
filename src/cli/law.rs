//! `law`: what the program takes for the law, to be checked.

use super::{AsText, End, print, print_json, usage};
use crate::case::TaxYear;
use crate::law::{Law, show};

/// Print the law of a tax year with its sources.
#[derive(clap::Args)]
pub(super) struct LawOf {
    /// The tax year; without it all years side by side
    #[arg(value_parser = usage::year, allow_negative_numbers = true)]
    year: Option<i16>,
    /// In which form
    #[arg(long = "as", value_enum, default_value = "text")]
    form: AsText,
}

impl LawOf {
    pub(super) fn run(self) -> End {
        let law = Law::built_in();
        let Some(wanted) = self.year.map(TaxYear) else {
            match self.form {
                AsText::Text => print(&show::overview(law)),
                AsText::Json => {
                    let all: Vec<serde_json::Value> = law.all().map(show::json).collect();
                    print_json(&serde_json::json!({"format": 1, "years": all}));
                }
            }
            return End::Done;
        };
        let Some(year) = law.year(wanted) else {
            let known: Vec<String> = law.known().map(|year| year.to_string()).collect();
            tell!(
                "error: the program does not have the law of {wanted}\nhelp: name one of the years {}, or none for all side by side",
                known.join(", ")
            );
            return End::Usage;
        };
        match self.form {
            AsText::Text => print(&show::text(law, year)),
            AsText::Json => print_json(&show::json(year)),
        }
        End::Done
    }
}
