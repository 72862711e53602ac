//! Limits of one year, once the figures stand: where owners might share one, and where form and statute differ.

use crate::case::Kind;
use crate::credit::chain::Reckoned;
use crate::credit::codes;
use crate::credit::evaluate::Figures;
use crate::credit::evaluate::line::{self, Line, Place};
use crate::credit::plan::Planned;
use crate::finding::Finding;
use crate::law::{Amount, Group, LawKey, MethodStep, Rule};
use crate::money::Money;

/// Asks where this return's own items stay within the yearly limit and those of all owners together pass it: the rule
/// tests the return's own line, and nothing says whether the owners share the limit all the same.
pub(super) fn owners(one: &Reckoned<'_>, made: &Figures) -> Option<Finding> {
    let (items, law) = (&one.items, one.law);
    let year = law.year;
    let of_return = |line| made.money(&Place::of_return(year, line));
    let all = of_return(line::OWNERS_GENERAL_BEFORE_CAP)?;
    let own = of_return(line::GENERAL_BEFORE_CAP)?;
    let Amount::Money(cap) = law.values.get(&LawKey::GeneralCap)?.amount else { return None };
    if own > cap || all <= cap || own.is_zero() {
        return None;
    }
    let general = |one: &&Planned<'_>| {
        one.counts_for(MethodStep::YearlyLimit.credit())
            && one.kind_law.is_some_and(|law| law.group == Group::General)
    };
    let of_items = |line: fn(&Planned<'_>) -> Line| -> Money {
        let places =
            items.iter().filter(general).map(|one| Place::of_item(year, line(one), &one.item.key.value));
        places.filter_map(|place| made.money(&place)).sum()
    };
    let own_cost = of_items(|_| line::ITEM_QUALIFIED);
    let all_cost = of_items(|one| match one.item.paid_by_others.is_some() {
        true => line::ITEM_ALL_OWNERS,
        false => line::ITEM_QUALIFIED,
    });
    let joint = items.iter().filter(general).find_map(|one| Some((one, one.item.paid_by_others.as_ref()?)));
    let (first, paid) = joint.filter(|(_, paid)| !paid.value.is_zero())?;
    Some(
        codes::OTHER_OWNERS_YEARLY_LIMIT.finding(
            format!(
                "do the owners share the yearly limit of {} for {year}? This return's own items come to {}, which does not pass it, so it is not shared; with what the others paid for the same items all owners come to {}",
                cap.spoken(),
                own.spoken(),
                all.spoken()
            ),
        )
        .at(paid.span)
        .about(format!("property.{}", first.item.key.value))
        .given([year.to_string(), own.spoken(), all.spoken()])
        .help(format!(
            "the rule tests the return's own line, and so does the figure; a person decides. If the owners share the limit all the same, this return takes {} \u{d7} {} / {}, by payments. The law leaves it open and no key of the case applies it: settle it with the others' preparers, enter the smaller amount on the return by hand, say so in the answer, and once the return is filed give the amount under `claimed` with `because:`",
            cap.spoken(),
            own_cost.spoken(),
            all_cost.spoken()
        ))
        .under(law.cited(Rule::JointImprovement)),
    )
}

/// Says where the form gives more for several fuel cells than the law, which limits each by its own capacity.
pub(super) fn fuel_cells(one: &Reckoned<'_>, made: &Figures) -> Option<Finding> {
    let (items, law) = (&one.items, one.law);
    let year = law.year;
    let of_return = |line| made.money(&Place::of_return(year, line));
    let (form, statute) = (of_return(line::FUEL_CELL_CREDIT)?, of_return(line::FUEL_CELL_CREDIT_EACH)?);
    // A dollar may come from where the amounts are rounded.
    if form <= statute + Money::dollars(1) {
        return None;
    }
    let cells: Vec<&Planned<'_>> = items
        .iter()
        .filter(|one| one.item.kind.value == Kind::FuelCell && one.counts_for(MethodStep::FuelCells.credit()))
        .collect();
    let message = format!(
        "{} fuel cells stand on one line of the {year} form, which takes their kilowatts together and comes to {}; the statute limits each by its own kilowatts and comes to {}",
        cells.len(),
        form.spoken(),
        statute.spoken()
    );
    Some(
        codes::FORM_OR_STATUTE.finding(message)
            .at(cells.first()?.item.key.span)
            .help(
                "the form's arithmetic is followed, which here gives more; a preparer who takes the statute's reading enters the smaller amount and says so on the return",
            )
            .under(law.cited(Rule::FormOrStatuteFuelCells)),
    )
}
