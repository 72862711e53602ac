//! The figures of a year as JSON that another program can compute again, and the schema of it.
//!
//! Comes in: the figures of a year. Goes out: what `figures --as json` prints and a packet holds as `figures.json`,
//! format 1. Each key is declared once, with its type, its meaning and what it is taken from. Decides nothing.

use super::amended::{AmendedReturn, Corrected};
use super::official::{Entry, LineRead, OfficialRef};
use super::{data, references};
use crate::case::{Case, TaxYear};
use crate::contract::{self, Choice, Contract, FormatOne, Maybe, choice, contract, values};
use crate::credit::expression::{Pick, Rounding, law_value};
use crate::credit::line::{Place, Subject};
use crate::credit::papers::{ItemPapers, Paper, papers};
use crate::credit::{CaseRef, Expr, Figure, LineKind, Outcome, Ruling, Used, Value};
use crate::finding::{At, Reported, Sources};
use crate::law::{Law, LawKey};
use jiff::civil::Date;
use serde_json::{Value as Json, json};

/// Returns the year's figures and the case's findings.
pub fn figures(case: &Case, year: TaxYear, law: &Law, outcome: &Outcome, sources: &Sources) -> Json {
    Whole::of(&Context { case, year, outcome, law, sources }).json()
}

/// Returns the schema of a year's figures.
pub fn schema() -> Json {
    contract::whole::<Whole>("Figures of one tax year, format 1")
}

/// Figures with what they point into.
struct Context<'a> {
    case: &'a Case,
    year: TaxYear,
    outcome: &'a Outcome,
    law: &'a Law,
    sources: &'a Sources,
}

contract! {
    /// Every numbered line of a case for one year, with the expression it was computed by, its operands and its sources.
    /// The file stands alone: another program can compute every value again from the expressions, in any order in which
    /// a line comes after the lines it names. Values of the law and facts of the case stand in the expressions; a figure
    /// of the same year is a line of this file; a figure of another year has its value under `used` of the line that
    /// names it. Numbers are exact decimals, so nothing is to be computed in binary fractions. The line's printed value
    /// is made from the exact one at the end only; a line that names another takes its exact value.
    struct Whole of (all: &Context<'_>) {
        format: FormatOne = FormatOne;
        /// The client's reference.
        case: String = all.case.client.reference.value.to_string();
        /// The tax year.
        year: TaxYear = all.year;
        /// The edition of the year's law.
        law: Option<String> = all.law.year(all.year).map(|law| law.edition.clone());
        lines: Vec<Line> =
            all.outcome.figures.of_year(all.year).into_iter().map(|figure| Line::of(figure, all)).collect();
        findings: Vec<Reported> =
            all.outcome.findings.iter().map(|finding| Reported::of(finding, all.sources)).collect();
        papers: Vec<Papers> =
            papers(all.case, all.law, all.outcome, all.year).iter().map(Papers::of).collect();
        amended_return: Option<AmendedReturn> =
            Corrected::of(all.case, all.law, all.outcome, all.year).map(|one| AmendedReturn::of(&one));
    }
}

contract! {
    /// A numbered line.
    struct Line "line" of (figure: &Figure, all: &Context<'_>) besides of_kinds {
        line: Number = Number(figure.place.line.to_string());
        /// What the row is about; null where the line is the return's. Year, line and this make the line's place:
        /// `2025:101@battery.2`. Of the lines 651 to 658 it is a year to come.
        of: Option<String> = match &figure.place.of {
            Subject::Return => None,
            of => Some(of.to_string()),
        };
        label: String = data::label(figure);
        kind: LineKind = figure.place.line.kind();
        /// As printed. Money has two decimals and no separators, rounded half up (a tie away from zero); a share is a
        /// percentage with its sign, with one decimal where more than eight would be needed; a truth value is yes or no.
        value: String = figure.value.plain();
        /// The arithmetic in words.
        how: String = figure.how.clone();
        expr: Expression = Expression::of(&figure.expr, all);
        used: Vec<Operand> = figure.used.iter().map(|used| Operand::of(used, all)).collect();
        official: Vec<Official> = references(all.outcome, figure)
            .iter()
            .filter(|one| !one.within && one.entry != Entry::Cost)
            .map(Official::of)
            .collect();
        authority: Vec<String> = figure.authority.clone();
        rulings: Vec<Decision> = figure.rulings().into_iter().map(|one| Decision::of(one, all)).collect();
    }
}

