//! Words of everyday speech for the words of the format.
//!
//! Comes in: a text where a word of a list is due. Goes out: the word that is only spelled otherwise, or all words that
//! can be meant. Picks nothing where the words change the figures in different ways: that is for the preparer, who sees
//! what each does ([`crate::law::effects`]).

use super::kinds::{CostNature, IncentiveKind};
use crate::record::{bare, near};

/// What a word of everyday speech can stand for in one of the lists of words.
struct Spoken {
    /// The list that the key takes: `kind`, `cost`, `incentive`, `financed`, `use`, ...
    of: &'static str,
    /// What people write, in lower case and without signs.
    written: &'static [&'static str],
    /// What it can mean: a word of the list, or `LIST:WORD` of another one. A single word is unmistakable and only
    /// spelled otherwise; of several, each changes the figures in its own way, and only the preparer knows which it is.
    means: &'static [&'static str],
}

const fn spoken(
    of: &'static str,
    written: &'static [&'static str],
    means: &'static [&'static str],
) -> Spoken {
    Spoken { of, written, means }
}

/// Every kind of payment that people call a rebate.
const REBATES: &[&str] = &[
    "incentive:price_rebate",
    "incentive:utility_subsidy",
    "incentive:state_grant",
    "incentive:local_grant",
    "incentive:federal_home_rebate",
    "incentive:other",
    "cost:discount",
];
/// What a roof on an invoice can be.
const ROOFS: &[&str] = &["roof_covering", "roof_structure", "solar_roofing"];
/// What heats water.
const WATER_HEATERS: &[&str] = &["fuel_water_heater", "heat_pump_water_heater", "solar_water_heating"];
/// What a panel can be.
const PANELS: &[&str] =
    &["solar_electric", "solar_water_heating", "enabling_property", "cost:electrical_panel"];
/// What an electrical panel can be.
const SWITCHBOARDS: &[&str] = &["kind:enabling_property", "cost:electrical_panel"];

