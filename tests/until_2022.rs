//! The nonbusiness energy property credit of 2006 to 2022, worked by hand, line by line.
//!
//! The comment above each check names the published source of the rule. Forms and worksheets are those of the IRS for
//! the year named; where the edition of a year was not found, the neighboring edition's layout is taken, as the law
//! files say.

use crate::support::household::{Household, compute, said};
use gablework::finding::Severity;

/// Writes an item of property: key, kind, day, further facts and its cost.
fn item(key: &str, kind: &str, day: &str, more: &str, cost: &str) -> String {
    format!(
        "  {key}: {{kind: {kind}, installed: {day}, {more} costs: [{{item: {key}, as: equipment, amount: {cost}}}]}}\n"
    )
}

/// Computes a case of these items, with ample returns for the years and further sections.
fn case(years: &[i16], items: &[String], more: &str) -> Household {
    compute(years, &format!("property:\n{}{more}\n", items.concat()))
}

/// Two kinds of property in every line of the form of 2006, lines 2a to 8: insulation 1,234.56, windows 3,000 of which
/// 2,000 count (line 2b), door 800, roof 400.50; air conditioner and heat pump 4,000 on the line that stops at 300
/// (line 5a), furnace 150 (5b), fan 45.25 (5c). Form 5695 (2006), lines 1-8.
#[test]
fn the_form_of_2006_line_by_line() {
    let found = case(
        &[2006],
        &[
            item("insulation", "insulation_or_air_sealing", "2006-03-01", "", "1234.56"),
            item("windows", "window_or_skylight", "2006-03-01", "", "3000"),
            item("door", "exterior_door", "2006-03-01", "", "800"),
            item("roof", "roof", "2006-03-01", "", "400.50"),
            item("air", "central_air_conditioner", "2006-04-01", "", "2500"),
            item("pump", "heat_pump", "2006-04-01", "", "1500"),
            item("furnace", "furnace_or_boiler", "2006-04-01", "", "2000"),
            item("fan", "air_circulating_fan", "2006-04-01", "", "45.25"),
        ],
        "",
    )
    .without_errors();
    found.expect(
        2006,
        &[
            ("310", "1235"),
            ("328", "3000"),
            ("374", "2000"),
            ("378", "2000"),
            ("324", "800"),
            ("312", "401"),
            // 1,235 + 2,000 + 800 + 401 = 4,436; at 10 percent 443.60, entered as 444.
            ("379", "4436"),
            ("381", "444"),
            ("358", "4000"),
            ("359", "300"),
            ("347", "150"),
            ("349", "45"),
            ("382", "495"),
            ("384", "939"),
            ("387", "500"),
            ("380", "500"),
            ("390", "500"),
            ("307", "absent"),
        ],
    );
    assert!(found.found("form-or-statute"), "two items stand on line 5a\n{}", said(&found.findings));
    assert!(!found.found("earlier-credits-unsaid"), "2006 was the first year");
}

/// 2007 takes the credit of 2006 off the 500 and its windows off the 2,000: Form 5695 (2007), lines 2d-2h and 8-10
/// (from memory, but for lines 2d and 15). Geothermal heat pumps were energy property in 2006 and 2007 (from memory).
#[test]
fn in_2007_the_credit_of_2006_counts() {
    let found = case(
        &[2006, 2007],
        &[
            item("first-windows", "window_or_skylight", "2006-03-01", "", "1500"),
            item("windows", "window_or_skylight", "2007-03-01", "", "900"),
            item("ground", "geothermal_heat_pump", "2007-05-01", "", "9000"),
        ],
        "",
    )
    .without_errors();
    found.expect(2006, &[("378", "1500"), ("381", "150"), ("390", "150")]);
    found.expect(
        2007,
        &[
            ("306@2006", "150"),
            ("307", "150"),
            ("308@2006", "1500"),
            ("314", "1500"),
            ("377", "500"),
            ("378", "500"),
            ("381", "50"),
            ("359", "300"),
            ("384", "350"),
            ("387", "500"),
            ("388", "350"),
            ("380", "350"),
            ("390", "350"),
        ],
    );
}

/// 2008 had no 25C credit: 26 U.S.C. 25C, termination, as amended by Pub. L. 110-343 div. B sec. 302.
#[test]
fn in_2008_nothing_counts() {
    let found = case(&[2008], &[item("door", "exterior_door", "2008-03-01", "", "900")], "");
    found.expect(2008, &[("380", "absent"), ("390", "absent")]);
    assert!(found.found("kind-not-in-law"), "{}", said(&found.findings));
}

