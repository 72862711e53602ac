//! The names of rules in words, with what each is about.
//!
//! A rule that code, a layout or a year's file names is one of these, so that none can be named that does not exist.

use crate::case::{Kind, words};

words! {
    /// A rule in words of a year's law.
    Rule {
        Amending = "amending", "how a filed return is changed";
        AmendingAttach = "amending.attach", "what is attached to a changed return";
        AmendingCarryforward = "amending.carryforward", "a change of what is carried forward";
        AmendingMoreTax = "amending.more_tax", "a change that owes more tax";
        Association = "association", "the share of a condominium or cooperative member";
        AuditReport = "audit.report", "what the report of an audit must hold";
        AuditYearPaid = "audit.year_paid", "an audit counts in the year it was paid";
        Basis = "basis", "the credit lowers the home's basis";
        BasisUnused = "basis.unused", "credit that is never used, and the home's basis";
        BatteryBefore2023 = "battery.before_2023", "batteries before there was a credit for them";
        BatteryNewHome = "battery.new_home", "batteries in a new home";
        Carryforward = "carryforward", "what the tax cannot take goes to the next year";
        CarryforwardAfterEnd = "carryforward.after_end", "credit of earlier years after the end of the credit";
        CarryforwardBelief = "carryforward.belief", "what is wrongly said of the carryforward";
        CarryforwardChain = "carryforward.chain", "a carryforward passes through every year";
        CarryforwardLifeEvents = "carryforward.life_events", "death, divorce and another filing status";
        CarryforwardNature = "carryforward.nature", "what a carryforward is";
        Certification = "certification", "the certificate of solar water heating";
        Enabling = "enabling", "what enabling property must make possible";
        Ends = "ends", "when the credits begin and end";
        EnvelopeFiveYears = "envelope.five_years", "components that stay in use five years";
        FinancingPace = "financing.pace", "loans repaid with the property tax";
        FormOrStatuteFuelCells = "form_or_statute.fuel_cells", "several fuel cells on one line of the form";
        FormOrStatuteTwoItems = "form_or_statute.two_items", "two items on one line of the form";
        FuelCellConstructionBegun = "fuel_cell.construction_begun", "when the construction of a fuel cell began";
        FuelCellHalfKilowatt = "fuel_cell.half_kilowatt", "a part of half a kilowatt";
        GapImprovement = "gap.improvement", "a year without the home improvement credit";
        HomeClean = "home.clean", "the home that 25D property must serve";
        HomeImprovement = "home.improvement", "the home that 25C property must serve";
        ImprovementNoCarryforward = "improvement.no_carryforward", "25C that the tax cannot take is lost";
        ImprovementRestored = "improvement.restored", "25C enacted after its year had begun";
        IncentivesLaterYear = "incentives.later_year", "an incentive that turns up in a later year";
        IncentivesUpfrontCertificates = "incentives.upfront_certificates", "payments at once that are tied to certificates";
        InstalledOrPlacedInService = "installed_or_placed_in_service", "which day completes an installation";
        JointCleanOthers = "joint.clean_others", "25D property that several own";
        JointFuelCell = "joint.fuel_cell", "a fuel cell that several own";
        JointImprovement = "joint.improvement", "a 25C limit that several share";
        JointKinds = "joint.kinds", "a limit by kind that several share";
        JointMarried = "joint.married", "what spouses pay on a joint return";
        JointSeparateSpouses = "joint.separate_spouses", "spouses who file separately";
        Lease = "lease", "equipment that the client does not own";
        LifetimeCredits = "lifetime.credits", "earlier credits and the limit for all years";
        LifetimeWindows = "lifetime.windows", "earlier windows and their ceiling";
        LimitsKinds = "limits.kinds", "limits by kind of property";
        MakerCode = "maker_code", "the maker's code on the return";
        NewHomeImprovement = "new_home.improvement", "25C counts nothing of building a home";
        NewHomePriceSplit = "new_home.price_split", "the price of a new home, split";
        NewOnly = "new_only", "only new equipment counts";
        Nonbusiness = "nonbusiness", "use of the home for business";
        NonbusinessMeasure = "nonbusiness.measure", "how business use is measured";
        Nonrefundable = "nonrefundable", "no credit is more than the tax";
        OpenYears = "open_years", "until when a return can be amended";
        Order = "order", "which credits come first";
        OriginalUse = "original_use", "when a new home's property counts";
        OwnLabor = "own_labor", "the client's own work";
        OwnerOnly = "owner_only", "only an owner may claim";
        PanelOnce = "panel_once", "a panel counts once";
        RateEnacted = "rate.enacted", "when the rate of the year was enacted";
        ReductionMixedPrice = "reduction.mixed_price", "a discount on a price of which a part does not count";
        RoofMetalOnly = "roof.metal_only", "which roofs count";
        Rounding = "rounding", "where amounts are rounded";
        RoundingCentsFirst = "rounding.cents_first", "cents are added before a line is rounded";
        SeparateMainHomes = "separate_main_homes", "a couple with two main homes";
        SeveralDwellings = "several_dwellings", "a house with several dwellings";
        SolarOffSite = "solar.off_site", "an array off the site";
        StandardAirCirculatingFan = "standard.air_circulating_fan", "standard of air circulating fans";
        StandardCentralAirConditioner = "standard.central_air_conditioner", "standard of central air conditioners";
        StandardExteriorDoor = "standard.exterior_door", "standard of exterior doors";
        StandardFuelWaterHeater = "standard.fuel_water_heater", "standard of gas, propane and oil water heaters";
        StandardFurnaceOrBoiler = "standard.furnace_or_boiler", "standard of furnaces and boilers";
        StandardGeothermalHeatPump = "standard.geothermal_heat_pump", "standard of geothermal heat pumps";
        StandardHeatPump = "standard.heat_pump", "standard of heat pumps";
        StandardHeatPumpWaterHeater = "standard.heat_pump_water_heater", "standard of heat pump water heaters";
        StandardInsulationOrAirSealing = "standard.insulation_or_air_sealing", "standard of insulation and air sealing";
        StandardRoof = "standard.roof", "standard of roofs";
        StandardWindowOrSkylight = "standard.window_or_skylight", "standard of windows and skylights";
        Tenants = "tenants", "who may claim as a tenant";
        TimingFinanced = "timing.financed", "what is paid by a loan counts as paid";
        TimingImprovement = "timing.improvement", "when 25C property counts";
        TimingInstalled = "timing.installed", "an installation counts when it is complete";
    }
}

impl Rule {
    /// Returns the rule that says which efficiency standard a kind must meet; none for a kind without one.
    pub fn standard(kind: Kind) -> Option<Rule> {
        Rule::from_word(&format!("standard.{kind}"))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::law::Law;

    /// Rules print in the order of their names, and a name that no year has would be a promise that nothing keeps.
    #[test]
    fn rules_stand_in_order_and_every_one_is_law_in_some_year() {
        assert!(Rule::ALL.windows(2).all(|pair| pair[0].word() < pair[1].word()));
        for rule in Rule::ALL {
            assert!(Law::built_in().all().any(|year| year.rules.contains_key(rule)), "{rule}");
        }
    }
}
