//! What people write when they mean something else: words of the trade for the words of the format, days written out,
//! rows in the wrong list; and the complaints that only follow from another one.
//!
//! Comes in: what was written, or all complaints. Goes out: what is meant, or the complaints worth reading. Decides
//! nothing about a value; a guess is only ever proposed.

use super::kinds::{CostNature, IncentiveKind};
use crate::finding::{Finding, Severity, Sources, Span};
use jiff::civil::Date;

/// Words that people reach for, and the word of the format; first the key they stand behind.
const MEANT: &[(&str, &[&str], &str)] = &[
    (
        "kind",
        &["pv", "photovoltaic", "solar", "solarpanel", "solarpanels", "solararray", "panels"],
        "solar_electric",
    ),
    (
        "kind",
        &["solarhotwater", "solarthermal", "solarwaterheater", "collector", "collectors"],
        "solar_water_heating",
    ),
    ("kind", &["battery", "batteries", "storage", "powerstorage"], "battery_storage"),
    ("kind", &["geothermal", "groundsource", "groundsourceheatpump", "gshp"], "geothermal_heat_pump"),
    ("kind", &["wind", "windturbine"], "small_wind"),
    ("kind", &["insulation", "airsealing", "weatherization", "atticinsulation"], "insulation_or_air_sealing"),
    ("kind", &["door", "doors", "entrydoor"], "exterior_door"),
    ("kind", &["window", "windows", "skylight", "skylights"], "window_or_skylight"),
    (
        "kind",
        &["ac", "airconditioner", "airconditioning", "centralac", "centralair"],
        "central_air_conditioner",
    ),
    ("kind", &["furnace", "boiler", "gasfurnace", "gasboiler"], "furnace_or_boiler"),
    ("kind", &["minisplit", "airsourceheatpump", "ashp", "ductlessheatpump"], "heat_pump"),
    ("kind", &["hpwh", "heatpumpwater", "hybridwaterheater"], "heat_pump_water_heater"),
    ("kind", &["waterheater", "gaswaterheater", "tanklesswaterheater"], "fuel_water_heater"),
    (
        "kind",
        &["panel", "electricalpanel", "panelupgrade", "electricpanel", "breakerpanel"],
        "enabling_property",
    ),
    ("kind", &["audit", "energyaudit"], "home_energy_audit"),
    ("kind", &["pelletstove", "woodstove", "biomass", "stove", "woodboiler"], "biomass_stove_or_boiler"),
    ("as", &["labor", "installation", "install", "labour"], "onsite_labor"),
    ("as", &["materials", "goods", "parts"], "material"),
    ("as", &["tax"], "sales_tax"),
    ("as", &["roof", "reroof", "shingles", "roofing"], "roof_covering"),
    ("as", &["wiring", "piping", "electrical"], "piping_and_wiring"),
    ("as", &["panel", "panelupgrade"], "electrical_panel"),
    ("as", &["interest", "loanfee", "finance"], "financing"),
    ("as", &["total", "contract", "turnkey", "packageprice", "fixedprice"], "lump_sum"),
    ("as", &["utilityrebate", "utility"], "utility_subsidy"),
    ("as", &["rebate", "instantrebate", "dealerrebate", "manufacturerrebate"], "price_rebate"),
    ("as", &["srec", "srecs", "rec", "recs", "certificate"], "energy_certificate"),
    ("as", &["statecredit", "statetax"], "state_tax_credit"),
    ("as", &["grant", "staterebate"], "state_grant"),
    ("as", &["heehra", "heear", "homes", "ira"], "federal_home_rebate"),
    ("filing_status", &["mfj", "joint", "married", "jointly"], "married_filing_jointly"),
    ("filing_status", &["mfs", "separate", "separately"], "married_filing_separately"),
    ("filing_status", &["hoh"], "head_of_household"),
    ("filing_status", &["qss", "qw", "widow", "widower", "qualifyingwidow"], "qualifying_surviving_spouse"),
    (
        "use",
        &["primary", "primaryresidence", "residence", "owneroccupied", "principalresidence"],
        "main_home",
    ),
    ("use", &["rental", "rented", "investment", "let"], "rented_to_others"),
    ("use", &["secondhome", "vacation", "vacationhome", "secondary"], "other_residence"),
    ("use", &["empty"], "vacant"),
    ("held_as", &["owned", "own", "homeowner"], "owner"),
    ("held_as", &["rent", "rented", "tenant", "lessee"], "renter"),
    ("held_as", &["condo", "condominium", "hoa"], "condo_member"),
    ("held_as", &["coop", "cooperative"], "coop_shareholder"),
    ("acquired", &["purchase", "purchased", "owned", "cash", "loan", "financed"], "bought"),
    ("acquired", &["lease", "rented"], "leased"),
    ("acquired", &["ppa", "powerpurchase", "powerpurchaseagreement"], "power_contract"),
    ("part_of", &["existing", "retrofit"], "existing_home"),
    ("part_of", &["new", "newconstruction", "newbuild", "construction"], "new_home"),
    ("part_of", &["addition", "remodel", "rebuild"], "renovation"),
    ("condition", &["unused", "brandnew"], "new"),
    ("condition", &["existing", "refurbished", "secondhand", "reconditioned"], "used"),
    ("stage", &["done", "complete", "completed", "efiled", "submitted", "accepted"], "filed"),
    ("stage", &["estimate", "estimated", "planned", "forecast"], "projected"),
    ("stage", &["open", "inprogress", "preparing"], "draft"),
    ("type", &["bill"], "invoice"),
    ("type", &["check", "cancelledcheck", "canceledcheck", "bankstatement"], "proof_of_payment"),
    ("type", &["certificate", "datasheet"], "certification"),
    ("type", &["1099", "form1099", "1099g", "1099misc"], "information_return"),
    ("type", &["deed", "utilitybill"], "proof_of_home"),
    ("type", &["pto", "interconnection"], "utility_letter"),
];

