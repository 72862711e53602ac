//! Words in the text of a cost that speak of something else than its nature.
//!
//! Comes in: an item that counts, with its costs. Goes out: one question for each cost and matter. The list is data;
//! a word proves nothing, so the answer is the preparer's.

use super::counting::{Counting, is_clean, shared_costs};
use crate::case::{Case, Cost, CostNature, Kind};
use crate::credit::codes::{self, Code};
use crate::finding::Finding;
use crate::law::{Class, Counts, Rule};

/// What words are looked for, and what is asked when they stand there.
struct Matter {
    code: Code,
    /// The words, lower case; each is found as whole words only.
    words: &'static [&'static str],
    /// Words that make the matter plain, so that nothing is asked.
    unless: &'static [&'static str],
    /// What is asked, after the cost's own text.
    question: &'static str,
    /// The nature that would be right; its law is the authority, and where that counts as well nothing is asked.
    nature: Option<CostNature>,
    /// What it rests on where there is no such nature.
    rests_on: Grounds,
    help: &'static str,
    /// Whether the matter can arise for an item and a nature of cost.
    fits: fn(&Counting<'_>, CostNature) -> bool,
}

/// What a question about words rests on.
enum Grounds {
    /// What the law says of costs alone.
    Costs,
    /// A source, by its key.
    Source(&'static str),
    /// A rule of the year.
    Rule(Rule),
}

/// Asks about the words of every cost of an item that counts.
pub(super) fn ask(one: &Counting<'_>, case: &Case) -> Vec<Finding> {
    let item = one.item();
    let own = (1..).zip(&item.costs).map(|(n, cost)| (format!("{}.costs.{n}", one.path()), cost));
    let shared = shared_costs(case, item).map(|(n, cost)| (format!("shared.{n}"), cost));
    let costs: Vec<(String, &Cost)> = own.chain(shared).collect();
    let counts = |nature: CostNature| {
        let law = one.law.costs.get(&(one.kind_law.class, nature));
        law.is_some_and(|law| law.counts != Counts::No)
    };
    let mut found = Vec::new();
    for (about, cost) in costs {
        if cost.nature.value == CostNature::Discount {
            found.extend(credit_as_discount(one, cost, &about));
        }
        // What does not count anyway, or was judged by the preparer, needs no question.
        let nature = cost.nature.value;
        if cost.treat_as.is_some() || nature == CostNature::Discount || !counts(nature) {
            continue;
        }
        let text = plain(&cost.item.value);
        for matter in MATTERS {
            let asked = (matter.fits)(one, nature)
                && matter.nature.is_none_or(|right| right != nature && !counts(right));
            let word = matter.words.iter().find(|word| says(&text, word));
            let Some(word) = word.filter(|_| asked && !matter.unless.iter().any(|word| says(&text, word)))
            else {
                continue;
            };
            let authority =
                match matter.nature.and_then(|right| one.law.costs.get(&(one.kind_law.class, right))) {
                    Some(law) => law.authority.source.join("; "),
                    None => match matter.rests_on {
                        Grounds::Costs => String::new(),
                        Grounds::Source(source) => source.to_string(),
                        Grounds::Rule(rule) => one.rule(rule),
                    },
                };
            let message = format!(
                "`{}` is entered as `{nature}`, and the text says \u{201c}{word}\u{201d}: {}",
                cost.item.value, matter.question
            );
            let question = matter.code.finding(message).at(cost.item.span).about(about.clone());
            let given = [cost.item.value.clone(), nature.to_string(), cost.amount.value.spoken()];
            let question = question.given(given).help(matter.help);
            found.push(if authority.is_empty() { question } else { question.under(authority) });
        }
    }
    found
}

/// Asks about a discount whose text speaks of a tax credit: what the client hopes to get from the return is never taken
/// off the price.
fn credit_as_discount(one: &Counting<'_>, cost: &Cost, about: &str) -> Option<Finding> {
    let text = plain(&cost.item.value);
    ["tax credit", "federal credit", "solar credit", "itc"].iter().find(|word| says(&text, word))?;
    let message = format!(
        "is `{}` money that the seller took off the price? The credit itself is never taken off the cost it is figured on",
        cost.item.value
    );
    let question = codes::CREDIT_WORDS.finding(message).at(cost.item.span).about(about.to_string());
    let given = [cost.item.value.clone(), cost.amount.value.spoken()];
    let help = "delete this row if it is the expected credit; what a State pays or credits stands under `incentives`";
    Some(
        question
            .given(given)
            .help(help)
            .under(one.cites(&["USC25D_2023 (a)".to_string(), "USC25C_2023 (a)".to_string()])),
    )
}

/// Returns a text in lower case, each word between two blanks.
pub(super) fn plain(text: &str) -> String {
    let letters = |c: char| if c.is_alphanumeric() { c } else { ' ' };
    let words: String = text.chars().map(letters).flat_map(char::to_lowercase).collect();
    let words: Vec<&str> = words.split_whitespace().collect();
    format!(" {} ", words.join(" "))
}

/// Says whether whole words stand in a text that [`plain`] made.
pub(super) fn says(text: &str, words: &str) -> bool {
    text.contains(&format!(" {words} "))
}

const MATTERS: &[Matter] = &[
    Matter {
        code: codes::DISCOUNT_WORDS,
        words: &["discount", "rebate", "promotion", "promo", "coupon", "price reduction", "markdown"],
        unless: &[
            "after discount",
            "after rebate",
            "before discount",
            "before rebate",
            "less discount",
            "less rebate",
            "net of discount",
            "net of rebate",
            "rebate eligible",
            "eligible for rebate",
            "without discount",
        ],
        question: "is it taken off the price? As it is entered it is added to it",
        nature: None,
        rests_on: Grounds::Source("INFO_108135_10"),
        help: "write `as: discount` with the amount as it is; what others paid stands under `incentives`",
        fits: |_, _| true,
    },
    Matter {
        code: codes::STRUCTURE_WORDS,
        words: &[
            "carport",
            "pergola",
            "patio cover",
            "gazebo",
            "canopy",
            "awning",
            "structural steel",
            "steel supports",
            "reinforcement",
            "reinforcing",
            "strengthening",
            "sistering",
        ],
        unless: &[],
        question: "is part of it a structure of its own, or strength for the building? Racking and posts that only hold the property count; for the rest no authority was found",
        nature: Some(CostNature::BuildingReinforcement),
        rests_on: Grounds::Costs,
        help: "write that part as a cost of its own, `as: building_reinforcement`; it is left out unless `treat_as:` and `because:` say otherwise",
        fits: |one, _| is_clean(one),
    },
    Matter {
        code: codes::OFF_SITE_WORDS,
        words: &[
            "community solar",
            "solar garden",
            "community array",
            "shared array",
            "solar farm",
            "off site",
            "offsite",
        ],
        unless: &[],
        question: "does the array stand elsewhere? Whether a share of a distant array serves the home is not settled; panels the client does not own earn nothing",
        nature: None,
        rests_on: Grounds::Rule(Rule::SolarOffSite),
        help: "keep the title to the panels and the utility's statement that credits their power to the home, and answer; else take the item out",
        fits: |one, _| one.item().kind.value == Kind::SolarElectric,
    },
    Matter {
        code: codes::DISTRIBUTION_WORDS,
        words: &[
            "ductwork",
            "duct work",
            "ducts",
            "ducting",
            "radiant",
            "radiator",
            "radiators",
            "baseboard",
            "baseboards",
        ],
        unless: &[],
        question: "is part of it for ducts or floors that any heating system would use? Whether that counts is not addressed",
        nature: None,
        rests_on: Grounds::Source("USC25D_2023 (d)(5); USC25D_2023 (e)(1)"),
        help: "write that part as a cost of its own, `as: other`, which is left out, or answer why it belongs to the heat pump",
        fits: |one, _| one.item().kind.value == Kind::GeothermalHeatPump,
    },
    Matter {
        code: codes::ROOF_WORDS,
        words: &[
            "new roof",
            "re roof",
            "reroof",
            "re roofing",
            "reroofing",
            "roofing",
            "roof replacement",
            "roof repair",
            "roof repairs",
            "roof work",
            "roof deck",
            "decking",
            "shingle",
            "shingles",
            "rafter",
            "rafters",
            "sheathing",
            "underlayment",
            "roof carpentry",
            "roof covering",
            "roof tiles",
            "trusses",
        ],
        unless: &["solar shingle", "solar shingles", "solar roofing", "solar tiles", "solar roof tiles"],
        question: "is part of it for the roof itself? A roof or its structure does not count because panels lie on it",
        nature: Some(CostNature::RoofCovering),
        rests_on: Grounds::Costs,
        help: "write that part as a cost of its own, `as: roof_covering` or `as: roof_structure`",
        fits: |one, _| {
            matches!(
                one.item().kind.value,
                Kind::SolarElectric | Kind::SolarWaterHeating | Kind::BatteryStorage
            )
        },
    },
    Matter {
        code: codes::POOL_WORDS,
        words: &["pool", "pools", "hot tub", "spa", "swimming"],
        unless: &[],
        question: "is part of it for a swimming pool or hot tub? That part does not count",
        nature: Some(CostNature::PoolOrHotTub),
        rests_on: Grounds::Costs,
        help: "write that part as a cost of its own, `as: pool_or_hot_tub`",
        fits: |one, _| is_clean(one),
    },
    Matter {
        code: codes::FINANCING_WORDS,
        words: &[
            "interest",
            "loan fee",
            "loan fees",
            "lender",
            "lender s",
            "origination",
            "finance charge",
            "finance charges",
            "financing",
            "buydown",
            "buy down",
            "dealer fee",
            "dealer fees",
            "finance fee",
            "discount points",
            "closing cost",
            "closing costs",
            "escrow",
            "title insurance",
            "appraisal",
            "loan",
        ],
        unless: &[],
        question: "is part of it interest or a fee for borrowing? That is no cost of the property",
        nature: Some(CostNature::Financing),
        rests_on: Grounds::Costs,
        help: "write that part as a cost of its own, `as: financing` or `as: dealer_fee`",
        fits: |_, _| true,
    },
    Matter {
        code: codes::SERVICE_WORDS,
        words: &[
            "warranty",
            "insurance",
            "maintenance",
            "service plan",
            "service contract",
            "service agreement",
            "maintenance plan",
            "protection plan",
            "extended coverage",
            "monitoring plan",
            "monitoring service",
            "monitoring subscription",
            "subscription",
            "cleaning",
        ],
        unless: &[
            "included warranty",
            "warranty included",
            "maintenance free",
            "title insurance",
            "community solar",
            "solar garden",
        ],
        question: "is part of it a service or warranty that was sold beside the property?",
        nature: Some(CostNature::Warranty),
        rests_on: Grounds::Costs,
        help: "write that part as a cost of its own, `as: warranty` or `as: monitoring`",
        fits: |_, _| true,
    },
    Matter {
        code: codes::PANEL_WORDS,
        words: &[
            "panel upgrade",
            "panelboard",
            "main panel",
            "breaker panel",
            "breaker box",
            "service panel",
            "electrical panel",
            "electric panel",
            "service upgrade",
            "load center",
            "subpanel",
            "sub panel",
        ],
        unless: &[],
        question: "is part of it the home's electrical panel? Whether a panel for solar or a battery counts is not settled",
        nature: Some(CostNature::ElectricalPanel),
        rests_on: Grounds::Costs,
        help: "write that part as a cost of its own, `as: electrical_panel`; with 25C property that it enables it may be an item of its own, `kind: enabling_property`",
        // Wiring leads to a panel without being one.
        fits: |one, nature| is_clean(one) && nature != CostNature::PipingAndWiring,
    },
    Matter {
        code: codes::REMOVAL_WORDS,
        words: &[
            "removal",
            "removing",
            "remove",
            "dispose",
            "disposal",
            "haul away",
            "hauling",
            "demolition",
            "dumpster",
            "old equipment",
            "old tank",
            "old unit",
            "old furnace",
            "old boiler",
            "old water heater",
            "old windows",
            "old doors",
        ],
        unless: &[],
        question: "is part of it for taking away what was there before?",
        nature: Some(CostNature::RemovalOrDisposal),
        rests_on: Grounds::Costs,
        help: "write that part as a cost of its own, `as: removal_or_disposal`",
        fits: |_, _| true,
    },
    Matter {
        code: codes::LABOR_WORDS,
        words: &[
            "labor",
            "labour",
            "install",
            "installed",
            "installing",
            "installation",
            "put in",
            "fitted",
            "supplied and fitted",
            "supply and fit",
            "supply and install",
            "furnish and install",
            "furnished and installed",
            "delivered and installed",
            "one price",
            "all in price",
            "all inclusive",
            "complete job",
            "complete price",
            "mano de obra",
            "instalado",
            "instalada",
            "instalados",
            "instaladas",
            "instalar",
            "instalacion",
            "instalación",
            "colocado",
            "colocada",
            "colocación",
            "llave en mano",
            "todo incluido",
            "hanging",
            "hung",
            "carpenter",
            "carpenters",
            "carpentry",
            "crew",
            "turnkey",
            "turn key",
            "contractor s work",
            "fitting",
            "mounting",
            "workmanship",
        ],
        unless: &[
            "without labor",
            "without installation",
            "no labor",
            "not installed",
            "labor separate",
            "labor not included",
            "installation not included",
            "supply only",
            "material only",
            "materials only",
            "solo material",
            "solo materiales",
            "sin instalación",
            "sin instalacion",
            "sin mano de obra",
        ],
        question: "is labor in this price? Of windows, doors, insulation and air sealing only the goods count",
        nature: Some(CostNature::OnsiteLabor),
        rests_on: Grounds::Costs,
        help: "write labor as a cost of its own, `as: onsite_labor`, or one price with `as: lump_sum`, `materials: 60%` and `because:`",
        fits: |one, nature| one.kind_law.class == Class::Envelope && nature != CostNature::LumpSum,
    },
    Matter {
        code: codes::OWN_LABOR_WORDS,
        words: &[
            "own labor",
            "my labor",
            "owner s labor",
            "owner labor",
            "homeowner labor",
            "homeowner s labor",
            "client s labor",
            "client labor",
            "family labor",
            "unpaid labor",
            "own work",
            "own time",
            "my time",
            "client s time",
            "owner s time",
            "own hours",
            "sweat equity",
            "volunteer",
            "volunteers",
            "do it yourself",
            "diy labor",
        ],
        unless: &["without own labor"],
        question: "is the client's own unpaid work in this amount? It has no cost; only what was paid counts",
        nature: None,
        rests_on: Grounds::Rule(Rule::OwnLabor),
        help: "take out what nobody was paid for",
        fits: |_, _| true,
    },
    Matter {
        code: codes::SITE_WORDS,
        words: &[
            "tree",
            "trees",
            "stump",
            "stumps",
            "landscaping",
            "driveway",
            "fence",
            "fencing",
            "gutters",
            "siding",
            "painting",
            "drywall",
        ],
        unless: &["driveway trench", "trench under driveway", "conduit under driveway"],
        question: "is part of it other work on the house or the grounds? What counts besides the equipment is preparing its site, putting it together and putting it in, with piping and wiring",
        nature: None,
        rests_on: Grounds::Source("USC25D_2023 (e)(1)"),
        help: "write that part as a cost of its own, `as: other`, which is left out, or answer why the property could not be put in without it",
        fits: |one, _| is_clean(one),
    },
    Matter {
        code: codes::ASSOCIATION_WORDS,
        words: &["association", "hoa", "condominium", "condo", "co op", "coop", "cooperative"],
        unless: &[
            "electric cooperative",
            "electric co op",
            "power cooperative",
            "hoa approval",
            "hoa application",
            "association approval",
        ],
        question: "is this what an association or cooperative paid as a whole? Only the client's share of it counts",
        nature: None,
        rests_on: Grounds::Rule(Rule::Association),
        help: "add `association: {name: .., share: 1.25%}` to the item, with the whole cost, or answer that the client alone paid it",
        fits: |one, _| one.item().association.is_none(),
    },
    Matter {
        code: codes::USED_WORDS,
        words: &[
            "used panel",
            "used panels",
            "used modules",
            "used inverter",
            "used battery",
            "used batteries",
            "used collector",
            "used collectors",
            "used equipment",
            "used system",
            "used unit",
            "used units",
            "used window",
            "used windows",
            "used door",
            "used doors",
            "used stove",
            "used furnace",
            "used boiler",
            "used heat pump",
            "used water heater",
            "previously used",
            "pre owned",
            "preowned",
            "second hand",
            "secondhand",
            "refurbished",
            "reconditioned",
            "previous owner",
            "previous owners",
            "prior owner",
            "prior owners",
            "seller",
            "salvaged",
            "came with the house",
            "came with the home",
            "came with house",
            "came with home",
            "bought with the house",
            "bought with the home",
            "included in purchase",
            "included in the purchase",
            "included in the sale",
            "included in house price",
            "included in home price",
            "purchase of house",
            "purchase of home",
            "purchase of the house",
            "purchase of the home",
            "house purchase",
            "home purchase",
        ],
        unless: &[],
        question: "was the equipment used before, or bought with the house? It counts only if its first use was the client's",
        nature: None,
        rests_on: Grounds::Rule(Rule::NewOnly),
        help: "write `condition: used` if it was, or the right words if it was not",
        fits: |_, _| true,
    },
    Matter {
        code: codes::LEASE_WORDS,
        words: &[
            "lease",
            "leased",
            "buyout",
            "buy out",
            "rental fee",
            "power purchase",
            "ppa",
            "monthly payment",
            "monthly payments",
        ],
        unless: &[],
        question: "does the client own the equipment? One who leases it or buys only its power has no expenditure",
        nature: None,
        rests_on: Grounds::Rule(Rule::Lease),
        help: "write `acquired: leased` or `acquired: power_contract` if that is what the contract says; where a lease was bought out, `installed:` stays the day of the original installation, and that day decides the year",
        fits: |_, _| true,
    },
    Matter {
        code: codes::BUSINESS_WORDS,
        words: &[
            "office",
            "studio",
            "workshop",
            "tenant",
            "tenants",
            "rental unit",
            "rental apartment",
            "rental suite",
            "rental wing",
            "vacation rental",
            "short term rental",
            "guest rental",
            "paying guests",
            "lodger",
            "lodgers",
            "boarders",
            "bed and breakfast",
            "duplex",
            "business",
            "shop",
            "farm",
        ],
        unless: &[],
        question: "is part of the use for business? Below 80% of nonbusiness use only that share counts",
        nature: None,
        rests_on: Grounds::Rule(Rule::Nonbusiness),
        help: "add `nonbusiness_use:` to the item, `100%` if there is no business use",
        fits: |one, _| one.item().nonbusiness_use.is_none(),
    },
    Matter {
        code: codes::GENERATOR_WORDS,
        words: &[
            "generator",
            "furnace",
            "boiler",
            "ev charger",
            "car charger",
            "charging station",
            "vehicle charger",
            "attic fan",
            "skylight",
            "skylights",
            "sun tunnel",
            "solar tube",
            "air conditioner",
            "mini split",
            "heat pump",
            "water heater",
            "led lighting",
        ],
        unless: &["solar generator"],
        question: "is part of it equipment that makes no power from the sun and stores none? That part earns no clean energy credit",
        nature: None,
        rests_on: Grounds::Rule(Rule::HomeClean),
        help: "take that part out, or enter it as an item of its own with its own `kind:`",
        fits: |one, _| matches!(one.item().kind.value, Kind::SolarElectric | Kind::BatteryStorage),
    },
];

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_are_found_whole_and_in_any_writing() {
        let text = plain("Re-roofing, new Shingles (west)");
        assert!(says(&text, "re roofing") && says(&text, "shingles"));
        assert!(!says(&text, "roofing west") && !says(&text, "shing"));
        assert!(!says(&plain("space heater"), "spa"));
    }

    #[test]
    fn the_list_is_written_as_texts_are_compared() {
        for matter in MATTERS {
            for word in matter.words.iter().chain(matter.unless) {
                assert_eq!(plain(word).trim(), *word, "{}", matter.code.name);
            }
            assert!(
                matter.nature.is_some() == matches!(matter.rests_on, Grounds::Costs),
                "{}: one authority",
                matter.code.name
            );
        }
    }
}