/// Asks for the form of a value where a line is of a kind.
fn of_kinds() -> Json {
    let of_kind = |kind: LineKind, pattern: &str| {
        json!({
            "if": {"properties": {"kind": {"const": kind.word()}}},
            "then": {"properties": {"value": {"pattern": pattern}}},
        })
    };
    json!({"allOf": [
        of_kind(LineKind::Money, r"^-?[0-9]+\.[0-9]{2}$"),
        of_kind(LineKind::Rate, r"^[0-9]+(\.[0-9]+)?%$"),
        of_kind(LineKind::Quantity, EXACT),
        of_kind(LineKind::YesNo, "^(yes|no)$"),
    ]})
}

contract! {
    /// What the line was made of, in the order it was used, each with its exact value: amounts and quantities as
    /// decimals, a share as a factor (0.3 for 30%). Where a division does not come out, 28 significant digits stand. Of an
    /// expression with a choice only what was chosen is listed.
    enum Operand "used" {
        Figure "figure": UsedFigure;
        Law "law": UsedLaw;
        Fact "fact": Fact;
    }
}

impl Operand {
    fn of(used: &Used, all: &Context<'_>) -> Operand {
        match used {
            Used::Figure(place, value) => Operand::Figure(UsedFigure::of(place, value)),
            Used::Law(year, key, value) => Operand::Law(UsedLaw::of(*year, *key, value)),
            Used::Fact(fact) => Operand::Fact(Fact::of(fact, all)),
        }
    }
}

contract! {
    struct UsedFigure of (at: &Place, value: &Value) {
        place: Place = at.clone();
        kind: LineKind = value.kind();
        value: String = exact(value);
    }
}

contract! {
    struct UsedLaw of (of_year: TaxYear, of_key: LawKey, found: &Value) {
        year: TaxYear = of_year;
        key: LawKey = of_key;
        kind: LineKind = found.kind();
        value: String = exact(found);
    }
}

contract! {
    struct OfLaw of (of_year: TaxYear, of_key: LawKey, found: Option<Value>) {
        year: TaxYear = of_year;
        key: LawKey = of_key;
        kind: Maybe<LineKind> = Maybe(found.as_ref().map(Value::kind));
        value: Maybe<String> = Maybe(found.as_ref().map(exact));
    }
}

contract! {
    /// A value of the case and where it stands.
    struct Fact "fact" of (fact: &CaseRef, all: &Context<'_>) {
        /// Keys joined by points; entries of lists by number from 1.
        path: String = fact.path.clone();
        words: String = fact.words.clone();
        kind: LineKind = fact.value.kind();
        /// Exact: amounts and quantities as decimals, a share as a factor (0.3 for 30%).
        value: String = exact(&fact.value);
        /// The key of the paper that shows it.
        evidence: Option<String> = fact.evidence.clone();
        at: At = At::start(fact.span, all.sources);
    }
}

contract! {
    /// A decision of law on an amount.
    struct Decision "ruling" of (ruling: &Ruling, all: &Context<'_>) {
        counts: bool = ruling.counts;
        because: String = ruling.because.clone();
        authority: Vec<String> = ruling.authority.clone();
        /// Whether the law is settled here.
        settled: bool = ruling.settled;
        /// Where the case chooses it.
        chosen: Option<At> = ruling.chosen.map(|span| At::start(span, all.sources));
    }
}

contract! {
    /// A line of an official form.
    struct Official "official" of (reference: &OfficialRef) {
        form: String = reference.form.to_string();
        line: String = reference.line.to_string();
        /// How the official line is known.
        read: LineRead = reference.read;
    }
}

