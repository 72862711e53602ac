//! How far a return has come, and what follows it, on the date of the papers.
//!
//! Comes in: a case, its figures, and a date. Goes out: the stage of a year's return, the stage of the return after
//! it, whether they are due already, and whether the time for a claim is over. What letters and worksheet say depends
//! on these alone, so they are decided here, once: every boolean about them is derived from [`Status`]. No figure
//! depends on any of it.

use super::as_filed;
use super::window;
use crate::case::{Case, Stage, TaxReturn, TaxYear};
use crate::credit::evaluate::Figures;
use crate::credit::evaluate::credits;
use crate::credit::outcome::Outcome;
use crate::credit::papers;
use jiff::civil::Date;

/// How far the return of a year has come.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum ReturnStage {
    /// The case has no return for the year.
    NotInCase,
    /// It is expected: nothing of it has been made, and its figures are estimates.
    Expected,
    /// It is being prepared.
    InPreparation,
    /// It has been filed, and shows what is computed.
    FiledAsComputed,
    /// It has been filed, and the case does not say what it shows of a credit that is computed.
    FiledUnsaid,
    /// It has been filed, and shows another amount than is computed.
    FiledOtherwise,
    /// It has been filed, and amended since to what is computed.
    Amended,
}

impl ReturnStage {
    /// Every stage, in the order in which a return goes through them.
    pub const ALL: [ReturnStage; 7] = [
        ReturnStage::NotInCase,
        ReturnStage::Expected,
        ReturnStage::InPreparation,
        ReturnStage::FiledAsComputed,
        ReturnStage::FiledUnsaid,
        ReturnStage::FiledOtherwise,
        ReturnStage::Amended,
    ];

    /// Returns the word by which tables of tests and people call it.
    pub fn word(self) -> &'static str {
        match self {
            ReturnStage::NotInCase => "not_in_case",
            ReturnStage::Expected => "expected",
            ReturnStage::InPreparation => "in_preparation",
            ReturnStage::FiledAsComputed => "filed_as_computed",
            ReturnStage::FiledUnsaid => "filed_unsaid",
            ReturnStage::FiledOtherwise => "filed_otherwise",
            ReturnStage::Amended => "amended",
        }
    }

    /// Says whether the return has been filed, as it should be or not.
    pub fn is_filed(self) -> bool {
        self >= ReturnStage::FiledAsComputed
    }

    /// Says whether the return is still to come: expected or in preparation.
    pub fn is_to_come(self) -> bool {
        matches!(self, ReturnStage::Expected | ReturnStage::InPreparation)
    }

    /// Says whether nobody has begun the return, as far as the case tells.
    pub fn is_not_begun(self) -> bool {
        matches!(self, ReturnStage::NotInCase | ReturnStage::Expected)
    }
}

/// Whether a filed return can still be amended for a refund, on the date of the papers.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ClaimWindow {
    /// The return has not been filed, so there is nothing to amend.
    NotFiled,
    /// A claim is in time, up to this day at least.
    Open(Date),
    /// The time ended on this day.
    Closed(Date),
    /// The case gives no day of filing to count from, and the earliest day on which the time can have ended is past.
    Unknown,
}

impl ClaimWindow {
    /// Returns the word by which tables of tests and people call it.
    pub fn word(self) -> &'static str {
        match self {
            ClaimWindow::NotFiled => "not_filed",
            ClaimWindow::Open(_) => "open",
            ClaimWindow::Closed(_) => "closed",
            ClaimWindow::Unknown => "unknown",
        }
    }
}

/// The stage of a year's return and of what follows it, on the date of the papers.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Status {
    /// The tax year.
    pub year: TaxYear,
    /// How far its return has come.
    pub stage: ReturnStage,
    /// The day it is due, an extension included.
    pub due: Date,
    /// That day lies before the date of the papers.
    pub due_is_past: bool,
    /// Whether it can still be amended for a refund.
    pub window: ClaimWindow,
    /// How far the return of the year after has come.
    pub next: ReturnStage,
    /// The day that one is due, an extension included.
    pub next_due: Date,
    /// That day lies before the date of the papers.
    pub next_due_is_past: bool,
}

