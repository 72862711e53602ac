//! The register as data for other programs, format 1, and the schema of it.
//!
//! Comes in: a [`Register`]. Goes out: JSON, a line for each row, so that two registers can be compared line by line. Each
//! key is declared once, with its type, its meaning and what it is taken from.

use super::row::{Account, Ahead, Balance, Found, Lying, Missing, Row, SoFar, State};
use super::rows::{Register, Totals, YearTotal};
use super::words;
use crate::case::{Key, TaxYear};
use crate::contract::{self, Contract, FormatOne, choice, contract, values};
use crate::credit::planning::End;
use crate::credit::unclaimed::{Said, Unclaimed};
use crate::credit::window::{From, Window};
use crate::finding::Reported;
use crate::json::escaped;
use crate::money::Money;
use jiff::civil::Date;
use serde_json::Value as Json;
use std::io::{self, Write};

/// Writes the register, row by row: the rows are never held as data all at once.
pub fn write(register: &Register, out: &mut dyn Write) -> io::Result<()> {
    let Json::Object(whole) = Whole::of(register, Vec::new()).json() else { return Ok(()) };
    for (n, (key, value)) in whole.iter().enumerate() {
        let divider = match n {
            0 => "{",
            1 | 2 => ", ",
            _ => ",\n",
        };
        write!(out, "{divider}\"{key}\": ")?;
        if key != "rows" {
            write!(out, "{value}")?;
            continue;
        }
        for (n, row) in register.rows.iter().enumerate() {
            let row = InRow::of(row, register.on).json().to_string();
            write!(out, "{}{}", if n == 0 { "[\n" } else { ",\n" }, escaped(&row))?;
        }
        write!(out, "\n]")?;
    }
    writeln!(out, "}}")
}

/// Returns the schema of a register.
pub fn schema() -> Json {
    contract::whole::<Whole>("Register of cases, format 1")
}

contract! {
    /// What every client has left, lacks and can still claim on a day. Amounts are strings with two decimals.
    struct Whole of (register: &Register, rows: Vec<InRow>) {
        format: FormatOne = FormatOne;
        /// The day it is for.
        on: Date = register.on;
        /// The edition of the law.
        law: String = register.law.clone();
        /// The years into which somebody carries a balance.
        years: Vec<TaxYear> = register.years.clone();
        totals: InTotals = InTotals::of(&register.totals);
        rows: Vec<InRow> = rows;
    }
}

contract! {
    /// Sums over the cases that could be computed.
    struct InTotals of (totals: &Totals) {
        cases: usize = totals.cases;
        /// Cases that could not be computed, in no sum.
        not_counted: usize = totals.failed;
        balances: Vec<ByYear> = totals.by_year.iter().map(|(year, total)| ByYear::of(*year, total)).collect();
        left: Clients = Clients::of(&totals.left);
        so_far: Sums = Sums::of(&totals.so_far);
        papers_missing: PapersMissing = PapersMissing::of(totals);
        questions: Questions = Questions::of(totals);
        unclaimed: OpenYears = OpenYears::of(totals);
    }
}

contract! {
    struct Clients "clients" of (total: &YearTotal) {
        clients: usize = total.clients;
        amount: Money = total.amount;
        expected: Money = total.expected;
    }
}

contract! {
    struct ByYear of (year: TaxYear, total: &YearTotal) {
        clients: usize = total.clients;
        amount: Money = total.amount;
        expected: Money = total.expected;
        into: TaxYear = year;
    }
}

contract! {
    struct PapersMissing of (totals: &Totals) {
        clients: usize = totals.missing.0;
        papers: usize = totals.missing.1;
        clients_unsaid: usize = totals.papers_unsaid;
    }
}

contract! {
    struct Questions of (totals: &Totals) {
        clients: usize = totals.questions.0;
        questions: usize = totals.questions.1;
        blocking: usize = totals.blocking;
    }
}

contract! {
    struct OpenYears of (totals: &Totals) {
        open: usize = totals.open;
        open_but_unsaid: usize = totals.perhaps_open;
        closed: usize = totals.closed;
    }
}

contract! {
    struct InRow "row" of (row: &Row, on: Date) {
        /// Null where the file cannot be read as a case.
        reference: Option<String> = row.reference.clone();
        /// Empty unless asked for.
        names: Vec<String> = row.names.clone();
        file: String = row.file.clone();
        state: State = row.found.state();
        errors: Vec<Reported> = match &row.found {
            Found::Errors(errors) => errors.clone(),
            _ => Vec::new(),
        };
        /// The other files with this reference.
        same_reference_as: Vec<String> = match &row.found {
            Found::SameReference(others) => others.clone(),
            _ => Vec::new(),
        };
        /// Why the file could not be read, or the mistake of the program.
        why: Option<String> = match &row.found {
            Found::Unreadable(why) | Found::Fault(why) => Some(why.clone()),
            _ => None,
        };
        /// The packets of the case in the folder named for them, the latest last.
        packets: Vec<InFolder> = row.packets.iter().map(InFolder::of).collect();
        /// What the case comes to; null unless it was computed.
        account: Option<InAccount> = row.account().map(|account| InAccount::of(account, on));
    }
}

