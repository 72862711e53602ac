//! The catalog of what computing a case can find, one line for each code, and the mistakes of the trade that
//! they answer.
//!
//! Nothing comes in. Programs may rely on the codes; their words may change. For every code a small case
//! under `tests/findings` shows the finding as it is printed.

/// Code and meaning of every finding that computing a case can yield.
pub const CODES: &[(&str, &str)] = &[
    // In which year an item counts.
    ("not-complete", "an item without a day of completed installation"),
    ("missing-paid-date", "a home energy audit without a day of payment"),
    ("missing-original-use", "an item of a new home whose first use is not given"),
    ("days-straddle-year-end", "an item complete in one year and inspected or switched on in a later one"),
    // Whether it counts.
    ("ended", "an item complete after the credits ended"),
    ("placed-in-service-late", "an item placed in service after the credit ended"),
    ("kind-not-in-law", "a kind of property that falls under neither credit in its year"),
    ("used-equipment", "equipment that was used before"),
    ("not-owned-equipment", "equipment that the client leases, or whose power the client only buys"),
    ("business-use-only", "an item used for business only"),
    ("outside-us", "an item for a home outside the United States"),
    ("new-home-improvement", "a 25C item that is part of building a new home"),
    ("home-does-not-fit", "an item for a home that this kind must not serve"),
    ("home-use-unsaid", "a home whose use on the day that decides is not said"),
    ("missing-fact", "a fact that the law asks for and the case does not give"),
    ("below-requirement", "a fact below what the law asks for"),
    ("not-certified", "an item without the certificate that the law asks for"),
    ("auditor-not-certified", "an audit without a certified auditor"),
    ("enables-nothing", "enabling property without 25C property that it enables"),
    ("missing-maker-code", "an item of 2025 without its maker's code"),
    ("fuel-cell-efficiency-unsaid", "a fuel cell whose efficiency is not given"),
    // What counts of its cost.
    ("missing-materials-share", "one price for goods and labor where only the goods count"),
    ("settled-law", "a treatment chosen where the law leaves no choice"),
    ("incentive-above-cost", "incentives above the cost that counts"),
    // Returns and the chain of years.
    ("worksheet-b-unsaid", "a child tax credit that does not say whether Worksheet B was used"),
    ("credit-not-in-year", "another credit that does not exist in its year"),
    ("form-or-statute", "several items on one line of the form that has one limit"),
    ("two-main-homes", "limits of a joint return with two main homes"),
    ("form-for-each-home", "two main homes on one return, each with a form of its own"),
    ("three-main-homes", "a couple with work of one year at more than two main homes"),
    ("two-homes-and-joint-owners", "two main homes on one return, and other owners besides"),
    ("two-homes-earlier-windows", "two main homes on one return, and window costs of earlier years"),
    ("earlier-credits-unsaid", "a limit that looks back to years of which the case says nothing"),
    ("earlier-windows-unsaid", "an earlier credit that may have been for windows"),
    ("earlier-credit-differs", "an earlier credit or window cost that differs from what the case yields"),
    ("earlier-credit-of-no-year", "a credit of a year to which no limit looks back"),
    ("other-owners-credit", "joint owners who share the limit for all years by their own forms"),
    ("joint-owner-with-earlier-credit", "a joint owner's share of the limit, less credit of earlier years"),
    ("no-return-yet", "a year with property that counts and without a return"),
    ("missing-return", "a year without a return through which a balance passes"),
    ("year-without-law", "a year whose law is not in the program"),
    ("before-the-credits", "an item from before there was either credit"),
    ("carried-in-differs", "a balance brought in that differs from what the case yields"),
    ("carried-in-lost", "25C credit that was lost, brought in as a balance"),
    ("carried-in-without-credit", "a balance brought in above all 25D credit that it could come from"),
    ("carried-in-like-lost", "a balance brought in that is the amount of a 25C credit lost"),
    ("balance-unshown", "a balance brought in that no form and no property shows"),
    ("carried-in-instead", "a balance brought in that is taken instead of what the case yields"),
    (
        "carryforward-goes-on",
        "a filed return that leaves out a balance carried past the last year of the credit",
    ),
    ("form-not-in-year", "a form of return that its year did not have"),
    ("before-checkpoint", "an item from before the balance that starts the chain"),
    // What a careful reviewer would ask of an item that counts.
    ("standard-unsaid", "an item whose efficiency standard is not named"),
    ("standard-not-the-one", "an item said to meet another standard than the law asks for"),
    ("roof-material-unsaid", "a roof of a year in which only metal roofs count"),
    ("second-home-use", "an item for a second home whose letting is not excluded"),
    ("let-in-same-year", "an item for a home that was let to others in the same year"),
    ("new-home-or-existing", "work on an existing home close to the home's first use"),
    ("audit-report-unseen", "an audit without its report on file"),
    ("auditor-incomplete", "an auditor without identifying number or program"),
    ("fuel-cell-begun-late", "a fuel cell of 2025 whose construction may have begun in 2025"),
    ("loan-above-price", "financing above everything that was paid"),
    ("loan-subsidized", "a loan that may be subsidized, where that does not count"),
    ("subsidized-financing-counts", "subsidized financing where it does count"),
    ("spouse-among-others", "others who paid, on a joint return"),
    ("spouse-claims-too", "an item on the return of a spouse who files separately"),
    ("tenant-paid", "a tenant's item without proof of payment"),
    ("association-statement-unseen", "an association's cost without its statement"),
    ("no-proof", "an item without any paper, in a case that lists papers"),
    ("no-papers", "a case that lists no papers"),
    // Words in the text of a cost.
    ("roof-words", "the text of a cost speaks of a roof"),
    ("pool-words", "the text of a cost speaks of a pool or hot tub"),
    ("financing-words", "the text of a cost speaks of interest or a fee for borrowing"),
    ("service-words", "the text of a cost speaks of a warranty or a service"),
    ("panel-words", "the text of a cost speaks of an electrical panel"),
    ("removal-words", "the text of a cost speaks of taking away what was there"),
    ("labor-words", "the text of a cost of goods speaks of labor"),
    ("used-words", "the text of a cost speaks of used equipment"),
    ("lease-words", "the text of a cost speaks of a lease or a power contract"),
    ("business-words", "the text of a cost speaks of business use"),
    ("credit-words", "the text of a discount speaks of a tax credit"),
    ("discount-words", "the text of a cost speaks of something taken off the price"),
    ("structure-words", "the text of a cost speaks of a structure or of strengthening the building"),
    ("off-site-words", "the text of a cost speaks of an array that stands elsewhere"),
    ("distribution-words", "the text of a cost speaks of ducts or floors that any heating system uses"),
    ("generator-words", "the text of a cost speaks of equipment that is not clean energy property"),
    ("own-labor-words", "the text of a cost speaks of the client's own work"),
    ("site-words", "the text of a cost speaks of other work on the house or the grounds"),
    ("association-words", "the text of a cost speaks of an association whose share is not given"),
    ("kind-words", "the text of a cost speaks of another thing than the item's kind"),
    ("audit-words", "the text of a cost speaks of an audit inside another item"),
    // What looks like a slip.
    ("quantity-unlikely", "a capacity far above what a home has"),
    ("all-goods", "one price for goods and labor that is said to be all goods"),
    ("cost-twice", "two rows of a year with the same words and amount"),
    ("balance-words", "a balance brought in whose own words say that it is another thing"),
    ("spouse-unnamed", "a joint return in a case that names one person"),
    // Incentives.
    ("federal-rebate-words", "a payment whose payer speaks of a federal home energy rebate"),
    ("grant-payer", "a grant or tax credit from a payer who sells power or gas"),
    ("metering-paid-at-once", "net metering paid or promised by the time of installation"),
    ("incentive-unclear", "an incentive whose character is not said"),
    ("grant-price-or-income", "a State or local payment that may be income"),
    ("rebate-payer", "a rebate from a payer who is hardly on the seller's side"),
    ("subsidy-payer", "a utility's subsidy from a payer who is hardly a utility"),
    ("incentive-later-year", "an incentive received in a later year, without word when it was agreed"),
    ("home-rebate-split", "a federal home energy rebate over several items"),
    ("certificates-paid-at-once", "energy certificates paid for by the time of installation"),
    ("incentive-without-paper", "an incentive that no paper shows"),
    // Other credits of the return.
    ("credits-pass-tax", "credits that together are more than the tax"),
    ("worksheet-b-above-return", "a worksheet amount of the child credit above the one on the return"),
    // Where the law is open and a reading was taken.
    ("law-not-settled", "costs or incentives whose treatment is not settled, and the readings taken"),
    ("nonbusiness-measure", "a share of nonbusiness use, whose measure is not prescribed"),
    ("other-owners-yearly-limit", "joint owners who pass the yearly limit only together"),
    ("joint-occupants", "limits shared with other occupants of the home"),
    ("fuel-cell-fraction", "a fuel cell whose capacity is no whole number of half kilowatts"),
    ("lifetime-limit-over", "credits of earlier years that limit nothing any more"),
    // Returns and people.
    ("claimed-unsaid", "a filed return with a credit, of which the case does not say what it shows"),
    ("claimed-too-little", "a filed return that shows less than is computed, by more than rounding"),
    ("claimed-too-much", "a filed return that shows more than is computed, by more than rounding"),
    ("claimed-but-for-rounding", "a filed return that differs from what is computed by rounding only"),
    ("carryforward-after-joint-return", "a balance carried from a joint return into another kind"),
    ("carryforward-after-death", "a balance carried on after a person's death"),
    ("final-return", "the return of the year of death of a person without a joint return"),
    ("dual-status", "a nonresident's return"),
    // Answers.
    ("unknown-question", "an answer to a question that does not exist"),
    ("answer-without-for", "an answer that does not say for which facts it was given"),
];