/// 2009 and 2010: 30 percent of everything, one limit of 1,500 for both years together; the credit of 2006 does not
/// count against it. Form 5695 (2009) lines 1-4; lines 5-9 of both years from memory; Notice 2013-70, footnote 1.
#[test]
fn the_pair_of_2009_and_2010() {
    let found = case(
        &[2006, 2009, 2010],
        &[
            item("old-door", "exterior_door", "2006-05-01", "", "5000"),
            item("windows", "window_or_skylight", "2009-03-01", "", "2500.40"),
            item("stove", "biomass_stove_or_boiler", "2009-11-01", "efficiency: 80%,", "499.70"),
            item("furnace", "furnace_or_boiler", "2010-02-01", "", "3000"),
            item("roof", "roof", "2010-03-01", "", "1200"),
        ],
        "",
    )
    .without_errors();
    found.expect(2006, &[("390", "500")]);
    found.expect(
        2009,
        &[
            ("328", "2500"),
            ("358", "500"),
            ("383", "3000"),
            ("384", "900"),
            ("387", "1500"),
            ("380", "900"),
            ("390", "900"),
            ("388", "absent"),
            ("378", "absent"),
            ("347", "absent"),
        ],
    );
    found.expect(
        2010,
        &[
            ("312", "1200"),
            ("346", "3000"),
            ("383", "4200"),
            ("384", "1260"),
            ("306@2009", "900"),
            ("307", "900"),
            ("387", "1500"),
            ("388", "600"),
            ("380", "600"),
            ("390", "600"),
        ],
    );
    assert!(found.figure("2010:306@2006").is_none(), "2006 does not count in 2010");
}

/// The window worksheet of 2012 with its official multiplier: 200 of 2009 and 200 of 2010 count three times, 500 of 2011
/// once, so 1,700 of the 2,000 are used and 300 are left. Form 5695 (2012), page 6.
#[test]
fn window_costs_of_2009_and_2010_count_three_times() {
    let found = case(
        &[2012],
        &[item("windows", "window_or_skylight", "2012-06-01", "", "1000")],
        "earlier_credits:
  2009: {nonbusiness_energy_credit: 60, window_cost: 200}
  2010: {nonbusiness_energy_credit: 60, window_cost: 200}
  2011: {nonbusiness_energy_credit: 50, window_cost: 500}",
    )
    .without_errors();
    found.expect(
        2012,
        &[
            ("308@2006", "0"),
            ("308@2009", "200"),
            ("309", "400"),
            ("313", "1200"),
            ("308@2011", "500"),
            ("314", "1700"),
            ("374", "2000"),
            ("377", "300"),
            ("378", "300"),
            ("381", "30"),
            ("307", "170"),
            ("388", "330"),
            ("390", "30"),
        ],
    );
    assert!(!found.found("earlier-credits-unsaid"));
}

/// A chain from 2009 to 2013: what the case computes for its own years is brought forward, windows before the ceiling.
/// Lifetime and window worksheets of the instructions for Form 5695 (2013), lines 18 and 19f.
#[test]
fn a_chain_brings_its_own_years_forward() {
    let found = case(
        &[2009, 2010, 2011, 2013],
        &[
            item("w-2009", "window_or_skylight", "2009-06-01", "", "300"),
            item("w-2011", "window_or_skylight", "2011-06-01", "", "1400"),
            item("w-2013", "window_or_skylight", "2013-06-01", "", "5000"),
            item("i-2013", "insulation_or_air_sealing", "2013-06-01", "", "2000"),
        ],
        "",
    )
    .without_errors();
    // 2009: 30 percent of 300.
    found.expect(2009, &[("390", "90")]);
    found.expect(2010, &[("306@2009", "90"), ("390", "0")]);
    // 2011: 900 of the 2,000 are used, so 1,100 of the 1,400 count; 110 of the 410 that are left.
    found.expect(2011, &[("313", "900"), ("377", "1100"), ("378", "1100"), ("307", "90"), ("390", "110")]);
    found.expect(
        2013,
        &[
            ("308@2011", "1400"),
            ("314", "2300"),
            ("377", "0"),
            ("378", "0"),
            ("379", "2000"),
            ("381", "200"),
            ("307", "200"),
            ("388", "300"),
            ("390", "200"),
        ],
    );
    // The case says nothing of 2006, 2007 and 2012: it is asked once, for the last year that looks back.
    let asked = found.with_code("earlier-credits-unsaid");
    let [one] = &asked[..] else { panic!("{}", said(&found.findings)) };
    assert!(one.message.contains("2006, 2007, or 2012"), "{}", one.message);
}

