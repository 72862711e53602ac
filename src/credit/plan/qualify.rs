//! Whether an item qualifies for a credit of its year, and in which year its credit falls.
//!
//! Comes in: an item, its home, and the law of the year. Goes out: a ruling with its reason, and findings for
//! whatever counts as nothing. Looks at facts and law only.

use crate::case::{Acquired, Condition, HeldAs, Home, HomeUse, Item, Kind, PartOf, TaxYear};
use crate::credit::codes::{self, Code};
use crate::credit::evaluate::expression::Ruling;
use crate::finding::{Finding, Span};
use crate::law::{
    Amount, Authority, Class, Credit, FactName, HomeRule, KindLaw, Law, LawKey, Requirement, Rule, YearLaw,
};
use crate::money::Rate;
use jiff::civil::Date;
use rust_decimal::Decimal;

/// Whether an item qualifies.
#[derive(Clone, Debug, PartialEq)]
pub struct Qualified {
    /// The decision, its reason and authority.
    pub ruling: Ruling,
}

/// When an item's credit falls.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Timing {
    /// On this day, so in its year.
    On(Date),
    /// The work is not complete yet.
    NotYet,
    /// A date the law needs is not given; the finding says which.
    Unsaid,
}

impl Timing {
    /// Returns the tax year, where there is one.
    pub fn year(self) -> Option<TaxYear> {
        match self {
            Timing::On(day) => Some(TaxYear::of(day)),
            _ => None,
        }
    }
}

/// Returns the day that decides an item's tax year.
///
/// Property counts when its original installation is complete, and in a building or rebuilding when the client
/// first uses the finished home (26 U.S.C. 25D(e)(8)(A) and (B); 25C(f)(1) borrows it); a home energy audit
/// counts when it is paid (25C(a)(3)). The day of payment of anything else does not matter.
pub fn timing(item: &Item, home: &Home) -> Timing {
    if item.kind.value == Kind::HomeEnergyAudit {
        let from_costs =
            || item.costs.iter().filter_map(|cost| cost.paid.as_ref()).map(|paid| paid.value).max();
        return item
            .paid
            .as_ref()
            .map(|paid| paid.value)
            .or_else(from_costs)
            .map_or(Timing::Unsaid, Timing::On);
    }
    let Some(installed) = &item.installed else {
        return Timing::NotYet;
    };
    match (item.part_of.value, &home.original_use) {
        (PartOf::ExistingHome, _) | (PartOf::Renovation, None) => Timing::On(installed.value),
        (PartOf::NewHome, None) => Timing::Unsaid,
        (PartOf::NewHome | PartOf::Renovation, Some(first_use)) => {
            Timing::On(installed.value.max(first_use.value))
        }
    }
}

/// Complains about an item whose day is not known.
pub(in crate::credit) fn untimed(item: &Item, home: &Home, timing: Timing) -> Option<Finding> {
    let name = &item.key.value;
    match timing {
        Timing::On(_) => None,
        Timing::NotYet => Some(
            codes::NOT_COMPLETE.finding(format!("`{name}` has no day of completed installation, so it counts in no year yet{}", although_paid(item)))
                .at(item.key.span)
                .help("add `installed:` with the day the original installation was complete; payments before it do not matter"),
        ),
        Timing::Unsaid if item.kind.value == Kind::HomeEnergyAudit => Some(
            codes::MISSING_PAID_DATE.finding(format!("the audit `{name}` counts in the year it was paid, and no day of payment is given"))
                .at(item.key.span)
                .help("add `paid:` with the day the audit was paid")
                .under("26 U.S.C. 25C(a)(3)"),
        ),
        Timing::Unsaid => Some(
            codes::MISSING_ORIGINAL_USE.finding(
                format!("`{name}` is part of a new home, and the day of its first use is not given for `{}`", home.key.value),
            )
            .at(item.part_of.span)
            .with(home.key.span, "this home has no `original_use`")
            .help("add `original_use:` to the home, with the day the client first used the finished home")
            .under("26 U.S.C. 25D(e)(8)(B)"),
        ),
    }
}

/// Names the last payment for an item, whose year people would take for that of the credit.
fn although_paid(item: &Item) -> String {
    let paid = item.costs.iter().filter_map(|cost| cost.paid.as_ref()).chain(&item.paid);
    paid.map(|paid| paid.value)
        .max()
        .map_or_else(String::new, |day| format!(", although it was paid on {day}"))
}