/// A question, and whether it must be answered before a packet is sealed.
pub struct Question {
    /// Its code.
    pub code: &'static str,
    /// Its answer could change a figure on a return.
    pub blocking: bool,
    /// Why it is so.
    pub why: &'static str,
}

const fn blocking(code: &'static str, why: &'static str) -> Question {
    Question { code, blocking: true, why }
}

const fn open(code: &'static str, why: &'static str) -> Question {
    Question { code, blocking: false, why }
}

/// Says whether a question must be answered before a packet is sealed.
pub fn blocks(code: &str) -> bool {
    QUESTIONS.iter().any(|one| one.code == code && one.blocking)
}

/// Every question. One blocks a packet where its answer could change a figure on a return by law; one about proof, or
/// about what to do with a return that was filed, does not.
pub const QUESTIONS: &[Question] = &[
    blocking("days-straddle-year-end", "another day puts the credit into another year, or ends it"),
    blocking("fuel-cell-efficiency-unsaid", "at or below the law's figure the fuel cell earns nothing"),
    blocking("worksheet-b-unsaid", "the tax limit subtracts another amount where Worksheet B was used"),
    blocking("worksheet-b-above-return", "the tax limit subtracts the worksheet's amount"),
    blocking(
        "credits-pass-tax",
        "more credit than tax was used: an amount that the tax limit subtracts is another",
    ),
    blocking("two-main-homes", "two sets of limits would allow more"),
    blocking("two-homes-earlier-windows", "the form of one home may have more room for windows"),
    blocking("earlier-credits-unsaid", "what was taken before leaves less of the limit"),
    blocking("earlier-windows-unsaid", "windows of earlier years leave less of the ceiling"),
    blocking("other-owners-credit", "the limit is shared by what stands on the other owners' forms"),
    blocking("other-owners-yearly-limit", "a shared limit gives this owner less"),
    blocking("roof-material-unsaid", "an asphalt roof of that time earns nothing"),
    blocking("standard-unsaid", "an item below its standard earns nothing"),
    blocking("standard-not-the-one", "an item below its standard earns nothing"),
    blocking("second-home-use", "below 80% of nonbusiness use only that share counts"),
    blocking(
        "let-in-same-year",
        "below 80% of nonbusiness use only that share counts; a home that is no residence earns nothing",
    ),
    blocking(
        "new-home-or-existing",
        "what belongs to building earns no 25C, and 25D counts at the first use",
    ),
    blocking("audit-report-unseen", "without the written report the audit earns nothing"),
    blocking("auditor-incomplete", "from 2024 on the report must show the auditor's number and program"),
    blocking("fuel-cell-begun-late", "whether it counts hangs on the day construction began"),
    blocking("loan-above-price", "a fee or interest in the price is no cost of the property"),
    blocking("loan-subsidized", "cost paid from subsidized financing does not count for 25C"),
    blocking("spouse-among-others", "what a spouse paid on a joint return is the client's own cost"),
    blocking("spouse-claims-too", "each of two claims only what that one paid"),
    open("tenant-paid", "about the proof of payment; the amount is given"),
    open("association-statement-unseen", "about the paper; cost and share are given"),
    open("no-papers", "about proof only"),
    blocking("roof-words", "a roof does not count"),
    blocking("pool-words", "what serves a pool does not count"),
    blocking("financing-words", "interest and fees do not count"),
    blocking("service-words", "a warranty or service does not count"),
    blocking("panel-words", "a panel for clean energy property does not count by default"),
    blocking("removal-words", "taking away what was there does not count by default"),
    blocking("labor-words", "labor does not count for parts of the envelope"),
    blocking("used-words", "used equipment earns nothing"),
    blocking("lease-words", "equipment that the client does not own earns nothing"),
    blocking("business-words", "below 80% of nonbusiness use only that share counts"),
    blocking("credit-words", "the expected credit would lower the cost it is figured on"),
    blocking("discount-words", "what is taken off the price was added to it"),
    blocking("structure-words", "a structure or strength for the building does not count by default"),
    blocking("off-site-words", "a share of a distant array may earn nothing"),
    blocking("distribution-words", "ducts that any heating system would use may not count"),
    blocking("generator-words", "equipment that makes no power from the sun earns nothing"),
    blocking("own-labor-words", "the client's own work has no cost"),
    blocking("site-words", "other work on the house or the grounds does not count"),
    blocking("association-words", "only the client's share of an association's cost counts"),
    blocking("kind-words", "what is of another kind has other limits, or earns nothing"),
    blocking("audit-words", "an audit has a limit of its own and counts in no other item"),
    blocking("quantity-unlikely", "the limit of a fuel cell and the least size of a battery hang on it"),
    blocking("all-goods", "labor does not count for parts of the envelope"),
    blocking("cost-twice", "a cost counts once"),
    blocking("carried-in-like-lost", "only clean energy credit is carried in"),
    blocking("balance-unshown", "only clean energy credit of the year before is carried in"),
    blocking("balance-words", "only clean energy credit of the year before is carried in"),
    open("spouse-unnamed", "about who the people are; the filing status is given"),
    blocking("federal-rebate-words", "a federal home energy rebate always comes off the cost"),
    blocking("grant-payer", "a public utility's subsidy always comes off the cost"),
    blocking("metering-paid-at-once", "what was paid toward the purchase comes off the cost"),
    blocking("incentive-unclear", "its character decides whether it comes off the cost"),
    blocking("grant-price-or-income", "income does not come off the cost, a price reduction does"),
    blocking("rebate-payer", "its character decides whether it comes off the cost"),
    blocking("subsidy-payer", "its character decides whether it comes off the cost"),
    blocking(
        "incentive-later-year",
        "one that was not agreed at the purchase may not lower this year's cost",
    ),
    blocking("home-rebate-split", "its parts decide which item's limit is reached"),
    blocking("certificates-paid-at-once", "its character decides whether it comes off the cost"),
    open("incentive-without-paper", "about proof; how it is treated follows from its kind"),
    open("claimed-unsaid", "no computation reads what was filed"),
    open("claimed-too-little", "whether to amend changes no computed figure"),
    open("claimed-too-much", "whether to amend changes no computed figure"),
    blocking("carryforward-after-joint-return", "only this client's part is carried on"),
    blocking("carryforward-after-death", "only the survivor's part is carried on"),
    open("final-return", "who signs changes no figure"),
    blocking("dual-status", "a year with two statuses is figured otherwise"),
];