/// Words that people reach for.
const SPOKEN: &[Spoken] = &[
    spoken(
        "kind",
        &[
            "pv",
            "photovoltaic",
            "solarpanel",
            "solarpanels",
            "solararray",
            "solarpv",
            "solarshingles",
            "solarroof",
        ],
        &["solar_electric"],
    ),
    spoken(
        "kind",
        &["solar", "collector", "collectors", "solarthermal"],
        &["solar_electric", "solar_water_heating"],
    ),
    spoken("kind", &["solarhotwater", "solarwaterheater"], &["solar_water_heating"]),
    spoken("kind", &["panel", "panels"], PANELS),
    spoken("kind", &["inverter", "inverters"], &["solar_electric", "battery_storage", "cost:equipment"]),
    spoken("kind", &["battery", "batteries", "batterybackup"], &["battery_storage"]),
    spoken(
        "kind",
        &["storage", "powerstorage", "energystorage"],
        &["battery_storage", "solar_water_heating"],
    ),
    spoken(
        "kind",
        &["geothermal", "groundsource", "groundsourceheatpump", "gshp"],
        &["geothermal_heat_pump"],
    ),
    spoken("kind", &["wind", "windturbine"], &["small_wind"]),
    spoken("kind", &["insulation", "airsealing", "atticinsulation"], &["insulation_or_air_sealing"]),
    spoken(
        "kind",
        &["weatherization", "envelope", "buildingenvelope"],
        &["insulation_or_air_sealing", "exterior_door", "window_or_skylight"],
    ),
    spoken("kind", &["door", "doors", "entrydoor"], &["exterior_door"]),
    spoken(
        "kind",
        &["patiodoor", "slidingdoor", "glassdoor", "frenchdoor", "stormdoor"],
        &["exterior_door", "window_or_skylight"],
    ),
    spoken("kind", &["window", "windows", "skylight", "skylights"], &["window_or_skylight"]),
    spoken("kind", &["centralac", "centralair"], &["central_air_conditioner"]),
    spoken(
        "kind",
        &["ac", "airconditioner", "airconditioning", "minisplit", "ductless", "ductlessminisplit"],
        &["central_air_conditioner", "heat_pump"],
    ),
    spoken(
        "kind",
        &["hvac", "heating", "heatingsystem", "heatingandcooling", "heatingcooling"],
        &[
            "heat_pump",
            "geothermal_heat_pump",
            "central_air_conditioner",
            "furnace_or_boiler",
            "biomass_stove_or_boiler",
        ],
    ),
    spoken(
        "kind",
        &["gasfurnace", "gasboiler", "oilfurnace", "oilboiler", "propanefurnace", "propaneboiler"],
        &["furnace_or_boiler"],
    ),
    spoken("kind", &["furnace"], &["furnace_or_boiler", "biomass_stove_or_boiler", "air_circulating_fan"]),
    spoken("kind", &["boiler", "stove"], &["furnace_or_boiler", "biomass_stove_or_boiler"]),
    spoken(
        "kind",
        &["pelletstove", "woodstove", "biomass", "woodboiler", "pelletboiler"],
        &["biomass_stove_or_boiler"],
    ),
    spoken("kind", &["airsourceheatpump", "ashp", "ductlessheatpump"], &["heat_pump"]),
    spoken(
        "kind",
        &["heatpumpsystem", "heatpumpheating", "electricheatpump"],
        &["heat_pump", "geothermal_heat_pump", "heat_pump_water_heater"],
    ),
    spoken("kind", &["hpwh", "heatpumpwater", "hybridwaterheater"], &["heat_pump_water_heater"]),
    spoken("kind", &["gaswaterheater", "propanewaterheater", "oilwaterheater"], &["fuel_water_heater"]),
    spoken("kind", &["waterheater", "waterheating", "hotwater", "hotwaterheater"], WATER_HEATERS),
    spoken("kind", &["tanklesswaterheater", "tankless"], &["fuel_water_heater", "heat_pump_water_heater"]),
    spoken(
        "kind",
        &[
            "electricalpanel",
            "panelupgrade",
            "electricpanel",
            "breakerpanel",
            "servicepanel",
            "mainpanel",
            "electrical",
            "wiring",
        ],
        SWITCHBOARDS,
    ),
    spoken("kind", &["audit", "energyaudit", "homeaudit"], &["home_energy_audit"]),
    spoken("kind", &["metalroof", "coolroof"], &["roof"]),
    spoken("kind", &["roofing", "shingles", "shingle", "reroof"], &["roof", "solar_electric"]),
    // What a cost was for.
    spoken(
        "cost",
        &["labor", "labour", "work", "workmanship"],
        &["onsite_labor", "removal_or_disposal", "design_fee", "lump_sum"],
    ),
    spoken("cost", &["installation", "install", "installed", "installing"], &["onsite_labor", "lump_sum"]),
    spoken("cost", &["materials"], &["material"]),
    spoken("cost", &["goods", "product", "products"], &["material", "equipment"]),
    spoken("cost", &["parts", "supplies"], &["material", "equipment", "piping_and_wiring"]),
    spoken("cost", &["tax", "salestax", "usetax"], &["sales_tax"]),
    spoken("cost", &["roof", "reroof", "shingles", "roofing", "newroof"], ROOFS),
    spoken("cost", &["solarshingles", "solartiles"], &["solar_roofing"]),
    spoken("cost", &["wiring", "piping"], &["piping_and_wiring"]),
    spoken(
        "cost",
        &["electrical", "electrician"],
        &["piping_and_wiring", "electrical_panel", "onsite_labor"],
    ),
    spoken("cost", &["panel", "panels"], &["equipment", "electrical_panel"]),
    spoken(
        "cost",
        &["panelupgrade", "servicepanel", "mainpanel", "breakerpanel", "electricpanel"],
        &["electrical_panel", "kind:enabling_property"],
    ),
    spoken("cost", &["inverter", "inverters"], &["equipment"]),
    spoken("cost", &["battery", "batteries", "storage"], &["equipment", "kind:battery_storage"]),
    spoken("cost", &["audit", "energyaudit"], &["other", "kind:home_energy_audit"]),
    spoken("cost", &["interest", "finance", "financecharge"], &["financing"]),
    spoken("cost", &["loanfee", "originationfee", "points"], &["financing", "dealer_fee"]),
    spoken(
        "cost",
        &["fee", "fees", "charges"],
        &["permit", "design_fee", "dealer_fee", "financing", "monitoring", "warranty"],
    ),
    spoken("cost", &["turnkey", "packageprice", "fixedprice", "allin"], &["lump_sum"]),
    spoken(
        "cost",
        &["total", "contract", "invoice", "system", "price", "package"],
        &["lump_sum", "equipment", "material"],
    ),
    spoken("cost", &["demolition", "disposal", "removal", "teardown"], &["removal_or_disposal"]),
    spoken(
        "cost",
        &["structure", "carport", "pergola"],
        &["building_reinforcement", "roof_structure", "equipment", "other"],
    ),
    spoken(
        "cost",
        &["heatpump", "windows", "window", "doors", "door", "insulation"],
        &["equipment", "material", "lump_sum"],
    ),
    // What an incentive is.
    spoken("incentive", &["rebate", "rebates", "instantrebate", "cashback", "incentive"], REBATES),
    spoken(
        "incentive",
        &["dealerrebate", "manufacturerrebate", "makerrebate", "factoryrebate"],
        &["price_rebate"],
    ),
    spoken(
        "incentive",
        &["utility", "utilityrebate", "utilitycredit", "utilityincentive", "subsidy"],
        &["utility_subsidy", "price_rebate", "net_metering", "federal_home_rebate"],
    ),
    spoken("incentive", &["srec", "srecs", "rec", "recs"], &["energy_certificate"]),
    spoken(
        "incentive",
        &["statecredit", "statetax", "staterebate", "state", "stateincentive", "staterefund"],
        &["state_tax_credit", "state_grant", "federal_home_rebate"],
    ),
    spoken(
        "incentive",
        &["grant", "grants", "governmentgrant"],
        &["state_grant", "local_grant", "federal_home_rebate", "other"],
    ),
    spoken(
        "incentive",
        &["cityrebate", "countyrebate", "citygrant", "countygrant", "local"],
        &["local_grant", "utility_subsidy"],
    ),
    spoken("incentive", &["heehra", "heear"], &["federal_home_rebate"]),
    spoken(
        "incentive",
        &["ira", "federal", "federalrebate", "federalgrant", "homes"],
        &["federal_home_rebate", "state_grant", "other"],
    ),
    spoken(
        "incentive",
        &["taxcredit", "credit", "taxincentive"],
        &["state_tax_credit", "state_grant", "net_metering"],
    ),
    spoken("incentive", &["gift", "employer", "charity"], &["other"]),
    // How it was financed.
    spoken("financed", &["heloc", "mortgage", "bankloan"], &["loan"]),
    spoken(
        "financed",
        &["pace", "greenbank", "zerointerest", "onbill"],
        &["loan", "subsidized_energy_financing"],
    ),
    // Filing status.
    spoken("filing_status", &["mfj", "joint", "jointly", "marriedjoint"], &["married_filing_jointly"]),
    spoken(
        "filing_status",
        &["mfs", "separate", "separately", "marriedseparate"],
        &["married_filing_separately"],
    ),
    spoken("filing_status", &["married"], &["married_filing_jointly", "married_filing_separately"]),
    spoken("filing_status", &["hoh", "head"], &["head_of_household"]),
    spoken(
        "filing_status",
        &["qss", "qw", "qualifyingwidow", "qualifyingwidower"],
        &["qualifying_surviving_spouse"],
    ),
    spoken(
        "filing_status",
        &["widow", "widower", "widowed", "survivor"],
        &["qualifying_surviving_spouse", "married_filing_jointly", "head_of_household", "single"],
    ),
    spoken("filing_status", &["unmarried", "divorced"], &["single", "head_of_household"]),
    spoken(
        "filing_status",
        &["separated"],
        &["married_filing_separately", "married_filing_jointly", "head_of_household", "single"],
    ),
    // How a home is used.
    spoken(
        "use",
        &[
            "primary",
            "primaryresidence",
            "primaryhome",
            "principalresidence",
            "principalhome",
            "mainresidence",
        ],
        &["main_home"],
    ),
    spoken(
        "use",
        &["residence", "owneroccupied", "home", "house", "personal"],
        &["main_home", "other_residence"],
    ),
    spoken("use", &["investment", "investmentproperty", "let"], &["rented_to_others"]),
    spoken("use", &["rental", "rented", "rent"], &["rented_to_others", "main_home", "other_residence"]),
    spoken(
        "use",
        &["secondhome", "secondary", "secondaryresidence", "secondresidence"],
        &["other_residence"],
    ),
    spoken("use", &["vacation", "vacationhome", "seasonal"], &["other_residence", "rented_to_others"]),
    spoken("use", &["empty", "unoccupied"], &["vacant"]),
    // By what right.
    spoken("held_as", &["owned", "own", "homeowner"], &["owner"]),
    spoken("held_as", &["tenant", "lessee"], &["renter"]),
    spoken("held_as", &["rent", "rented", "rental"], &["renter", "owner"]),
    spoken("held_as", &["condo", "condominium"], &["condo_member"]),
    spoken("held_as", &["hoa", "association"], &["condo_member", "owner"]),
    spoken("held_as", &["coop", "cooperative"], &["coop_shareholder"]),
    // How the client came by it.
    spoken("acquired", &["purchase", "purchased", "cash", "loan"], &["bought"]),
    spoken("acquired", &["owned", "financed", "installed"], &["bought", "leased", "power_contract"]),
    spoken("acquired", &["lease", "rented"], &["leased"]),
    spoken("acquired", &["ppa", "powerpurchase", "powerpurchaseagreement"], &["power_contract"]),
    // What the work was part of.
    spoken("part_of", &["existing", "retrofit"], &["existing_home"]),
    spoken("part_of", &["newconstruction", "newbuild", "newhouse"], &["new_home"]),
    spoken("part_of", &["new", "construction", "build"], &["new_home", "renovation", "existing_home"]),
    spoken(
        "part_of",
        &["addition", "remodel", "rebuild", "reconstruction", "upgrade", "replacement"],
        &["existing_home", "renovation"],
    ),
    // New or used.
    spoken("condition", &["unused", "brandnew"], &["new"]),
    spoken("condition", &["refurbished", "secondhand", "reconditioned"], &["used"]),
    spoken("condition", &["existing", "good", "demo"], &["new", "used"]),
    // How far a return is.
    spoken("stage", &["efiled", "submitted", "accepted", "mailed"], &["filed"]),
    spoken("stage", &["estimate", "estimated", "planned", "forecast"], &["projected"]),
    spoken("stage", &["inprogress", "preparing", "inpreparation", "rejected"], &["draft"]),
    spoken("stage", &["done", "complete", "completed", "final", "finished"], &["draft", "filed"]),
    spoken("stage", &["open", "pending", "extended", "extension"], &["projected", "draft"]),
    // Other credits of a return.
    spoken("other_credits", &["ctc", "odc", "actc"], &["child_tax"]),
    spoken(
        "other_credits",
        &["dependent", "dependents", "child", "children", "childcredit", "family"],
        &["child_tax", "child_and_dependent_care"],
    ),
    spoken("other_credits", &["childcare", "daycare", "dependentcare"], &["child_and_dependent_care"]),
    spoken("other_credits", &["aotc", "llc", "lifetimelearning", "tuition"], &["education"]),
    spoken("other_credits", &["saver", "savers", "saverscredit"], &["retirement_savings"]),
    spoken(
        "other_credits",
        &["ev", "vehicle", "cleanvehicle", "electriccar", "hybrid", "8936"],
        &[
            "new_clean_vehicle",
            "previously_owned_clean_vehicle",
            "plug_in_vehicle",
            "electric_vehicle",
            "alternative_motor_vehicle",
        ],
    ),
    // Kinds of paper: no figure depends on them.
    spoken("type", &["bill"], &["invoice"]),
    spoken("type", &["check", "cancelledcheck", "canceledcheck", "bankstatement"], &["proof_of_payment"]),
    spoken("type", &["certificate", "datasheet"], &["certification"]),
    spoken("type", &["1099", "form1099", "1099g", "1099misc"], &["information_return"]),
    spoken("type", &["deed", "utilitybill"], &["proof_of_home"]),
    spoken("type", &["pto", "interconnection"], &["utility_letter"]),
];

