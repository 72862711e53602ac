//! `why`: how a line came about, and which lines an official line, an amount or a paper leads to.

use super::answering::{Answering, Source};
use super::streams::print_painted;
use super::{AsText, End, complain, load, print, print_json, usage};
use crate::case::{Case, TaxYear, covered};
use crate::credit::Figure;
use crate::credit::line::Place;
use crate::credit::why::{Reading, Why};
use crate::money::Money;
use crate::sheet::sought::{self, FoundLine, NoLine, OfficialQuestion};
use serde_json::json;

/// Show how a line came about.
#[derive(clap::Args)]
#[command(group(clap::ArgGroup::new("question").required(true).args(["line", "amount", "paper"])))]
pub(super) struct WhyLine {
    #[command(flatten)]
    source: Source,
    /// The line: 440, 2024:440, 2024:230@roof-array; a whole sheet: 400; or a line of an official form: "2024 Form 5695 line 16"
    line: Option<String>,
    /// List every line that shows this amount
    #[arg(long, value_name = "AMOUNT", value_parser = usage::amount)]
    amount: Option<Money>,
    /// List every line that rests on this paper, by its key in the case
    #[arg(long, value_name = "KEY")]
    paper: Option<String>,
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
        self.answered().unwrap_or_else(|end| end)
    }

    fn answered(&self) -> Result<End, End> {
        let official = self.line.as_deref().and_then(OfficialQuestion::read);
        let named = self
            .year
            .map(TaxYear)
            .or(official.as_ref().and_then(|one| one.year))
            .or_else(|| self.year_of_line());
        let answering = self.source.open(named)?;
        let computed = answering.computed();
        let findings = &computed.outcome.findings;
        let mut end = End::of(findings, false);
        if end != End::Done {
            complain(findings, &computed.sources);
        }
        end = end.max(answering.judged());
        let (Some(case), Some(latest)) = (&computed.case, answering.year()) else {
            return Err(load::no_figures(self.source.path(), computed));
        };
        if computed.outcome.years.is_empty() {
            return Err(load::no_figures(self.source.path(), computed));
        }
        if let Some(amount) = self.amount {
            return self.of_amount(&answering, amount).map(|()| end).map_err(|wrong| end.max(wrong));
        }
        if let Some(key) = &self.paper {
            return self.of_paper(&answering, case, key).map(|()| end).map_err(|wrong| end.max(wrong));
        }
        let why = Why {
            case,
            law: answering.law(),
            figures: &computed.outcome.figures,
            answered: &computed.outcome.answered,
            sources: &computed.sources,
            depth: self.depth,
        };
        let asked = Asked { answering: &answering, why, year: named.unwrap_or(latest) };
        let line = self.line.as_deref().unwrap_or_default();
        let line = line.strip_prefix("line ").unwrap_or(line).trim();
        let found = match (sheet(line, asked.year), &official) {
            (Some((year, sheet)), _) => asked.sheet(year, sheet),
            (None, Some(question)) => asked.official(line, question),
            (None, None) => asked.line(line),
        };
        let (heading, reading) = found.map_err(|wrong| end.max(wrong))?;
        Ok(end.max(self.show(&answering, heading, &reading)))
    }

    /// Lists the lines that show an amount.
    fn of_amount(&self, answering: &Answering, amount: Money) -> Result<(), End> {
        let found = sought::of_amount(&answering.computed().outcome.figures, amount);
        if found.is_empty() {
            tell!("error: no line shows {}", amount.grouped());
            tell!("help: `gablework figures` lists the lines of a year");
            return Err(End::Usage);
        }
        self.list(answering, &[("lines that show it", found)]);
        Ok(())
    }

    /// Lists the lines that rest on a paper.
    fn of_paper(&self, answering: &Answering, case: &Case, key: &str) -> Result<(), End> {
        let found = sought::of_paper(case, &answering.computed().outcome.figures, key).map_err(|help| {
            tell!("error: the case lists no paper `{}`\nhelp: {help}", covered(key));
            End::Usage
        })?;
        if found.directly.is_empty() {
            tell!("note: no figure rests on {key}");
        }
        self.list(answering, &[("taken from it", found.directly), ("made of that", found.after)]);
        Ok(())
    }

    /// Returns the year that one of our lines names, such as 2024 in `2024:440`.
    fn year_of_line(&self) -> Option<TaxYear> {
        let (year, _) = self.line.as_deref()?.split_once(':')?;
        usage::year(year).ok().map(TaxYear)
    }

    /// Prints figures as a list: the place, what it is called, its value, and where it stands on the official forms.
    fn list(&self, answering: &Answering, groups: &[(&str, Vec<&Figure>)]) {
        let outcome = &answering.computed().outcome;
        let of =
            |figure: &&Figure| FoundLine::of(figure, outcome, answering.map(figure.place.year).as_deref());
        let groups: Vec<(&str, Vec<FoundLine>)> =
            groups.iter().map(|(head, figures)| (*head, figures.iter().map(of).collect())).collect();
        if self.form == AsText::Json {
            let groups: Vec<_> =
                groups.iter().map(|(head, lines)| json!({"what": head, "lines": lines})).collect();
            print_json(&json!({"format": 1, "groups": groups}));
            return;
        }
        let mut out = answering.heading().unwrap_or_default();
        for (head, lines) in groups.iter().filter(|(_, lines)| !lines.is_empty()) {
            out.push_str(&format!("{head}:\n"));
            for line in lines {
                out.push_str(&format!("  {}  {}  =  {}\n", line.place, line.label, line.value));
                if !line.official.is_empty() {
                    out.push_str(&format!("      {}\n", line.official.join("; ")));
                }
            }
        }
        print(&out);
    }

    fn show(&self, answering: &Answering, official: Option<String>, reading: &Reading) -> End {
        match self.form {
            AsText::Text => {
                print_painted(&answering.heading().unwrap_or_default());
                if let Some(official) = official {
                    print_painted(&format!("{official}\n\n"));
                }
                print(&reading.text());
            }
            AsText::Json => match serde_json::to_value(reading) {
                Ok(value) => print_json(&value),
                Err(error) => return super::our_fault(&error),
            },
        }
        End::Done
    }
}