/// Returns the stage of a year's return and of what follows it, on the date of the papers.
pub fn status(case: &Case, outcome: &Outcome, year: TaxYear, dated: Date) -> Status {
    let (due, next_due) = (due(case, year), due(case, year.after()));
    Status {
        year,
        stage: stage(case, &outcome.figures, year),
        due,
        due_is_past: due < dated,
        window: claim_window(case, year, dated),
        next: stage(case, &outcome.figures, year.after()),
        next_due,
        next_due_is_past: next_due < dated,
    }
}

/// Returns how far the return of a year has come.
pub fn stage(case: &Case, figures: &Figures, year: TaxYear) -> ReturnStage {
    let Some(one) = case.tax_return(year) else { return ReturnStage::NotInCase };
    match one.stage.value {
        Stage::Projected => ReturnStage::Expected,
        Stage::Draft => ReturnStage::InPreparation,
        Stage::Amended => ReturnStage::Amended,
        Stage::Filed if credits::shown().any(|shown| as_filed::differs(shown, figures, year)) => {
            ReturnStage::FiledOtherwise
        }
        Stage::Filed if credits::shown().any(|shown| as_filed::is_unsaid(shown, one, figures)) => {
            ReturnStage::FiledUnsaid
        }
        Stage::Filed => ReturnStage::FiledAsComputed,
    }
}

/// Says whether a return has been filed, amended since or not; a mere fact of the case, where no figure is at hand.
pub fn is_filed(one: &TaxReturn) -> bool {
    matches!(one.stage.value, Stage::Filed | Stage::Amended)
}

/// Says whether a return has been filed and not been amended since, so that it shows what was filed at first.
pub fn stands_as_filed(one: &TaxReturn) -> bool {
    one.stage.value == Stage::Filed
}

/// Returns whether the return of a year can still be amended for a refund, on the date of the papers.
pub fn claim_window(case: &Case, year: TaxYear, dated: Date) -> ClaimWindow {
    if !case.tax_return(year).is_some_and(is_filed) {
        return ClaimWindow::NotFiled;
    }
    let window = window::window(case, year);
    match (dated <= window.closes, window.from) {
        (true, _) => ClaimWindow::Open(window.closes),
        (false, window::From::DueAsFar(_)) => ClaimWindow::Unknown,
        (false, _) => ClaimWindow::Closed(window.closes),
    }
}

