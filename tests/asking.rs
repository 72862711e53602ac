//! Questions about what counts, and the answers that quiet them. The renderings stand in `tests/findings`.

use crate::support::household::{Household, compute, said};
use gablework::finding::Severity;

const ARRAY: &str = "property:
  roof-array:
    kind: solar_electric
    installed: 2024-05-14
    costs:
      - {item: TEXT, as: equipment, amount: 9000, evidence: invoice}
      - {item: new roof below, as: lump_sum, amount: 6000, evidence: invoice}
evidence:
  invoice: {type: invoice, on_file: true}
";

fn asked(text: &str, answers: &str) -> Household {
    compute(&[2024], &format!("{}{answers}", ARRAY.replace("TEXT", text))).without_errors()
}

fn answer(about: &str) -> String {
    format!("answers:\n  - {{question: roof-words, {about}answer: racking only, by: J. Birch}}\n")
}

#[test]
fn an_answered_question_is_quiet_and_kept_for_the_worksheet() {
    let both = asked("panels and decking", "");
    assert_eq!(both.with_code("roof-words").len(), 2, "{}", said(&both.findings));
    let one = asked("panels and decking", &answer("about: property.roof-array.costs.1, "));
    assert_eq!(one.with_code("roof-words").len(), 1);
    assert_eq!(one.with_code("roof-words")[0].about.as_deref(), Some("property.roof-array.costs.2"));
    assert_eq!(one.outcome.answered.len(), 1);
    assert_eq!(one.outcome.answered[0].0, 0, "the number of the answer");
    let whole = asked("panels and decking", &answer("about: property.roof-array, "));
    assert!(!whole.found("roof-words"));
    assert_eq!(whole.outcome.answered.len(), 2);
}

#[test]
fn an_answer_about_nothing_serves_a_question_asked_once() {
    assert!(!asked("panels", &answer("")).found("roof-words"));
    assert_eq!(asked("panels and decking", &answer("")).with_code("roof-words").len(), 2);
}

#[test]
fn an_answer_about_something_else_or_to_another_question_changes_nothing() {
    let other =
        asked("panels", "answers:\n  - {question: pool-words, about: property.roof-array, answer: none}\n");
    assert!(other.found("roof-words") && !other.found("unknown-question"));
    let elsewhere = asked("panels", &answer("about: homes.alder-lane, "));
    assert!(elsewhere.found("roof-words"));
}

const TWO_DOORS: &str = "property:
  front-door: {kind: exterior_door, installed: 2024-05-14, costs: [{item: door, as: equipment, amount: 900}]}
  garden-door: {kind: exterior_door, installed: 2024-05-14, costs: [{item: the other, as: equipment, amount: 700}]}
";

/// One answer confirms a standard for all items of a kind, whether it names the kind or, as older cases do, an item; for
/// an item that comes later it is asked again.
#[test]
fn one_answer_confirms_a_standard_for_all_items_of_a_kind() {
    let asks = |property: &str, about: &str| {
        let answers = format!(
            "answers:\n  - {{question: standard-unsaid, about: {about}, for: \"exterior_door; 2024; front-door, garden-door\", answer: as the label says}}\n"
        );
        compute(&[2024], &format!("{property}{answers}")).without_errors().found("standard-unsaid")
    };
    for about in ["standards.2024.exterior_door", "property.front-door", "property.garden-door"] {
        assert!(!asks(TWO_DOORS, about), "{about}");
    }
    assert!(asks(TWO_DOORS, "standards.2025.exterior_door"));
    let third = TWO_DOORS.replace("  garden-door:", "  side-door: {kind: exterior_door, installed: 2024-05-14, costs: [{item: a third, as: equipment, amount: 300}]}\n  garden-door:");
    assert!(asks(&third, "standards.2024.exterior_door"));
    for misspelt in ["standards.2024.door", "standards.exterior_door", "standards"] {
        let answers =
            format!("answers:\n  - {{question: standard-unsaid, about: {misspelt}, answer: yes}}\n");
        assert!(compute(&[2024], &format!("{TWO_DOORS}{answers}")).found("unknown-reference"), "{misspelt}");
    }
}