/// The points on which no authority was found or authorities disagree, and what tells of each.
pub const OPEN_POINTS: &[(&str, &[&str])] = &[
    ("whether an owner only may claim", &["tenant-paid"]),
    ("an array off the site", &["off-site-words"]),
    ("on which day an installation is complete", &["days-straddle-year-end"]),
    ("permits, inspections and developer fees", &["law-not-settled"]),
    ("a roof and matching shingles beside solar property", &["roof-words"]),
    ("steel, carports and stronger rafters", &["structure-words", "law-not-settled"]),
    ("storage that serves a pool", &["pool-words"]),
    ("batteries before 2023", &["kind-not-in-law"]),
    ("equipment of which a part makes power", &["generator-words"]),
    ("panels for solar property only", &["panel-words", "enables-nothing", "law-not-settled"]),
    ("ducts and floors behind a geothermal heat pump", &["distribution-words"]),
    ("interest and dealer fees", &["financing-words", "loan-above-price", "law-not-settled"]),
    ("warranties, service and monitoring plans", &["service-words", "law-not-settled"]),
    ("up-front payments tied to certificates", &["certificates-paid-at-once"]),
    ("State and local payments", &["grant-price-or-income", "law-not-settled"]),
    ("State income tax credits", &["law-not-settled"]),
    ("a federal home rebate over several items", &["home-rebate-split"]),
    ("loans repaid with the property tax", &["loan-subsidized"]),
    ("an incentive that turns up later", &["incentive-later-year"]),
    ("gifts of employers and charities", &["incentive-unclear"]),
    ("how business use is measured", &["nonbusiness-measure"]),
    ("limits of joint occupants after 2023", &["joint-occupants", "other-owners-yearly-limit"]),
    ("two main homes on a joint return", &["two-main-homes"]),
    (
        "death, divorce and another filing status",
        &["carryforward-after-death", "carryforward-after-joint-return", "final-return"],
    ),
    ("a limit for each item or for a line", &["form-or-statute"]),
    ("a part of half a kilowatt", &["fuel-cell-fraction"]),
    ("a fuel cell begun in 2025", &["fuel-cell-begun-late"]),
];