/// Returns the day the return of a year is due, an extension included.
pub fn due(case: &Case, year: TaxYear) -> Date {
    let extended = case.tax_return(year).and_then(|one| one.extended_to.as_ref());
    extended.map_or_else(|| papers::due_date(case, year), |extended| extended.value)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::credit::sample::household;
    use jiff::civil::date;
    use std::path::{Path, PathBuf};

    /// The case's `stage` is read where the case is read, checked, shown and asked for; what follows from it is decided
    /// here alone.
    #[test]
    fn no_other_module_asks_the_stage_of_a_return() {
        fn files(folder: &Path) -> Vec<PathBuf> {
            let entries =
                std::fs::read_dir(folder).expect("a folder").map(|one| one.expect("an entry").path());
            entries.flat_map(|path| if path.is_dir() { files(&path) } else { vec![path] }).collect()
        }
        let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
        let mut asked = Vec::new();
        for path in files(&root) {
            let name = path.strip_prefix(&root).expect("below it").display().to_string();
            let text = std::fs::read_to_string(&path).expect("a text");
            // In the case itself it is a word like others; `begin` asks for it before there is a case.
            let is_ours =
                name == "credit/returns/stage.rs" || name.starts_with("case/") || name.starts_with("begin/");
            let only_the_word = text.replace("stage.value.label()", "").replace("stage.value.word()", "");
            if !is_ours && only_the_word.contains("stage.value") {
                asked.push(name);
            }
        }
        assert_eq!(asked, Vec::<String>::new());
    }

    const ITEM: &str = "property:\n  a:\n    kind: solar_electric\n    home: h\n    part_of: existing_home\n    acquired: bought\n    condition: new\n    installed: 2023-08-01\n    costs: [{item: array, as: equipment, amount: 10000}]\n";

    fn of(returns: &[(i16, &str)], dated: Date) -> Status {
        let returns: String = returns
            .iter()
            .map(|(year, keys)| {
                format!("  {year}: {{filing_status: single, tax_before_credits: 1000, {keys}}}\n")
            })
            .collect();
        let (case, outcome) = household(&format!("{ITEM}returns:\n{returns}"));
        status(&case, &outcome, TaxYear(2023), dated)
    }

    /// 10,000 at 30% is 3,000; the tax takes 1,000, and 2,000 goes on. Worked by hand.
    #[test]
    fn a_return_is_filed_as_computed_where_all_that_is_computed_is_said_and_agrees() {
        use ReturnStage::*;
        for (keys, stage) in [
            ("stage: projected", Expected),
            ("stage: draft", InPreparation),
            ("filed: 2024-03-01, claimed: {clean: 1000, carried_out: 2000}", FiledAsComputed),
            ("filed: 2024-03-01, claimed: {clean: 999, carried_out: 2001}", FiledAsComputed),
            ("filed: 2024-03-01, claimed: {clean: 999, carried_out: 2001}", FiledAsComputed),
            ("filed: 2024-03-01", FiledUnsaid),
            ("filed: 2024-03-01, claimed: {clean: 1000}", FiledUnsaid),
            ("filed: 2024-03-01, claimed: {clean: 1000, carried_out: 0}", FiledOtherwise),
            ("filed: 2024-03-01, claimed: {clean: 700}", FiledOtherwise),
            ("stage: amended, filed: 2024-03-01, claimed: {clean: 0, carried_out: 0}", Amended),
        ] {
            assert_eq!(of(&[(2023, keys)], date(2026, 11, 25)).stage, stage, "{keys}");
        }
        let (case, outcome) = household(ITEM);
        assert_eq!(status(&case, &outcome, TaxYear(2023), date(2026, 1, 1)).stage, NotInCase);
    }

    #[test]
    fn what_follows_and_its_due_date_are_told_from_the_date_of_the_papers() {
        let filed = (2023, "filed: 2024-03-01, claimed: {clean: 1000, carried_out: 2000}");
        let early = of(&[filed], date(2025, 4, 15));
        assert_eq!(
            (early.next, early.next_due, early.next_due_is_past),
            (ReturnStage::NotInCase, date(2025, 4, 15), false)
        );
        assert!(early.due_is_past && early.next.is_not_begun());
        assert!(of(&[filed], date(2025, 4, 16)).next_due_is_past);
        let extended = of(&[filed, (2024, "stage: draft, extended_to: 2025-10-15")], date(2025, 5, 1));
        assert_eq!((extended.next, extended.next_due_is_past), (ReturnStage::InPreparation, false));
        let otherwise = of(&[filed, (2024, "filed: 2025-03-01, claimed: {clean: 0}")], date(2025, 5, 1));
        assert_eq!(otherwise.next, ReturnStage::FiledOtherwise);
    }

    /// 26 U.S.C. 6511(a), 6513(a): three years from April 15, 2024.
    #[test]
    fn without_a_day_of_filing_nobody_knows_that_the_time_is_over() {
        let dated = [date(2027, 4, 15), date(2027, 4, 16)];
        let on = |keys: &str| dated.map(|day| of(&[(2023, keys)], day).window);
        let closes = date(2027, 4, 15);
        assert_eq!(on("filed: 2024-03-01"), [ClaimWindow::Open(closes), ClaimWindow::Closed(closes)]);
        assert_eq!(on("stage: filed"), [ClaimWindow::Open(closes), ClaimWindow::Unknown]);
        assert_eq!(on("stage: draft"), [ClaimWindow::NotFiled; 2]);
    }
}