/// What people call a key, by the blocks that have it; without hyphens and underscores. Each is unmistakable: what could
/// mean another amount, day or person as well stands nowhere here.
const KEYS: &[(&[&str], &[&str], &str)] = &[
    (&["case"], &["papers", "documents"], "evidence"),
    (&["case"], &["taxreturns"], "returns"),
    (&["person"], &["fullname"], "name"),
    (&["person"], &["died", "dateofdeath", "deathdate"], "deceased"),
    (&["mail_to", "address", "home_address"], &["streetaddress", "addressline1"], "street"),
    (&["mail_to", "address", "home_address"], &["apt", "apartment", "suite"], "unit"),
    (&["mail_to", "address", "home_address"], &["zipcode", "postalcode", "postcode"], "zip"),
    (&["item"], &["rebates"], "incentives"),
    (&["item"], &["type"], "kind"),
    (&["evidence"], &["kind", "papertype", "documenttype"], "type"),
    (&["evidence"], &["location", "keptat", "binder"], "where"),
    (&["evidence"], &["path", "filename"], "file"),
    (&["item"], &["installdate", "installationdate", "dateinstalled", "installedon"], "installed"),
    (&["item"], &["inspectiondate", "inspectedon"], "inspected"),
    (&["item"], &["pto", "ptodate"], "permission_to_operate"),
    (&["item"], &["amps", "amperes"], "amperage"),
    (&["item"], &["quantity", "numberofunits"], "units"),
    (&["item"], &["manufacturercode", "qmid", "qmcode", "qualifiedmanufacturercode"], "maker_code"),
    (&["item"], &["productidentificationnumber", "pinnumber"], "pin"),
    (&["cost", "shared"], &["description"], "item"),
    (&["cost", "incentive", "shared", "financed"], &["type", "kind", "nature"], "as"),
    (&["cost", "shared"], &["invoice", "receipt", "paper"], "evidence"),
    (&["cost", "shared"], &["paidon", "datepaid", "paiddate", "paymentdate"], "paid"),
    (&["incentive", "shared"], &["payer", "paidby"], "from"),
    (&["incentive", "shared"], &["receivedon", "datereceived", "receiveddate"], "received"),
    (&["return"], &["status"], "filing_status"),
    (&["return"], &["filedon", "datefiled", "fileddate", "filingdate"], "filed"),
    (&["return"], &["duedate"], "due"),
    (&["return"], &["extendedduedate", "extendeduntil"], "extended_to"),
    (&["tax_paid"], &["date", "day", "paidon"], "on"),
    (&["claimed"], &["25c", "energyefficienthomeimprovementcredit"], "improvement"),
    (&["claimed"], &["25d", "residentialcleanenergycredit"], "clean"),
    (&["claimed"], &["carryforward", "carriedforward"], "carried_out"),
    (&["answer"], &["code"], "question"),
];

