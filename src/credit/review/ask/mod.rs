//! What a careful reviewer would ask about property that counts.
//!
//! Comes in: the items that count, each with the law of its year, and the figures of all years. Goes out: questions,
//! warnings and notes, each with what to write instead. Changes no amount: what the law decides is decided before.

mod counting;
mod incentives;
mod open_law;
mod pool;
mod returns;
mod slips;
mod standards;
mod words;

pub(in crate::credit) use counting::Counting;
use counting::shared_costs;

use crate::case::TaxYear;
use crate::case::{Case, EvidenceKind, FilingStatus, FinancedAs, HeldAs, HomeUse, Item, Kind, PartOf};
use crate::credit::codes;
use crate::credit::evaluate::Figures;
use crate::credit::evaluate::line::{self, Place};
use crate::credit::papers;
use crate::finding::Finding;
use crate::law::{Class, FactName, Law, Rule};
use crate::money::Money;

/// Asks about everything that counts, and about the returns.
pub(in crate::credit) fn ask(
    case: &Case,
    law: &Law,
    counting: &[Counting<'_>],
    figures: &Figures,
) -> Vec<Finding> {
    let mut found = standards(counting, case);
    for one in counting {
        found.extend(metal_roof(one));
        found.extend(residence(one));
        found.extend(new_or_existing(one));
        found.extend(audit_report(one, case));
        found.extend(fuel_cell_begun(one));
        found.extend(financing(one, counting, figures));
        found.extend(who_paid(one, case));
        found.extend(others_paid(one));
        found.extend(no_proof(one, case));
        found.extend(words::ask(one, case));
        found.extend(pool::ask(one, case));
        found.extend(slips::of_item(one, case));
        found.extend(incentives::ask(one, case));
    }
    found.extend(slips::of_case(case, law, counting));
    found.extend(no_papers(counting, case));
    found.extend(returns::ask(case, law, figures));
    found.extend(open_law::notes(case, law, counting, figures));
    found
}

/// Asks which standard the items of a kind meet, once for a kind and year, and whether a standard that is named is
/// the one the law asks for.
fn standards(counting: &[Counting<'_>], case: &Case) -> Vec<Finding> {
    let asks = |one: &&Counting<'_>| {
        matches!(one.kind_law.class, Class::Envelope | Class::EnergyProperty)
            || one.item().kind.value == Kind::GeothermalHeatPump
    };
    let (mut found, mut others) = (Vec::new(), Vec::new());
    let mut unsaid: Vec<Vec<&Counting<'_>>> = Vec::new();
    for one in counting.iter().filter(asks) {
        let item = one.item();
        if let Some(meets) = &item.meets {
            others.extend(standards::other(one, meets));
            continue;
        }
        // Where the law's standard is a figure that the case gives, it has been compared already.
        let measured = one.kind_law.requires.iter().any(|one| one.fact == FactName::Efficiency);
        if measured || item.certified.is_some() || papers::proves(case, item, &[EvidenceKind::Certification])
        {
            continue;
        }
        let same = |others: &&mut Vec<&Counting<'_>>| {
            others[0].item().kind.value == item.kind.value && others[0].year() == one.year()
        };
        match unsaid.iter_mut().find(same) {
            Some(others) => others.push(one),
            None => unsaid.push(vec![one]),
        }
    }
    found.extend(unsaid.iter().map(|of_kind| standard_unsaid(of_kind)));
    found.extend(standards::told(others));
    found
}