contract! {
    /// How a line is computed. Another program can compute it again.
    enum Expression "expr" {
        /// A fact of the case: its value.
        Fact "fact": Fact;
        /// A value of the law of a year, with the name that the year's law gives it. Its number is left out where the year
        /// has none.
        Law "law": OfLaw;
        /// A number that belongs to a unit of measure, such as the two halves of a kilowatt.
        Number "number": OfUnit;
        /// Another figure: its exact value. A place that is not there is a mistake, never zero.
        Figure "figure": Place;
        /// Rows in the order of their amounts, the largest first; equal amounts keep the order in which they are listed
        /// here. The amounts are those of `rows` or, where `by` lists places, of `by`, one for each row. `nth` is the
        /// amount of the n-th row, counted from 1, and nothing where there are fewer; `after` is the sum of the rows after
        /// the n-th.
        Rows "rows": Rows;
        /// The words of the n-th row, counted from 1, in the order that `rows` explains; `words` has one entry for each row.
        WordsOfRow "words_of_row": WordsOfRow;
        /// The sum; of nothing it is zero.
        Sum "sum": Vec<Expression>;
        /// The first less the second; it may be negative.
        Less "less": Box<[Expression; 2]>;
        /// The product of the two.
        Times "times": Box<[Expression; 2]>;
        /// `whole` times `part`, divided by `of`, not rounded; nothing where `of` is zero.
        Share "share": Box<Share>;
        /// The smallest of them.
        Smaller "smaller": Vec<Expression>;
        /// The inner value, or zero where that is negative.
        NotBelowZero "not_below_zero": Box<Expression>;
        /// `above` where `amount` is greater than `limit`, else `otherwise`.
        Passing "passing": Box<Passing>;
        /// The value of `of`, rounded half up (a tie away from zero): to whole dollars where an amount enters an official
        /// line (26 U.S.C. 6102), to cents where a product or a share becomes money, or to tenths of a percent, which are
        /// thousandths.
        Round "round": Box<Rounded>;
        /// The value of `of` where the ruling counts it, else zero.
        Ruled "ruled": Box<Ruled>;
        /// An answer read from facts: its value stands here.
        Answer "answer": Answer;
    }
}

impl Expression {
    fn of(expr: &Expr, all: &Context<'_>) -> Expression {
        let part = |expr: &Expr| Expression::of(expr, all);
        let parts = |parts: &[Expr]| parts.iter().map(part).collect::<Vec<_>>();
        let facts = |facts: &[CaseRef]| facts.iter().map(|fact| Fact::of(fact, all)).collect::<Vec<_>>();
        let two = |a: &Expr, b: &Expr| Box::new([part(a), part(b)]);
        match expr {
            Expr::Fact(fact) => Expression::Fact(Fact::of(fact, all)),
            Expr::Law(year, key) => Expression::Law(OfLaw::of(*year, *key, law_value(all.law, *year, *key))),
            Expr::Number(number, unit) => Expression::Number(OfUnit::of(number.to_string(), unit)),
            Expr::Figure(place) => Expression::Figure(place.clone()),
            Expr::Rows { rows, by, pick } => Expression::Rows(Rows::of(rows, by, *pick)),
            Expr::WordsOfRow { rows, by, words, nth } => {
                Expression::WordsOfRow(WordsOfRow::of(rows, by, facts(words), *nth))
            }
            Expr::Sum(all) => Expression::Sum(parts(all)),
            Expr::Less(a, b) => Expression::Less(two(a, b)),
            Expr::Times(a, b) => Expression::Times(two(a, b)),
            Expr::Share { whole, part: of_part, of } => {
                Expression::Share(Box::new(Share::of(part(whole), part(of_part), part(of))))
            }
            Expr::Smaller(all) => Expression::Smaller(parts(all)),
            Expr::NotBelowZero(inner) => Expression::NotBelowZero(Box::new(part(inner))),
            Expr::Passing { amount, limit, above, otherwise } => Expression::Passing(Box::new(Passing::of(
                part(amount),
                part(limit),
                part(above),
                part(otherwise),
            ))),
            Expr::Round(rounding, inner) => Expression::Round(Box::new(Rounded::of(*rounding, part(inner)))),
            Expr::Ruled(ruling, inner) => {
                Expression::Ruled(Box::new(Ruled::of(Decision::of(ruling, all), part(inner))))
            }
            Expr::Answer { value, because, from } => {
                Expression::Answer(Answer::of(value, because, facts(from)))
            }
        }
    }
}

contract! {
    struct OfUnit of (number: String, of_unit: &str) {
        value: Exact = Exact(number);
        unit: String = of_unit.to_string();
    }
}

