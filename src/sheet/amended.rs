//! What Form 1040-X asks for: columns A, B and C of the lines that the credits touch, and the explanation of changes.
//!
//! Comes in: the figures of a year whose filed return differs from them, and the facts of the case. Goes out: tables and
//! a paragraph for the worksheet, and the same as data. Computes nothing: the net of the changes is a figure of the
//! engine. The paragraph says what the case knows; why the filed return differs it can only take from `because`.

use super::official::{self, Direction, Entry, LineRead};
use super::{Writer, row_of};
use crate::case::{Case, Item, Kind, TaxYear};
use crate::contract::contract;
use crate::credit::amend::{Correction, correction, corrections};
use crate::credit::credits::{CREDITS, Carried, CreditLines, Shown};
use crate::credit::evaluate::bound;
use crate::credit::line::{self, Line, Place, Subject};
use crate::credit::qualify::{self, Timing};
use crate::credit::{Outcome, as_filed};
use crate::document::{Align, Block, Row, Table, Width, body, column, plain};
use crate::law::{Credit, Law};
use crate::money::Money;
use crate::wording::{self, capital};

/// The edition whose lines these are, read in the IRS e-file display of January 2026. Lines 6 to 8 are the same in every
/// edition since 2019 (Rev. February 2024 and those before it).
pub const FORM: &str = "Form 1040-X (Rev. December 2025)";

/// A row of the form: its line, what stands there, and our lines of the columns; column B of a row that the credits
/// leave alone has none.
struct FormRow {
    official: &'static str,
    what: String,
    a: Line,
    b: Option<Line>,
    c: Line,
}

impl FormRow {
    /// Returns our lines of the columns, each once.
    fn lines(&self) -> Vec<Line> {
        let mut lines = vec![self.a];
        for line in self.b.into_iter().chain([self.c]) {
            if !lines.contains(&line) {
                lines.push(line);
            }
        }
        lines
    }
}

/// The lines of Form 5695 that the explanation names with their corrected amounts: what was bought, what came in, and
/// what the credit comes to.
const EXPLAINED: &[Line] = &[
    line::INSULATION_CREDIT,
    line::DOOR_CREDIT,
    line::WINDOW_CREDIT,
    line::AIR_CONDITIONER_CREDIT,
    line::FUEL_WATER_HEATER_CREDIT,
    line::FURNACE_CREDIT,
    line::FAN_CREDIT,
    line::BUILDING_PROPERTY_CREDIT,
    line::ENABLING_CREDIT,
    line::AUDIT_CREDIT,
    line::HEAT_PUMP_GROUP_CREDIT,
    line::ENVELOPE_CREDIT,
    line::ENERGY_PROPERTY_CREDIT,
    line::IMPROVEMENT_ALLOWED,
    line::SOLAR_ELECTRIC_COST,
    line::SOLAR_WATER_HEATING_COST,
    line::SMALL_WIND_COST,
    line::GEOTHERMAL_COST,
    line::BATTERY_COST,
    line::CLEAN_BIOMASS_COST,
    line::FUEL_CELL_COST,
    line::CARRIED_IN,
    line::CLEAN_ALLOWED,
    line::CARRIED_OUT,
];

/// What the correction of a year's filed return is written from.
pub(super) struct Corrected<'a> {
    case: &'a Case,
    law: &'a Law,
    outcome: &'a Outcome,
    year: TaxYear,
}

