//! The named facts that letters and layouts may use: booleans for `when:` and `show:`, amounts for the words.
//!
//! Comes in: the figures of a case and one of its years. Goes out: [`Facts`]. There is no third expression
//! language: a layout or a letter names a fact, nothing more. The names are a contract (`kit: 1`).

use crate::case::{Case, IncentiveKind, TaxYear};
use crate::credit::evaluate::Figure;
use crate::credit::evaluate::Value;
use crate::credit::evaluate::credits;
use crate::credit::evaluate::line::{self, Line, Place, Subject};
use crate::credit::outcome::Outcome;
use crate::credit::papers;
use crate::credit::returns::amend;
use crate::credit::returns::as_filed;
use crate::credit::returns::death;
use crate::credit::returns::season;
use crate::credit::returns::stage::{self, ClaimWindow, ReturnStage};
use crate::credit::returns::unclaimed;
use crate::finding::{Finding, Severity};
use crate::law::Law;
use crate::money::Money;
use jiff::civil::Date;
use std::collections::BTreeMap;

/// The facts of one year of a case.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Facts {
    /// Yes or no, by name; every name is always present.
    pub yes: BTreeMap<&'static str, bool>,
    /// Amounts, by name; every name is always present, zero where nothing stands.
    pub amounts: BTreeMap<&'static str, Money>,
}

