//! The numbered lines and the places where figures stand.
//!
//! The same meaning in every tax year; the first digit is the sheet. Three digits, or four where a sheet has used up
//! its hundred or a line belongs right behind another: 4061 stands on sheet 400, behind 406. What changes from year to year is the
//! official reference, which is not here but in the official line maps.

use crate::case::{Key, TaxYear};
use serde::{Serialize, Serializer};
use std::fmt;

/// A line of our numbering.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Line(pub u16);

/// What kind of value stands on a line.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum LineKind {
    /// Dollars.
    Money,
    /// A percentage.
    Rate,
    /// A measured quantity.
    Quantity,
    /// Yes or no.
    YesNo,
    /// Words.
    Text,
}

/// Declares the lines: number, name, kind, label. `{year}`, `{before}` and `{after}` in a label are the tax year
/// of the figure and its neighbors, `{improvement}` and `{clean}` what the credits are called in that year.
macro_rules! lines {
    ($($number:literal $name:ident $kind:ident $label:literal;)+) => {
        $(#[doc = $label] pub const $name: Line = Line($number);)+
        /// All lines, in order.
        pub const LINES: &[(Line, LineKind, &str)] = &[$((Line($number), LineKind::$kind, $label),)+];
    };
}

lines! {
    101 COST_PAID Money "amount paid";
    102 COST_COUNTED Money "counted toward the credit";
    110 ITEM_PAID Money "paid in all";
    111 ITEM_COUNTED Money "costs that count";
    113 ITEM_CLIENT_PAID Money "client's part of what was paid";
    201 INCENTIVE_AMOUNT Money "incentive";
    202 INCENTIVE_REDUCES Money "reduces the cost by";
    210 ITEM_REDUCTIONS Money "incentives that reduce the cost";
    211 ITEM_CLIENT_REDUCTIONS Money "client's part of the incentives that reduce the cost";
    215 ITEM_SUBSIDIZED Money "cost paid from subsidized energy financing";
    220 ITEM_NET Money "cost after incentives";
    222 ITEM_ASSOCIATION_SHARE Money "client's share of the association's cost";
    225 ITEM_NONBUSINESS Money "nonbusiness part of the cost";
    230 ITEM_QUALIFIED Money "qualified cost";
    231 UNIT_QUALIFIED Money "qualified cost of one unit";
    232 UNIT_ALL_OWNERS Money "cost of one unit to all joint occupants";
    235 ITEM_OTHERS Money "paid by joint occupants outside this return";
    236 ITEM_ALL_OWNERS Money "cost to all joint occupants";

    301 IMPROVEMENT_MAIN_HOME YesNo "improvements installed in or on the main home in the United States";
    302 IMPROVEMENT_ORIGINAL_USER YesNo "client is the original user";
    303 IMPROVEMENT_FIVE_YEARS YesNo "components expected to stay in use five years or more";
    304 IMPROVEMENT_ADDRESS Text "address of the main home";
    305 IMPROVEMENT_CONSTRUCTION YesNo "any of it part of building this home";
    306 EARLIER_CREDIT Money "{improvement} taken in an earlier year";
    307 EARLIER_CREDITS Money "{improvement} of earlier years that counts against the limit";
    308 EARLIER_WINDOW_COST Money "window cost of an earlier year";
    309 EARLIER_WINDOWS_30_PERCENT Money "window cost of 2009 and 2010 together";
    310 INSULATION_COST Money "insulation and air sealing: cost";
    311 INSULATION_CREDIT Money "insulation and air sealing: credit";
    312 ROOF_COST Money "roofs: cost";
    313 EARLIER_WINDOWS_SCALED Money "window cost of 2009 and 2010, scaled because those years paid 30 percent";
    314 EARLIER_WINDOW_COSTS Money "window cost of earlier years that counts against the ceiling";
    315 DOOR_TOP_COST Money "costliest exterior door: cost";
    316 DOOR_TOP_CODE Text "costliest exterior door: maker's code";
    317 DOOR_TOP_CREDIT Money "costliest exterior door: credit";
    318 DOOR_NEXT_COST Money "next costliest exterior doors: cost";
    319 DOOR_NEXT_CODE Text "next costliest exterior doors: maker's code";
    320 DOOR_REST_COST Money "remaining exterior doors: cost";
    321 DOOR_OTHER_COST Money "exterior doors other than the costliest: cost";
    322 DOOR_OTHER_CREDIT Money "exterior doors other than the costliest: credit before the limit";
    323 DOOR_CREDIT Money "exterior doors: credit";
    324 DOOR_COST Money "exterior doors: cost";
    325 WINDOW_TOP_COST Money "costliest windows and skylights: cost";
    326 WINDOW_TOP_CODE Text "costliest windows and skylights: maker's code";
    327 WINDOW_OTHER_COST Money "other windows and skylights: cost";
    328 WINDOW_COST Money "windows and skylights: cost";
    329 WINDOW_CREDIT Money "windows and skylights: credit";
    330 ENERGY_PROPERTY_HOME YesNo "energy property installed at a home in the United States";
    331 ENERGY_PROPERTY_FIRST_USE YesNo "energy property first placed in service by the client";
    332 ENERGY_PROPERTY_ADDRESSES Text "addresses where energy property was installed";
    333 AIR_CONDITIONER_TOP_COST Money "costliest central air conditioner: cost";
    334 AIR_CONDITIONER_CODE Text "costliest central air conditioner: maker's code";
    335 AIR_CONDITIONER_OTHER_COST Money "other central air conditioners: cost";
    336 AIR_CONDITIONER_COST Money "central air conditioners: cost";
    337 AIR_CONDITIONER_CREDIT Money "central air conditioners: credit";
    338 FUEL_WATER_HEATER_TOP_COST Money "costliest gas, propane or oil water heaters: cost";
    339 FUEL_WATER_HEATER_CODE Text "costliest gas, propane or oil water heaters: maker's code";
    340 FUEL_WATER_HEATER_OTHER_COST Money "other gas, propane or oil water heaters: cost";
    341 FUEL_WATER_HEATER_COST Money "gas, propane or oil water heaters: cost";
    342 FUEL_WATER_HEATER_CREDIT Money "gas, propane or oil water heaters: credit";
    343 FURNACE_TOP_COST Money "costliest furnace or hot water boiler: cost";
    344 FURNACE_CODE Text "costliest furnace or hot water boiler: maker's code";
    345 FURNACE_OTHER_COST Money "other furnaces and hot water boilers: cost";
    346 FURNACE_COST Money "furnaces and hot water boilers: cost";
    347 FURNACE_CREDIT Money "furnaces and hot water boilers: credit";
    348 FAN_COST Money "advanced main air circulating fans: cost";
    349 FAN_CREDIT Money "advanced main air circulating fans: credit";
    350 ENABLING_QUESTION YesNo "enabling property made separate qualifying property possible, both installed in {year}";
    351 ENABLING_KINDS Text "kinds of property enabled";
    352 ENABLING_COST Money "panelboards, circuits and feeders: cost";
    353 ENABLING_CODE Text "panelboards, circuits and feeders: maker's code";
    354 ENABLING_CREDIT Money "panelboards, circuits and feeders: credit";
    355 AUDIT_QUESTION YesNo "home energy audit of the main home with a written report";
    356 AUDIT_COST Money "home energy audits: cost";
    357 AUDIT_CREDIT Money "home energy audits: credit";
    358 BUILDING_PROPERTY_COST Money "energy-efficient building property: cost";
    359 BUILDING_PROPERTY_CREDIT Money "energy-efficient building property: credit";
    360 GENERAL_BEFORE_CAP Money "items under the general yearly limit";
    361 GENERAL_CREDIT Money "those items after the yearly limit";
    362 HEAT_PUMP_TOP_COST Money "costliest heat pump: cost";
    363 HEAT_PUMP_CODE Text "costliest heat pump: maker's code";
    364 HEAT_PUMP_OTHER_COST Money "other heat pumps: cost";
    365 HEAT_PUMP_COST Money "heat pumps: cost";
    366 HEAT_PUMP_WATER_HEATER_TOP_COST Money "costliest heat pump water heater: cost";
    367 HEAT_PUMP_WATER_HEATER_CODE Text "costliest heat pump water heater: maker's code";
    368 HEAT_PUMP_WATER_HEATER_OTHER_COST Money "other heat pump water heaters: cost";
    369 HEAT_PUMP_WATER_HEATER_COST Money "heat pump water heaters: cost";
    370 BIOMASS_TOP_COST Money "costliest biomass stove or boiler: cost";
    371 BIOMASS_CODE Text "costliest biomass stove or boiler: maker's code";
    372 BIOMASS_OTHER_COST Money "other biomass stoves and boilers: cost";
    373 BIOMASS_COST Money "biomass stoves and boilers: cost";
    374 WINDOW_CEILING Money "most window cost that may ever count";
    375 HEAT_PUMP_GROUP_COST Money "heat pumps, heat pump water heaters, biomass: cost";
    376 HEAT_PUMP_GROUP_CREDIT Money "heat pumps, heat pump water heaters, biomass: credit";
    377 WINDOW_ROOM Money "window cost that may still count";
    378 WINDOW_COUNTED Money "windows and skylights: cost that counts";
    379 ENVELOPE_COST Money "insulation, doors, roofs, windows: cost that counts";
    380 IMPROVEMENT_BEFORE_LIMIT Money "credit before the tax limit";
    381 ENVELOPE_CREDIT Money "insulation, doors, roofs, windows: credit";
    382 ENERGY_PROPERTY_CREDIT Money "energy property: credit";
    383 IMPROVEMENT_COST Money "all costs of the {improvement}";
    384 BEFORE_YEARS_LIMIT Money "credit before the limit for all years together";
    385 IMPROVEMENT_LIMIT Money "tax limit";
    386 OWNERS_BEFORE_YEARS_LIMIT Money "credit of all joint owners before the limit for all years together";
    387 YEARS_LIMIT Money "limit for all years together";
    388 YEARS_ROOM Money "what earlier years leave of that limit";
    389 OWNERS_GENERAL_BEFORE_CAP Money "items under the general yearly limit, of all joint owners";
    390 IMPROVEMENT_ALLOWED Money "{improvement} allowed for {year}";
    391 IMPROVEMENT_JOINT YesNo "joint occupants share a limit";
    392 IMPROVEMENT_ASSOCIATION YesNo "condominium or cooperative with a share of the cost";
    393 IMPROVEMENT_TWO_HOMES YesNo "more than one main home (married, one joint return)";
    395 IMPROVEMENT_LOST Money "{improvement} lost to the tax limit (never carried forward)";

    400 CLEAN_ADDRESS Text "address of the home served";
    401 SOLAR_ELECTRIC_COST Money "solar electric property: cost";
    402 SOLAR_WATER_HEATING_COST Money "solar water heating property: cost";
    403 SMALL_WIND_COST Money "small wind energy property: cost";
    404 GEOTHERMAL_COST Money "geothermal heat pump property: cost";
    405 BATTERY_QUESTION YesNo "battery storage of 3 kilowatt-hours or more";
    406 BATTERY_COST Money "battery storage technology: cost";
    407 CLEAN_BIOMASS_COST Money "biomass fuel property: cost";
    408 CLEAN_JOINT_CEILING Money "cost ceiling of all joint occupants of the home";
    409 CLEAN_ALLOCATED Money "cost that counts for this return";
    410 CLEAN_COST Money "clean energy property: cost";
    411 CLEAN_RATE_TIMES_COST Money "clean energy property: rate times cost";
    415 FUEL_CELL_MAIN_HOME YesNo "fuel cell installed at the main home in the United States";
    416 FUEL_CELL_ADDRESS Text "address of that main home";
    417 FUEL_CELL_JOINT YesNo "joint occupants share the fuel cell limit";
    418 FUEL_CELL_JOINT_CEILING Money "fuel cell cost ceiling of all joint occupants";
    419 FUEL_CELL_ALLOCATED Money "fuel cell cost that counts for this return";
    420 FUEL_CELL_COST Money "fuel cell property: cost";
    421 FUEL_CELL_RATE_TIMES_COST Money "fuel cell property: rate times cost";
    422 FUEL_CELL_KILOWATTS Quantity "fuel cell capacity in kilowatts";
    423 FUEL_CELL_CAP Money "fuel cell limit by capacity";
    424 FUEL_CELL_CREDIT Money "fuel cell credit";
    425 FUEL_CELL_CREDIT_EACH Money "fuel cell credit with the limit of each fuel cell by itself";
    430 CARRIED_IN Money "credit carried in from {before}";
    431 CLEAN_BEFORE_LIMIT Money "credit before the tax limit";
    435 CLEAN_LIMIT Money "tax limit";
    440 CLEAN_ALLOWED Money "{clean} allowed for {year}";
    441 CARRIED_OUT Money "credit carried forward to {after}";
    450 SOLAR_ELECTRIC_RATE_TIMES_COST Money "solar electric property: rate times cost";
    451 SOLAR_ELECTRIC_CAP Money "solar electric property: limit";
    452 SOLAR_ELECTRIC_CREDIT Money "solar electric property: credit";
    453 SOLAR_WATER_HEATING_RATE_TIMES_COST Money "solar water heating property: rate times cost";
    454 SOLAR_WATER_HEATING_CAP Money "solar water heating property: limit";
    455 SOLAR_WATER_HEATING_CREDIT Money "solar water heating property: credit";
    460 SMALL_WIND_RATE_TIMES_COST Money "small wind energy property: rate times cost";
    461 SMALL_WIND_KILOWATTS Quantity "small wind energy property: capacity in kilowatts";
    462 SMALL_WIND_CAPACITY_CAP Money "small wind energy property: limit by capacity";
    463 SMALL_WIND_CAP Money "small wind energy property: limit";
    464 SMALL_WIND_CREDIT Money "small wind energy property: credit";
    466 GEOTHERMAL_RATE_TIMES_COST Money "geothermal heat pump property: rate times cost";
    467 GEOTHERMAL_CAP Money "geothermal heat pump property: limit";
    468 GEOTHERMAL_CREDIT Money "geothermal heat pump property: credit";

    501 TAX Money "tax before credits";
    511 BEFORE_PARTNERSHIP Money "negative Form 8978 adjustment";
    512 BEFORE_FOREIGN_TAX Money "foreign tax credit";
    513 BEFORE_DEPENDENT_CARE Money "child and dependent care credit";
    514 BEFORE_ELDERLY Money "credit for the elderly or the disabled";
    515 BEFORE_EDUCATION Money "education credits";
    516 BEFORE_RETIREMENT Money "retirement savings contributions credit";
    519 BEFORE_IMPROVEMENT Money "credits that come before the {improvement}";
    520 IMPROVEMENT_TAX_LEFT Money "tax left for the {improvement}";
    521 BEFORE_IMPROVEMENT_ALLOWED Money "{improvement} allowed";
    522 BEFORE_NEW_VEHICLE Money "new clean vehicle credit, personal part";
    523 BEFORE_USED_VEHICLE Money "previously owned clean vehicle credit";
    524 BEFORE_CHILD_TAX Money "child tax credit and credit for other dependents";
    525 BEFORE_MORTGAGE_INTEREST Money "mortgage interest credit";
    526 BEFORE_ADOPTION Money "adoption credit";
    527 BEFORE_DC_FIRST_HOME Money "District of Columbia first-time homebuyer credit carryforward";
    528 BEFORE_ALTERNATIVE_VEHICLE Money "alternative motor vehicle credit, personal part";
    529 BEFORE_PLUG_IN_VEHICLE Money "plug-in electric drive vehicle credit, personal part";
    530 BEFORE_ELECTRIC_VEHICLE Money "qualified plug-in electric vehicle credit (Form 8834), personal part";
    539 BEFORE_CLEAN Money "credits that come before the {clean}";
    540 CLEAN_TAX_LEFT Money "tax left for the {clean}";

    601 ORIGIN_IN Money "carried in";
    602 ORIGIN_EARNED Money "earned in {year}";
    603 ORIGIN_AVAILABLE Money "available in {year}";
    604 ORIGIN_USED Money "used in {year}";
    605 ORIGIN_LEFT Money "left for {after}";
    610 CHAIN_AVAILABLE Money "available in {year}, all origin years";
    611 CHAIN_USED Money "used in {year}, all origin years";
    612 CHAIN_LEFT Money "left for {after}, all origin years";

    651 IF_TAX Money "what if: tax before credits";
    652 IF_CREDITS_BEFORE Money "what if: credits that come before the {clean}";
    653 IF_TAX_LEFT Money "what if: tax left for the {clean}";
    654 IF_CARRIED_IN Money "what if: carried in";
    655 IF_USED Money "what if: used";
    656 IF_LEFT Money "what if: left for the year after";
    657 IF_MORE_TAX Money "what if: more tax that would use the rest in that year";
    658 IF_MORE_INCOME Money "what if: income that makes that much tax at the federal rate of the case";
    661 MORE_TAX Money "what if: more tax in {year} that would use the rest in {year}";
    662 MORE_INCOME Money "what if: income that makes that much tax at the federal rate of the case";

    701 ITEM_BASIS Money "adds to the home's basis before credits";
    702 BASIS_ADDED Money "adds to the home's basis before credits, all property";
    705 BASIS_IMPROVEMENT Money "{improvement} allowed so far";
    706 BASIS_CLEAN Money "{clean} allowed so far";
    709 BASIS_INCREASE Money "increase in basis after the credits allowed so far";
    710 BASIS_UNUSED Money "{clean} not used yet";
    711 BASIS_IF_USED Money "increase in basis if the rest is used";

    801 GROSS_PRICE Money "price before incentives";
    802 PRICE_REDUCTIONS Money "price adjustments and utility subsidies";
    803 NET_PRICE Money "net price paid";
    804 QUALIFIED_COST Money "of which qualified for a federal credit";
    805 FEDERAL_CREDIT Money "federal credits figured on it";
    806 FEDERAL_USED Money "of which used on returns so far";
    807 FEDERAL_LEFT Money "of which carried forward, not yet received";
    808 STATE_CREDIT Money "state tax credit, face amount";
    809 STATE_CREDIT_NET Money "state tax credit, after federal tax where the case gives a rate";
    810 TAXABLE_INCENTIVES_NET Money "incentives that leave the cost alone, after federal tax where the case gives a rate";
    811 NET_COST_SO_FAR Money "net cost counting only what has been received";
    812 NET_COST_IF_USED Money "net cost if the whole carryforward is used in the end";
    813 NET_SHARE_SO_FAR Rate "net cost so far as a share of the price";
    814 NET_SHARE_IF_USED Rate "net cost if all is used as a share of the price";

    901 TO_RETURN_IMPROVEMENT Money "{improvement} to the return";
    902 TO_RETURN_CLEAN Money "{clean} to the return";
    903 TO_NEXT_YEAR Money "credit carried forward to {after}";
    904 TO_RETURN_BOTH Money "both credits together to the return";
    905 FILED_IMPROVEMENT Money "{improvement} as filed";
    906 FILED_CLEAN Money "{clean} as filed";
    907 FILED_CARRIED_OUT Money "credit carried forward as filed";
    908 CHANGE_IMPROVEMENT Money "{improvement}: computed less filed";
    909 CHANGE_CLEAN Money "{clean}: computed less filed";
    910 CHANGE_CARRIED_OUT Money "credit carried forward: computed less filed";
    911 CHANGE_CREDITS Money "both credits: computed less filed";

    921 OTHER_CREDITS Money "other nonrefundable credits of the case, as on the return";
    922 CREDITS_AS_FILED Money "nonrefundable credits as filed";
    923 CREDITS_CORRECT Money "nonrefundable credits, correct";
    924 TAX_AS_FILED Money "tax after these credits, as filed";
    925 TAX_CORRECT Money "tax after these credits, correct";
    926 CHANGE_TAX Money "tax after these credits: correct less filed";
    927 LESS_TAX_THAN_FILED Money "less tax than filed";
    928 MORE_TAX_THAN_FILED Money "more tax than filed";
    929 CREDITS_ABOVE_TAX Money "correct credits that pass the tax";
    931 MORE_CARRIED_THAN_FILED Money "more credit carried forward than filed";
    932 LESS_CARRIED_THAN_FILED Money "less credit carried forward than filed";

    4061 BATTERY_RATE_TIMES_COST Money "battery storage technology: rate times cost";
    4062 BATTERY_CAP Money "battery storage technology: limit";
    4063 BATTERY_CREDIT Money "battery storage technology: credit";
    4071 CLEAN_BIOMASS_RATE_TIMES_COST Money "biomass fuel property: rate times cost";
    4072 CLEAN_BIOMASS_CAP Money "biomass fuel property: limit";
    4073 CLEAN_BIOMASS_CREDIT Money "biomass fuel property: credit";
}

/// The lines that rest on an assumption about a year to come. No figure of a return rests on them.
pub const WHAT_IF: &[Line] = &[
    IF_TAX,
    IF_CREDITS_BEFORE,
    IF_TAX_LEFT,
    IF_CARRIED_IN,
    IF_USED,
    IF_LEFT,
    IF_MORE_TAX,
    IF_MORE_INCOME,
    MORE_TAX,
    MORE_INCOME,
];

/// The lines that hold credit earned on a year's own clean energy property; which of them there are depends on the year.
pub const CLEAN_EARNED: &[Line] = &[
    SOLAR_ELECTRIC_CREDIT,
    SOLAR_WATER_HEATING_CREDIT,
    SMALL_WIND_CREDIT,
    GEOTHERMAL_CREDIT,
    BATTERY_CREDIT,
    CLEAN_BIOMASS_CREDIT,
    CLEAN_RATE_TIMES_COST,
    FUEL_CELL_CREDIT,
];

impl Line {
    /// Returns the kind of value the line holds.
    pub fn kind(self) -> LineKind {
        self.entry().1
    }

    /// Returns the label as declared, with its blanks unfilled.
    pub fn label(self) -> &'static str {
        self.entry().2
    }

    /// Returns the sheet the line stands on: the hundred of its first digit.
    pub fn sheet(self) -> u16 {
        let below_a_thousand = if self.0 < 1000 { self.0 } else { self.0 / 10 };
        below_a_thousand / 100 * 100
    }

    fn entry(self) -> &'static (Line, LineKind, &'static str) {
        let at = LINES
            .binary_search_by_key(&self, |entry| entry.0)
            .unwrap_or_else(|_| panic!("line {self} is not declared"));
        &LINES[at]
    }
}