/// Words that name a federal credit itself, which is entered nowhere.
const THE_CREDIT: &[&str] =
    &["taxcredit", "federalcredit", "federaltaxcredit", "itc", "investmenttaxcredit", "25d", "25c", "credit"];

/// The lists of words whose choice changes a figure, a year or what is asked; of these no word is ever picked for
/// the preparer.
const DECIDING: [&str; 13] = [
    "kind",
    "cost",
    "incentive",
    "financed",
    "use",
    "held_as",
    "acquired",
    "part_of",
    "condition",
    "filing_status",
    "stage",
    "treat_as",
    "other_credits",
];

/// Names the list of words that a key takes; several keys are called `as`.
pub(super) fn list_of<'k>(key: &'k str, known: &[&str]) -> &'k str {
    match key {
        "as" if known.contains(&"lump_sum") => "cost",
        "as" if known.contains(&"price_rebate") => "incentive",
        "as" if known.contains(&"subsidized_energy_financing") => "financed",
        "is" => "use",
        _ => key,
    }
}

/// Names the list of words that a key takes, where the choice decides something.
pub(super) fn deciding(key: &str, known: &[&str]) -> Option<&'static str> {
    let of = list_of(key, known);
    DECIDING.iter().find(|one| **one == of && !known.is_empty()).copied()
}