fn standard_unsaid(items: &[&Counting<'_>]) -> Finding {
    let first = items[0];
    let keys: Vec<String> = items.iter().map(|one| one.item().key.value.to_string()).collect();
    let (verb, marked) = match keys.as_slice() {
        [one] => ("does", format!("`{one}`")),
        [most @ .., last] => ("do", format!("`{}` and `{last}`", most.join("`, `"))),
        [] => ("does", String::new()),
    };
    let kind = first.item().kind.value;
    let question = codes::STANDARD_UNSAID.finding(format!(
        "which efficiency standard {verb} {marked} meet? That it is sold as energy saving is not enough; {}",
        standards::asked_for(first)
    ));
    let help = match keys.len() {
        1 => "add `meets:` with the standard as the maker's statement names it, and keep the statement"
            .to_string(),
        _ => format!(
            "add `meets:` to each with the standard as the maker's statement names it, and keep the statement; one answer to this \
             question confirms it for all {}",
            keys.len()
        ),
    };
    let given = [kind.to_string(), first.year().to_string(), keys.join(", ")];
    let asked = question.at(first.item().key.span).about(standards::of_kind(first));
    let asked = asked.or_about(items.iter().map(|one| one.path())).given(given).help(help);
    let asked =
        items[1..].iter().fold(asked, |asked, other| asked.with(other.item().key.span, "and this one"));
    asked.under(standards::sources(first))
}

/// Asks whether a roof is of metal, in years that know no other.
fn metal_roof(one: &Counting<'_>) -> Option<Finding> {
    let item = one.item();
    if item.kind.value != Kind::Roof || !one.law.rules.contains_key(&Rule::RoofMetalOnly) {
        return None;
    }
    let texts = item.costs.iter().map(|cost| &cost.item.value);
    let mut texts = texts.chain(item.meets.as_ref().map(|meets| &meets.value)).map(|text| words::plain(text));
    if texts.any(|text| words::says(&text, "metal") || words::says(&text, "steel")) {
        return None;
    }
    let message = format!(
        "is `{}` a metal roof with pigments that keep it cool? Asphalt roofs do not count for {}",
        item.key.value,
        one.year()
    );
    let question = one.asked(codes::ROOF_MATERIAL_UNSAID.finding(message));
    let help = "say so in the text of the cost or under `meets:`, such as `metal roof, Energy Star`";
    let given = item.costs.iter().map(|cost| &cost.item.value);
    Some(question.given(given).help(help).under(one.rule(Rule::RoofMetalOnly)))
}

/// Asks whether a home that is not the main one, or was let in the same year, was the client's residence.
fn residence(one: &Counting<'_>) -> Vec<Finding> {
    let (item, home) = (one.item(), one.planned.home);
    if item.nonbusiness_use.is_some() {
        return Vec::new();
    }
    let mut found = Vec::new();
    let help =
        "add `nonbusiness_use:` with the share of the client's own use, `100%` if the home was never let";
    if home.use_on(one.day) == Some(HomeUse::OtherResidence) {
        let question = codes::SECOND_HOME_USE.finding(
            format!(
                "was `{}` let to others for part of {}? `{}` counts in full only with at least 80% of nonbusiness use",
                home.key.value,
                one.year(),
                item.key.value
            ),
        );
        let given = [home.key.value.to_string(), "other_residence".to_string(), one.day.to_string()];
        found.push(one.asked(question).given(given).help(help).under(one.rule(Rule::Nonbusiness)));
    }
    let let_in_year = home.uses.iter().find(|part| {
        let begins = part.from.as_ref().is_some_and(|from| TaxYear::of(from.value) == one.year());
        part.is.value == HomeUse::RentedToOthers && begins
    });
    if let Some(part) = let_in_year {
        let question = codes::LET_IN_SAME_YEAR.finding(
            format!(
                "`{}` was let to others from {} on, in the year of `{}`; was the home still the client's residence when it was installed, and what share of its use was the client's own?",
                home.key.value,
                part.from.as_ref().map_or_else(String::new, |from| from.value.to_string()),
                item.key.value
            ),
        );
        found.push(
            one.asked(question).given([home.key.value.to_string(), part.from.as_ref().map_or_else(String::new, |from| from.value.to_string())]).with(part.is.span, "let to others").help("add `nonbusiness_use:` with the share of the client's own use; letting that began after installation takes nothing back").under(one.rule(Rule::Nonbusiness)),
        );
    }
    found
}

/// Asks whether work said to be on an existing home was part of building it.
fn new_or_existing(one: &Counting<'_>) -> Option<Finding> {
    let (item, home) = (one.item(), one.planned.home);
    let first = home.original_use.as_ref()?;
    let installed = item.installed.as_ref()?;
    let days = installed.value.since((jiff::Unit::Day, first.value)).ok()?.get_days();
    // Before the first use the home was being built; 25C leaves out what belongs to building even after it.
    let near = if one.kind_law.existing_home_only { days < 180 } else { days < 0 };
    // A home that is rebuilt is used again after the work: that says nothing against a renovation, which counts on that
    // day for both credits (26 U.S.C. 25D(e)(8)(B); 25C(f)(1) borrows it).
    let rebuilt = item.part_of.value == PartOf::Renovation && days < 0;
    if item.part_of.value == PartOf::NewHome || rebuilt || !near {
        return None;
    }
    let order = if days < 0 { "before" } else { "soon after" };
    let question = codes::NEW_HOME_OR_EXISTING.finding(
        format!(
            "`{}` was installed on {}, {order} the home was first used on {}; was it part of building or rebuilding the home?",
            item.key.value, installed.value, first.value
        ),
    );
    let asked = question.at(item.part_of.span).about(format!("{}.part_of", one.path()));
    let asked = asked.with(first.span, "the first use").given([installed.value, first.value]);
    let help = "write `part_of: renovation` if a home that stood before was rebuilt: both credits then count when it is used \
                again; `part_of: new_home` if the home itself was new: 25C then earns nothing, and 25D counts at the first use";
    Some(asked.help(help).under(one.rule(Rule::NewHomeImprovement)))
}

/// Asks for the report of an audit and the particulars it must show: without them the law gives no credit.
fn audit_report(one: &Counting<'_>, case: &Case) -> Vec<Finding> {
    let item = one.item();
    if item.kind.value != Kind::HomeEnergyAudit {
        return Vec::new();
    }
    let mut found = Vec::new();
    if !papers::proves(case, item, &[EvidenceKind::AuditReport]) {
        let question = codes::AUDIT_REPORT_UNSEEN.finding(
            format!(
                "is there a written report of the audit `{}` that names the most significant improvements and what each would save?",
                item.key.value
            ),
        );
        let help = "list the report under `evidence:` with `type: audit_report` and name it in the cost's `evidence:`";
        let by = item.auditor.as_ref().map_or_else(String::new, |auditor| auditor.name.value.clone());
        let given = [one.day.to_string(), by];
        found.push(one.asked(question).given(given).help(help).under(one.rule(Rule::AuditReport)));
    }
    let auditor =
        item.auditor.as_ref().filter(|auditor| auditor.number.is_none() || auditor.program.is_none());
    if let Some(auditor) = auditor {
        let question = codes::AUDITOR_INCOMPLETE.finding(
            format!(
                "which identifying number and certification program does the report of `{}` show for its auditor?",
                item.key.value
            ),
        );
        let asked = question.at(auditor.name.span).about(format!("{}.auditor", one.path()));
        let help = "write `auditor: {name: .., number: .., program: ..}` as the report has it";
        found.push(asked.given([&auditor.name.value]).help(help).under(one.rule(Rule::AuditReport)));
    }
    found
}

/// Asks when construction of a fuel cell began: a cross-reference leaves open whether one begun in 2025 counts.
fn fuel_cell_begun(one: &Counting<'_>) -> Option<Finding> {
    let item = one.item();
    // Only in the year whose law leaves this open.
    if item.kind.value != Kind::FuelCell || !one.law.rules.contains_key(&Rule::FuelCellConstructionBegun) {
        return None;
    }
    let began = item.construction_began.as_ref();
    if began.is_some_and(|day| TaxYear::of(day.value) < one.year()) {
        return None;
    }
    let message = match began {
        Some(day) => format!(
            "construction of `{}` began on {}; the law leaves open whether a fuel cell begun in {} counts. Is the credit to be claimed?",
            item.key.value,
            day.value,
            one.year()
        ),
        None => format!(
            "did construction of `{}` begin before {}? Whether a fuel cell begun later counts is not settled",
            item.key.value,
            one.year()
        ),
    };
    let given = began.map_or_else(|| "no day of construction".to_string(), |day| day.value.to_string());
    let asked = one.asked(codes::FUEL_CELL_BEGUN_LATE.finding(message)).given([given]);
    let help = "add `construction_began:` with the day from the contract or the permit; tell the client that the point is open";
    Some(asked.help(help).under(one.rule(Rule::FuelCellConstructionBegun)))
}

/// Asks about loans: above the price, or perhaps subsidized where that does not count.
fn financing(one: &Counting<'_>, counting: &[Counting<'_>], figures: &Figures) -> Vec<Finding> {
    let item = one.item();
    let Some(financed) = &item.financed else {
        return Vec::new();
    };
    let mut found = Vec::new();
    let about = format!("{}.financed", one.path());
    let paid = |item: &Item| figures.money(&Place::of_item(one.year(), line::ITEM_PAID, &item.key.value));
    // One loan may cover everything that was bought in the year.
    let all: Money = counting
        .iter()
        .filter(|other| other.year() == one.year())
        .filter_map(|other| paid(other.item()))
        .sum();
    if financed.amount.value > all {
        let question = codes::LOAN_ABOVE_PRICE.finding(
            format!(
                "the financing of `{}` comes to {}, more than the {} paid in all; do the costs hold a fee or interest, or is a cost missing?",
                item.key.value,
                financed.amount.value.spoken(),
                all.spoken()
            ),
        );
        let help =
            "ask for the cash price; write what the lender or dealer added as `dealer_fee` or `financing`";
        let given = [financed.amount.value.spoken(), all.spoken()];
        let asked =
            question.at(financed.amount.span).about(format!("{about}.amount")).given(given).help(help);
        found.push(asked.under("CFPB, Issue Spotlight: Solar Financing (Aug. 7, 2024), executive summary"));
    }
    let subsidized = financed.how.value == FinancedAs::SubsidizedEnergyFinancing;
    let counts = one.law.subsidized_financing_counts.get(&one.kind_law.credit);
    let section = one.kind_law.credit.section();
    match (counts, subsidized) {
        (Some((false, authority)), false) => {
            let question = codes::LOAN_SUBSIDIZED.finding(
                format!(
                    "does the loan for `{}` come from a federal, State or local program for saving or making energy, such as one without interest? Whether one repaid with the property tax does is not settled",
                    item.key.value
                ),
            );
            let help = format!(
                "write `as: subsidized_energy_financing` if it does: cost paid from it does not count for {section}"
            );
            found.push(
                question
                    .at(financed.how.span)
                    .about(about)
                    .given(["loan".to_string(), financed.amount.value.spoken()])
                    .help(help)
                    .under(authority.source.join("; ")),
            );
        }
        (Some((false, authority)), true) => {
            let at = Place::of_item(one.year(), line::ITEM_SUBSIDIZED, &item.key.value);
            if let Some(left_out) = figures.money(&at).filter(|left_out| !left_out.is_zero()) {
                let message = format!(
                    "{} of the cost of `{}` was paid from subsidized energy financing and does not count for {section}",
                    left_out.spoken(),
                    item.key.value
                );
                let help = "write `as: loan` if no federal, State or local program for saving or making energy stands behind it; \
                            else nothing is to be done";
                let warning = codes::SUBSIDIZED_FINANCING_LEFT_OUT.finding(message).at(financed.how.span);
                found.push(warning.about(one.path()).help(help).under(authority.source.join("; ")));
            }
        }
        (Some((true, authority)), true) => {
            let note = codes::SUBSIDIZED_FINANCING_COUNTS.finding(format!(
                "cost of `{}` paid from subsidized financing counts for {section}",
                item.key.value
            ));
            let elsewhere = one.law.subsidized_financing_counts.iter();
            let not_there = elsewhere.filter(|(_, (counts, _))| !counts).map(|(credit, _)| credit.section());
            let help = match not_there.collect::<Vec<_>>().as_slice() {
                [] => "nothing is to be done; in other years it does not count".to_string(),
                sections => {
                    format!("nothing is to be done; for {} it would not count", sections.join(" and "))
                }
            };
            found.push(note.at(financed.how.span).help(help).under(authority.source.join("; ")));
        }
        _ => {}
    }
    found
}