/// The names of the booleans and what each means.
pub const FACT_NAMES: &[(&str, &str)] = &[
    ("has_property", "property of the case counts, or might have counted, in this year"),
    ("improvement_in_force", "the year's law has a home improvement credit for new property"),
    ("clean_in_force", "the year's law has a clean energy credit for new property"),
    ("has_improvement", "a cost counts toward the home improvement credit, before its limits"),
    ("has_clean", "a cost counts toward the clean energy credit, or credit is carried in"),
    ("earns_improvement", "a home improvement credit is figured before the tax limit"),
    ("earns_clean", "a clean energy credit is figured on this year's property"),
    ("earns_nothing", "no credit is figured this year and none is carried in"),
    ("uses_improvement", "a home improvement credit is allowed this year"),
    ("uses_clean", "a clean energy credit is allowed this year"),
    ("uses_any", "any credit is allowed this year"),
    ("uses_both", "both credits are allowed this year"),
    ("carries_in", "a clean energy credit is carried in from the year before"),
    ("carries_out", "a clean energy credit is carried forward to the next year"),
    ("used_up", "a credit was carried in and nothing of it is left"),
    ("loses_improvement", "part of the home improvement credit is lost to the tax limit"),
    ("limited_by_tax", "the tax left is smaller than a credit"),
    ("limited_by_year", "the yearly limit cuts the home improvement credit"),
    ("has_return", "the case has a return for this year"),
    ("is_filed", "the return has been filed, as computed or otherwise, or amended"),
    ("is_projected", "the return is projected or a draft"),
    ("is_estimate", "the return is projected, so that what rests on it is an estimate"),
    ("is_in_preparation", "the return is a draft"),
    ("filed_as_computed", "the return has been filed, and shows what is computed"),
    (
        "filed_unsaid",
        "the return has been filed, and the case does not say what it shows of a credit that is computed",
    ),
    ("filed_otherwise", "the return has been filed, and shows another amount than is computed"),
    ("filed_other_balance", "the return has been filed, and carries forward another amount than is computed"),
    ("due_is_past", "the day the return is due lies before the date of the papers"),
    (
        "previous_other_balance",
        "the return of the year before, as filed, carries forward another amount than this year starts from",
    ),
    ("next_not_begun", "the next year's return is not in the case, or projected"),
    ("next_in_preparation", "the next year's return is a draft"),
    ("next_filed", "the next year's return has been filed, as computed or otherwise, or amended"),
    (
        "next_filed_otherwise",
        "the next year's return has been filed, and shows another amount than is computed",
    ),
    (
        "enter_next",
        "credit carried forward is to be entered on the next year's return, which has not been filed and is not overdue",
    ),
    (
        "overdue_next",
        "credit carried forward is to be entered on the next year's return, whose due date is past, and the case has none",
    ),
    (
        "agrees_next",
        "credit carried forward, and the next year's return has been filed with what is computed from it",
    ),
    (
        "check_next",
        "credit carried forward, and the next year's return has been filed, without word of what it shows",
    ),
    (
        "differs_next",
        "credit carried forward, and the next year's return has been filed with other amounts than are computed from it",
    ),
    (
        "carried_in_after_death",
        "someone of the return has died, the credit carried in was left by a return of or before that year, and the case does not say which part is the survivor's",
    ),
    ("carried_out_after_death", "the same of the credit that is left for the next year"),
    (
        "ends_at_death",
        "credit is left on the last return of a client who has died, so no later return can use it",
    ),
    ("next_due_is_past", "the day the next year's return is due lies before the date of the papers"),
    ("window_open", "the return has been filed, and a claim for refund is in time on the date of the papers"),
    ("window_closed", "the return has been filed, and the time for a claim has ended"),
    (
        "window_unknown",
        "the return has been filed, and without the day of filing nobody knows whether the time for a claim has ended",
    ),
    ("has_filed_figures", "the case says what the filed return shows"),
    ("differs_from_filed", "a computed amount differs from what was filed, by more than rounding"),
    (
        "differs_by_rounding",
        "a computed amount differs from what was filed, and none of them by more than rounding",
    ),
    ("is_amended", "the return has been amended"),
    (
        "amends",
        "the return has been amended or differs from what is computed by more than rounding, and the case says what was filed",
    ),
    (
        "returns_to_change",
        "a filed return of this year or before shows another tax or carryforward than is computed, and on the date of the papers somebody has to decide whether it is amended",
    ),
    ("has_net_change", "what the changes of the filed return come to together is known"),
    ("owes_more_tax", "the changes of the filed return come to more tax together"),
    (
        "refund_is_over",
        "the changes of the filed return come to less tax together, and the time to claim a refund has passed",
    ),
    (
        "refund_may_be_over",
        "the same, and the case gives no day of filing, so that the time may have passed on the date of the papers",
    ),
    ("moves_carryforward", "another credit is carried forward than the filed return shows"),
    ("credits_pass_tax", "the correct credits of the filed return, others included, pass its tax"),
    (
        "can_amend",
        "the changes of a filed return come to less tax together, and on the date of the papers its year can still be amended",
    ),
    ("is_season", "a credit enters the year, and its return is not in the case yet"),
    ("has_incentives", "an incentive came with this year's property"),
    ("reduces_by_incentives", "an incentive reduces a qualified cost"),
    ("leaves_by_incentives", "an incentive leaves the cost alone"),
    ("has_state_credit", "a state tax credit came with the property"),
    ("excludes_costs", "a cost of this year's property does not count"),
    ("excludes_items", "an item of this year does not qualify"),
    ("ended_work", "work was completed after both credits ended"),
    ("has_judgments", "the preparer has chosen a treatment where the law leaves one open"),
    ("has_unsettled", "a default was used where the law is not settled"),
    ("has_questions", "questions are open"),
    ("has_blocking_questions", "a question is open whose answer could change a figure"),
    ("has_other_questions", "questions are open, and the answer to none of them could change a figure"),
    ("has_joint_owners", "others outside this return paid for the same item"),
    ("has_several_homes", "the case has more than one home"),
    ("has_cents", "the return keeps cents"),
    ("has_maker_codes", "maker's codes must stand on the return"),
    ("starts_from_balance", "the chain starts at a balance the case gives"),
    ("has_chain", "a carryforward row stands in this year"),
    ("has_carryforward", "credit is carried in from the year before, or forward to the next"),
    (
        "has_outlook",
        "what later years would use of the credit is figured from this year on, on an assumption about their tax",
    ),
    (
        "has_outlook_income",
        "the income that would make more tax is figured as well, at the federal rate of the case",
    ),
    ("awaits_incentives", "an incentive beside the price has no day of receipt, and the net cost counts it"),
    (
        "precedes_balance",
        "property was complete before the balance that starts the chain, so the credit used on it before is not in the case",
    ),
    ("has_net_cost", "the net cost can be figured: all the credit used on the property is in the case"),
    ("has_evidence", "the case lists papers"),
    ("has_missing_papers", "the case lists papers, and one that a rule asks for is not on file"),
    ("draft", "the pages are a draft"),
];