/// Finds the one word that a text of everyday speech can mean, such as `MFJ`; a misspelling means none.
pub(super) fn unmistakable(of: &str, written: &str) -> Option<&'static str> {
    let plain: String = bare(written).chars().filter(char::is_ascii_alphanumeric).collect();
    match SPOKEN.iter().find(|one| one.of == of && one.written.contains(&plain.as_str()))?.means {
        [one] if !one.contains(':') => Some(one),
        _ => None,
    }
}

/// What a text that is no word of its list may have been meant as.
#[derive(Debug, PartialEq, Eq)]
pub(super) enum Meant {
    /// One word, only written otherwise.
    Word(&'static str),
    /// Words that change the figures in different ways; each with its list.
    Among(Vec<(&'static str, &'static str)>),
}

/// Finds what is meant by a text that is no word of its list. A misspelling is put right; nothing is picked where the
/// words differ in what they do.
pub(super) fn meant(of: &str, written: &str, known: &[&'static str]) -> Option<Meant> {
    let plain = bare(&written.to_ascii_lowercase());
    let plain: String = plain.chars().filter(char::is_ascii_alphanumeric).collect();
    let row = |of: &str| SPOKEN.iter().find(|one| one.of == of && one.written.contains(&plain.as_str()));
    if let Some(found) = row(of) {
        return Some(match found.means {
            [one] if !one.contains(':') => Meant::Word(one),
            several => Meant::Among(several.iter().map(|one| parted(found.of, one)).collect()),
        });
    }
    if let Some(word) = misspelled(&plain, known) {
        return Some(Meant::Word(word));
    }
    // Payments of others written among the costs, and the other way round.
    let other: Option<(&'static str, Vec<&'static str>)> = match of {
        "cost" => Some(("incentive", IncentiveKind::ALL.iter().map(|one| one.word()).collect())),
        "incentive" => Some(("cost", CostNature::ALL.iter().map(|one| one.word()).collect())),
        _ => None,
    };
    if let Some((list, words)) = other {
        if let Some(found) = row(list) {
            return Some(Meant::Among(found.means.iter().map(|one| parted(found.of, one)).collect()));
        }
        if let Some(word) = words.iter().find(|one| **one == written).copied().or(misspelled(&plain, &words))
        {
            return Some(Meant::Among(vec![(list, word)]));
        }
    }
    let list = DECIDING.iter().find(|one| **one == of)?;
    let alike = alike(written, known);
    let among = if alike.is_empty() { known.to_vec() } else { alike };
    Some(Meant::Among(among.into_iter().map(|word| (*list, word)).collect()))
}

/// Parts `LIST:WORD`; without a list the word is of the list given.
fn parted(of: &'static str, means: &'static str) -> (&'static str, &'static str) {
    means.split_once(':').unwrap_or((of, means))
}

/// Finds the one word of which a text is a misspelling: a letter or two, never a whole part of the word.
fn misspelled(plain: &str, known: &[&'static str]) -> Option<&'static str> {
    match near(plain, known).as_slice() {
        [one] => Some(one),
        _ => None,
    }
}

/// Finds the keys of a block that a text may have been meant as: what people call them, else what is near.
pub(super) fn key_meant<'k>(block: &str, written: &str, known: &[&'k str]) -> Vec<&'k str> {
    let plain = bare(written);
    let row =
        KEYS.iter().find(|(blocks, words, _)| blocks.contains(&block) && words.contains(&plain.as_str()));
    match row.and_then(|(_, _, key)| known.iter().find(|one| *one == key)) {
        Some(key) => vec![key],
        None => near(written, known),
    }
}

/// Finds the words that share a part with a text, such as `heater`.
fn alike(written: &str, known: &[&'static str]) -> Vec<&'static str> {
    let parts: Vec<String> = written
        .to_ascii_lowercase()
        .split(|c: char| !c.is_ascii_alphanumeric())
        .filter(|part| part.len() >= 4 && !["home", "other"].contains(part))
        .map(|part| part.trim_end_matches('s').to_string())
        .collect();
    let shares = |word: &&&'static str| {
        word.split('_').any(|of_word| parts.iter().any(|part| of_word.trim_end_matches('s') == part))
    };
    known.iter().filter(shares).copied().collect()
}

/// Says what to write where a text may mean several words, before what each does to the figures is told.
pub(super) fn among(of: &str, written: &str, words: &[(&'static str, &'static str)]) -> String {
    let plain: String = written.to_ascii_lowercase().chars().filter(char::is_ascii_alphanumeric).collect();
    let credit = match of {
        "cost" | "incentive" if THE_CREDIT.contains(&plain.as_str()) => {
            "a federal credit is not entered in the case, because the program figures it; "
        }
        _ => "",
    };
    let elsewhere = match (of, words.iter().all(|(list, _)| *list != of)) {
        ("cost", true) if words.iter().any(|(list, _)| *list == "incentive") => {
            "what others paid goes under the item's `incentives`; "
        }
        ("incentive", true) if words.iter().any(|(list, _)| *list == "cost") => {
            "what was bought goes under the item's `costs`; "
        }
        _ => "",
    };
    let chosen = match words {
        [_] => "if this is what it was, write it",
        _ => "write the word for what it was; the program does not choose",
    };
    format!("{credit}{elsewhere}{chosen}")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::case::firm::ADDRESS;
    use crate::case::format::BLOCKS;
    use crate::case::{Acquired, Condition, EvidenceKind, FilingStatus, FinancedAs, HeldAs, HomeUse};
    use crate::case::{Kind, OtherCredit, PartOf, Stage};
    use crate::record::rule::Block;

    /// Returns a block of keys, of the case or of the firm file.
    fn block(name: &str) -> &'static Block {
        let all = BLOCKS.iter().copied().chain([&ADDRESS]);
        all.into_iter().find(|one| one.name == name).unwrap_or_else(|| panic!("{name}"))
    }

    /// Returns the words of a list.
    fn words(of: &str) -> Vec<&'static str> {
        macro_rules! all {
            ($name:ident) => {
                $name::ALL.iter().map(|one| one.word()).collect()
            };
        }
        match of {
            "kind" => all!(Kind),
            "cost" => all!(CostNature),
            "incentive" => all!(IncentiveKind),
            "financed" => all!(FinancedAs),
            "filing_status" => all!(FilingStatus),
            "use" => all!(HomeUse),
            "held_as" => all!(HeldAs),
            "acquired" => all!(Acquired),
            "part_of" => all!(PartOf),
            "condition" => all!(Condition),
            "stage" => all!(Stage),
            "type" => all!(EvidenceKind),
            "other_credits" => all!(OtherCredit),
            _ => panic!("{of}"),
        }
    }