/// Of items said to meet the same, an answer about one is for that one, and one about the kind for all.
#[test]
fn an_answer_about_one_item_is_not_for_another() {
    let said_to_meet = TWO_DOORS.replace("installed: 2024-05-14,", "installed: 2024-05-14, meets: R-5,");
    let open = |about: &str| {
        let answers = format!(
            "answers:\n  - {{question: standard-not-the-one, about: {about}, for: R-5, answer: as the label says}}\n"
        );
        let household = compute(&[2024], &format!("{said_to_meet}{answers}")).without_errors();
        household.with_code("standard-not-the-one").len()
    };
    assert_eq!(open("property.front-door.meets"), 1);
    assert_eq!(open("standards.2024.exterior_door"), 0);
    assert_eq!(open("standards.2023.exterior_door"), 2);
}

/// A question about a section that the case lacks can be answered as it prints.
#[test]
fn a_question_about_an_absent_section_can_be_answered() {
    const DOORS: &str = "property:
  doors: {kind: exterior_door, installed: 2014-05-14, costs: [{item: doors, as: equipment, amount: 1000}]}
";
    let open = compute(&[2014], DOORS).without_errors();
    let asked = open.with_code("earlier-credits-unsaid");
    assert_eq!(asked[0].about.as_deref(), Some("earlier_credits"));
    let answers =
        "answers:\n  - {question: earlier-credits-unsaid, about: earlier_credits, answer: none was taken}\n";
    let answered = compute(&[2014], &format!("{DOORS}{answers}")).without_errors();
    assert!(!answered.found("earlier-credits-unsaid"), "{}", said(&answered.findings));
    let misspelt = compute(
        &[2014],
        &format!("{DOORS}{}", answers.replace("about: earlier_credits", "about: earlier_credit")),
    );
    assert!(misspelt.found("unknown-reference"));
}

const ROOF: &str = "answers:\n  - {question: roof-words, about: ABOUT, for: \"GIVEN\", answer: racking only, by: J. Birch}\n";

fn answered_for(text: &str, about: &str, given: &str) -> Household {
    asked(text, &ROOF.replace("ABOUT", about).replace("GIVEN", given))
}

/// An answer is asked again when what it was about has changed, and the question says from what to what.
#[test]
fn an_answer_holds_while_the_facts_it_was_given_for_do() {
    let first = "property.roof-array.costs.1";
    let same = answered_for("panels and decking", first, "panels and decking; equipment; $9,000.00");
    assert_eq!(same.with_code("roof-words").len(), 1, "the second cost stays open");
    assert_eq!(same.outcome.answered.len(), 1);
    let changed = answered_for("panels and decking", first, "panels and decking; equipment; 8,000");
    let open = changed.with_code("roof-words");
    assert_eq!(open.len(), 2);
    assert_eq!(
        open[0].related[0].1,
        "answered here for \u{201c}panels and decking; equipment; 8,000\u{201d}, and the case now says \u{201c}panels and decking; equipment; $9,000\u{201d}"
    );
    assert!(open[1].related.is_empty(), "the other question was never answered");
    assert!(changed.outcome.answered.is_empty());
}

/// A row that moves in its list keeps its answer, because the facts are the same.
#[test]
fn an_answer_follows_its_row() {
    let moved = answered_for(
        "panels and decking",
        "property.roof-array.costs.2",
        "panels and decking; equipment; 9,000",
    );
    assert_eq!(moved.with_code("roof-words").len(), 1);
    assert_eq!(moved.with_code("roof-words")[0].about.as_deref(), Some("property.roof-array.costs.2"));
}

#[test]
fn an_answer_without_facts_holds_and_says_that_it_cannot_notice_changes() {
    let found = asked("panels", &answer(""));
    assert_eq!(found.codes(Severity::Note), ["answer-without-for"]);
    let help = found.with_code("answer-without-for")[0].help.clone().unwrap();
    assert!(help.contains("for: \"new roof below; lump_sum; $6,000\""), "{help}");
}

/// What `check` prints with a question can be pasted; until the dots are filled in, it answers nothing.
#[test]
fn the_printed_entry_can_be_pasted() {
    let entry = asked("panels", "").with_code("roof-words")[0].answer_entry().unwrap();
    let filled = entry
        .replace("answer: ..", "answer: racking")
        .replace("by: ..", "by: J. Birch")
        .replace("on: ..", "on: 2025-03-01");
    let found = asked("panels", &format!("answers:\n  - {filled}\n"));
    assert!(found.findings.is_empty(), "{}", said(&found.findings));
    let dots = entry.replace(", on: ..", "");
    let found = compute(&[2024], &format!("{}answers:\n  - {dots}\n", ARRAY.replace("TEXT", "panels")));
    assert!(found.found("nothing-here"), "{}", said(&found.findings));
}