/// The mistakes that the trade makes most, official warnings first, and what answers each: codes of findings, of
/// reading or computing a case, or lines (`line 361`) where the arithmetic itself prevents the mistake.
pub const MISTAKES: [(&str, &[&str]); 25] = [
    ("the credit taken for a refund of 30%", &["missing-key", "credit-words", "line 520", "line 540"]),
    (
        "a carryforward dropped, or not filed again in a year without use",
        &["missing-return", "carried-in-differs", "claimed-too-little"],
    ),
    (
        "the year of payment or contract taken for the year of installation",
        &["not-complete", "missing-paid-date", "days-straddle-year-end", "date-order"],
    ),
    ("work finished after December 31, 2025", &["ended", "placed-in-service-late"]),
    (
        "a rebate or subsidy not taken off, or income taken off",
        &[
            "federal-rebate-words",
            "grant-payer",
            "metering-paid-at-once",
            "incentive-unclear",
            "grant-price-or-income",
            "rebate-payer",
            "subsidy-payer",
            "certificates-paid-at-once",
            "incentive-without-paper",
        ],
    ),
    (
        "labor counted for windows, doors or insulation",
        &["missing-materials-share", "labor-words", "settled-law"],
    ),
    ("the limits of 25C misread", &["form-or-statute", "line 361", "line 376", "line 380"]),
    (
        "25C thought to carry forward",
        &[
            "line 395",
            "balance-words",
            "carried-in-lost",
            "carried-in-like-lost",
            "carried-in-without-credit",
            "balance-unshown",
        ],
    ),
    ("no maker's code for 2025", &["missing-maker-code"]),
    (
        "a home that is no residence of the client",
        &["home-does-not-fit", "home-use-unsaid", "second-home-use", "let-in-same-year"],
    ),
    ("a product below the standard", &["standard-unsaid", "standard-not-the-one", "below-requirement"]),
    ("a whole roof claimed with solar panels", &["roof-words"]),
    ("a lease or power contract claimed", &["not-owned-equipment", "lease-words"]),
    (
        "interest, fees, warranties or insurance in the cost",
        &["financing-words", "service-words", "loan-above-price"],
    ),
    (
        "a home office or rental share left aside",
        &["business-use-only", "business-words", "let-in-same-year"],
    ),
    (
        "25C for a new home, or 25D before moving in",
        &["new-home-improvement", "missing-original-use", "new-home-or-existing"],
    ),
    (
        "a battery before 2023 or below 3 kilowatt-hours",
        &["missing-fact", "below-requirement", "year-without-law"],
    ),
    ("a solar pool heater, or a solar water heater without certificate", &["pool-words", "not-certified"]),
    ("the home's basis not reduced", &["line 709", "line 711"]),
    (
        "an audit without report or certified auditor",
        &["auditor-not-certified", "auditor-incomplete", "audit-report-unseen"],
    ),
    ("used equipment, or what came with the house", &["used-equipment", "used-words"]),
    (
        "a cost claimed twice, or a carryforward taken whole after death or divorce",
        &[
            "spouse-among-others",
            "spouse-claims-too",
            "carryforward-after-joint-return",
            "carryforward-after-death",
            "final-return",
        ],
    ),
    (
        "the lifetime limit applied after 2022, or forgotten before",
        &[
            "earlier-credits-unsaid",
            "earlier-windows-unsaid",
            "earlier-credit-differs",
            "earlier-credit-of-no-year",
            "lifetime-limit-over",
            "line 388",
        ],
    ),
    ("a forgotten credit wanted on a later year's return", &["claimed-unsaid", "claimed-too-little"]),
    (
        "no proof of home, payment or completion",
        &["no-proof", "no-papers", "tenant-paid", "association-statement-unseen"],
    ),
];