impl fmt::Display for Line {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", self.0)
    }
}

/// What a figure is about, within its year and line.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Subject {
    /// The return as a whole.
    Return,
    /// An item of property.
    Item(Key),
    /// A cost of an item, counted from one.
    Cost(Key, u16),
    /// An incentive of an item, counted from one.
    Incentive(Key, u16),
    /// One of an item's equal units, counted from one.
    Unit(Key, u16),
    /// A row of the form for the costliest items, counted from one.
    Rank(u8),
    /// The year in which a credit was earned, or a window cost paid.
    Origin(TaxYear),
    /// A home: where a couple with two main homes fills in part of the form for each.
    Home(Key),
    /// A year to come, of which there is only an assumption.
    If(TaxYear),
}

impl fmt::Display for Subject {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Subject::Return => Ok(()),
            Subject::Item(item) => write!(f, "{item}"),
            Subject::Cost(item, n) => write!(f, "{item}.{n}"),
            Subject::Incentive(item, n) => write!(f, "{item}.incentive.{n}"),
            Subject::Unit(item, n) => write!(f, "{item}.unit.{n}"),
            Subject::Rank(n) => write!(f, "{}", row_name(*n)),
            Subject::Origin(year) | Subject::If(year) => write!(f, "{year}"),
            Subject::Home(home) => write!(f, "{home}"),
        }
    }
}