/// Asks about 25D property that was complete in one year and switched on in a later one. No authority fixes which day
/// completes an installation; where the later day lies after the end of the credit the whole credit hangs on it.
///
/// Of 25C property only the placing in service is compared: it is what the end of that credit, its efficiency tiers and
/// its product numbers go by, while amounts count when the installation is complete.
pub(in crate::credit) fn straddles(item: &Item, day: Date, credit: Credit, law: &Law) -> Option<Finding> {
    let year = TaxYear::of(day);
    let days = [
        ("final inspection", &item.inspected),
        ("permission to operate", &item.permission_to_operate),
        ("placing in service", &item.placed_in_service),
    ];
    let compared = if credit == Credit::Clean { &days[..] } else { &days[2..] };
    let (what, later) = compared
        .iter()
        .filter_map(|(what, later)| Some((what, later.as_ref()?)))
        .filter(|(_, later)| TaxYear::of(later.value) > year)
        .max_by_key(|(_, later)| later.value)?;
    let later_year = TaxYear::of(later.value);
    let ended = credit == Credit::Clean && law.year(later_year).is_some_and(|law| !law.in_force(credit));
    let stakes = match ended {
        true => format!("; the whole credit hangs on it, for work of {later_year} earns nothing"),
        false => String::new(),
    };
    let message = format!(
        "was `{}` really complete on {day}, when its {what} came on {}? No authority says which of the two decides the \
         year, and the credit is figured for {year}{stakes}",
        item.key.value, later.value,
    );
    let finding = codes::DAYS_STRADDLE_YEAR_END.finding(message);
    let authority = law.year(year).map_or_else(String::new, |law| law.cited(credit.completion()));
    Some(
        finding
            .at(later.span)
            .about(format!("property.{}", item.key.value))
            .given([day, later.value])
            .help("keep the installer's record of completion with the return, or correct `installed:` if the work was not done then")
            .under(authority),
    )
}

/// Decides whether an item qualifies, apart from what enabling property asks of other items.
pub(in crate::credit) fn qualify(
    item: &Item,
    home: &Home,
    law: &YearLaw,
    all: &Law,
    day: Date,
    found: &mut Vec<Finding>,
) -> Qualified {
    let mut objections = Objections { item, law, all, list: Vec::new(), found };
    objections.gather(home, day);
    let Objections { list, .. } = objections;
    let ruling = match list.into_iter().next() {
        Some((because, authority)) => Ruling {
            counts: false,
            because,
            authority: authority.source,
            settled: authority.settled,
            chosen: None,
        },
        None => {
            let kind_law = law.kinds.get(&item.kind.value);
            Ruling {
                counts: true,
                because: format!("{} qualifies in {}", item.kind.value.label(), law.year),
                authority: kind_law.map(|kind| kind.authority.source.clone()).unwrap_or_default(),
                settled: true,
                chosen: None,
            }
        }
    };
    Qualified { ruling }
}

/// The reasons why an item does not qualify, worst first, each with its finding.
struct Objections<'a> {
    item: &'a Item,
    law: &'a YearLaw,
    all: &'a Law,
    list: Vec<(String, Authority)>,
    found: &'a mut Vec<Finding>,
}

