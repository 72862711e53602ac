//! The catalogue of what computing a case can find, one line for each code, and the mistakes of the trade that
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
    ("no-return-yet", "a year with property that counts and without a return"),
    ("missing-return", "a year without a return through which a balance passes"),
    ("year-without-law", "a year whose law is not in the program"),
    ("carried-in-differs", "a balance brought in that differs from what the case yields"),
    ("carried-in-instead", "a balance brought in that is taken instead of what the case yields"),
    ("before-checkpoint", "an item from before the balance that starts the chain"),
];