/// Returns the name of a row as the forms print it: `(i)`, `(ii)`.
pub fn row_name(rank: u8) -> &'static str {
    ["(i)", "(ii)", "(iii)", "(iv)"].get(rank as usize - 1).copied().unwrap_or("(v)")
}

/// Where a figure stands. Written `2025:352`, `2024:110@roof-array`, `2024:101@roof-array.2`.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Place {
    /// The tax year.
    pub year: TaxYear,
    /// The line.
    pub line: Line,
    /// What it is about.
    pub of: Subject,
}

impl Place {
    /// Makes the place of a figure about the return as a whole.
    pub fn of_return(year: TaxYear, line: Line) -> Place {
        Place { year, line, of: Subject::Return }
    }

    /// Makes the place of a figure about an item.
    pub fn of_item(year: TaxYear, line: Line, item: &Key) -> Place {
        Place { year, line, of: Subject::Item(item.clone()) }
    }

    /// Reads a place as people write it; without a year, the year given.
    pub fn read(text: &str, year: TaxYear) -> Option<Place> {
        let (year, rest) = match text.split_once(':') {
            Some((written, rest)) => (TaxYear(written.parse().ok()?), rest),
            None => (year, text),
        };
        let (number, of) = rest.split_once('@').unwrap_or((rest, ""));
        let line = Line(number.parse().ok()?);
        LINES.binary_search_by_key(&line, |entry| entry.0).ok()?;
        Some(Place { year, line, of: read_of(of, line)? })
    }
}