/// The names of the amounts, the line each stands on, and nothing else.
pub const AMOUNT_NAMES: &[(&str, Line)] = &[
    ("improvement_figured", line::IMPROVEMENT_BEFORE_LIMIT),
    ("improvement_allowed", line::IMPROVEMENT_ALLOWED),
    ("improvement_lost", line::IMPROVEMENT_LOST),
    ("improvement_under_year_limit", line::GENERAL_BEFORE_CAP),
    ("improvement_after_year_limit", line::GENERAL_CREDIT),
    ("clean_figured", line::CLEAN_RATE_TIMES_COST),
    ("fuel_cell_figured", line::FUEL_CELL_CREDIT),
    ("clean_before_limit", line::CLEAN_BEFORE_LIMIT),
    ("clean_allowed", line::CLEAN_ALLOWED),
    ("carried_in", line::CARRIED_IN),
    ("carried_out", line::CARRIED_OUT),
    ("tax_before_credits", line::TAX),
    ("credits_before_improvement", line::BEFORE_IMPROVEMENT),
    ("credits_before_clean", line::BEFORE_CLEAN),
    ("tax_left_for_improvement", line::IMPROVEMENT_TAX_LEFT),
    ("tax_left_for_clean", line::CLEAN_TAX_LEFT),
    ("basis_added", line::BASIS_ADDED),
    ("basis_increase", line::BASIS_INCREASE),
    ("gross_price", line::GROSS_PRICE),
    ("net_price", line::NET_PRICE),
    ("net_cost_so_far", line::NET_COST_SO_FAR),
    ("net_cost_if_used", line::NET_COST_IF_USED),
    ("filed_improvement", line::FILED_IMPROVEMENT),
    ("filed_clean", line::FILED_CLEAN),
    ("filed_carried_out", line::FILED_CARRIED_OUT),
    ("change_improvement", line::CHANGE_IMPROVEMENT),
    ("change_clean", line::CHANGE_CLEAN),
    ("change_carried_out", line::CHANGE_CARRIED_OUT),
    ("change_credits", line::CHANGE_CREDITS),
    ("credits_above_tax", line::CREDITS_ABOVE_TAX),
];

impl Facts {
    /// Says whether a fact holds; none where there is no such fact.
    pub fn holds(&self, name: &str) -> Option<bool> {
        self.yes.get(name).copied()
    }

    /// Returns an amount by its name.
    pub fn amount(&self, name: &str) -> Money {
        self.amounts.get(name).copied().unwrap_or(Money::ZERO)
    }
}

