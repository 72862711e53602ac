//! `schema`: what editors and other programs need to know of our files.

use super::{End, print_json};
use crate::{case, register, sheet, suppose};
use clap::ValueEnum;

/// Print the schema of a file, for editors that complete and check while one types.
#[derive(clap::Args)]
pub(super) struct Schema {
    /// Of which file
    #[arg(value_enum, default_value = "case")]
    of: Subject,
}

/// The files that have a schema.
#[derive(Clone, Copy, ValueEnum)]
enum Subject {
    /// The case file, NAME.case.yaml
    Case,
    /// The firm file, firm.yaml
    Firm,
    /// What `figures --as json` prints
    Figures,
    /// What `register --as json` prints
    Register,
    /// What `suppose --as json` prints
    Suppose,
}

impl Schema {
    pub(super) fn run(self) -> End {
        let schema = match self.of {
            Subject::Case => case::schema::case(),
            Subject::Firm => case::schema::firm(),
            Subject::Figures => sheet::json::schema(),
            Subject::Register => register::data::schema(),
            Subject::Suppose => suppose::data::schema(),
        };
        print_json(&schema);
        End::Done
    }
}
