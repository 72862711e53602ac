//! `suppose`: what years to come would use of the credit, on tax that is assumed for them.

use super::access::Access;
use super::{End, complain, days, load, our_fault, place, print, print_json, size, usage};
use crate::case::TaxYear;
use crate::law::Law;
use crate::letter;
use crate::money::Money;
use crate::packet;
use crate::packet::write;
use crate::page as pages;
use crate::suppose::{self, Assumed, NotSupposed, Refused, data, page, text};
use clap::{Arg, ArgAction, ArgMatches, Args, Command, FromArgMatches};
use jiff::civil::Date;
use std::path::PathBuf;

/// Show what years to come would use of the carried credit, on tax assumed for them; the case stays as it is.
#[derive(clap::Args)]
#[command(after_help = AFTER)]
pub(super) struct Suppose {
    /// The case file
    case: PathBuf,
    #[command(flatten)]
    ways: Ways,
    /// In which form
    #[arg(long = "as", value_enum, default_value = "text")]
    form: Form,
    /// The file to write; needed for a PDF
    #[arg(long, value_name = "FILE")]
    out: Option<PathBuf>,
    /// The date on the page; without it today
    #[arg(long, value_name = "DATE", value_parser = usage::date)]
    dated: Option<Date>,
    #[command(flatten)]
    access: Access,
}

const AFTER: &str = "\
For example, a quiet year and a sale, or the sale a year later:
  gablework suppose CASE --tax 2026=5000 --tax 2027=900 --and --tax 2026=900 --tax 2027=5000

Nothing on a return is based on these amounts. The PDF is one page for the talk with the client.";

/// In which form it is written.
#[derive(Clone, Copy, PartialEq, Eq, clap::ValueEnum)]
enum Form {
    /// Text for reading.
    Text,
    /// JSON for other programs.
    Json,
    /// A page for the talk with the client, in the client's language; needs --out.
    Pdf,
}

/// One or two assumptions, as they were typed: each option with its place, because what comes after --and belongs to the
/// second.
struct Ways {
    tax: Vec<(usize, OfYear)>,
    other: Vec<(usize, OfYear)>,
    /// Where each --and stands.
    and: Vec<usize>,
}

/// An amount of a year.
#[derive(Clone, Copy)]
pub(super) struct OfYear {
    year: i16,
    amount: Money,
}

impl OfYear {
    pub(super) fn new(year: i16, amount: Money) -> OfYear {
        OfYear { year, amount }
    }
}

impl Args for Ways {
    fn augment_args(command: Command) -> Command {
        let amount = |id: &'static str| {
            Arg::new(id)
                .long(id)
                .value_name("YEAR=AMOUNT")
                .action(ArgAction::Append)
                .value_parser(usage::of_year)
        };
        command
            .arg(amount("tax").required(true).help("Assume this tax before credits for a year; once for each year"))
            .arg(amount("other").help(
                "Assume that credits before the clean energy credit take so much of a year's tax; without it those of \
                 the last return",
            ))
            .arg(
                Arg::new("and")
                    .long("and")
                    .action(ArgAction::Append)
                    .num_args(0)
                    .default_missing_value("and")
                    .help("Begin a second assumption, to be shown beside the first"),
            )
    }

    fn augment_args_for_update(command: Command) -> Command {
        Ways::augment_args(command)
    }
}

impl FromArgMatches for Ways {
    fn from_arg_matches(matches: &ArgMatches) -> Result<Ways, clap::Error> {
        let of = |id: &str| -> Vec<(usize, OfYear)> {
            let places = matches.indices_of(id).into_iter().flatten();
            let amounts = matches.get_many::<OfYear>(id).into_iter().flatten().copied();
            places.zip(amounts).collect()
        };
        let and = matches.indices_of("and").into_iter().flatten().collect();
        Ok(Ways { tax: of("tax"), other: of("other"), and })
    }

    fn update_from_arg_matches(&mut self, matches: &ArgMatches) -> Result<(), clap::Error> {
        *self = Ways::from_arg_matches(matches)?;
        Ok(())
    }
}

impl Ways {
    /// Returns the assumptions, or says why there are none.
    fn read(&self) -> Result<Vec<Vec<Assumed>>, End> {
        if self.and.len() > 1 {
            tell!(
                "error: two assumptions stand side by side, and {} are given\nhelp: leave the others out, or run the command again for them",
                self.and.len() + 1
            );
            return Err(End::Usage);
        }
        let split = self.and.first().copied().unwrap_or(usize::MAX);
        let mut ways = vec![self.between(0, split)?];
        if split < usize::MAX {
            ways.push(self.between(split, usize::MAX)?);
        }
        Ok(ways)
    }

