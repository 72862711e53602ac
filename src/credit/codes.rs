//! The catalog of what computing a case can find.
//!
//! Nothing comes in. A code is a constant that carries its name, how much it weighs, whether it blocks a packet and what
//! it means, so that a finding cannot have a code that is not here. Programs may rely on the names; their words may
//! change. For every code a small case under `tests/findings` shows the finding as it is printed.

use crate::finding::{Finding, Severity};

/// What computing a case can find.
#[derive(Clone, Copy, Debug)]
pub struct Code {
    /// Its stable name.
    pub name: &'static str,
    /// How much it weighs.
    pub severity: Severity,
    /// What it means, for the list of codes.
    pub means: &'static str,
    /// Of a question: whether it must be answered before a packet is sealed, and why it is so.
    pub asks: Option<Asks>,
}

/// Whether a question blocks a packet. It does where its answer could change a figure on a return by law; one about
/// proof, or about what to do with a return that was filed, does not.
#[derive(Clone, Copy, Debug)]
pub struct Asks {
    /// It must be answered first.
    pub blocking: bool,
    /// Why it is so.
    pub why: &'static str,
}

impl Code {
    /// Starts a finding.
    pub fn finding(&self, message: impl Into<String>) -> Finding {
        let start = match self.severity {
            Severity::Error => Finding::error,
            Severity::Warning => Finding::warning,
            Severity::Question => Finding::question,
            Severity::Note => Finding::note,
        };
        let mut finding = start(self.name, message.into());
        finding.blocking = self.asks.is_some_and(|asks| asks.blocking);
        finding
    }

    /// Says whether a finding is of this code.
    pub fn is_of(&self, finding: &Finding) -> bool {
        finding.code == self.name
    }
}

/// Returns every question.
pub fn questions() -> impl Iterator<Item = &'static Code> {
    CODES.iter().filter(|code| code.asks.is_some())
}

/// Declares the codes: constant, severity, name, meaning; of a question whether it `blocks` a packet or leaves it
/// `open`, and why.
macro_rules! codes {
    ($($name:ident $severity:ident $word:literal $means:literal $($blocks:ident $why:literal)?;)+) => {
        $(#[doc = $means] pub const $name: Code = Code {
            name: $word,
            severity: Severity::$severity,
            means: $means,
            asks: asks!($($blocks $why)?),
        };)+
        /// Every code, in the order in which a case is computed.
        pub const CODES: &[Code] = &[$($name,)+];
    };
}

macro_rules! asks {
    () => {
        None
    };
    (blocks $why:literal) => {
        Some(Asks { blocking: true, why: $why })
    };
    (open $why:literal) => {
        Some(Asks { blocking: false, why: $why })
    };
}