    #[test]
    fn every_word_meant_is_a_word_of_its_list() {
        let mut seen = std::collections::BTreeSet::new();
        for one in SPOKEN {
            for means in one.means {
                let (of, word) = parted(one.of, means);
                assert!(words(of).contains(&word), "{of}: {word}");
            }
            for written in one.written {
                assert!(!words(one.of).contains(written), "{written} is a word of {} already", one.of);
                assert!(seen.insert((one.of, *written)), "{}: {written} twice", one.of);
            }
        }
    }

    #[test]
    fn what_people_call_a_key_names_a_key_of_its_block_and_is_none_itself() {
        let mut seen = std::collections::BTreeSet::new();
        for (blocks, words, key) in KEYS {
            for name in *blocks {
                let block = block(name);
                assert!(block.rule(key).is_some(), "{name}: {key}");
                for word in *words {
                    let is_key = block.keys.iter().any(|rule| bare(rule.key) == *word);
                    assert!(!is_key, "{word} is a key of {name} already");
                    assert!(seen.insert((*name, *word)), "{name}: {word} twice");
                }
            }
        }
    }

    /// A proposal that means something else is worse than none: a part of a key is not the key.
    #[test]
    fn a_key_is_proposed_only_where_it_is_misspelled_or_called_otherwise() {
        for (block, written, wanted) in [
            ("return", "Filing-Status", "filing_status"),
            ("return", "fileing_status", "filing_status"),
            ("return", "status", "filing_status"),
            ("return", "tax_before_credit", "tax_before_credits"),
            ("return", "extended_on", ""),
            ("return", "credits", ""),
            ("return", "tax_before", ""),
            ("item", "instaled", "installed"),
            ("item", "Kind", "kind"),
            ("item", "type", "kind"),
            ("item", "capacity_kwx", ""),
            ("item", "capacitykw", "capacity_kw"),
            ("item", "paid_by", ""),
            ("item", "others", ""),
            ("item", "construction", ""),
            ("item", "service", ""),
            ("claimed", "carried_in", ""),
            ("claimed", "caried_out", "carried_out"),
            ("claimed", "25D", "clean"),
            ("cost", "amonut", "amount"),
            ("cost", "invoice", "evidence"),
            ("cost", "treat", ""),
            ("address", "zip_code", "zip"),
            ("earlier_credits", "credit", ""),
        ] {
            let known: Vec<&str> = self::block(block).keys.iter().map(|rule| rule.key).collect();
            assert_eq!(key_meant(block, written, &known).join(" "), wanted, "{block}: {written}");
        }
    }