/// Returns the word of the format that is meant by another one, where the key takes that word.
pub(super) fn meant(key: &str, written: &str, known: &[&str]) -> Option<&'static str> {
    let bare: String = written.to_ascii_lowercase().chars().filter(|c| c.is_ascii_alphanumeric()).collect();
    MEANT
        .iter()
        .find(|(of, words, word)| *of == key && known.contains(word) && words.contains(&bare.as_str()))
        .map(|(_, _, word)| *word)
}

/// What to write where a word of incentives stands among costs, or of costs among incentives.
pub(super) fn of_another_list(key: &str, written: &str, known: &[&str]) -> Option<&'static str> {
    let costs: Vec<&str> = CostNature::ALL.iter().map(|one| one.word()).collect();
    let incentives: Vec<&str> = IncentiveKind::ALL.iter().map(|one| one.word()).collect();
    let means = |list: &[&str]| list.contains(&written) || meant(key, written, list).is_some();
    match (key, known.contains(&"lump_sum"), known.contains(&"price_rebate")) {
        ("as", true, false) if means(&incentives) => Some(
            "what others paid stands under the item's `incentives`; what the seller took off the price is `discount`",
        ),
        ("as", false, true) if means(&costs) => Some("what was bought stands under the item's `costs`"),
        _ => None,
    }
}

/// Reads a day written with the name of its month: `July 30, 2025`, `30 July 2025`, `Jul 30 2025`.
pub(super) fn day_in_words(text: &str) -> Option<Date> {
    const MONTHS: [&str; 12] =
        ["jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec"];
    let parts: Vec<String> = text
        .split(|c: char| !c.is_ascii_alphanumeric())
        .filter(|part| !part.is_empty())
        .map(str::to_ascii_lowercase)
        .collect();
    let [first, second, year] = parts.as_slice() else { return None };
    let month = |word: &String| {
        let short = word.get(..3)?;
        let named = word.chars().all(|c| c.is_ascii_alphabetic());
        MONTHS.iter().position(|one| *one == short).filter(|_| named).map(|n| n as i8 + 1)
    };
    let day = |word: &String| word.trim_end_matches(['s', 't', 'n', 'd', 'r', 'h']).parse::<i8>().ok();
    let (month, day) = match (month(first), month(second)) {
        (Some(found), None) => (found, day(second)?),
        (None, Some(found)) => (found, day(first)?),
        _ => return None,
    };
    Date::new(year.parse().ok().filter(|year| *year >= 1900)?, month, day).ok()
}