codes! {
    // In which year an item counts.
    NOT_COMPLETE Warning "not-complete" "an item without a day of completed installation";
    MISSING_PAID_DATE Error "missing-paid-date" "a home energy audit without a day of payment";
    MISSING_ORIGINAL_USE Error "missing-original-use" "an item of a new home whose first use is not given";
    DAYS_STRADDLE_YEAR_END Question "days-straddle-year-end" "an item complete in one year and inspected or switched on in a later one"
        blocks "another day puts the credit into another year, or ends it";
    COUNTS_IN_ANOTHER_YEAR Note "counts-in-another-year" "an item that a day of another year does not move into that year";
    // Whether it counts.
    ENDED Warning "ended" "an item complete after the credits ended";
    PLACED_IN_SERVICE_LATE Warning "placed-in-service-late" "an item placed in service after the credit ended";
    KIND_NOT_IN_LAW Warning "kind-not-in-law" "a kind of property that falls under neither credit in its year";
    USED_EQUIPMENT Warning "used-equipment" "equipment that was used before";
    NOT_OWNED_EQUIPMENT Warning "not-owned-equipment" "equipment that the client leases, or whose power the client only buys";
    BUSINESS_USE_ONLY Warning "business-use-only" "an item used for business only";
    OUTSIDE_US Warning "outside-us" "an item for a home outside the United States";
    NEW_HOME_IMPROVEMENT Warning "new-home-improvement" "a 25C item that is part of building a new home";
    HOME_DOES_NOT_FIT Warning "home-does-not-fit" "an item for a home that this kind must not serve";
    HOME_USE_UNSAID Error "home-use-unsaid" "a home whose use on the day that decides is not said";
    MISSING_FACT Error "missing-fact" "a fact that the law asks for and the case does not give";
    BELOW_REQUIREMENT Warning "below-requirement" "a fact below what the law asks for";
    NOT_CERTIFIED Warning "not-certified" "an item without the certificate that the law asks for";
    AUDITOR_NOT_CERTIFIED Warning "auditor-not-certified" "an audit without a certified auditor";
    ENABLES_NOTHING Warning "enables-nothing" "enabling property without 25C property that it enables";
    MISSING_MAKER_CODE Warning "missing-maker-code" "an item of 2025 without its maker's code";
    FUEL_CELL_EFFICIENCY_UNSAID Question "fuel-cell-efficiency-unsaid" "a fuel cell whose efficiency is not given"
        blocks "at or below the law's figure the fuel cell earns nothing";
    // What counts of its cost.
    MISSING_MATERIALS_SHARE Question "missing-materials-share" "one price for goods and labor where only the goods count"
        blocks "the part that is goods counts, and without it nothing does";
    SETTLED_LAW Error "settled-law" "a treatment chosen where the law leaves no choice";
    INCENTIVE_ABOVE_COST Warning "incentive-above-cost" "incentives above the cost that counts";
    // Returns and the chain of years.
    WORKSHEET_B_UNSAID Question "worksheet-b-unsaid" "a child tax credit that does not say whether Worksheet B was used"
        blocks "the tax limit subtracts another amount where Worksheet B was used";
    CREDIT_NOT_IN_YEAR Error "credit-not-in-year" "another credit that does not exist in its year";
    FORM_OR_STATUTE Note "form-or-statute" "several items on one line of the form that has one limit";
    TWO_MAIN_HOMES Question "two-main-homes" "limits of a joint return with two main homes"
        blocks "two sets of limits would allow more";
    FORM_FOR_EACH_HOME Note "form-for-each-home" "two main homes on one return, each with a form of its own";
    THREE_MAIN_HOMES Error "three-main-homes" "a couple with work of one year at more than two main homes";
    TWO_HOMES_AND_JOINT_OWNERS Error "two-homes-and-joint-owners" "two main homes on one return, and other owners besides";
    TWO_HOMES_EARLIER_WINDOWS Question "two-homes-earlier-windows" "two main homes on one return, and window costs of earlier years"
        blocks "the form of one home may have more room for windows";
    EARLIER_CREDITS_UNSAID Question "earlier-credits-unsaid" "a limit that looks back to years of which the case says nothing"
        blocks "what was taken before leaves less of the limit";
    EARLIER_WINDOWS_UNSAID Question "earlier-windows-unsaid" "an earlier credit that may have been for windows"
        blocks "windows of earlier years leave less of the ceiling";
    LIFETIME_LIMIT_CUTS Warning "lifetime-limit-cuts" "credits of earlier years that leave less of the limit than the year would earn";
    WINDOW_CEILING_CUTS Warning "window-ceiling-cuts" "windows of earlier years that leave less of the ceiling than the year's windows cost";
    EARLIER_CREDIT_DIFFERS Error "earlier-credit-differs" "an earlier credit or window cost that differs from what the case yields";
    EARLIER_CREDIT_OF_NO_YEAR Warning "earlier-credit-of-no-year" "a credit of a year to which no limit looks back";
    OTHER_OWNERS_CREDIT Question "other-owners-credit" "joint owners who share the limit for all years by their own forms"
        blocks "the limit is shared by what stands on the other owners' forms";
    JOINT_OWNER_WITH_EARLIER_CREDIT Note "joint-owner-with-earlier-credit" "a joint owner's share of the limit, less credit of earlier years";
    NO_RETURN_YET Warning "no-return-yet" "a year with property that counts and without a return";
    MISSING_RETURN Error "missing-return" "a year without a return through which a balance passes";
    YEAR_WITHOUT_LAW Error "year-without-law" "a year whose law is not in the program";
    BEFORE_THE_CREDITS Warning "before-the-credits" "an item from before there was either credit";
    CARRIED_IN_DIFFERS Error "carried-in-differs" "a balance brought in that differs from what the case yields";
    CARRIED_IN_LOST Error "carried-in-lost" "25C credit that was lost, brought in as a balance";
    CARRIED_IN_WITHOUT_CREDIT Error "carried-in-without-credit" "a balance brought in above all 25D credit that it could come from";
    CARRIED_IN_LIKE_LOST Question "carried-in-like-lost" "a balance brought in that is the amount of a 25C credit lost"
        blocks "only clean energy credit is carried in";
    BALANCE_UNSHOWN Question "balance-unshown" "a balance brought in that no form and no property shows"
        blocks "only clean energy credit of the year before is carried in";
    CARRIED_IN_INSTEAD Note "carried-in-instead" "a balance brought in that is taken instead of what the case yields";
    IMPROVEMENT_LOST Note "improvement-lost" "25C credit that the tax of a return still to be filed cannot take";
    CARRYFORWARD_GOES_ON Note "carryforward-goes-on" "a filed return that leaves out a balance carried past the last year of the credit";
    FORM_NOT_IN_YEAR Warning "form-not-in-year" "a form of return that its year did not have";
    BEFORE_CHECKPOINT Note "before-checkpoint" "an item from before the balance that starts the chain";
    // What a careful reviewer would ask of an item that counts.
    STANDARD_UNSAID Question "standard-unsaid" "an item whose efficiency standard is not named"
        blocks "an item below its standard earns nothing";
    STANDARD_NOT_THE_ONE Question "standard-not-the-one" "an item said to meet another standard than the law asks for"
        blocks "an item below its standard earns nothing";
    ROOF_MATERIAL_UNSAID Question "roof-material-unsaid" "a roof of a year in which only metal roofs count"
        blocks "an asphalt roof of that time earns nothing";
    SECOND_HOME_USE Question "second-home-use" "an item for a second home whose letting is not excluded"
        blocks "below 80% of nonbusiness use only that share counts";
    LET_IN_SAME_YEAR Question "let-in-same-year" "an item for a home that was let to others in the same year"
        blocks "below 80% of nonbusiness use only that share counts; a home that is no residence earns nothing";
    NEW_HOME_OR_EXISTING Question "new-home-or-existing" "work on an existing home close to the home's first use"
        blocks "what belongs to building earns no 25C, and 25D counts at the first use";
    AUDIT_REPORT_UNSEEN Question "audit-report-unseen" "an audit without its report on file"
        blocks "without the written report the audit earns nothing";
    AUDITOR_INCOMPLETE Question "auditor-incomplete" "an auditor without identifying number or program"
        blocks "from 2024 on the report must show the auditor's number and program";
    FUEL_CELL_BEGUN_LATE Question "fuel-cell-begun-late" "a fuel cell of 2025 whose construction may have begun in 2025"
        blocks "whether it counts hangs on the day construction began";
    LOAN_ABOVE_PRICE Question "loan-above-price" "financing above everything that was paid"
        blocks "a fee or interest in the price is no cost of the property";
    LOAN_SUBSIDIZED Question "loan-subsidized" "a loan that may be subsidized, where that does not count"
        blocks "cost paid from subsidized financing does not count for 25C";
    SUBSIDIZED_FINANCING_LEFT_OUT Warning "subsidized-financing-left-out" "cost paid from subsidized financing, where that does not count";
    SUBSIDIZED_FINANCING_COUNTS Note "subsidized-financing-counts" "subsidized financing where it does count";
    SPOUSE_AMONG_OTHERS Question "spouse-among-others" "others who paid, on a joint return"
        blocks "what a spouse paid on a joint return is the client's own cost";
    SPOUSE_CLAIMS_TOO Question "spouse-claims-too" "an item on the return of a spouse who files separately"
        blocks "each of two claims only what that one paid";
    OTHERS_PAID_UNSHARED Note "others-paid-unshared" "what others paid for an item without a limit to share";
    TENANT_PAID Question "tenant-paid" "a tenant's item without proof of payment"
        open "about the proof of payment; the amount is given";
    ASSOCIATION_STATEMENT_UNSEEN Question "association-statement-unseen" "an association's cost without its statement"
        open "about the paper; cost and share are given";
    NO_PROOF Warning "no-proof" "an item without any paper, in a case that lists papers";
    NO_PAPERS Question "no-papers" "a case that lists no papers"
        open "about proof only";
    // Words in the text of a cost.
    ROOF_WORDS Question "roof-words" "the text of a cost speaks of a roof"
        blocks "a roof does not count";
    POOL_WORDS Question "pool-words" "the text of a cost speaks of a pool or hot tub"
        blocks "what serves a pool does not count";
    POOL_NOT_COUNTED Warning "pool-not-counted" "a cost that serves a pool or hot tub, in the contract of what counts";
    POOL_LABOR Question "pool-labor" "labor in the same contract as what serves a pool or hot tub"
        blocks "labor for what serves a pool does not count";
    FINANCING_WORDS Question "financing-words" "the text of a cost speaks of interest or a fee for borrowing"
        blocks "interest and fees do not count";
    SERVICE_WORDS Question "service-words" "the text of a cost speaks of a warranty or a service"
        blocks "a warranty or service does not count";
    PANEL_WORDS Question "panel-words" "the text of a cost speaks of an electrical panel"
        blocks "a panel for clean energy property does not count by default";
    REMOVAL_WORDS Question "removal-words" "the text of a cost speaks of taking away what was there"
        blocks "taking away what was there does not count by default";
    LABOR_WORDS Question "labor-words" "the text of a cost of goods speaks of labor"
        blocks "labor does not count for parts of the envelope";
    USED_WORDS Question "used-words" "the text of a cost speaks of used equipment"
        blocks "used equipment earns nothing";
    LEASE_WORDS Question "lease-words" "the text of a cost speaks of a lease or a power contract"
        blocks "equipment that the client does not own earns nothing";
    BUSINESS_WORDS Question "business-words" "the text of a cost speaks of business use"
        blocks "below 80% of nonbusiness use only that share counts";
    CREDIT_WORDS Question "credit-words" "the text of a discount speaks of a tax credit"
        blocks "the expected credit would lower the cost it is figured on";
    DISCOUNT_WORDS Question "discount-words" "the text of a cost speaks of something taken off the price"
        blocks "what is taken off the price was added to it";
    STRUCTURE_WORDS Question "structure-words" "the text of a cost speaks of a structure or of strengthening the building"
        blocks "a structure or strength for the building does not count by default";
    OFF_SITE_WORDS Question "off-site-words" "the text of a cost speaks of an array that stands elsewhere"
        blocks "a share of a distant array may earn nothing";
    DISTRIBUTION_WORDS Question "distribution-words" "the text of a cost speaks of ducts or floors that any heating system uses"
        blocks "ducts that any heating system would use may not count";
    GENERATOR_WORDS Question "generator-words" "the text of a cost speaks of equipment that is not clean energy property"
        blocks "equipment that makes no power from the sun earns nothing";
    OWN_LABOR_WORDS Question "own-labor-words" "the text of a cost speaks of the client's own work"
        blocks "the client's own work has no cost";
    SITE_WORDS Question "site-words" "the text of a cost speaks of other work on the house or the grounds"
        blocks "other work on the house or the grounds does not count";
    ASSOCIATION_WORDS Question "association-words" "the text of a cost speaks of an association whose share is not given"
        blocks "only the client's share of an association's cost counts";
    KIND_WORDS Question "kind-words" "the text of a cost speaks of another thing than the item's kind"
        blocks "what is of another kind has other limits, or earns nothing";
    AUDIT_WORDS Question "audit-words" "the text of a cost speaks of an audit inside another item"
        blocks "an audit has a limit of its own and counts in no other item";
    // What looks like a slip.
    QUANTITY_UNLIKELY Question "quantity-unlikely" "a capacity far above what a home has"
        blocks "the limit of a fuel cell and the least size of a battery hang on it";
    ALL_GOODS Question "all-goods" "one price for goods and labor that is said to be all goods"
        blocks "labor does not count for parts of the envelope";
    SPLIT_UNSAID Question "split-unsaid" "a share of goods in one price that no paper and no reason explains"
        blocks "labor does not count for parts of the envelope";
    COST_TWICE Question "cost-twice" "two rows of a year with the same words and amount"
        blocks "a cost counts once";
    BALANCE_WORDS Question "balance-words" "a balance brought in whose own words say that it is another thing"
        blocks "only clean energy credit of the year before is carried in";
    SPOUSE_UNNAMED Question "spouse-unnamed" "a joint return in a case that names one person"
        open "about who the people are; the filing status is given";
    // Incentives.
    FEDERAL_REBATE_WORDS Question "federal-rebate-words" "a payment whose payer speaks of a federal home energy rebate"
        blocks "a federal home energy rebate always comes off the cost";
    GRANT_PAYER Question "grant-payer" "a grant or tax credit from a payer who sells power or gas"
        blocks "a public utility's subsidy always comes off the cost";
    METERING_PAID_AT_ONCE Question "metering-paid-at-once" "net metering paid or promised by the time of installation, or in one payment soon after"
        blocks "what was paid toward the purchase comes off the cost";
    STATE_CREDIT_WORDS Question "state-credit-words" "a State income tax credit whose payer or day speaks of a payment"
        blocks "a payment of the State or of the seller comes off the cost";
    INCENTIVE_UNCLEAR Question "incentive-unclear" "an incentive whose character is not said"
        blocks "its character decides whether it comes off the cost";
    GRANT_PRICE_OR_INCOME Question "grant-price-or-income" "a State or local payment that may be income"
        blocks "income does not come off the cost, a price reduction does";
    REBATE_PAYER Question "rebate-payer" "a rebate from a payer who is hardly on the seller's side"
        blocks "its character decides whether it comes off the cost";
    SUBSIDY_PAYER Question "subsidy-payer" "a utility's subsidy from a payer who is hardly a utility"
        blocks "its character decides whether it comes off the cost";
    INCENTIVE_LATER_YEAR Question "incentive-later-year" "an incentive received in a later year, without word when it was agreed"
        blocks "one that was not agreed at the purchase may not lower this year's cost";
    HOME_REBATE_SPLIT Question "home-rebate-split" "a federal home energy rebate over several items"
        blocks "its parts decide which item's limit is reached";
    CERTIFICATES_PAID_AT_ONCE Question "certificates-paid-at-once" "energy certificates paid for by the time of installation, or in one payment soon after"
        blocks "its character decides whether it comes off the cost";
    INCENTIVE_WITHOUT_PAPER Question "incentive-without-paper" "an incentive that no paper shows"
        open "about proof; how it is treated follows from its kind";
    // Other credits of the return.
    CREDITS_PASS_TAX Question "credits-pass-tax" "credits that together are more than the tax"
        blocks "more credit than tax was used: an amount that the tax limit subtracts is another";
    WORKSHEET_B_ABOVE_RETURN Question "worksheet-b-above-return" "a worksheet amount of the child credit above the one on the return"
        blocks "the tax limit subtracts the worksheet's amount";
    // Where the law is open and a reading was taken.
    REDUCTION_OF_MIXED_PRICE Note "reduction-of-mixed-price" "a discount or rebate on a price that holds costs that do not count too";
    REDUCTION_BELOW_SHARE Error "reduction-below-share" "a part of a discount or rebate below its share by price";
    LAW_NOT_SETTLED Note "law-not-settled" "costs or incentives whose treatment is not settled, and the readings taken";
    NONBUSINESS_MEASURE Note "nonbusiness-measure" "a share of nonbusiness use, whose measure is not prescribed";
    OTHER_OWNERS_YEARLY_LIMIT Question "other-owners-yearly-limit" "joint owners who pass the yearly limit only together"
        blocks "a shared limit gives this owner less";
    JOINT_OCCUPANTS Note "joint-occupants" "limits shared with other occupants of the home";
    FUEL_CELL_FRACTION Note "fuel-cell-fraction" "a fuel cell whose capacity is no whole number of half kilowatts";
    LIFETIME_LIMIT_OVER Note "lifetime-limit-over" "credits of earlier years that limit nothing any more";
    // Returns and people.
    CLAIMED_UNSAID Question "claimed-unsaid" "a filed return with a credit, of which the case does not say what it shows"
        open "no computation reads what was filed";
    CLAIMED_TOO_LITTLE Question "claimed-too-little" "a filed return that shows less than is computed, by more than rounding"
        open "whether to amend changes no computed figure";
    CLAIMED_TOO_MUCH Question "claimed-too-much" "a filed return that shows more than is computed, by more than rounding"
        open "whether to amend changes no computed figure";
    CLAIMED_BUT_FOR_ROUNDING Note "claimed-but-for-rounding" "a filed return that differs from what is computed by rounding only";
    CARRYFORWARD_AFTER_JOINT_RETURN Question "carryforward-after-joint-return" "a balance carried from a joint return into another kind"
        blocks "only this client's part is carried on";
    CARRYFORWARD_AFTER_DEATH Question "carryforward-after-death" "a balance carried on after a person's death"
        blocks "only the survivor's part is carried on";
    FINAL_RETURN Question "final-return" "the return of the year of death of a person without a joint return"
        open "who signs changes no figure";
    DUAL_STATUS Question "dual-status" "a nonresident's return"
        blocks "a year with two statuses is figured otherwise";
    // Answers.
    UNKNOWN_QUESTION Warning "unknown-question" "an answer to a question that does not exist";
    ANSWER_WITHOUT_FOR Note "answer-without-for" "an answer that does not say for which facts it was given";
}