/// Reads what a place is about.
fn read_of(text: &str, line: Line) -> Option<Subject> {
    if text.is_empty() {
        return Some(Subject::Return);
    }
    if let Some(rank) = (1..=4).find(|n| row_name(*n) == text) {
        return Some(Subject::Rank(rank));
    }
    if WHAT_IF.contains(&line) {
        return Some(Subject::If(TaxYear(text.parse().ok()?)));
    }
    if line.sheet() == 600 || [EARLIER_CREDIT, EARLIER_WINDOW_COST].contains(&line) {
        return Some(Subject::Origin(TaxYear(text.parse().ok()?)));
    }
    if line.sheet() == 300 {
        // Sheet 300 has no rows by item: a key there is a home.
        return Some(Subject::Home(Key::new(text)));
    }
    let mut parts = text.split('.');
    let key = Key::new(parts.next()?);
    Some(match (parts.next(), parts.next()) {
        (None, _) => Subject::Item(key),
        (Some("incentive"), Some(n)) => Subject::Incentive(key, n.parse().ok()?),
        (Some("unit"), Some(n)) => Subject::Unit(key, n.parse().ok()?),
        (Some(n), None) => Subject::Cost(key, n.parse().ok()?),
        _ => return None,
    })
}

impl fmt::Display for Place {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}:{}", self.year, self.line)?;
        if self.of != Subject::Return {
            write!(f, "@{}", self.of)?;
        }
        Ok(())
    }
}