/// Gathers the facts of a year, as they are on the date of the papers.
pub fn facts(case: &Case, law: &Law, outcome: &Outcome, year: TaxYear, draft: bool, dated: Date) -> Facts {
    let figures = &outcome.figures;
    let amounts: BTreeMap<&'static str, Money> = AMOUNT_NAMES
        .iter()
        .map(|(name, line)| (*name, figures.money(&Place::of_return(year, *line)).unwrap_or(Money::ZERO)))
        .collect();
    let some = |name: &str| !amounts[name].is_zero();
    let of_year = figures.of_year(year);
    let rows = |line: Line| of_year.iter().filter(move |figure| figure.place.line == line);
    let has_line = |line: Line| rows(line).next().is_some();
    let rulings = |line: Line| rows(line).flat_map(|figure| figure.rulings());
    let all_rulings = || of_year.iter().flat_map(|figure| figure.rulings());
    let tax_return = case.tax_return(year);
    let items: Vec<_> = rows(line::ITEM_QUALIFIED)
        .filter_map(|figure| match &figure.place.of {
            Subject::Item(key) => case.item(key),
            _ => None,
        })
        .collect();
    let status = stage::status(case, outcome, year, dated);
    let at = status.stage;
    let earns_clean = of_year.iter().any(|one| line::CLEAN_EARNED.contains(&one.place.line) && is_some(one));
    let incentive = |wanted: &dyn Fn(IncentiveKind) -> bool| {
        items.iter().any(|item| item.incentives.iter().any(|one| wanted(one.kind.value)))
    };
    let differs_from_filed = credits::shown().any(|shown| as_filed::differs(shown, figures, year));
    let other_carried = |year: TaxYear| {
        credits::carried().is_some_and(|(_, carried)| as_filed::differs(carried.shown, figures, year))
    };
    let other_balance = at == ReturnStage::FiledOtherwise && other_carried(year);
    let previous_other_balance = stage::stage(case, figures, year.before()) == ReturnStage::FiledOtherwise
        && other_carried(year.before())
        && case.carried_in(year).is_none_or(|one| one.instead_of_computed.is_none());
    // A balance that no filed return shows, or that starts from such a one, is not simply entered on the next return.
    // Nor is one of which a part may have ended with a person.
    let after_death = some("carried_out") && death::leaves_share_open(case, outcome, year.after(), dated);
    let goes_on = some("carried_out") && !other_balance && !previous_other_balance && !after_death;
    let overdue = status.next.is_not_begun() && status.next_due_is_past;
    let has_filed_figures = tax_return.is_some_and(|one| one.claimed.is_some());
    let open = |one: &unclaimed::Unclaimed| one.year <= year && one.is_known() && one.is_open(dated);
    let open_question = |wanted: &dyn Fn(&Finding) -> bool| {
        outcome.findings.iter().any(|one| one.severity == Severity::Question && wanted(one))
    };
    let precedes_balance = precedes_balance(case, outcome, year);
    let corrections = amend::corrections(case, outcome);
    let correction = corrections.iter().find(|one| one.year == year);
    let less_tax = at == ReturnStage::FiledOtherwise && correction.is_some_and(|one| !one.less_tax.is_zero());
    let to_change = corrections.iter().any(|one| one.year <= year && one.asks_for_decision(dated));
    let lists: [(&'static str, bool); 86] = [
        ("has_property", !items.is_empty()),
        ("improvement_in_force", has_line(line::IMPROVEMENT_BEFORE_LIMIT)),
        ("clean_in_force", line::CLEAN_EARNED.iter().any(|line| has_line(*line))),
        ("has_improvement", of_year.iter().any(|one| is_improvement_cost(one.place.line) && is_some(one))),
        ("has_clean", of_year.iter().any(|one| CLEAN_SOURCE_LINES.contains(&one.place.line) && is_some(one))),
        ("earns_improvement", some("improvement_figured")),
        ("earns_clean", earns_clean),
        ("earns_nothing", !some("improvement_figured") && !some("clean_before_limit") && !earns_clean),
        ("uses_improvement", some("improvement_allowed")),
        ("uses_clean", some("clean_allowed")),
        ("uses_any", some("improvement_allowed") || some("clean_allowed")),
        ("uses_both", some("improvement_allowed") && some("clean_allowed")),
        ("carries_in", some("carried_in")),
        ("carries_out", some("carried_out")),
        ("used_up", some("carried_in") && tax_return.is_some() && !some("carried_out")),
        ("loses_improvement", some("improvement_lost")),
        ("limited_by_tax", tax_return.is_some() && (some("improvement_lost") || some("carried_out"))),
        (
            "limited_by_year",
            amounts["improvement_after_year_limit"] < amounts["improvement_under_year_limit"],
        ),
        ("has_return", tax_return.is_some()),
        ("is_filed", at.is_filed()),
        ("is_projected", at.is_to_come()),
        ("is_estimate", at == ReturnStage::Expected),
        ("is_in_preparation", at == ReturnStage::InPreparation),
        ("filed_as_computed", at == ReturnStage::FiledAsComputed),
        ("filed_unsaid", at == ReturnStage::FiledUnsaid),
        ("filed_otherwise", at == ReturnStage::FiledOtherwise),
        ("filed_other_balance", other_balance),
        ("due_is_past", status.due_is_past),
        ("previous_other_balance", previous_other_balance),
        ("next_not_begun", status.next.is_not_begun()),
        ("next_in_preparation", status.next == ReturnStage::InPreparation),
        ("next_filed", status.next.is_filed()),
        ("next_filed_otherwise", status.next == ReturnStage::FiledOtherwise),
        ("enter_next", goes_on && !status.next.is_filed() && !overdue),
        ("overdue_next", goes_on && overdue),
        (
            "agrees_next",
            goes_on && matches!(status.next, ReturnStage::FiledAsComputed | ReturnStage::Amended),
        ),
        ("check_next", goes_on && status.next == ReturnStage::FiledUnsaid),
        ("differs_next", goes_on && status.next == ReturnStage::FiledOtherwise),
        ("carried_in_after_death", death::leaves_share_open(case, outcome, year, dated)),
        ("carried_out_after_death", after_death),
        ("ends_at_death", some("carried_out") && death::is_last_return(case, year, dated)),
        ("next_due_is_past", status.next_due_is_past),
        ("window_open", matches!(status.window, ClaimWindow::Open(_))),
        ("window_closed", matches!(status.window, ClaimWindow::Closed(_))),
        ("window_unknown", status.window == ClaimWindow::Unknown),
        ("has_filed_figures", has_filed_figures),
        ("differs_from_filed", differs_from_filed),
        ("differs_by_rounding", as_filed::by_rounding_only(figures, year)),
        ("is_amended", at == ReturnStage::Amended),
        ("amends", at == ReturnStage::FiledOtherwise || (at == ReturnStage::Amended && has_filed_figures)),
        ("returns_to_change", to_change),
        ("has_net_change", has_line(line::CHANGE_CREDITS)),
        ("owes_more_tax", correction.is_some_and(|one| !one.more_tax.is_zero())),
        ("refund_is_over", less_tax && matches!(status.window, ClaimWindow::Closed(_))),
        ("refund_may_be_over", less_tax && status.window == ClaimWindow::Unknown),
        ("moves_carryforward", correction.is_some_and(amend::Correction::moves_carryforward)),
        ("credits_pass_tax", some("credits_above_tax")),
        ("can_amend", unclaimed::unclaimed(case, outcome).iter().any(open)),
        ("is_season", tax_return.is_none() && season::entering(case, outcome, year).is_some()),
        ("has_incentives", has_line(line::INCENTIVE_AMOUNT)),
        (
            "reduces_by_incentives",
            rows(line::INCENTIVE_REDUCES).any(|one| one.value != Value::Money(Money::ZERO)),
        ),
        ("leaves_by_incentives", rulings(line::INCENTIVE_REDUCES).any(|ruling| !ruling.counts)),
        ("has_state_credit", incentive(&|kind| kind == IncentiveKind::StateTaxCredit)),
        ("excludes_costs", rulings(line::COST_COUNTED).any(|ruling| !ruling.counts)),
        ("excludes_items", rulings(line::ITEM_QUALIFIED).any(|ruling| !ruling.counts)),
        ("ended_work", outcome.findings.iter().any(|finding| finding.code == "ended")),
        ("has_judgments", all_rulings().any(|ruling| ruling.chosen.is_some())),
        ("has_unsettled", all_rulings().any(|ruling| !ruling.settled)),
        ("has_questions", open_question(&|_| true)),
        ("has_blocking_questions", open_question(&|one| one.blocking)),
        ("has_other_questions", open_question(&|_| true) && !open_question(&|one| one.blocking)),
        ("has_joint_owners", has_line(line::ITEM_OTHERS)),
        ("has_several_homes", case.homes.len() > 1),
        ("has_cents", tax_return.is_some_and(|one| one.rounding == crate::case::RoundingChoice::Cents)),
        ("has_maker_codes", of_year.iter().any(|one| MAKER_CODE_LINES.contains(&one.place.line))),
        ("starts_from_balance", case.carried_in(year).is_some()),
        ("has_chain", has_line(line::ORIGIN_AVAILABLE)),
        ("has_carryforward", some("carried_in") || some("carried_out")),
        ("has_outlook", has_line(line::IF_USED)),
        ("has_outlook_income", has_line(line::MORE_INCOME) || has_line(line::IF_MORE_INCOME)),
        ("awaits_incentives", awaits_incentives(case, year)),
        ("precedes_balance", precedes_balance),
        ("has_net_cost", has_line(line::GROSS_PRICE) && !precedes_balance),
        ("has_evidence", !case.evidence.is_empty()),
        ("has_missing_papers", papers::some_missing(case, law, outcome, year)),
        ("draft", draft),
    ];
    Facts { yes: lists.into_iter().collect(), amounts }
}

/// Says whether property of the case was complete in a year before the balance that starts the chain: what was used of
/// its credit until then stands on returns that the case does not have.
fn precedes_balance(case: &Case, outcome: &Outcome, year: TaxYear) -> bool {
    let starts = || case.carried_in.iter().map(|one| one.year.value).filter(|start| *start <= year);
    let without_return = |one: &TaxYear| case.tax_return(*one).is_none();
    outcome.years.iter().filter(|one| without_return(one) && starts().any(|start| start > **one)).any(|one| {
        let of_year = outcome.figures.of_year(*one);
        of_year.iter().any(|figure| figure.place.line == line::ITEM_QUALIFIED && is_some(figure))
    })
}

/// Says whether an incentive that lines 808 to 810 count has no day of receipt by the end of the year.
fn awaits_incentives(case: &Case, year: TaxYear) -> bool {
    let beside = |one: &crate::case::Incentive| {
        let kind = matches!(
            one.kind.value,
            IncentiveKind::StateTaxCredit
                | IncentiveKind::StateGrant
                | IncentiveKind::LocalGrant
                | IncentiveKind::EnergyCertificate
                | IncentiveKind::Other
        );
        kind && one.received.as_ref().is_none_or(|day| TaxYear::of(day.value) > year)
    };
    let shared = case.shared.iter().filter_map(|shared| match &shared.row {
        crate::case::SharedRow::Incentive(one) => Some(one),
        crate::case::SharedRow::Cost(_) => None,
    });
    case.property.iter().flat_map(|item| &item.incentives).chain(shared).any(beside)
}

/// Says whether a figure is an amount above nothing.
fn is_some(figure: &Figure) -> bool {
    figure.value.money().is_some_and(|amount| !amount.is_zero())
}

/// Says whether a line shows a cost, or a credit on it, of the home improvement credit. What earlier years leave
/// of a limit is none.
fn is_improvement_cost(line: Line) -> bool {
    matches!(line.0, 310..=312 | 315..=373 | 375..=376)
}

/// The lines from which a clean energy credit can come.
const CLEAN_SOURCE_LINES: &[Line] = &[
    line::SOLAR_ELECTRIC_COST,
    line::SOLAR_WATER_HEATING_COST,
    line::SMALL_WIND_COST,
    line::GEOTHERMAL_COST,
    line::BATTERY_COST,
    line::CLEAN_BIOMASS_COST,
    line::FUEL_CELL_COST,
    line::CARRIED_IN,
];

/// The lines that hold maker's codes.
pub const MAKER_CODE_LINES: &[Line] = &[
    line::DOOR_TOP_CODE,
    line::DOOR_NEXT_CODE,
    line::WINDOW_TOP_CODE,
    line::AIR_CONDITIONER_CODE,
    line::FUEL_WATER_HEATER_CODE,
    line::FURNACE_CODE,
    line::ENABLING_CODE,
    line::HEAT_PUMP_CODE,
    line::HEAT_PUMP_WATER_HEATER_CODE,
    line::BIOMASS_CODE,
];

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_named_fact_is_given_and_every_given_fact_is_named() {
        let named: std::collections::BTreeSet<&str> = FACT_NAMES.iter().map(|(name, _)| *name).collect();
        assert_eq!(named.len(), FACT_NAMES.len(), "a fact is named twice");
        // The list in `facts` has as many entries, each with a name of its own; the engine's tests compare them.
        assert_eq!(named.len(), 86);
    }
}