/// A question about lines, with what answers it.
struct Asked<'a> {
    answering: &'a Answering,
    why: Why<'a>,
    year: TaxYear,
}

/// The derivations that answer, under the official lines that were asked for; or, after it was said why there are none,
/// how the command ends.
type Found = Result<(Option<String>, Reading), End>;

impl Asked<'_> {
    fn sheet(&self, year: TaxYear, sheet: u16) -> Found {
        self.why.sheet(year, sheet).map(|reading| (None, reading)).ok_or_else(|| {
            tell!("error: the case has nothing on sheet {sheet} for {year}");
            End::Usage
        })
    }

    fn official(&self, line: &str, question: &OfficialQuestion) -> Found {
        let outcome = &self.answering.computed().outcome;
        let map = self.answering.map(self.year);
        let found = question.find(self.year, map.as_deref(), outcome).map_err(|why| {
            told(line, self.year, &outcome.years, why);
            End::Usage
        })?;
        let mut stands: Vec<String> = found.iter().map(|(_, official)| official.to_string()).collect();
        stands.dedup();
        let places: Vec<&Place> = found.iter().map(|(figure, _)| &figure.place).collect();
        Ok((Some(stands.join("; ")), self.why.lines(&places)))
    }

    fn line(&self, line: &str) -> Found {
        let Some(place) = Place::read(line, self.year) else {
            tell!(
                "error: `{}` names no line\nhelp: write a line as 440, 2024:440, 2024:230@ITEM or 2024:101@ITEM.2, a whole sheet as 400, or a line of an official form as \"{} Form 5695 line 16\"; `gablework figures` lists ours",
                covered(line),
                self.year
            );
            return Err(End::Usage);
        };
        self.why.line(&place).map(|reading| (None, reading)).ok_or_else(|| {
            let same = self.why.figures.all().iter().filter(|figure| figure.place.line == place.line);
            let near: Vec<String> = same.map(|figure| figure.place.to_string()).take(8).collect();
            let help = match near.is_empty() {
                true => "`gablework figures` lists the lines of a year".to_string(),
                false => format!("the case has {}", near.join(", ")),
            };
            tell!("error: the case has no line {place}\nhelp: {help}");
            End::Usage
        })
    }
}

/// Says why an official line leads to no figure, and what stands near.
fn told(line: &str, year: TaxYear, years: &[TaxYear], why: NoLine) {
    match why {
        NoLine::NoMap => {
            tell!("error: the official lines of {year} are not at hand");
            tell!("help: ask for one of our lines, such as {year}:440; `gablework figures` lists them");
        }
        NoLine::NoForm(forms) => {
            tell!("error: `{}` names no form of {year} that our lines stand on", covered(line));
            tell!("help: write one of: {}", forms.join("; "));
        }
        NoLine::NoLine(form, lines) => {
            let of = if form.contains(&year.to_string()) { form } else { format!("{form} of {year}") };
            tell!("error: none of our lines stands on that line of {of}");
            tell!("help: near it are {}", lines.join(", "));
        }
        NoLine::Nothing(_) if !years.contains(&year) => {
            tell!("{}", load::no_figures_for("the case", year, years));
        }
        NoLine::Nothing(place) => {
            tell!("error: the case has nothing for {place} of {year}");
            tell!("help: `gablework figures --year {year}` lists what it has");
        }
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