/// Credits of earlier years are those allowed: what the tax limit took away in 2011 does not count in 2012.
/// 26 U.S.C. 25C(b)(1) as in force 2011-2022: "credits allowed"; worksheet of 2013, line 5: Form 5695 (2011) line 14.
#[test]
fn only_what_was_allowed_counts_against_the_limit() {
    let found = case(
        &[],
        &[
            item("furnace", "furnace_or_boiler", "2011-06-01", "", "4000"),
            item("door", "exterior_door", "2012-06-01", "", "4900"),
        ],
        "returns:
  2011: {tax_before_credits: 40}
  2012: {tax_before_credits: 10000}
earlier_credits: {2010: {nonbusiness_energy_credit: 0}}",
    )
    .without_errors();
    found.expect(2011, &[("380", "150"), ("390", "40"), ("395", "110")]);
    found.expect(2012, &[("307", "40"), ("388", "460"), ("380", "460"), ("390", "460")]);
}

/// A year that the case computes and states differently is an error that names both; agreement is none.
#[test]
fn a_stated_credit_must_agree_with_the_computed_one() {
    let with = |stated: &str| {
        case(
            &[2011, 2012],
            &[
                item("windows", "window_or_skylight", "2011-06-01", "", "1000"),
                item("door", "exterior_door", "2012-06-01", "", "900"),
            ],
            &format!("earlier_credits: {{2011: {stated}}}"),
        )
    };
    let agrees = with("{nonbusiness_energy_credit: 100, window_cost: 1000}").without_errors();
    agrees.expect(2012, &[("307", "100"), ("390", "90")]);
    for stated in ["{nonbusiness_energy_credit: 120}", "{window_cost: 999}"] {
        let differs = with(stated);
        let codes = differs.codes(Severity::Error);
        // Windows were not bought in 2012, but the window worksheet is filled in all the same.
        assert_eq!(codes, ["earlier-credit-differs"], "{stated}\n{}", said(&differs.findings));
    }
    let told =
        &with("{nonbusiness_energy_credit: 120}").with_code("earlier-credit-differs")[0].message.clone();
    assert!(told.contains("$120") && told.contains("$100"), "{told}");
}

/// The question about earlier years is asked where the limit looks back and nothing is said, and quiet otherwise.
#[test]
fn the_question_about_earlier_years() {
    let door = |day: &str| vec![item("door", "exterior_door", day, "", "900")];
    let asked = |found: Household| found.found("earlier-credits-unsaid");
    assert!(asked(case(&[2014], &door("2014-05-01"), "")));
    assert!(!asked(case(&[2009], &door("2009-05-01"), "")), "2009 looks back to nothing");
    assert!(!asked(case(&[2023], &door("2023-05-01"), "")), "2023 looks back to nothing");
    assert!(!asked(case(&[2014], &[], "")), "nothing was bought");
    let zero = "earlier_credits: {2013: {nonbusiness_energy_credit: 0}}";
    assert!(!asked(case(&[2014], &door("2014-05-01"), zero)));
    let answer =
        "answers: [{question: earlier-credits-unsaid, about: earlier_credits, answer: none was taken}]";
    let answered = case(&[2014], &door("2014-05-01"), answer);
    assert_eq!(answered.outcome.answered.len(), 1);
    assert!(!asked(answered));
    let windows = case(
        &[2014],
        &[item("windows", "window_or_skylight", "2014-05-01", "", "900")],
        "earlier_credits: {2010: {nonbusiness_energy_credit: 300}}",
    );
    assert!(windows.found("earlier-windows-unsaid"), "{}", said(&windows.findings));
    let used =
        case(&[2023], &door("2023-05-01"), "earlier_credits: {2010: {nonbusiness_energy_credit: 500}}");
    assert!(used.found("lifetime-limit-over"), "{}", said(&used.findings));
    used.expect(2023, &[("390", "250")]);
    let of_2008 =
        "earlier_credits: {2008: {nonbusiness_energy_credit: 100}, 2010: {nonbusiness_energy_credit: 0}}";
    let none = case(&[2014], &door("2014-05-01"), of_2008);
    assert_eq!(none.codes(Severity::Warning), ["earlier-credit-of-no-year"], "{}", said(&none.findings));
    none.expect(2014, &[("307", "0"), ("390", "90")]);
}