impl Writer<'_> {
    fn corrected(&self) -> Option<Corrected<'_>> {
        Corrected::of(self.case, self.law, self.outcome, self.year)
    }

    /// Writes columns A, B and C of the lines that the credits touch.
    pub(super) fn amended(&self) -> Vec<Block> {
        let Some(corrected) = self.corrected() else { return Vec::new() };
        let cell = |line: Line| self.at(&Place::of_return(self.year, line));
        let rows = corrected.rows().into_iter().map(|one| {
            let ours: Vec<String> = one.lines().iter().map(Line::to_string).collect();
            let mut change = one.b.map_or_else(|| plain(Money::ZERO.grouped()), cell);
            change.iter_mut().for_each(|run| run.text = in_parentheses(&run.text));
            row_of(vec![
                plain(one.official),
                plain(capital(&one.what)),
                cell(one.a),
                change,
                cell(one.c),
                plain(ours.join(", ")),
            ])
        });
        let rows: Vec<Row> = rows.collect();
        vec![Block::Table(Table {
            summary: format!("Lines of {FORM}: as filed, net change, correct amount"),
            columns: vec![
                column("Line", Width::Content, Align::Left),
                column("What it is", Width::Parts(5), Align::Left),
                column("A. As filed", Width::Parts(2), Align::Right),
                column("B. Net change", Width::Parts(2), Align::Right),
                column("C. Correct", Width::Parts(2), Align::Right),
                column("Our\u{A0}lines", Width::Content, Align::Left),
            ],
            rows,
        })]
    }

    /// Writes the explanation of changes, ready to paste.
    pub(super) fn explanation(&self) -> Vec<Block> {
        let Some(corrected) = self.corrected() else { return Vec::new() };
        let mut blocks = vec![Block::Paragraph(plain(corrected.explanation()))];
        if corrected.because().is_none() {
            let missing = "The form asks why the return is changed, and the case does not say it. Add the reason: write it under `claimed` as `because`, or by hand.";
            blocks.push(Block::Small(plain(super::unmarked(missing))));
        }
        blocks
    }

    /// Writes what the changes of all filed years come to, where there are several: a change of what one year carries
    /// forward changes the years after it.
    pub(super) fn filed_years(&self) -> Vec<Block> {
        let all = corrections(self.case, self.outcome);
        if all.len() < 2 {
            return Vec::new();
        }
        let some = |amount: Money| if amount.is_zero() { String::new() } else { amount.grouped() };
        let until = |one: &Correction| match (one.amended, one.less_tax.is_zero()) {
            (true, _) => "amended".to_string(),
            (false, true) => String::new(),
            (false, false) => one.window.closes.to_string(),
        };
        let rows = all.iter().map(|one| {
            body(vec![
                one.year.to_string(),
                some(one.less_tax),
                some(one.more_tax),
                some(one.more_carried),
                some(one.less_carried),
                until(one),
            ])
        });
        let table = Table {
            summary: "What the changes of each filed return come to".to_string(),
            columns: vec![
                column("Tax year", Width::Content, Align::Left),
                column("Less tax", Width::Parts(1), Align::Decimal),
                column("More tax", Width::Parts(1), Align::Decimal),
                column("More carried forward", Width::Parts(1), Align::Decimal),
                column("Less carried forward", Width::Parts(1), Align::Decimal),
                column("Refund to be claimed until", Width::Content, Align::Left),
            ],
            rows: rows.collect(),
        };
        vec![Block::Table(super::without_empty_columns(table))]
    }
}

contract! {
    /// What Form 1040-X asks for, where the filed return differs from the figures and the case says what it shows: column
    /// A as filed, B the net change, C the correct amount. The preparer decides whether it is filed.
    pub(super) struct AmendedReturn "amended_return" of (corrected: &Corrected<'_>) {
        form: &'static str = FORM;
        lines: Vec<Change> = corrected.rows().into_iter().map(|row| Change::of(row, corrected)).collect();
        /// The explanation of changes, ready to paste.
        explanation: String = corrected.explanation();
        /// Whether the case says why the filed return differs, and so the explanation does.
        reason_given: bool = corrected.because().is_some();
    }
}

contract! {
    struct Change of (row: FormRow, corrected: &Corrected<'_>) {
        /// The line of the form; empty for a part of the line above it, `none` for what has no line there.
        line: &'static str = row.official;
        what: String = row.what.clone();
        a: Money = corrected.some(row.a);
        b: Money = row.b.map_or(Money::ZERO, |line| corrected.some(line));
        c: Money = corrected.some(row.c);
        /// The lines of this file that hold the amounts.
        ours: Vec<Place> = row.lines().into_iter().map(|line| Place::of_return(corrected.year, line)).collect();
    }
}