/// Warnings and errors stay, whatever is answered: they say what the law does.
#[test]
fn only_questions_can_be_answered() {
    let text = "property:
  roof-array: {kind: solar_electric, installed: 2024-05-14, condition: used, costs: [{item: panels, as: equipment, amount: 9000}]}
answers:
  - {question: used-equipment, about: property.roof-array, answer: never mind}
";
    let found = compute(&[2024], text);
    assert_eq!(
        found.codes(Severity::Warning),
        ["used-equipment", "unknown-question"],
        "{}",
        said(&found.findings)
    );
}

/// Neither a question nor its answer changes an amount.
#[test]
fn amounts_do_not_depend_on_questions() {
    for text in
        ["panels", "panels and decking", "refurbished panels with service plan and main panel upgrade"]
    {
        for answers in [String::new(), answer("about: property.roof-array, ")] {
            // 30% of 15,000.
            asked(text, &answers).expect(2024, &[("411", "4500"), ("440", "4500")]);
        }
    }
}

/// Words of ordinary invoices that must raise nothing.
#[test]
fn ordinary_words_raise_no_question() {
    for text in [
        "roof racking and panels",
        "panels on the common roof",
        "rooftop array of 24 modules",
        "solar shingles",
        "space frame for the array",
        "inverter with included warranty",
        "ground mount",
    ] {
        let found = answered_for(text, "property.roof-array.costs.2", "new roof below; lump_sum; 6,000");
        assert!(found.findings.is_empty(), "{text}:\n{}", said(&found.findings));
    }
}

#[test]
fn what_does_not_count_anyway_raises_no_question() {
    let text = "property:
  roof-array:
    kind: solar_electric
    installed: 2024-05-14
    costs:
      - {item: panels, as: equipment, amount: 9000, evidence: invoice}
      - {item: new shingles, as: roof_covering, amount: 3000, evidence: invoice}
      - {item: pool pipes, as: other, amount: 300, evidence: invoice}
evidence:
  invoice: {type: invoice, on_file: true}
";
    let found = compute(&[2024], text);
    let codes: Vec<&str> = found.findings.iter().map(|one| one.code).collect();
    assert_eq!(codes, ["law-not-settled"], "{}", said(&found.findings));
}

/// A derivation names the answers behind a fact, folds what nothing led to into one line, shows the arithmetic with its
/// numbers, and writes the documents out.
#[test]
fn a_derivation_can_be_read_down_to_answers_and_documents() {
    use gablework::case::TaxYear;
    use gablework::credit::why::Why;
    use gablework::law::Law;
    let answers = "answers:
  - {question: roof-words, about: property.roof-array.costs.2, for: \"new roof below; lump_sum; 6,000\", answer: racking only, by: J. Birch, on: 2025-03-01}
";
    let household = asked("panels", answers);
    let why = |depth| Why {
        case: &household.case,
        law: Law::built_in(),
        figures: &household.outcome.figures,
        answered: &household.outcome.answered,
        sources: &household.sources,
        depth,
    };
    let place = household.figure("2024:411").expect("a credit").place.clone();
    let text = why(None).line(&place).expect("a line").text();
    for part in [
        "  = 30% \u{d7} 15,000.00 (410), rounded\n",
        "nothing of: 402 solar water heating property: cost; 403 ",
        "which is 2024:230@roof-array",
        "asked: new roof below is entered as lump_sum",
        "Answered: racking only (J. Birch, 2025-03-01)",
        "\nSources\n",
        "  USC25D_2023: 26 U.S.C. 25D",
    ] {
        assert!(text.contains(part), "`{part}` is missing in\n{text}");
    }
    assert_eq!(text.matches("Answered: racking only").count(), 1, "{text}");
    let short = why(Some(1)).line(&place).expect("a line").text();
    assert!(
        short.contains("(more behind it; ask for a greater depth)") && short.lines().count() < 12,
        "{short}"
    );
    let sheet = why(None).sheet(TaxYear(2024), 400).expect("a sheet").text();
    assert!(sheet.contains("2024:440") && sheet.contains("(in its own place)"), "{sheet}");
    assert_eq!(
        sheet.matches("30% \u{d7} 15,000.00 (410)").count(),
        1,
        "each line is explained once:\n{sheet}"
    );
    assert!(sheet.contains("\nnothing of: "), "{sheet}");
    assert!(why(None).sheet(TaxYear(2031), 400).is_none(), "no such year");
}