    fn between(&self, from: usize, to: usize) -> Result<Vec<Assumed>, End> {
        let within = |(at, _): &&(usize, OfYear)| (from..to).contains(at);
        let other: Vec<OfYear> = self.other.iter().filter(within).map(|(_, one)| *one).collect();
        let tax: Vec<OfYear> = self.tax.iter().filter(within).map(|(_, one)| *one).collect();
        if tax.is_empty() {
            tell!(
                "error: an assumption beside --and has no tax\nhelp: add --tax YEAR=AMOUNT before and after --and"
            );
            return Err(End::Usage);
        }
        let alone = other.iter().find(|other| !tax.iter().any(|one| one.year == other.year));
        let twice = (1..other.len()).find(|n| other[..*n].iter().any(|one| one.year == other[*n].year));
        if let Some(refused) = alone
            .map(|one| Refused::OtherAlone(TaxYear(one.year)))
            .or_else(|| twice.map(|n| Refused::Twice(TaxYear(other[n].year))))
        {
            return Err(told(&refused));
        }
        let of = |one: &OfYear| Assumed {
            year: TaxYear(one.year),
            tax: one.amount,
            other: other.iter().find(|other| other.year == one.year).map(|other| other.amount),
        };
        Ok(tax.iter().map(of).collect())
    }
}

fn told(refused: &Refused) -> End {
    tell!("error: {refused}\nhelp: {}", refused.help());
    End::Usage
}

impl Suppose {
    pub(super) fn run(self) -> End {
        let ways = match self.ways.read() {
            Ok(ways) => ways,
            Err(end) => return end,
        };
        if self.form == Form::Pdf && self.out.is_none() {
            tell!(
                "error: a PDF needs a file to be written to\nhelp: add --out FILE, such as --out what-if.pdf"
            );
            return End::Usage;
        }
        if let Some(Err(end)) = self.out.as_deref().map(place::fit) {
            return end;
        }
        let loaded = match load::load(&self.case) {
            Ok(loaded) => loaded,
            Err(end) => return end,
        };
        let computed = loaded.computed;
        let end = End::of(&computed.outcome.findings, false);
        let Some(case) = computed.case.as_ref().filter(|_| end == End::Done) else {
            complain(&computed.outcome.findings, &computed.sources);
            tell!(
                "error: the case has errors, so nothing can be supposed of it\nhelp: fix what is marked above"
            );
            return End::CaseErrors;
        };
        let supposed = match suppose::suppose(case, Law::built_in(), &computed.outcome, &ways) {
            Ok(supposed) => supposed,
            Err(NotSupposed::Refused(refused)) => return told(&refused),
            Err(NotSupposed::Fault(fault)) => return our_fault(&fault),
        };
        let died = case.client.people.iter().any(|one| one.deceased.is_some());
        if died && self.form == Form::Pdf {
            tell!(
                "error: someone of the return has died, and what is left may have been that person's, so no page is made\nhelp: see the text, without --as pdf, and talk with the survivor"
            );
            return End::CaseErrors;
        }
        if died {
            tell!(
                "warning: someone of the return has died; what is left may have been that person's, and may have ended"
            );
        }
        let columns = size::of_output().unwrap_or(size::WITHOUT_TERMINAL);
        match self.form {
            Form::Text => self.put(text::text(case, &supposed, columns), print),
            Form::Json => {
                let json = data::json(case, &supposed);
                self.put(crate::json::written(&json), |_| print_json(&json))
            }
            Form::Pdf => self.pdf(case, &supposed),
        }
    }

    /// Prints words, or writes them to the file that was named.
    fn put(&self, text: String, print: impl FnOnce(&str)) -> End {
        match &self.out {
            None => {
                print(&text);
                End::Done
            }
            Some(out) => self.write(out, text.as_bytes()),
        }
    }

    fn write(&self, out: &std::path::Path, bytes: &[u8]) -> End {
        match write::put_file(out, bytes, false, self.access.readers()) {
            Ok(()) => End::Done,
            Err(trouble) => {
                tell!("error: {trouble}\nhelp: {}", trouble.help());
                End::Files
            }
        }
    }

    fn pdf(&self, case: &crate::case::Case, supposed: &suppose::Supposed) -> End {
        let dated = match self.dated.map(|day| days::plausible("--dated", day)) {
            Some(Ok(day)) => day,
            Some(Err(end)) => return end,
            None => days::today(),
        };
        let day = letter::day(case.client.language, dated);
        let document = page::page(case, supposed, &day);
        let drawn = match pages::lay_out(&document) {
            Ok(drawn) => drawn,
            Err(faults) => {
                for fault in faults {
                    tell!("error: {}: {fault}\nhelp: {}", document.title, fault.help());
                }
                return End::CaseErrors;
            }
        };
        let said = crate::json::written(&data::json(case, supposed));
        let id = packet::short_fingerprint(format!("{said}{dated}").as_bytes());
        let bytes = pages::to_pdf(&drawn, &pages::Stamp { id, date: dated });
        self.out.as_deref().map_or(End::Usage, |out| self.write(out, &bytes))
    }
}
