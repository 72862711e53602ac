//! The mistakes that the trade makes most, and the points on which the law is open: what answers each, and what tells of it.

use Answer::{Found, On, Read};
use gablework::case;
use gablework::credit::codes::{self, Code};
use gablework::credit::line::{self, Line};

/// What keeps a mistake from being made.
enum Answer {
    /// Computing a case finds it.
    Found(Code),
    /// Reading a case finds it.
    Read(&'static str),
    /// The arithmetic of a line prevents it.
    On(Line),
}

/// The points on which no authority was found or authorities disagree.
const OPEN_POINTS: &[(&str, &[Answer])] = &[
    ("whether an owner only may claim", &[Found(codes::TENANT_PAID)]),
    ("an array off the site", &[Found(codes::OFF_SITE_WORDS)]),
    ("on which day an installation is complete", &[Found(codes::DAYS_STRADDLE_YEAR_END)]),
    ("a discount on a price of which a part does not count", &[Found(codes::REDUCTION_OF_MIXED_PRICE)]),
    ("permits, inspections and developer fees", &[Found(codes::LAW_NOT_SETTLED)]),
    ("a roof and matching shingles beside solar property", &[Found(codes::ROOF_WORDS)]),
    ("steel, carports and stronger rafters", &[Found(codes::STRUCTURE_WORDS), Found(codes::LAW_NOT_SETTLED)]),
    ("storage that serves a pool", &[Found(codes::POOL_WORDS)]),
    ("batteries before 2023", &[Found(codes::KIND_NOT_IN_LAW)]),
    ("equipment of which a part makes power", &[Found(codes::GENERATOR_WORDS)]),
    (
        "panels for solar property only",
        &[Found(codes::PANEL_WORDS), Found(codes::ENABLES_NOTHING), Found(codes::LAW_NOT_SETTLED)],
    ),
    ("ducts and floors behind a geothermal heat pump", &[Found(codes::DISTRIBUTION_WORDS)]),
    (
        "interest and dealer fees",
        &[Found(codes::FINANCING_WORDS), Found(codes::LOAN_ABOVE_PRICE), Found(codes::LAW_NOT_SETTLED)],
    ),
    (
        "warranties, service and monitoring plans",
        &[Found(codes::SERVICE_WORDS), Found(codes::LAW_NOT_SETTLED)],
    ),
    ("up-front payments tied to certificates", &[Found(codes::CERTIFICATES_PAID_AT_ONCE)]),
    ("State and local payments", &[Found(codes::GRANT_PRICE_OR_INCOME), Found(codes::LAW_NOT_SETTLED)]),
    ("State income tax credits", &[Found(codes::STATE_CREDIT_WORDS), Found(codes::LAW_NOT_SETTLED)]),
    ("a federal home rebate over several items", &[Found(codes::HOME_REBATE_SPLIT)]),
    ("loans repaid with the property tax", &[Found(codes::LOAN_SUBSIDIZED)]),
    ("an incentive that turns up later", &[Found(codes::INCENTIVE_LATER_YEAR)]),
    ("gifts of employers and charities", &[Found(codes::INCENTIVE_UNCLEAR)]),
    ("how business use is measured", &[Found(codes::NONBUSINESS_MEASURE)]),
    (
        "limits of joint occupants after 2023",
        &[Found(codes::JOINT_OCCUPANTS), Found(codes::OTHER_OWNERS_YEARLY_LIMIT)],
    ),
    ("two main homes on a joint return", &[Found(codes::TWO_MAIN_HOMES)]),
    (
        "death, divorce and another filing status",
        &[
            Found(codes::CARRYFORWARD_AFTER_DEATH),
            Found(codes::CARRYFORWARD_AFTER_JOINT_RETURN),
            Found(codes::FINAL_RETURN),
        ],
    ),
    ("a limit for each item or for a line", &[Found(codes::FORM_OR_STATUTE)]),
    ("a part of half a kilowatt", &[Found(codes::FUEL_CELL_FRACTION)]),
    ("a fuel cell begun in 2025", &[Found(codes::FUEL_CELL_BEGUN_LATE)]),
];

/// The mistakes, official warnings first.
const MISTAKES: &[(&str, &[Answer])] = &[
    (
        "the credit taken for a refund of 30%",
        &[
            Read("missing-key"),
            Found(codes::CREDIT_WORDS),
            On(line::IMPROVEMENT_TAX_LEFT),
            On(line::CLEAN_TAX_LEFT),
        ],
    ),
    (
        "a carryforward dropped, or not filed again in a year without use",
        &[Found(codes::MISSING_RETURN), Found(codes::CARRIED_IN_DIFFERS), Found(codes::CLAIMED_TOO_LITTLE)],
    ),
    (
        "the year of payment or contract taken for the year of installation",
        &[
            Found(codes::COUNTS_IN_ANOTHER_YEAR),
            Found(codes::NOT_COMPLETE),
            Found(codes::MISSING_PAID_DATE),
            Found(codes::DAYS_STRADDLE_YEAR_END),
            Read("date-order"),
        ],
    ),
    ("work finished after December 31, 2025", &[Found(codes::ENDED), Found(codes::PLACED_IN_SERVICE_LATE)]),
    (
        "a rebate or subsidy not taken off, or income taken off",
        &[
            Found(codes::FEDERAL_REBATE_WORDS),
            Found(codes::GRANT_PAYER),
            Found(codes::METERING_PAID_AT_ONCE),
            Found(codes::STATE_CREDIT_WORDS),
            Found(codes::INCENTIVE_UNCLEAR),
            Found(codes::GRANT_PRICE_OR_INCOME),
            Found(codes::REBATE_PAYER),
            Found(codes::SUBSIDY_PAYER),
            Found(codes::CERTIFICATES_PAID_AT_ONCE),
            Found(codes::INCENTIVE_WITHOUT_PAPER),
        ],
    ),
    (
        "labor counted for windows, doors or insulation",
        &[Found(codes::MISSING_MATERIALS_SHARE), Found(codes::LABOR_WORDS), Found(codes::SETTLED_LAW)],
    ),
    (
        "the limits of 25C misread",
        &[
            Found(codes::FORM_OR_STATUTE),
            On(line::GENERAL_CREDIT),
            On(line::HEAT_PUMP_GROUP_CREDIT),
            On(line::IMPROVEMENT_BEFORE_LIMIT),
        ],
    ),
    (
        "25C thought to carry forward",
        &[
            On(line::IMPROVEMENT_LOST),
            Found(codes::IMPROVEMENT_LOST),
            Found(codes::BALANCE_WORDS),
            Found(codes::CARRIED_IN_LOST),
            Found(codes::CARRIED_IN_LIKE_LOST),
            Found(codes::CARRIED_IN_WITHOUT_CREDIT),
            Found(codes::BALANCE_UNSHOWN),
        ],
    ),
    ("no maker's code for 2025", &[Found(codes::MISSING_MAKER_CODE)]),
    (
        "a home that is no residence of the client",
        &[
            Found(codes::HOME_DOES_NOT_FIT),
            Found(codes::HOME_USE_UNSAID),
            Found(codes::SECOND_HOME_USE),
            Found(codes::LET_IN_SAME_YEAR),
        ],
    ),
    (
        "a product below the standard",
        &[Found(codes::STANDARD_UNSAID), Found(codes::STANDARD_NOT_THE_ONE), Found(codes::BELOW_REQUIREMENT)],
    ),
    ("a whole roof claimed with solar panels", &[Found(codes::ROOF_WORDS)]),
    ("a lease or power contract claimed", &[Found(codes::NOT_OWNED_EQUIPMENT), Found(codes::LEASE_WORDS)]),
    (
        "interest, fees, warranties or insurance in the cost",
        &[Found(codes::FINANCING_WORDS), Found(codes::SERVICE_WORDS), Found(codes::LOAN_ABOVE_PRICE)],
    ),
    (
        "a home office or rental share left aside",
        &[Found(codes::BUSINESS_USE_ONLY), Found(codes::BUSINESS_WORDS), Found(codes::LET_IN_SAME_YEAR)],
    ),
    (
        "25C for a new home, or 25D before moving in",
        &[
            Found(codes::NEW_HOME_IMPROVEMENT),
            Found(codes::MISSING_ORIGINAL_USE),
            Found(codes::NEW_HOME_OR_EXISTING),
        ],
    ),
    (
        "a battery before 2023 or below 3 kilowatt-hours",
        &[Found(codes::MISSING_FACT), Found(codes::BELOW_REQUIREMENT), Found(codes::YEAR_WITHOUT_LAW)],
    ),
    (
        "a solar pool heater, or a solar water heater without certificate",
        &[
            Found(codes::POOL_WORDS),
            Found(codes::POOL_NOT_COUNTED),
            Found(codes::POOL_LABOR),
            Found(codes::NOT_CERTIFIED),
        ],
    ),
    ("the home's basis not reduced", &[On(line::BASIS_INCREASE), On(line::BASIS_IF_USED)]),
    (
        "an audit without report or certified auditor",
        &[
            Found(codes::AUDITOR_NOT_CERTIFIED),
            Found(codes::AUDITOR_INCOMPLETE),
            Found(codes::AUDIT_REPORT_UNSEEN),
        ],
    ),
    (
        "used equipment, or what came with the house",
        &[Found(codes::USED_EQUIPMENT), Found(codes::USED_WORDS)],
    ),
    (
        "a cost claimed twice, or a carryforward taken whole after death or divorce",
        &[
            Found(codes::SPOUSE_AMONG_OTHERS),
            Found(codes::SPOUSE_CLAIMS_TOO),
            Found(codes::CARRYFORWARD_AFTER_JOINT_RETURN),
            Found(codes::CARRYFORWARD_AFTER_DEATH),
            Found(codes::FINAL_RETURN),
        ],
    ),
    (
        "the lifetime limit applied after 2022, or forgotten before",
        &[
            Found(codes::EARLIER_CREDITS_UNSAID),
            Found(codes::EARLIER_WINDOWS_UNSAID),
            Found(codes::LIFETIME_LIMIT_CUTS),
            Found(codes::WINDOW_CEILING_CUTS),
            Found(codes::EARLIER_CREDIT_DIFFERS),
            Found(codes::EARLIER_CREDIT_OF_NO_YEAR),
            Found(codes::LIFETIME_LIMIT_OVER),
            On(line::YEARS_ROOM),
        ],
    ),
    (
        "a forgotten credit wanted on a later year's return",
        &[Found(codes::CLAIMED_UNSAID), Found(codes::CLAIMED_TOO_LITTLE)],
    ),
    (
        "no proof of home, payment or completion",
        &[
            Found(codes::NO_PROOF),
            Found(codes::NO_PAPERS),
            Found(codes::TENANT_PAID),
            Found(codes::ASSOCIATION_STATEMENT_UNSEEN),
        ],
    ),
];

#[test]
fn every_mistake_of_the_trade_and_every_open_point_of_the_law_is_told() {
    for (what, answers) in MISTAKES.iter().chain(OPEN_POINTS) {
        assert!(!answers.is_empty(), "{what}");
        for answer in *answers {
            let (known, name) = match answer {
                Found(code) => (codes::CODES.iter().any(|one| one.name == code.name), code.name.to_string()),
                Read(code) => (case::codes::CODES.iter().any(|(one, _)| one == code), code.to_string()),
                On(line) => (
                    !line.to_string().is_empty() && line::LINES.iter().any(|(one, ..)| *one == *line),
                    line.to_string(),
                ),
            };
            assert!(known, "{what}: {name}");
        }
    }
}