    /// What practitioners write. One word where it is only spelled otherwise; else all that it can mean, none picked.
    #[test]
    fn words_of_the_trade_are_spelled_right_or_shown_with_all_they_can_mean() {
        for (of, written, means) in [
            // Only spelled otherwise.
            ("kind", "PV", "solar_electric"),
            ("kind", "Solar-Electric", "solar_electric"),
            ("kind", "solar_electrical", "solar_electric"),
            ("kind", "heat pumps", "heat_pump"),
            ("kind", "mini_split_heat_pump", "geothermal_heat_pump heat_pump heat_pump_water_heater"),
            ("kind", "batteries", "battery_storage"),
            ("kind", "windows", "window_or_skylight"),
            ("kind", "GSHP", "geothermal_heat_pump"),
            ("kind", "gas boiler", "furnace_or_boiler"),
            ("kind", "pellet stove", "biomass_stove_or_boiler"),
            ("cost", "equipement", "equipment"),
            ("cost", "materials", "material"),
            ("cost", "turnkey", "lump_sum"),
            ("incentive", "SRECs", "energy_certificate"),
            ("incentive", "HEEHRA", "federal_home_rebate"),
            ("filing_status", "MFJ", "married_filing_jointly"),
            ("filing_status", "head", "head_of_household"),
            ("use", "primary residence", "main_home"),
            ("use", "second_home", "other_residence"),
            ("held_as", "tenant", "renter"),
            ("acquired", "PPA", "power_contract"),
            ("condition", "refurbished", "used"),
            // Several, each with another effect.
            ("kind", "water_heater", "fuel_water_heater heat_pump_water_heater solar_water_heating"),
            ("kind", "panel", "solar_electric solar_water_heating enabling_property cost:electrical_panel"),
            ("kind", "boiler", "furnace_or_boiler biomass_stove_or_boiler"),
            ("kind", "solar", "solar_electric solar_water_heating"),
            ("kind", "mini-split", "central_air_conditioner heat_pump"),
            ("kind", "inverter", "solar_electric battery_storage cost:equipment"),
            ("kind", "roofing", "roof solar_electric"),
            ("kind", "electrical panel", "enabling_property cost:electrical_panel"),
            ("cost", "roofing", "roof_covering roof_structure solar_roofing"),
            ("cost", "labor", "onsite_labor removal_or_disposal design_fee lump_sum"),
            ("cost", "installation", "onsite_labor lump_sum"),
            ("cost", "battery", "equipment kind:battery_storage"),
            ("cost", "utility_subsidy", "incentive:utility_subsidy"),
            (
                "cost",
                "rebate",
                "incentive:price_rebate incentive:utility_subsidy incentive:state_grant incentive:local_grant \
                 incentive:federal_home_rebate incentive:other discount",
            ),
            ("incentive", "grant", "state_grant local_grant federal_home_rebate other"),
            ("incentive", "tax_credit", "state_tax_credit state_grant net_metering"),
            ("incentive", "utility rebate", "utility_subsidy price_rebate net_metering federal_home_rebate"),
            ("incentive", "discount", "cost:discount"),
            ("filing_status", "married", "married_filing_jointly married_filing_separately"),
            (
                "filing_status",
                "widow",
                "qualifying_surviving_spouse married_filing_jointly head_of_household single",
            ),
            ("use", "residence", "main_home other_residence"),
            ("use", "rental", "rented_to_others main_home other_residence"),
            ("held_as", "rented", "renter owner"),
            ("acquired", "financed", "bought leased power_contract"),
            ("part_of", "new", "new_home renovation existing_home"),
            ("part_of", "remodel", "existing_home renovation"),
            ("condition", "existing", "new used"),
            ("stage", "completed", "draft filed"),
            ("financed", "PACE", "loan subsidized_energy_financing"),
            ("other_credits", "CTC", "child_tax"),
            ("other_credits", "dependents", "child_tax child_and_dependent_care"),
        ] {
            let known = words(of);
            let means: Vec<&str> = means.split_whitespace().collect();
            let found = match meant(of, written, &known) {
                Some(Meant::Word(word)) => vec![word.to_string()],
                Some(Meant::Among(several)) => several
                    .iter()
                    .map(
                        |(list, word)| {
                            if *list == of { (*word).to_string() } else { format!("{list}:{word}") }
                        },
                    )
                    .collect(),
                None => Vec::new(),
            };
            assert_eq!(found, means, "{of}: {written}");
        }
    }

    /// A text that shares nothing with any word shows them all, and picks none.
    #[test]
    fn an_unknown_word_is_never_taken_for_the_nearest() {
        for (of, written) in [("kind", "chimney"), ("cost", "misc"), ("use", "shop"), ("filing_status", "x")]
        {
            let known = words(of);
            let all = known.iter().map(|word| (of, *word)).collect();
            assert_eq!(meant(of, written, &known), Some(Meant::Among(all)), "{of}: {written}");
        }
    }
}