/// What was taken for a year without a return stands in `earlier_credits`, and its property needs no return then.
#[test]
fn a_year_without_return_may_be_stated() {
    let items = [
        item("old", "exterior_door", "2011-05-01", "", "3000"),
        item("door", "exterior_door", "2014-05-01", "", "3000"),
    ];
    let stated =
        case(&[2014], &items, "earlier_credits: {2011: {nonbusiness_energy_credit: 300}}").without_errors();
    stated.expect(2014, &[("306@2011", "300"), ("388", "200"), ("390", "200")]);
    assert!(case(&[2014], &items, "").found("missing-return"));
}

// ---- Several owners ----

/// Owners who are not spouses: of capped property each counts the smaller of own payment and the ceiling times own share,
/// and the limit of 500 is the smaller of own line 24 and 500 times own line 24 over everybody's. Form 5695 (2013),
/// instructions pages 4 and 6. First owner: windows 3,000 of 5,000 and furnace 600 of 1,000; insulation 2,500 of 4,000.
#[test]
fn joint_owners_share_ceilings_and_the_limit() {
    let found = case(
        &[2013],
        &[
            item("windows", "window_or_skylight", "2013-05-01", "paid_by_others: 2000,", "3000"),
            item("furnace", "furnace_or_boiler", "2013-05-01", "paid_by_others: 400,", "600"),
            item("insulation", "insulation_or_air_sealing", "2013-05-01", "paid_by_others: 1500,", "2500"),
        ],
        "earlier_credits: {2012: {nonbusiness_energy_credit: 0}}",
    )
    .without_errors();
    found.expect(
        2013,
        &[
            // 2,000 x 3,000 / 5,000.
            ("328", "1200"),
            ("378", "1200"),
            ("379", "3700"),
            ("381", "370"),
            // 150 x 600 / 1,000.
            ("347", "90"),
            ("384", "460"),
            // The others: (1,500 + 800) x 10% = 230, and 150 x 400 / 1,000 = 60: 290.
            ("386", "750"),
            // 500 x 460 / 750 = 306.67.
            ("387", "307"),
            ("388", "307"),
            ("380", "307"),
        ],
    );
    assert!(found.found("other-owners-credit"));
    // Below the limit together, each takes the own credit: windows 600 of 1,000.
    let below = case(
        &[2013],
        &[item("windows", "window_or_skylight", "2013-05-01", "paid_by_others: 400,", "600")],
        "earlier_credits: {2012: {nonbusiness_energy_credit: 0}}",
    )
    .without_errors();
    below.expect(2013, &[("328", "600"), ("384", "60"), ("386", "100"), ("387", "60"), ("380", "60")]);
    assert!(!below.found("other-owners-credit"));
}

/// In 2009 and 2010 joint owners share the 1,500 in the same way (inference from the later editions).
#[test]
fn joint_owners_share_the_limit_of_2009() {
    let found = case(
        &[2009],
        &[item("windows", "window_or_skylight", "2009-05-01", "paid_by_others: 4000,", "6000")],
        "",
    )
    .without_errors();
    // Own 1,800, together 3,000: 1,500 x 1,800 / 3,000.
    found.expect(2009, &[("384", "1800"), ("386", "3000"), ("387", "900"), ("380", "900")]);
}

/// Neighbors who share an item each take the credit on what each paid, with limits of their own: Form 5695 (2013),
/// instructions page 4. A case gives what this client paid and names no other owner.
#[test]
fn neighbors_count_what_each_paid() {
    let found = case(
        &[2013],
        &[item("boiler", "furnace_or_boiler", "2013-05-01", "", "140")],
        "earlier_credits: {2012: {nonbusiness_energy_credit: 0}}",
    )
    .without_errors();
    found.expect(2013, &[("347", "140"), ("387", "500"), ("380", "140")]);
}

