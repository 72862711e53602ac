//! The names that stand in cases: kinds of property, natures of cost and incentive, uses, statuses.
//!
//! Each is one table from the word in the file to the thing it means, its label on paper, and nothing more.
//! What a kind is worth in a year is law, not here.

/// Declares an enum whose values are words of the case file, each with the label that paper shows.
macro_rules! words {
    ($(#[$doc:meta])* $name:ident { $($(#[$vdoc:meta])* $variant:ident = $word:literal, $label:literal;)+ }) => {
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub enum $name { $($(#[$vdoc])* #[doc = $label] $variant,)+ }
        impl $name {
            /// All values, in the order of the contract.
            pub const ALL: &'static [$name] = &[$($name::$variant,)+];
            /// Returns the word of the case file.
            pub fn word(self) -> &'static str { match self { $($name::$variant => $word,)+ } }
            /// Returns the label that paper shows.
            pub fn label(self) -> &'static str { match self { $($name::$variant => $label,)+ } }
            /// Finds the value a word of the case file means.
            pub fn from_word(word: &str) -> Option<$name> {
                Self::ALL.iter().copied().find(|one| one.word() == word)
            }
        }
        impl crate::record::Leaf for $name {
            const TAKES: crate::record::rule::Takes =
                crate::record::rule::Takes::Word(|| $name::ALL.iter().map(|one| one.word()).collect());
            fn read(
                slot: &crate::record::Slot<'_, '_>,
                reading: &mut crate::record::Reading<'_>,
            ) -> Option<crate::finding::Spanned<$name>> {
                reading.word(slot.node, slot.key, $name::ALL, $name::word)
            }
        }
        impl crate::record::Form for $name {
            type Value = $name;
            const TAKES: crate::record::rule::Takes = <$name as crate::record::Leaf>::TAKES;
            fn read<'t>(
                slot: &crate::record::Slot<'t, '_>,
                reading: &mut crate::record::Reading<'t>,
            ) -> Option<$name> {
                <$name as crate::record::Leaf>::read(slot, reading).map(|one| one.value)
            }
        }
        impl std::fmt::Display for $name {
            fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result { f.write_str(self.word()) }
        }
        impl crate::record::shape::Written for $name {
            const WRITTEN: crate::record::rule::Takes = <$name as crate::record::Leaf>::TAKES;
            fn of(text: &str) -> Result<Self, crate::record::shape::Refused> {
                let known: Vec<&str> = Self::ALL.iter().map(|one| one.word()).collect();
                $name::from_word(text).ok_or_else(|| crate::record::shape::Refused::unknown(text, &known))
            }
        }
        impl crate::contract::Contract for $name {
            fn schema(_groups: &mut crate::contract::Groups) -> serde_json::Value {
                crate::contract::words(Self::ALL.iter().map(|one| one.word()))
            }
            fn json(self) -> serde_json::Value { self.word().into() }
        }
        impl serde::Serialize for $name {
            fn serialize<S: serde::Serializer>(&self, s: S) -> Result<S::Ok, S::Error> { s.serialize_str(self.word()) }
        }
        impl<'de> serde::Deserialize<'de> for $name {
            fn deserialize<D: serde::Deserializer<'de>>(d: D) -> Result<Self, D::Error> {
                let word = <String as serde::Deserialize>::deserialize(d)?;
                $name::from_word(&word).ok_or_else(|| serde::de::Error::custom(format!("`{word}` is not one of the known words")))
            }
        }
    };
}

words! {
    /// A kind of property, as the law and the official forms name it.
    Kind {
        SolarElectric = "solar_electric", "solar electric property";
        SolarWaterHeating = "solar_water_heating", "solar water heating property";
        SmallWind = "small_wind", "small wind energy property";
        GeothermalHeatPump = "geothermal_heat_pump", "geothermal heat pump property";
        BatteryStorage = "battery_storage", "battery storage technology";
        FuelCell = "fuel_cell", "fuel cell property";
        InsulationOrAirSealing = "insulation_or_air_sealing", "insulation or air sealing";
        ExteriorDoor = "exterior_door", "exterior door";
        WindowOrSkylight = "window_or_skylight", "window or skylight";
        Roof = "roof", "roof";
        CentralAirConditioner = "central_air_conditioner", "central air conditioner";
        FuelWaterHeater = "fuel_water_heater", "natural gas, propane or oil water heater";
        FurnaceOrBoiler = "furnace_or_boiler", "natural gas, propane or oil furnace or hot water boiler";
        AirCirculatingFan = "air_circulating_fan", "advanced main air circulating fan";
        EnablingProperty = "enabling_property", "enabling property (panelboard, circuit or feeder)";
        HomeEnergyAudit = "home_energy_audit", "home energy audit";
        HeatPump = "heat_pump", "electric or natural gas heat pump";
        HeatPumpWaterHeater = "heat_pump_water_heater", "electric or natural gas heat pump water heater";
        BiomassStoveOrBoiler = "biomass_stove_or_boiler", "biomass stove or boiler";
    }
}

words! {
    /// What one cost was for.
    CostNature {
        Equipment = "equipment", "equipment";
        Material = "material", "material";
        OnsiteLabor = "onsite_labor", "labor on site";
        PipingAndWiring = "piping_and_wiring", "piping and wiring";
        ElectricalPanel = "electrical_panel", "electrical panel";
        Permit = "permit", "permit";
        SalesTax = "sales_tax", "sales tax";
        DesignFee = "design_fee", "design fee";
        Discount = "discount", "discount";
        LumpSum = "lump_sum", "one price for goods and labor";
        RoofStructure = "roof_structure", "roof structure";
        RoofCovering = "roof_covering", "roof covering";
        SolarRoofing = "solar_roofing", "solar roofing";
        BuildingReinforcement = "building_reinforcement", "reinforcement of the building";
        RemovalOrDisposal = "removal_or_disposal", "removal or disposal";
        Monitoring = "monitoring", "monitoring";
        PoolOrHotTub = "pool_or_hot_tub", "swimming pool or hot tub";
        DealerFee = "dealer_fee", "dealer fee";
        Financing = "financing", "financing charge";
        Warranty = "warranty", "service or warranty plan";
        Other = "other", "other cost";
    }
}

words! {
    /// What an incentive is by its character; never inferred from what its payer calls it.
    IncentiveKind {
        UtilitySubsidy = "utility_subsidy", "public utility subsidy";
        PriceRebate = "price_rebate", "rebate from the seller's side";
        StateTaxCredit = "state_tax_credit", "state tax credit";
        StateGrant = "state_grant", "state grant";
        LocalGrant = "local_grant", "local grant";
        FederalHomeRebate = "federal_home_rebate", "federal home energy rebate";
        NetMetering = "net_metering", "net metering payment";
        EnergyCertificate = "energy_certificate", "sale of energy certificates";
        Other = "other", "other incentive";
    }
}

words! {
    /// How a home is used over a stretch of time.
    HomeUse {
        MainHome = "main_home", "main home";
        OtherResidence = "other_residence", "other residence of the client";
        RentedToOthers = "rented_to_others", "rented to others";
        Vacant = "vacant", "vacant";
    }
}

words! {
    /// By what right the client holds the home.
    HeldAs {
        Owner = "owner", "owner";
        Renter = "renter", "renter";
        CoopShareholder = "coop_shareholder", "cooperative shareholder";
        CondoMember = "condo_member", "condominium member";
    }
}

words! {
    /// Whether the work was on a home that stood, on its renovation, or part of building it.
    PartOf {
        ExistingHome = "existing_home", "existing home";
        Renovation = "renovation", "renovation of an existing home";
        NewHome = "new_home", "new home";
    }
}

words! {
    /// How the client came by the property.
    Acquired {
        Bought = "bought", "bought";
        Leased = "leased", "leased";
        PowerContract = "power_contract", "power purchase contract";
    }
}

words! {
    /// New, or used before.
    Condition {
        New = "new", "new";
        Used = "used", "used";
    }
}

words! {
    /// How a purchase was financed.
    FinancedAs {
        Loan = "loan", "loan";
        SubsidizedEnergyFinancing = "subsidized_energy_financing", "subsidized energy financing";
    }
}

words! {
    /// How far a return has come.
    Stage {
        Projected = "projected", "projected";
        Draft = "draft", "draft";
        Filed = "filed", "filed";
        Amended = "amended", "amended";
    }
}

words! {
    /// Filing status of Form 1040.
    FilingStatus {
        Single = "single", "single";
        MarriedFilingJointly = "married_filing_jointly", "married filing jointly";
        MarriedFilingSeparately = "married_filing_separately", "married filing separately";
        HeadOfHousehold = "head_of_household", "head of household";
        QualifyingSurvivingSpouse = "qualifying_surviving_spouse", "qualifying surviving spouse";
    }
}

words! {
    /// The return itself.
    ReturnForm {
        Form1040 = "1040", "Form 1040";
        Form1040Sr = "1040-SR", "Form 1040-SR";
        Form1040Nr = "1040-NR", "Form 1040-NR";
    }
}

words! {
    /// How the amounts of a return are rounded (26 U.S.C. 6102).
    RoundingChoice {
        WholeDollars = "whole_dollars", "whole dollars";
        Cents = "cents", "dollars and cents";
    }
}

words! {
    /// Another credit of the return that may come before one of ours.
    OtherCredit {
        ForeignTax = "foreign_tax", "foreign tax credit";
        ChildAndDependentCare = "child_and_dependent_care", "child and dependent care credit";
        Education = "education", "education credits";
        RetirementSavings = "retirement_savings", "retirement savings contributions credit";
        ElderlyOrDisabled = "elderly_or_disabled", "credit for the elderly or the disabled";
        ChildTax = "child_tax", "child tax credit and credit for other dependents";
        MortgageInterest = "mortgage_interest", "mortgage interest credit";
        Adoption = "adoption", "adoption credit";
        DcFirstHome = "dc_first_home", "District of Columbia first-time homebuyer credit carryforward";
        AlternativeMotorVehicle = "alternative_motor_vehicle", "alternative motor vehicle credit";
        PlugInVehicle = "plug_in_vehicle", "plug-in electric drive vehicle credit (Form 8936)";
        ElectricVehicle = "electric_vehicle", "qualified plug-in electric vehicle credit (Form 8834)";
        NewCleanVehicle = "new_clean_vehicle", "new clean vehicle credit";
        PreviouslyOwnedCleanVehicle = "previously_owned_clean_vehicle", "previously owned clean vehicle credit";
        PartnershipAdjustment = "partnership_adjustment", "negative Form 8978 adjustment";
    }
}

words! {
    /// Why the firm may send yearly reminders (26 CFR 301.7216-2 and 301.7216-3; Rev. Proc. 2013-14).
    ReminderBasis {
        Preparation = "preparation", "part of return preparation";
        AccountingServices = "accounting_services", "accounting services";
        Consent = "consent", "written consent";
    }
}

words! {
    /// How letters reach the client.
    Delivery {
        Mail = "mail", "mail";
        Portal = "portal", "portal";
        None = "none", "no delivery";
    }
}

words! {
    /// Language of the letters.
    Language {
        En = "en", "English";
        Es = "es", "Spanish";
    }
}

words! {
    /// What kind of paper proves something.
    EvidenceKind {
        Receipt = "receipt", "receipt";
        Invoice = "invoice", "invoice";
        Contract = "contract", "contract";
        ProofOfPayment = "proof_of_payment", "proof of payment";
        Certification = "certification", "maker's certification statement";
        AuditReport = "audit_report", "home energy audit report";
        Permit = "permit", "building permit or inspection sign-off";
        CompletionRecord = "completion_record", "record of completion";
        UtilityLetter = "utility_letter", "permission to operate or interconnection letter";
        AwardLetter = "award_letter", "incentive award letter";
        InformationReturn = "information_return", "Form 1099 or a note that none came";
        LoanStatement = "loan_statement", "loan statement";
        ProofOfHome = "proof_of_home", "proof of the home and its use";
        AssociationStatement = "association_statement", "statement of the association or corporation";
        FiledReturn = "filed_return", "filed return";
        Photograph = "photograph", "dated photograph";
        Other = "other", "other paper";
    }
}

pub(crate) use words;