impl Serialize for Place {
    fn serialize<S: Serializer>(&self, s: S) -> Result<S::Ok, S::Error> {
        s.collect_str(self)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_are_in_order_and_stand_once() {
        assert!(LINES.windows(2).all(|pair| pair[0].0 < pair[1].0));
    }

    #[test]
    fn places_are_written_and_read_alike() {
        for text in [
            "2025:352",
            "2024:110@roof-array",
            "2024:101@roof-array.2",
            "2024:201@a.incentive.1",
            "2025:318@(ii)",
            "2026:604@2023",
            "2026:655@2028",
            "2013:306@2009",
            "2013:324@alder-lane",
            "2028:4063",
        ] {
            assert_eq!(
                Place::read(text, TaxYear(2020)).map(|place| place.to_string()).as_deref(),
                Some(text)
            );
        }
        let of_home = Place::read("2013:324@alder-lane", TaxYear(2020)).unwrap();
        assert_eq!(of_home.of, Subject::Home(Key::new("alder-lane")));
        assert_eq!(Place::read("440", TaxYear(2024)), Some(Place::of_return(TaxYear(2024), CLEAN_ALLOWED)));
        let ahead = Place::read("2026:655@2028", TaxYear(2020)).unwrap();
        assert_eq!(ahead.of, Subject::If(TaxYear(2028)));
        assert_eq!(Place::read("999", TaxYear(2024)), None);
        assert_eq!(
            [Line(100), Line(395), Line(406), Line(4063), Line(9321)].map(Line::sheet),
            [100, 300, 400, 400, 900]
        );
    }
}