contract! {
    struct Rows of (places: &[Place], order: &[Place], picked: Pick) {
        rows: Vec<Place> = places.to_vec();
        by: Vec<Place> = order.to_vec();
        pick: Pick = picked;
        n: usize = match picked {
            Pick::Nth(n) | Pick::After(n) => n.into(),
        };
    }
}

contract! {
    struct WordsOfRow of (places: &[Place], order: &[Place], of_rows: Vec<Fact>, nth: u8) {
        rows: Vec<Place> = places.to_vec();
        by: Vec<Place> = order.to_vec();
        words: Vec<Fact> = of_rows;
        n: Nth = Nth(nth);
    }
}

contract! {
    struct Share of (all: Expression, one: Expression, by: Expression) {
        whole: Expression = all;
        part: Expression = one;
        of: Expression = by;
    }
}

contract! {
    struct Passing of (compared: Expression, with: Expression, then: Expression, or: Expression) {
        amount: Expression = compared;
        limit: Expression = with;
        above: Expression = then;
        otherwise: Expression = or;
    }
}

contract! {
    struct Rounded of (rounding: Rounding, inner: Expression) {
        to: Rounding = rounding;
        of: Expression = inner;
    }
}

contract! {
    struct Ruled of (decision: Decision, inner: Expression) {
        ruling: Decision = decision;
        of: Expression = inner;
    }
}

contract! {
    struct Answer of (answer: &Value, why: &str, facts: Vec<Fact>) {
        kind: LineKind = answer.kind();
        value: String = exact(answer);
        because: String = why.to_string();
        from: Vec<Fact> = facts;
    }
}

contract! {
    /// The papers that prove an item of the year or an earlier one.
    struct Papers "papers" of (one: &ItemPapers) {
        item: String = one.item.to_string();
        year: TaxYear = one.year;
        /// At least until this day; null where there is no end yet, or where they stay with the home.
        keep_until: Option<Date> = one.keep.day();
        because: String = one.keep.because();
        papers: Vec<OnePaper> = one.papers.iter().map(OnePaper::of).collect();
    }
}

contract! {
    struct OnePaper of (one: &Paper) {
        paper: String = one.what.clone();
        /// The keys of the papers that show it; empty where it is missing.
        on_file: Vec<String> = one.on_file.iter().map(|key| key.to_string()).collect();
        /// It is kept as long as the home is owned, and longer.
        with_home: bool = one.with_home;
        source: Vec<String> = one.source.clone();
        standing: &'static str = one.standing.label();
    }
}

/// An exact number: no exponent, no separators.
const EXACT: &str = r"^-?[0-9]+(\.[0-9]+)?$";

/// A number of a unit of measure.
#[derive(Clone, Debug, PartialEq)]
struct Exact(String);

/// The number of a line.
#[derive(Clone, Debug, PartialEq)]
struct Number(String);

/// Which of some rows, counted from one.
#[derive(Clone, Debug, PartialEq)]
struct Nth(u8);

values! {
    Place: one => one.to_string(), {"type": "string", "pattern": "^[0-9]{4}:[0-9]{3,4}(@[a-z0-9.-]+)?$"};
    Exact: one => one.0, {"type": "string", "pattern": EXACT};
    Number: one => one.0, {"type": "string", "pattern": "^[0-9]{3,4}$"};
    Nth: one => one.0, {"type": "integer", "minimum": 1};
}

choice! {
    LineKind {
        LineKind::Money => "money",
        LineKind::Rate => "rate",
        LineKind::Quantity => "quantity",
        LineKind::YesNo => "yes_no",
        LineKind::Text => "text",
    }
}

choice! {
    Pick {
        Pick::Nth(_) => "nth",
        Pick::After(_) => "after",
    }
}

choice! {
    Rounding {
        Rounding::EntryInWholeDollars => "whole_dollars",
        Rounding::ProductInCents => "cents",
        Rounding::ShareInTenthsOfPercent => "tenths_of_percent",
    }
}

/// Writes a value exactly: numbers as decimal strings, shares as factors.
fn exact(value: &Value) -> String {
    match value {
        Value::Money(money) => money.decimal().to_string(),
        Value::Rate(rate) => rate.to_string(),
        Value::Quantity(quantity) => quantity.0.to_string(),
        Value::YesNo(_) => value.plain(),
        Value::Text(text) => text.clone(),
    }
}