/// Notes that what others paid is no part of the client's cost and changes nothing, for kinds without a limit to share.
fn others_paid(one: &Counting<'_>) -> Option<Finding> {
    let item = one.item();
    let paid = item.paid_by_others.as_ref().filter(|paid| !paid.value.is_zero())?;
    let shares = one.law.is_limited(item.kind.value, one.kind_law.credit);
    let message = format!(
        "the {} that others paid toward `{}` changes nothing: there is no limit to share, and all of `costs` is taken as paid by this client",
        paid.value.spoken(),
        item.key.value
    );
    let note = codes::OTHERS_PAID_UNSHARED.finding(message).at(paid.span);
    let help = "see that `costs` holds this client's own payments only; if so, nothing is to be done";
    (!shares).then(|| note.help(help))
}

/// Asks who paid, where two people may claim the same cost, or where the one who claims may not be the one who paid.
fn who_paid(one: &Counting<'_>, case: &Case) -> Vec<Finding> {
    let (item, home) = (one.item(), one.planned.home);
    let status = one.tax_return.map(|one| one.filing_status.value);
    let mut found = Vec::new();
    match (&item.paid_by_others, status) {
        (Some(paid), Some(FilingStatus::MarriedFilingJointly)) => {
            let question = codes::SPOUSE_AMONG_OTHERS.finding(
                format!(
                    "others paid {} toward `{}`, and the return is a joint one; does that leave out what the spouse paid?",
                    paid.value.spoken(),
                    item.key.value
                ),
            );
            let help = "spouses on one return are one: what both paid stands under `costs`, what a third person paid under `paid_by_others`";
            let asked = question.at(paid.span).about(format!("{}.paid_by_others", one.path()));
            let asked = asked.given(["married_filing_jointly".to_string(), paid.value.spoken()]);
            found.push(asked.help(help).under(one.rule(Rule::JointMarried)));
        }
        (None, Some(FilingStatus::MarriedFilingSeparately)) => {
            let question = codes::SPOUSE_CLAIMS_TOO.finding(format!(
                "did the spouse, who files separately, pay part of `{}` or claim it as well?",
                item.key.value
            ));
            let help = "give only what this client paid under `costs`, and what the spouse paid under `paid_by_others` (`0` if nothing)";
            let given = [FilingStatus::MarriedFilingSeparately.to_string(), costs(item)];
            let rule = match item.kind.value {
                Kind::FuelCell => Rule::JointSeparateSpouses,
                _ => one.kind_law.credit.sharing(),
            };
            found.push(one.asked(question).given(given).help(help).under(one.rule(rule)));
        }
        _ => {}
    }
    if home.held_as.value == HeldAs::Renter && !papers::proves(case, item, &[EvidenceKind::ProofOfPayment]) {
        let question = codes::TENANT_PAID.finding(format!(
            "what shows that the client, who rents `{}`, and not the landlord paid for `{}`?",
            home.key.value, item.key.value
        ));
        let help = "list the proof under `evidence:` with `type: proof_of_payment` and name it in the cost's `evidence:`";
        let given = [home.key.value.to_string(), costs(item)];
        found.push(one.asked(question).given(given).help(help).under(one.rule(Rule::Tenants)));
    }
    if item.association.is_some() && !papers::proves(case, item, &[EvidenceKind::AssociationStatement]) {
        let question = codes::ASSOCIATION_STATEMENT_UNSEEN.finding(format!(
            "is there a statement of the association about the client's share of `{}`?",
            item.key.value
        ));
        let help = "list it under `evidence:` with `type: association_statement` and name it in the cost's `evidence:`";
        let given = item.association.iter().map(|one| one.name.value.clone()).chain([costs(item)]);
        found.push(one.asked(question).given(given).help(help).under(one.rule(Rule::Association)));
    }
    found
}