impl Objections<'_> {
    fn gather(&mut self, home: &Home, day: Date) {
        let year = self.law.year;
        let label = self.item.kind.value.label();
        let Some(kind_law) = self.law.kinds.get(&self.item.kind.value) else {
            self.without_law(home, day);
            return;
        };
        let terms = self.law.credits.get(&kind_law.credit);
        let over = terms.and_then(|one| one.through).is_some_and(|last| day > last);
        if over || !self.law.in_force(kind_law.credit) {
            self.ended(home, day, kind_law.credit);
            return;
        }
        if let Some((terms, first)) =
            terms.and_then(|one| Some((one, one.from?))).filter(|(_, first)| day < *first)
        {
            let because = format!(
                "{label} was complete on {day}; the {} is for work completed from {first} on",
                terms.name
            );
            let span = self.item.installed.as_ref().map_or(self.item.key.span, |given| given.span);
            self.object(codes::KIND_NOT_IN_LAW, span, because, terms.authority.clone(), ENDED_HELP);
            return;
        }
        self.placed_in_service(kind_law);
        if self.item.condition.value == Condition::Used {
            let because = format!("{label} must be new; equipment that was used before never counts");
            let help = "keep it in the case for the home's basis; if it was new, write `condition: new`";
            self.object(
                codes::USED_EQUIPMENT,
                self.item.condition.span,
                because,
                self.rule(Rule::NewOnly),
                help,
            );
        }
        if self.item.acquired.value != Acquired::Bought {
            let because = format!(
                "the client does not own it ({}), so the client has no expenditure for {label}",
                self.item.acquired.value.label()
            );
            let help = "write `acquired: bought` only if the contract made the client the owner; a lease or a power contract earns nothing";
            self.object(
                codes::NOT_OWNED_EQUIPMENT,
                self.item.acquired.span,
                because,
                self.rule(Rule::Lease),
                help,
            );
        }
        if let Some(share) = &self.item.nonbusiness_use
            && share.value == Rate::NOTHING
        {
            let because = format!("{label} is used for business only");
            let help = "give the share of nonbusiness use if there is any, such as `nonbusiness_use: 60%`";
            self.object(codes::BUSINESS_USE_ONLY, share.span, because, self.rule(Rule::Nonbusiness), help);
        }
        if home.country.value != "US" {
            let because = "the home is not in the United States".to_string();
            let help =
                "the credits are for homes in the United States only; correct `country:` if it is a slip";
            self.object(codes::OUTSIDE_US, home.country.span, because, kind_law.authority.clone(), help);
        }
        if kind_law.existing_home_only && self.item.part_of.value == PartOf::NewHome {
            let because =
                format!("{label} counts only in a home that stood already, never as part of building it");
            self.object(
                codes::NEW_HOME_IMPROVEMENT,
                self.item.part_of.span,
                because,
                self.rule(Rule::NewHomeImprovement),
                "write `part_of: renovation` or `existing_home` if the home stood and was in use before",
            );
        }
        let day_of_use = match &self.item.performed {
            Some(performed) if kind_law.class == Class::Audit => performed.value,
            _ => day,
        };
        self.home(home, day_of_use, kind_law);
        for requirement in &kind_law.requires {
            self.requirement(requirement);
        }
        if self.item.kind.value == Kind::FuelCell {
            self.fuel_cell_efficiency();
        }
        if kind_law.maker_code && self.item.maker_code.is_empty() && self.item.pin.is_empty() {
            let because = format!(
                "from {year} on the maker's code must stand on the return for {label}, and none is given"
            );
            let help = "add `maker_code:` with the four characters from the label or the maker's letter, or `pin:` with all seventeen";
            self.object(
                codes::MISSING_MAKER_CODE,
                self.item.key.span,
                because,
                self.rule(Rule::MakerCode),
                help,
            );
        }
    }

    /// The year's law has no such kind: the credits have ended, one of them did not apply, or the kind falls under
    /// neither.
    fn without_law(&mut self, home: &Home, day: Date) {
        let label = self.item.kind.value.label();
        let year = self.law.year;
        // The credit that went on longest is the one that the item could have earned last.
        let last =
            Credit::ALL.last().copied().filter(|_| !Credit::ALL.iter().any(|one| self.law.in_force(*one)));
        if let Some(credit) = last {
            self.ended(home, day, credit);
            return;
        }
        let authority = self.law.grant(Credit::ALL[0]);
        let kept = "keep it in the case for the home's basis, or correct `kind:` or the day of installation";
        let battery = self.law.rules.get(&Rule::BatteryBefore2023);
        if let (Kind::BatteryStorage, Some(rule)) = (self.item.kind.value, battery) {
            let help = "if only the home's own panels could charge it, a preparer who takes that position enters it as `kind: solar_electric`; \
                        a battery that the grid can charge earns nothing";
            let because = rule.says.clone();
            self.object(codes::KIND_NOT_IN_LAW, self.item.kind.span, because, rule.authority.clone(), help);
            return;
        }
        let because = match self.law.rules.get(&Rule::GapImprovement) {
            Some(gap) if !Credit::ALL.iter().all(|one| self.law.in_force(*one)) => {
                format!("{label} falls under neither credit in {year}; {}", gap.says)
            }
            _ => format!("{label} falls under neither credit in {year}"),
        };
        self.object(codes::KIND_NOT_IN_LAW, self.item.kind.span, because, authority, kept);
    }

    /// Property placed in service after the end of the 25C credit earns none (26 U.S.C. 25C, termination).
    fn placed_in_service(&mut self, kind_law: &KindLaw) {
        let Some(served) = &self.item.placed_in_service else {
            return;
        };
        let year = TaxYear::of(served.value);
        let in_force = match self.all.year(year) {
            Some(law) => law.in_force(kind_law.credit),
            None => self.all.known().next_back().is_some_and(|last| year <= last),
        };
        if kind_law.credit == Credit::Improvement && !in_force {
            let because = format!("placed in service on {}, after the credit ended", served.value);
            self.object(
                codes::PLACED_IN_SERVICE_LATE,
                served.span,
                because,
                self.rule(Rule::Ends),
                ENDED_HELP,
            );
        }
    }

    fn home(&mut self, home: &Home, day: Date, kind_law: &KindLaw) {
        let label = self.item.kind.value.label();
        let Some(home_use) = home.use_on(day) else {
            let span = home.uses.first().map_or(home.key.span, |one| one.is.span);
            self.found.push(
                codes::HOME_USE_UNSAID
                    .finding(format!(
                        "how `{}` was used on {day} is not said, and the credit for `{}` depends on it",
                        home.key.value, self.item.key.value
                    ))
                    .at(span)
                    .help("let the first entry under `use:` begin on or before that day"),
            );
            return;
        };
        let residence = matches!(home_use, HomeUse::MainHome | HomeUse::OtherResidence);
        let owned =
            matches!(home.held_as.value, HeldAs::Owner | HeldAs::CoopShareholder | HeldAs::CondoMember);
        let fits = match kind_law.home {
            HomeRule::AnyResidence => residence,
            HomeRule::MainHome => home_use == HomeUse::MainHome,
            HomeRule::OwnedMainHome => home_use == HomeUse::MainHome && owned,
        };
        if !fits {
            let held = if kind_law.home == HomeRule::OwnedMainHome && !owned {
                format!(", {}", home.held_as.value.label())
            } else {
                String::new()
            };
            let article = if kind_law.home == HomeRule::AnyResidence { "a" } else { "the" };
            let because = format!(
                "{label} must serve {article} {}; on {day} the home was: {}{held}",
                kind_law.home.label().trim_start_matches("any "),
                home_use.label()
            );
            let help = "correct `home:`, or the `use:` and `held_as:` of that home, if they say something else than what was";
            self.object(
                codes::HOME_DOES_NOT_FIT,
                self.item.home.span,
                because,
                kind_law.authority.clone(),
                help,
            );
        }
    }

    fn requirement(&mut self, requirement: &Requirement) {
        let item = self.item;
        let given: Option<(Decimal, Span)> = match requirement.fact {
            FactName::CapacityKw => item.capacity_kw.as_ref().map(|fact| (fact.value.0, fact.span)),
            FactName::CapacityKwh => item.capacity_kwh.as_ref().map(|fact| (fact.value.0, fact.span)),
            FactName::SolarShare => item.solar_share.as_ref().map(|fact| (fact.value.factor(), fact.span)),
            FactName::Efficiency => item.efficiency.as_ref().map(|fact| (fact.value.factor(), fact.span)),
            FactName::Amperage => item.amperage.as_ref().map(|fact| (fact.value.0, fact.span)),
            FactName::Certified => {
                if item.certified.is_none() {
                    let help = "add `certified: {by: .., number: ..}` from the certificate";
                    self.object(
                        codes::NOT_CERTIFIED,
                        item.key.span,
                        requirement.because.clone(),
                        requirement.authority.clone(),
                        help,
                    );
                }
                return;
            }
            FactName::Auditor => return self.auditor(requirement),
            FactName::Enables => {
                if item.enables.is_empty() {
                    let help = "add `enables: [key, ..]` with the items it was installed with";
                    self.object(
                        codes::ENABLES_NOTHING,
                        item.key.span,
                        requirement.because.clone(),
                        requirement.authority.clone(),
                        help,
                    );
                }
                return;
            }
        };
        let Some((given, span)) = given else {
            self.found.push(
                codes::MISSING_FACT
                    .finding(format!(
                        "the law asks for the {} of `{}`, and the case does not give it",
                        requirement.fact.label(),
                        item.key.value
                    ))
                    .at(item.key.span)
                    .help(format!("add `{}:` to the item; {}", requirement.fact.word(), requirement.because))
                    .under(requirement.authority.source.join("; ")),
            );
            let because = format!("the case does not give its {}", requirement.fact.label());
            self.list.push((because, requirement.authority.clone()));
            return;
        };
        let least = match requirement.at_least {
            Some(Amount::Quantity(quantity)) => quantity.0,
            Some(Amount::Rate(rate)) => rate.factor(),
            Some(Amount::Money(_)) | None => return,
        };
        if given < least {
            self.object(
                codes::BELOW_REQUIREMENT,
                span,
                requirement.because.clone(),
                requirement.authority.clone(),
                "compare the figure with the data sheet; if it is right, nothing is to be done",
            );
        }
    }

    /// A fuel cell's electricity-only efficiency must be greater than the law's figure (26 U.S.C. 48(c)(1)).
    fn fuel_cell_efficiency(&mut self) {
        let Some(value) = self.law.values.get(&LawKey::FuelCellEfficiencyAbove) else { return };
        let Amount::Rate(least) = value.amount else { return };
        match &self.item.efficiency {
            Some(given) if given.value <= least => {
                let because = format!("a fuel cell's electricity-only efficiency must be greater than {least}");
                let help = "compare the figure with the data sheet; if it is right, nothing is to be done";
                self.object(codes::BELOW_REQUIREMENT, given.span, because, value.authority.clone(), help);
            }
            Some(_) => {}
            None => self.found.push(
                codes::FUEL_CELL_EFFICIENCY_UNSAID.finding(
                    format!("is the electricity-only efficiency of `{}` greater than {least}?", self.item.key.value),
                )
                .at(self.item.key.span)
                .about(format!("property.{}", self.item.key.value))
                .given(self.item.capacity_kw.iter().map(|one| one.value))
                .help("add `efficiency:` with the figure from the data sheet; at or below it the fuel cell does not count")
                .under(value.authority.source.join("; ")),
            ),
        }
    }

    /// An audit made from 2024 on must be made by or under a certified auditor whose particulars its report shows
    /// (Notice 2023-59); one made in 2023 needs none, whenever it was paid.
    fn auditor(&mut self, requirement: &Requirement) {
        let made_in_2023 = self.item.performed.as_ref().is_some_and(|day| day.value.year() < 2024);
        if self.item.auditor.is_none() && self.item.certified.is_none() && !made_in_2023 {
            let help = "add `auditor: {name: .., number: .., program: ..}` or `certified: {by: .., number: ..}` from the report";
            self.object(
                codes::AUDITOR_NOT_CERTIFIED,
                self.item.key.span,
                requirement.because.clone(),
                requirement.authority.clone(),
                help,
            );
        }
    }

    fn rule(&self, name: Rule) -> Authority {
        let credit = self.law.kinds.get(&self.item.kind.value).map_or(Credit::Clean, |kind| kind.credit);
        self.law.rule_for(name, credit).unwrap_or_else(|| self.law.grant(credit))
    }

    /// Complains that the credits had ended on the day that decides, at the words of the case that gave that day.
    fn ended(&mut self, home: &Home, day: Date, credit: Credit) {
        let label = self.item.kind.value.label();
        let installed = self.item.installed.as_ref();
        let first_use = home
            .original_use
            .as_ref()
            .filter(|one| one.value == day && installed.is_some_and(|installed| installed.value < one.value));
        let (span, when) = match (first_use, installed.or(self.item.paid.as_ref())) {
            (Some(first_use), _) => (
                first_use.span,
                format!(
                    "belongs to building or rebuilding a home first used on {day}, and that day decides, not the day of installation"
                ),
            ),
            (None, given) => {
                (given.map_or(self.item.key.span, |given| given.span), format!("was complete on {day}"))
            }
        };
        let own = self.law.credits.get(&credit).and_then(|one| one.through);
        let ended = match (self.law.all_ended(|last| last), own) {
            (Some(told), _) => told,
            (None, Some(last)) => {
                format!("the {} ended for work completed after {last}", credit.called())
            }
            (None, None) => format!("the law of {} gives no {}", self.law.year, credit.called()),
        };
        let because =
            format!("{label} {when}; {ended}, and paying earlier does not change that ({})", credit.label());
        self.object(codes::ENDED, span, because, self.law.grant(credit), ENDED_HELP);
    }

    fn object(&mut self, code: Code, span: Span, because: String, authority: Authority, help: &str) {
        let message = format!("`{}` does not count: {because}", self.item.key.value);
        let about = format!("property.{}", self.item.key.value);
        let finding = code.finding(message).at(span).about(about).help(help);
        self.found.push(finding.under(authority.source.join("; ")));
        self.list.push((because, authority));
    }
}

/// What can be done about work that came too late.
const ENDED_HELP: &str = "correct the day if it is a slip, and keep the record of completion with the return; else nothing is to be done";