const TWO_HOMES: &str = "homes:
  alder-lane: {use: main_home, held_as: owner, address: {street: 12 Alder Lane, city: Riverton, state: MA, zip: \"01040\"}}
  birch-road: {use: main_home, held_as: owner, address: {street: 3 Birch Road, city: Riverton, state: MA, zip: \"01040\"}}
";

fn couple(year: i16, earlier: &str) -> String {
    format!(
        "{TWO_HOMES}returns:\n  {year}: {{filing_status: married_filing_jointly, tax_before_credits: 90000, separate_main_homes: true}}\n{earlier}"
    )
}

/// A couple with two main homes on one return: one form for each home through line 24, each at most 500, added on one form
/// whose line 25 is 1,000. Form 5695 (2013), instructions page 4.
#[test]
fn two_main_homes_have_a_form_each() {
    let found = case(
        &[],
        &[
            item("furnace", "furnace_or_boiler", "2013-05-01", "", "3000"),
            item("insulation", "insulation_or_air_sealing", "2013-05-01", "", "6000"),
            item("windows", "window_or_skylight", "2013-05-01", "home: birch-road,", "2500"),
        ],
        &couple(2013, "earlier_credits: {2010: {nonbusiness_energy_credit: 450, window_cost: 0}}"),
    )
    .without_errors();
    found.expect(
        2013,
        &[
            ("381@alder-lane", "600"),
            ("347@alder-lane", "150"),
            ("384@alder-lane", "500"),
            ("328@birch-road", "2500"),
            ("378@birch-road", "2000"),
            ("384@birch-road", "200"),
            ("384", "700"),
            ("387", "1000"),
            ("307", "450"),
            ("388", "550"),
            ("380", "550"),
            ("393", "yes"),
            ("328", "absent"),
        ],
    );
    assert!(found.found("form-for-each-home"));
    assert!(!found.found("two-homes-earlier-windows"));
}

/// Up to 3,000 in 2009 and 2010 for a couple with two main homes: TIGTA report 2011-41-038 (2011). The windows of both
/// homes are brought forward to the window worksheet of 2011.
#[test]
fn two_main_homes_in_2009_reach_3000() {
    let homes = couple(2009, "").replace(
        "separate_main_homes: true}",
        "separate_main_homes: true}\n  2010: {filing_status: married_filing_jointly, tax_before_credits: 90000}\n  2011: {filing_status: married_filing_jointly, tax_before_credits: 90000}",
    );
    let found = case(
        &[],
        &[
            item("first", "window_or_skylight", "2009-05-01", "", "6000"),
            item("second", "window_or_skylight", "2009-05-01", "home: birch-road,", "4000"),
            item("door", "exterior_door", "2011-05-01", "", "900"),
        ],
        &homes,
    )
    .without_errors();
    found.expect(
        2009,
        &[
            ("384@alder-lane", "1500"),
            ("384@birch-road", "1200"),
            ("384", "2700"),
            ("387", "3000"),
            ("390", "2700"),
        ],
    );
    found.expect(2011, &[("308@2009", "10000"), ("306@2009", "2700"), ("388", "0"), ("390", "0")]);
}

/// What no source describes is refused, not computed wrongly.
#[test]
fn joint_owners_with_two_main_homes_are_refused() {
    let items = [
        item("furnace", "furnace_or_boiler", "2013-05-01", "paid_by_others: 500,", "500"),
        item("windows", "window_or_skylight", "2013-05-01", "home: birch-road,", "2500"),
    ];
    let found = case(&[], &items, &couple(2013, ""));
    assert!(
        found.codes(Severity::Error).contains(&"two-homes-and-joint-owners"),
        "{}",
        said(&found.findings)
    );
    let one = case(
        &[],
        &items[1..],
        &couple(2013, "earlier_credits: {2010: {nonbusiness_energy_credit: 450, window_cost: 0}}"),
    );
    // Work at one home only: one limit, less all earlier credits, and a question.
    one.expect(2013, &[("387", "500"), ("388", "50"), ("380", "50")]);
    assert!(one.codes(Severity::Question).contains(&"two-main-homes"), "{}", said(&one.findings));
    let earlier = case(
        &[],
        &[item("one", "window_or_skylight", "2013-05-01", "", "900"), items[1].clone()],
        &couple(2013, "earlier_credits: {2010: {nonbusiness_energy_credit: 90, window_cost: 300}}"),
    );
    earlier
        .expect(2013, &[("377@alder-lane", "1100"), ("378@alder-lane", "900"), ("378@birch-road", "1100")]);
    assert!(earlier.found("two-homes-earlier-windows"), "{}", said(&earlier.findings));
}