/// The sources that ask for proof of what was bought.
const PROOF: &str =
    "26 U.S.C. 6001; 26 CFR 1.6001-1; IRS, How to claim a residential clean energy tax credit, step 3";

/// Warns of an item none of whose costs names a paper, in a case that lists papers.
fn no_proof(one: &Counting<'_>, case: &Case) -> Option<Finding> {
    let item = one.item();
    if case.evidence.is_empty() || item.costs.is_empty() && shared_costs(case, item).next().is_none() {
        return None;
    }
    let named = item.costs.iter().chain(shared_costs(case, item).map(|(_, cost)| cost));
    let named = named.into_iter().any(|cost| cost.evidence.is_some());
    let any_other: Vec<EvidenceKind> = EvidenceKind::ALL
        .iter()
        .copied()
        .filter(|kind| !matches!(kind, EvidenceKind::ProofOfHome | EvidenceKind::FiledReturn))
        .collect();
    if named || papers::proves(case, item, &any_other) {
        return None;
    }
    let message =
        format!("no paper of the case shows what was paid for `{}` or that it was installed", item.key.value);
    let warning = codes::NO_PROOF.finding(message).at(item.key.span).about(one.path());
    let help = "list its invoice or receipt under `evidence:` and name it in the cost, `evidence: invoice-1`";
    Some(warning.help(help).under(PROOF))
}

/// Asks about a case that lists no papers at all.
fn no_papers(counting: &[Counting<'_>], case: &Case) -> Option<Finding> {
    let first = counting.first()?;
    if !case.evidence.is_empty() {
        return None;
    }
    let message = "the case lists no papers; which show what was bought, when it was complete, and that the home is the client's?";
    let question = codes::NO_PAPERS.finding(message).at(first.item().key.span).about("property");
    let help = "add `evidence:` with a key for each paper, such as `invoice-1: {type: invoice, on_file: true, where: binder 3}`";
    let items = counting.iter().map(|one| one.item().key.value.to_string());
    Some(question.given(items).help(help).under(PROOF))
}

/// Returns what an item's own costs come to, as the facts of a question.
fn costs(item: &Item) -> String {
    item.costs.iter().map(|cost| cost.amount.value).sum::<Money>().spoken()
}