/// Finds the one day that stands in a text with something more: a remark, an hour, or dashes of another length.
pub(super) fn day_within(text: &str) -> Option<Date> {
    let plain =
        text.trim().replace(['\u{2010}', '\u{2011}', '\u{2012}', '\u{2013}', '\u{2014}', '.', '/'], "-");
    let (head, rest) = plain.split_at_checked(10)?;
    let more_digits = |c: char| c.is_ascii_digit() || c == '-';
    let day = head.parse::<Date>().ok().filter(|day| (1900..=2099).contains(&day.year()))?;
    (!rest.starts_with(more_digits) && !rest.contains('-')).then_some(day)
}

/// Finds the two letters of a state written by its name.
pub(super) fn state_letters(written: &str) -> Option<&'static str> {
    let plain = written.trim().to_ascii_lowercase();
    STATE_NAMES.iter().find(|(_, name)| *name == plain).map(|(letters, _)| *letters)
}

/// States and territories by name, as the mail abbreviates them (USPS Publication 28, appendix B).
const STATE_NAMES: &[(&str, &str)] = &[
    ("AL", "alabama"),
    ("AK", "alaska"),
    ("AZ", "arizona"),
    ("AR", "arkansas"),
    ("CA", "california"),
    ("CO", "colorado"),
    ("CT", "connecticut"),
    ("DE", "delaware"),
    ("DC", "district of columbia"),
    ("FL", "florida"),
    ("GA", "georgia"),
    ("GU", "guam"),
    ("HI", "hawaii"),
    ("ID", "idaho"),
    ("IL", "illinois"),
    ("IN", "indiana"),
    ("IA", "iowa"),
    ("KS", "kansas"),
    ("KY", "kentucky"),
    ("LA", "louisiana"),
    ("ME", "maine"),
    ("MD", "maryland"),
    ("MA", "massachusetts"),
    ("MI", "michigan"),
    ("MN", "minnesota"),
    ("MS", "mississippi"),
    ("MO", "missouri"),
    ("MT", "montana"),
    ("NE", "nebraska"),
    ("NV", "nevada"),
    ("NH", "new hampshire"),
    ("NJ", "new jersey"),
    ("NM", "new mexico"),
    ("NY", "new york"),
    ("NC", "north carolina"),
    ("ND", "north dakota"),
    ("OH", "ohio"),
    ("OK", "oklahoma"),
    ("OR", "oregon"),
    ("PA", "pennsylvania"),
    ("PR", "puerto rico"),
    ("RI", "rhode island"),
    ("SC", "south carolina"),
    ("SD", "south dakota"),
    ("TN", "tennessee"),
    ("TX", "texas"),
    ("UT", "utah"),
    ("VT", "vermont"),
    ("VA", "virginia"),
    ("WA", "washington"),
    ("WV", "west virginia"),
    ("WI", "wisconsin"),
    ("WY", "wyoming"),
];

/// What to write instead of an amount below zero, where the number alone would be wrong.
pub(super) fn below_zero(key: &str) -> Option<&'static str> {
    match key {
        "amount" => Some(
            "what the seller took off is a cost of its own, `as: discount`, with a positive amount; what others paid stands under `incentives`",
        ),
        "tax_before_credits" => Some(
            "give the tax before credits (for 2020 to 2025 line 18 of Form 1040), `0` if there was none; a refund is no tax",
        ),
        _ => None,
    }
}

