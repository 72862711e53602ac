//! An item of property: what it is, its days, what it can do, and what was paid for it.

use super::cost::{Cost, Incentive};
use super::kinds::{Acquired, Condition, FinancedAs, Kind, PartOf};
use super::sections::{Homes, Property};
use crate::finding::Spanned;
use crate::money::{Money, Quantity, Rate};
use crate::record::rule::Takes;
use crate::record::{Fields, Form, Key, NameIn, OneOrList, Reading, Slot, record};
use jiff::civil::Date;

record! {
    /// One item of property.
    pub struct Item: ITEM "item" {
        given key: Spanned<Key>;
        /// what it is
        kind: Spanned<Kind>, "solar_electric";
        /// the home it serves
        home: Spanned<Key> => NameIn<Homes>, "alder-lane";
        /// existing home, renovation, or building of a new home
        part_of: Spanned<PartOf>, "existing_home";
        /// how the client came by it
        acquired: Spanned<Acquired>, "bought";
        /// new or used
        condition: Spanned<Condition>, "new";
        /// the day the original installation was complete; absent while it is not
        installed: Option<Spanned<Date>>, "2024-05-14";
        /// the day of the final inspection
        inspected: Option<Spanned<Date>>, "2024-05-20";
        /// the day the utility gave leave to switch on
        permission_to_operate: Option<Spanned<Date>>, "2024-06-02";
        /// the day it was ready and available for its use
        placed_in_service: Option<Spanned<Date>>, "2024-06-03";
        /// home energy audit: the day it was done
        performed: Option<Spanned<Date>>, "2024-02-01";
        /// home energy audit: the day it was paid
        paid: Option<Spanned<Date>>, "2024-02-10";
        /// fuel cell: the day construction began
        construction_began: Option<Spanned<Date>>, "2021-09-01";
        /// by whom the product is certified
        certified: Option<Certified>, "{by: .., number: ..}";
        /// capacity in kilowatts
        capacity_kw: Option<Spanned<Quantity>>, "7.6";
        /// battery: capacity in kilowatt-hours
        capacity_kwh: Option<Spanned<Quantity>>, "13.5";
        /// solar water heating: share of the energy that comes from the sun
        solar_share: Option<Spanned<Rate>>, "60%";
        /// thermal or electrical efficiency, by kind
        efficiency: Option<Spanned<Rate>>, "75%";
        /// enabling property: amperes
        amperage: Option<Spanned<Quantity>>, "200";
        /// fuel, in words
        fuel: Option<Spanned<String>>, "natural gas";
        /// the efficiency standard it meets, in words
        meets: Option<Spanned<String>>, "CEE highest tier 2025";
        /// home energy audit: who made it
        auditor: Option<Auditor>, "{name: .., number: .., program: ..}";
        /// number of equal units; 1 when not said; amounts are the total of all
        units: Spanned<u16> => Units, "2";
        /// the maker's code of four characters, one for all units or a list of one for each
        maker_code: Vec<Spanned<String>> => OneOrList<Spanned<String>>, "AB12";
        /// the product number of 17 characters, one for all units or a list of one for each
        pin: Vec<Spanned<String>> => OneOrList<Spanned<String>>, "AB12345678901234X";
        /// enabling property: the items it enables
        enables: Vec<Spanned<Key>> => Vec<NameIn<Property>>, "[heat-pump]";
        /// share of use that is not business use
        nonbusiness_use: Option<Spanned<Rate>>, "100%";
        /// what joint occupants and co-owners of the home outside this return paid for the same item; neighbors who share
        /// an item each claim their own payment and are left out
        paid_by_others: Option<Spanned<Money>>, "8000.00";
        /// the association or cooperative whose costs these are, and the client's share
        association: Option<Association>, "{name: .., share: 1.25%}";
        /// how it was financed
        financed: Option<Financed>, "{as: loan, amount: 12000}";
        /// what was paid for
        costs: Vec<Cost>, "[{item: .., as: equipment, amount: 7380.00}]";
        /// what others pay toward it
        incentives: Vec<Incentive>, "[{from: .., as: utility_subsidy, amount: 500}]";
    }
}

record! {
    /// A certificate.
    pub struct Certified: CERTIFIED "certified" {
        /// by whom
        by: Spanned<String>, "a certification body";
        /// number of the certificate
        number: Option<Spanned<String>>, "2024-1187";
    }
}

record! {
    /// A home energy auditor's particulars, which the report must show from 2024 on (Notice 2023-59).
    pub struct Auditor: AUDITOR "auditor" {
        /// name of the auditor
        name: Spanned<String>, "R. Cedar";
        /// employer identification number, as the report shows it
        number: Option<Spanned<String>>, "12-3456789";
        /// the program that certified the auditor
        program: Option<Spanned<String>>, "a qualified certification program";
    }
}

record! {
    /// An association or cooperative and the client's share.
    pub struct Association: ASSOCIATION "association" {
        /// its name
        name: Spanned<String>, "Alder Lane Condominium";
        /// the client's share; the costs are then the association's
        share: Spanned<Rate>, "1.25%";
    }
}

record! {
    /// Financing.
    pub struct Financed: FINANCED "financed" {
        /// what kind of financing
        how as "as": Spanned<FinancedAs>, "loan";
        /// how much
        amount: Spanned<Money>, "12000";
    }
}

/// A number of equal units, which is one where nothing is said, and unknown where something unreadable is.
struct Units;

impl Form for Units {
    type Value = Spanned<u16>;
    const TAKES: Takes = Takes::Count;
    const REQUIRED: bool = false;

    fn read<'t>(slot: &Slot<'t, '_>, reading: &mut Reading<'t>) -> Option<Spanned<u16>> {
        reading.count(slot.node, slot.key)
    }

    fn absent(item: &Fields<'_>) -> Option<Spanned<u16>> {
        Some(Spanned::new(1, item.head))
    }
}