contract! {
    struct InAccount "account" of (account: &Account, on: Date) {
        /// The 25D credit carried into each year that the case reaches.
        balances: Vec<Carried> = account.balances.iter().map(Carried::of).collect();
        /// Carried into the year of the day, or into the last year before it that the case reaches.
        left: Option<Carried> = account.left.as_ref().map(Carried::of);
        so_far: Sums = Sums::of(&account.so_far);
        /// Each paper that should be on file and is not, with the items it proves; null where the case lists no papers.
        papers_missing: Option<Vec<OnePaper>> =
            account.missing.as_ref().map(|all| all.iter().map(OnePaper::of).collect());
        /// How many questions are open.
        questions: usize = account.questions;
        /// How many of them hold up a packet.
        questions_blocking: usize = account.blocking;
        /// Years whose return leaves out a credit or may do so, open or not.
        unclaimed: Vec<OneYear> = account.windows.iter().map(|one| OneYear::of(one, on)).collect();
        /// What years to come would use of the balance; null where nothing is carried out of the last return.
        ahead as "if": Option<Assumed> = account.ahead.as_ref().map(Assumed::of);
    }
}

contract! {
    struct Carried "balance" of (one: &Balance) {
        into: TaxYear = one.year;
        amount: Money = one.amount;
        /// It comes from a return that is not filed yet.
        expected: bool = one.expected;
    }
}

contract! {
    /// Sums over the tax years before the one of the day, as computed: lines 602, 440, 380, 390 and 395.
    struct Sums "so_far" of (one: &SoFar) {
        brought_in: Money = one.brought_in;
        earned_25d: Money = one.earned_clean;
        used_25d: Money = one.used_clean;
        earned_25c: Money = one.earned_improvement;
        used_25c: Money = one.used_improvement;
        lost_25c: Money = one.lost_improvement;
    }
}

contract! {
    struct OnePaper of (one: &Missing) {
        paper: String = one.what.clone();
        items: Vec<String> = keys(&one.items);
    }
}

contract! {
    struct InFolder "packet" of (one: &Lying) {
        /// The name of its folder.
        packet: String = one.name.clone();
        year: TaxYear = one.year;
        draft: bool = one.draft;
        /// It was made from the case file as it is now.
        current: bool = one.current;
        /// The digest on its seal slip; null for a draft.
        digest: Option<Digest> = one.digest.clone().map(Digest);
    }
}

contract! {
    /// Arithmetic on the case's planned tax or on that of its last return, as if it stayed the same; no forecast.
    struct Assumed "if" of (one: &Ahead) {
        last_return: TaxYear = one.from;
        /// not_within: something would be left after 20 years.
        end: End = one.end;
        used_up_in: Option<TaxYear> = match one.end {
            End::UsedUp(year) => Some(year),
            End::Never | End::NotWithin => None,
        };
        /// So much more tax in that year would use everything in it; null where the assumption uses everything, or the year
        /// is over.
        more_tax: Option<MoreTax> = one.more.map(|(year, tax)| MoreTax::of(year, tax));
    }
}

contract! {
    struct MoreTax of (year: TaxYear, tax: Money) {
        year as "in": TaxYear = year;
        amount: Money = tax;
    }
}

contract! {
    struct OneYear "unclaimed" of (one: &Unclaimed, on: Date) {
        year: TaxYear = one.year;
        /// less: the changes of the filed return come to less tax together; not_said: the case does not say what it shows;
        /// no_return: the case has no return for the year.
        said: Said = one.said;
        /// So much less tax than the return shows, all changes of the year together.
        less_tax: Option<Money> = known(one, one.less_tax);
        /// Below zero where the return claims too much.
        left_out_25c: Option<Money> = known(one, one.improvement);
        /// Likewise.
        left_out_25d: Option<Money> = known(one, one.clean);
        /// Likewise.
        left_out_carried_forward: Option<Money> = known(one, one.carried_out);
        /// The property that qualifies in the year.
        items: Vec<String> = keys(&one.items);
        open: bool = one.is_open(on);
        /// The last day for a claim.
        closes: Date = one.window.closes;
        /// From the day of the register to that day; null when it has passed.
        days_left: Option<usize> = days_left(one, on);
        /// The last day on which a claim reaches tax that was withheld.
        reaches_withheld_tax_until: Date = one.window.reaches_withholding;
        counted_from: CountedFrom = CountedFrom::of(&one.window);
    }
}

contract! {
    struct CountedFrom of (window: &Window) {
        what: From = window.from;
        day: Date = match window.from {
            From::Filed(day) | From::Due(day) | From::DueAsFar(day) | From::Paid(day) => day,
        };
    }
}

/// The digest of a packet.
#[derive(Clone, Debug, PartialEq)]
struct Digest(String);

values! {
    Digest: one => one.0, {"type": "string", "pattern": "^[0-9a-f]{64}$"};
}

choice! {
    Said {
        Said::Less => "less",
        Said::NotSaid => "not_said",
        Said::NoReturn => "no_return",
    }
}

choice! {
    End {
        End::UsedUp(_) => "used_up",
        End::Never => "never",
        End::NotWithin => "not_within",
    }
}

choice! {
    From {
        From::Filed(_) => "filed",
        From::Due(_) => "due",
        From::DueAsFar(_) => "due_as_filing_unsaid",
        From::Paid(_) => "paid",
    }
}

/// Only a comparison with what was filed says how much is left out.
fn known(one: &Unclaimed, amount: Money) -> Option<Money> {
    (one.said == Said::Less).then_some(amount)
}

fn days_left(one: &Unclaimed, on: Date) -> Option<usize> {
    one.is_open(on).then(|| usize::try_from(words::days_left(on, one.window.closes)).unwrap_or(0))
}

fn keys(keys: &[Key]) -> Vec<String> {
    keys.iter().map(Key::to_string).collect()
}