/// Leaves out complaints that only follow from another one at the same place, so that each mistake is read once.
pub(super) fn without_followers(findings: Vec<Finding>, sources: &Sources) -> Vec<Finding> {
    // A file with so many complaints is no case, and nobody reads them one by one.
    if findings.len() > 1000 {
        return findings;
    }
    let spans = |codes: &[&str]| -> Vec<Span> {
        findings.iter().filter(|one| codes.contains(&one.code)).filter_map(|one| one.at).collect()
    };
    // A value cut in two by a comma is no value yet, whatever its first part looks like.
    let cut = spans(&["comma-in-braces"]);
    // A line that begins in the wrong column joins the value of the line above it.
    let misplaced = spans(&["indentation", "tab", "not-yaml"]);
    let line = |span: Span| sources.line_column(span).line;
    // A comment that began inside braces has swallowed what would close them.
    let swallowed: Vec<usize> = findings
        .iter()
        .filter(|one| one.code == "comment-cuts-text" && one.severity == Severity::Error)
        .filter_map(|one| one.at)
        .map(line)
        .collect();
    let opened = |one: &Finding| one.related.iter().any(|(span, _)| swallowed.contains(&line(*span)));
    let hyphens: Vec<usize> = findings
        .iter()
        .filter(|one| one.code == "wrong-shape" && one.message.contains("after the hyphen"))
        .filter_map(|one| one.at)
        .map(line)
        .collect();
    // Where reading stopped in the midst of a group, the rest of its keys is not missing.
    let cut_short = misplaced.iter().filter_map(|stop| {
        let before = findings.iter().filter_map(|one| {
            let at = one.at.filter(|at| one.code == "missing-key" && at.start < stop.start)?;
            (line(*stop) - line(at) <= 12).then_some(at)
        });
        before.max_by_key(|at| at.start)
    });
    let cut_short: Vec<Span> = cut_short.collect();
    let follows = |one: &Finding| {
        let Some(at) = one.at else { return false };
        let value = one.code.ends_with("-form") || one.code == "unknown-word";
        value && cut.iter().any(|cut| cut.start <= at.start && at.end <= cut.end)
            || value && sources.excerpt(at).contains('\n') && !misplaced.is_empty()
            || one.code == "missing-key" && cut_short.contains(&at)
            || one.code == "needs-quotes" && hyphens.contains(&line(at))
            || one.code == "brackets-open" && (swallowed.contains(&line(at)) || opened(one))
    };
    let keep: Vec<bool> = findings.iter().map(|one| !follows(one)).collect();
    findings.into_iter().zip(keep).filter_map(|(one, keep)| keep.then_some(one)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::case::{Acquired, Condition, EvidenceKind, FilingStatus, HeldAs, HomeUse};
    use crate::case::{Kind, PartOf, Stage};
    use jiff::civil::date;

    #[test]
    fn every_word_meant_is_a_word_of_its_key() {
        for (key, words, word) in MEANT {
            let known = match *key {
                "kind" => Kind::from_word(word).is_some(),
                "as" => CostNature::from_word(word).is_some() || IncentiveKind::from_word(word).is_some(),
                "filing_status" => FilingStatus::from_word(word).is_some(),
                "use" => HomeUse::from_word(word).is_some(),
                "held_as" => HeldAs::from_word(word).is_some(),
                "acquired" => Acquired::from_word(word).is_some(),
                "part_of" => PartOf::from_word(word).is_some(),
                "condition" => Condition::from_word(word).is_some(),
                "stage" => Stage::from_word(word).is_some(),
                "type" => EvidenceKind::from_word(word).is_some(),
                _ => false,
            };
            assert!(known, "{key}: {word}");
            assert!(words.iter().all(|one| meant(key, one, &[word]).is_some()), "{word}");
        }
    }

    #[test]
    fn days_written_out_are_understood() {
        let day = Some(date(2025, 7, 30));
        for text in ["July 30, 2025", "30 July 2025", "Jul 30 2025", "jul. 30th, 2025", "30-Jul-2025"] {
            assert_eq!(day_in_words(text), day, "{text}");
        }
        for text in ["summer 2025", "July 2025", "Julius 30 2025 x", "July 41, 2025", "2025-07-30"] {
            assert_eq!(day_in_words(text), None, "{text}");
        }
    }
}