impl<'a> Corrected<'a> {
    /// Returns it; none where nothing is to be corrected, or where the case does not say enough of what was filed.
    pub(super) fn of(
        case: &'a Case,
        law: &'a Law,
        outcome: &'a Outcome,
        year: TaxYear,
    ) -> Option<Corrected<'a>> {
        let one = Corrected { case, law, outcome, year };
        one.at(line::CHANGE_CREDITS)?;
        correction(case, &outcome.figures, year).map(|_| one)
    }

    fn at(&self, line: Line) -> Option<Money> {
        self.outcome.figures.money(&Place::of_return(self.year, line))
    }

    fn some(&self, line: Line) -> Money {
        self.at(line).unwrap_or(Money::ZERO)
    }

    fn called(&self, credit: Credit) -> &str {
        self.law.as_of(self.year).map_or(credit.called(), |law| law.called(credit))
    }

    /// Returns the name of a credit in full, as its form has it.
    fn named(&self, credit: Credit) -> &str {
        self.law.as_of(self.year).map_or(credit.called(), |law| law.name(credit))
    }

    /// Returns the rows of the form. What stands within line 7 stands beneath it.
    fn rows(&self) -> Vec<FormRow> {
        let row = |official, what: &str, a, b, c| FormRow { official, what: what.to_string(), a, b, c };
        let mut rows = vec![
            row("6", "tax before these credits", line::TAX, None, line::TAX),
            row(
                "7",
                "nonrefundable credits",
                line::CREDITS_AS_FILED,
                Some(line::CHANGE_CREDITS),
                line::CREDITS_CORRECT,
            ),
        ];
        let within = |what: &str| format!("of these: {what}");
        for of in &CREDITS {
            let Shown { filed, change, computed: correct, .. } = of.shown;
            if !self.some(filed).is_zero() || !self.some(correct).is_zero() {
                rows.push(row("", &within(self.called(of.credit)), filed, Some(change), correct));
            }
        }
        if !self.some(line::OTHER_CREDITS).is_zero() {
            let others = within("other credits of the case");
            rows.push(row("", &others, line::OTHER_CREDITS, None, line::OTHER_CREDITS));
        }
        rows.push(row(
            "8",
            "line 6 less line 7",
            line::TAX_AS_FILED,
            Some(line::CHANGE_TAX),
            line::TAX_CORRECT,
        ));
        if self.at(line::CHANGE_CARRIED_OUT).is_some_and(|change| !change.is_zero()) {
            let what = format!("credit carried forward to {} (Form 5695 only)", self.year.after());
            let [a, b, c] = [line::FILED_CARRIED_OUT, line::CHANGE_CARRIED_OUT, line::TO_NEXT_YEAR];
            rows.push(row("none", &what, a, Some(b), c));
        }
        rows
    }

    /// Returns the preparer's own words on why the filed return differs.
    fn because(&self) -> Option<&str> {
        let claimed = self.case.tax_return(self.year)?.claimed.as_ref()?;
        claimed.because.as_ref().map(|because| because.value.trim())
    }

    /// Returns the explanation of changes: of each credit that changes the amounts, on what it is figured, what the
    /// corrected Form 5695 shows, and the net.
    fn explanation(&self) -> String {
        let mut said = vec![format!("Tax year {}: the residential energy credits are corrected.", self.year)];
        if let Some(because) = self.because() {
            said.push(format!("Reason: {}.", because.trim_end_matches('.')));
        }
        for of in &CREDITS {
            if !self.some(of.shown.change).is_zero() || self.moved(of).is_some() {
                said.extend(self.of_credit(of));
            }
        }
        let net = self.some(line::CHANGE_CREDITS);
        said.push(match changed_by(net) {
            Some(words) => {
                format!("Net change of the nonrefundable credits on line 7: {words}.")
            }
            None => "The nonrefundable credits on line 7 do not change.".to_string(),
        });
        said.push(format!("The corrected Form 5695 for {} is attached.", self.year));
        said.join(" ")
    }

    /// Returns what is carried forward of a credit, where it is another amount than was filed.
    fn moved(&self, of: &CreditLines) -> Option<Shown> {
        of.carried.map(|carried| carried.shown).filter(|shown| !self.some(shown.change).is_zero())
    }

    /// Explains the change of one credit.
    fn of_credit(&self, of: &CreditLines) -> Vec<String> {
        let (year, credit) = (self.year, of.credit);
        let called = capital(self.named(credit));
        let amounts = |shown: Shown| {
            let words = changed_by(self.some(shown.change));
            let (filed, correct) = (self.some(shown.filed).spoken(), self.some(shown.computed).spoken());
            match words {
                Some(words) => format!("{filed} as filed, {correct} as corrected, {words}"),
                None => format!("{correct}, as filed"),
            }
        };
        let mut said = vec![format!("{called}: {}.", amounts(of.shown))];
        if let Some(shown) = self.moved(of) {
            said.push(format!("Credit carried forward to {}: {}.", year.after(), amounts(shown)));
        }
        let items = self.items(credit);
        if !items.is_empty() {
            said.push(format!("It is figured on: {}.", items.join("; ")));
        }
        said.extend(self.limits(of));
        said.extend(of.carried.and_then(|carried| self.carried_in(carried)));
        let lines = self.form_lines(of);
        if !lines.is_empty() {
            said.push(format!("Form 5695 as corrected: {}.", lines.join("; ")));
        }
        said
    }

    /// Names the property on which a credit is figured: kind, when it was complete, qualified cost.
    fn items(&self, credit: Credit) -> Vec<String> {
        let of_credit = |item: &&Item| {
            let kinds = self.law.year(self.year).map(|law| &law.kinds);
            kinds.and_then(|kinds| kinds.get(&item.kind.value)).is_some_and(|law| law.credit == credit)
        };
        let told = |item: &Item| {
            let place = Place::of_item(self.year, line::ITEM_QUALIFIED, &item.key.value);
            let cost = self.outcome.figures.money(&place).filter(|cost| !cost.is_zero())?;
            let home = self.case.home(&item.home.value)?;
            let when = match qualify::timing(item, home) {
                Timing::On(day) => {
                    let what = match (item.kind.value, &item.installed) {
                        (Kind::HomeEnergyAudit, _) => "paid",
                        (_, Some(installed)) if installed.value == day => "installation completed",
                        _ => "home first used",
                    };
                    format!(", {what} {}", wording::day(day))
                }
                _ => String::new(),
            };
            let label = item.kind.value.label();
            Some(format!("{label}{when}, qualified cost {}", cost.spoken()))
        };
        self.case.property.iter().filter(of_credit).filter_map(told).collect()
    }

    /// Says which limits of the law made a credit smaller.
    fn limits(&self, of: &CreditLines) -> Option<String> {
        let figures = &self.outcome.figures;
        let told = figures.of_year(self.year).into_iter().filter_map(|figure| {
            let limited = figure.place.line.sheet() == of.sheet && figure.place.of == Subject::Return;
            let bound = limited.then(|| bound(figure, self.law, figures)).flatten()?;
            let what = match figure.place.line {
                line if line == of.allowed => "the tax limit".to_string(),
                _ => figure.label.split(": credit").next().unwrap_or(&figure.label).to_string(),
            };
            Some(format!("{what}, {} instead of {}", bound.limit.spoken(), bound.before.spoken()))
        });
        let told: Vec<String> = told.collect();
        (!told.is_empty()).then(|| format!("Limits applied: {}.", told.join("; ")))
    }

    /// Says what is carried in, and whether the form of the year before showed another amount.
    fn carried_in(&self, lines: Carried) -> Option<String> {
        let carried = self.at(lines.into).filter(|amount| !amount.is_zero())?;
        let before = self.year.before();
        let filed = self.outcome.figures.money(&Place::of_return(before, lines.shown.filed));
        let told = match filed.filter(|filed| as_filed::differ(*filed, carried)) {
            Some(filed) => format!(", where Form 5695 of {before} as filed shows {}", filed.spoken()),
            None => String::new(),
        };
        Some(format!("Carried in from {before}: {}{told}.", carried.spoken()))
    }

    /// Names the lines of the corrected Form 5695, with their amounts, in the order of the form. A line that was not read
    /// in print is not named, for the paragraph goes to the IRS.
    fn form_lines(&self, of: &CreditLines) -> Vec<String> {
        let Some(map) = official::map(self.year) else { return Vec::new() };
        let form = self.outcome.form(self.year);
        let blocks = map.blocks.iter().filter(|block| {
            block.form.contains("Form 5695")
                && !block.form.contains("Worksheet")
                && block.direction == Direction::Enter
                && block.filed_with.contains(&form)
        });
        let lines = blocks.flat_map(|block| &block.lines).filter(|one| {
            one.place.entry == Entry::Amount
                && one.place.read == LineRead::Printed
                && !one.place.within
                && one.of() == Subject::Return
                && Line(one.ours).sheet() == of.sheet
                && EXPLAINED.contains(&Line(one.ours))
        });
        lines
            .filter_map(|one| {
                let amount = self.at(Line(one.ours)).filter(|amount| !amount.is_zero())?;
                Some(format!("line {}, {}", one.place.line, amount.spoken()))
            })
            .collect()
    }
}

/// Says by how much an amount changes; nothing where it does not.
fn changed_by(change: Money) -> Option<String> {
    let words = change.spoken();
    match (change.is_zero(), words.strip_prefix('\u{2212}')) {
        (true, _) => None,
        (false, Some(amount)) => Some(format!("a decrease of {amount}")),
        (false, None) => Some(format!("an increase of {words}")),
    }
}

/// Writes a decrease as the form wants it.
fn in_parentheses(amount: &str) -> String {
    amount.strip_prefix('\u{2212}').map_or_else(|| amount.to_string(), |amount| format!("({amount})"))
}
