//! A case written out as a file, in the style of the demo cases, with comments.
//!
//! Comes in: a [`Draft`]. Goes out: the text of a case file. Says what stands behind each key; order, quotes and comments
//! come from the tables of keys ([`crate::record::write`]), so they are the same everywhere.

use super::draft::{Address, Cost, Draft, Home, Incentive, Item, Return, Shared, WorksheetB};
use crate::case::firm::FIRM;
use crate::case::{CASE, Language, OtherCredit, RoundingChoice};
use crate::record::write::{self, Keys, With, Written};
use jiff::civil::Date;
use std::fmt::Write;

/// Writes the file.
pub(super) fn write(draft: &Draft, today: Date) -> String {
    file(&case(draft, today), &draft.reference, today, "gablework begin")
}

/// Writes the file of a case of its keys.
pub(super) fn file(keys: &Keys, reference: &str, today: Date, command: &str) -> String {
    let mut out = String::from("# yaml-language-server: $schema=gablework-case.schema.json\n");
    let _ = writeln!(out, "# The case of {reference}, begun on {today} with `{command}`.");
    out.push_str("#\n# Everything here may be changed and added to; `gablework check` says what is wrong or missing.\n");
    out.push_str("# What each key means stands in the README, and an editor shows it while one types.\n\n");
    write::file(&CASE, keys, &mut out);
    out
}

/// Writes a firm file.
pub(super) fn firm(name: &str, to: &Address, phone: &str, signatory: &str, title: Option<&str>) -> String {
    let mut out = String::from("# yaml-language-server: $schema=gablework-firm.schema.json\n");
    out.push_str(
        "# Who sends the letters. The README lists the other keys, such as email, logo and letterhead.\n\n",
    );
    let keys = Keys::new()
        .with("name", Written::text(name))
        .with("address", Written::Keys(address(to)))
        .with("phone", Written::text(phone))
        .with("signatory", Written::text(signatory))
        .with("title", title.map(Written::text));
    write::lines(&FIRM, &keys, false, "", &mut out);
    out
}

fn case(draft: &Draft, today: Date) -> Keys {
    let prepared = draft.prepared.as_ref();
    let carried = draft.carried_in.iter().map(|one| {
        let keys = Keys::new()
            .with("amount", Written::amount(one.amount))
            .with("shown_on", text(&one.shown_on))
            .with("belongs_to", text(&one.belongs_to));
        (one.year, Written::Keys(keys))
    });
    let earlier = draft.earlier.iter().map(|one| {
        let keys = Keys::new()
            .with("nonbusiness_energy_credit", Written::amount(one.credit))
            .with("window_cost", one.windows.map(Written::amount));
        (one.year, Written::Keys(keys))
    });
    let papers = draft.papers.iter().map(|paper| {
        let keys = Keys::new()
            .with("type", Written::word(paper.kind))
            .with("on_file", Written::word(paper.on_file))
            .with("where", text(&paper.kept_at));
        (&paper.key, Written::Keys(keys))
    });
    let answers = draft.settled.iter().map(|one| {
        let keys = Keys::new()
            .with("question", Written::word(one.question))
            .with("about", Written::word(&one.about))
            .with("for", text(&one.given))
            .with("answer", Written::text(&one.answer))
            .with("by", prepared.map(|(by, _)| Written::text(by)))
            .with("on", Written::day(today));
        Written::Keys(keys)
    });
    let signed = |(by, on): &(String, Date)| {
        Written::Keys(Keys::new().with("by", Written::text(by)).with("on", Written::day(*on)))
    };
    Keys::new()
        .with("format", Written::word(1))
        .with("client", Written::Lines(client(draft)))
        .with("prepared", prepared.map(signed))
        .with("homes", Written::entries(draft.homes.iter().map(|one| (&one.key, Written::Lines(home(one))))))
        .with(
            "property",
            Written::entries(draft.items.iter().map(|one| (&one.key, Written::Lines(item(one))))),
        )
        .with("shared", Written::list(draft.shared.iter().map(shared)))
        .with(
            "returns",
            Written::entries(draft.returns.iter().map(|one| (one.year, Written::Lines(tax_return(one))))),
        )
        .with("carried_in", Written::entries(carried))
        .with("earlier_credits", Written::entries(earlier))
        .with("evidence", Written::entries(papers))
        .with("answers", Written::list(answers))
}

fn text(words: &Option<String>) -> Option<Written> {
    words.as_deref().map(Written::text)
}

fn client(draft: &Draft) -> Keys {
    let people = draft.people.iter().map(|person| {
        Written::Keys(Keys::new().with("name", Written::text(&person.name)).with("tin", text(&person.tin)))
    });
    let names = || draft.people.iter().map(|one| Written::text(&one.name));
    let mail_to =
        draft.mail_to.as_ref().map(|to| Written::Keys(address(to).with("names", Written::list(names()))));
    let engagement = draft.engagement.as_ref().map(|one| {
        let keys = Keys::new()
            .with("reminder_basis", Written::word(one.basis))
            .with("consented", one.consented.map(Written::day))
            .with("until", one.until.map(Written::day));
        Written::Keys(keys)
    });
    let language = draft.language.filter(|language| *language != Language::En);
    Keys::new()
        .with("reference", Written::text(&draft.reference))
        .with("people", Written::list(people))
        .with("mail_to", mail_to)
        .with("language", language.map(Written::word))
        .with("engagement", engagement)
}

fn address(one: &Address) -> Keys {
    Keys::new()
        .with("street", Written::text(&one.street))
        .with("unit", text(&one.unit))
        .with("city", Written::text(&one.city))
        .with("state", Written::text(&one.state))
        .with("zip", Written::text(&one.zip))
}

fn home(home: &Home) -> Keys {
    Keys::new()
        .with("address", Written::Keys(address(&home.address)))
        .with("use", Written::word(home.use_))
        .with("held_as", Written::word(home.held_as))
        .with("original_use", home.original_use.map(Written::day))
}

fn item(item: &Item) -> Keys {
    let mut keys = Keys::new()
        .with("kind", Written::word(item.kind))
        .with("home", Written::word(&item.home))
        .with("part_of", Written::word(item.part_of))
        .with("costs", Written::list(item.costs.iter().map(cost)))
        .with("incentives", Written::list(item.incentives.iter().map(incentive)));
    keys.extend(item.facts.iter().cloned());
    keys
}

fn cost(cost: &Cost) -> Written {
    Written::Keys(cost_keys(cost))
}

fn shared(one: &Shared) -> Written {
    let over = one.over.iter().map(|(key, part)| (key, Written::word(part)));
    Written::Keys(cost_keys(&one.cost).with("over", Written::entries(over)))
}

fn cost_keys(cost: &Cost) -> Keys {
    Keys::new()
        .with("item", Written::text(&cost.item))
        .with("as", Written::word(cost.nature))
        .with("amount", Written::amount(cost.amount))
        .with("materials", cost.materials.as_ref().map(Written::word))
        .with("evidence", cost.evidence.as_ref().map(Written::word))
        .with("because", text(&cost.because))
}

fn incentive(one: &Incentive) -> Written {
    let keys = Keys::new()
        .with("from", Written::text(&one.from))
        .with("as", Written::word(one.kind))
        .with("amount", Written::amount(one.amount))
        .with("received", one.received.map(Written::day))
        .with("evidence", one.evidence.as_ref().map(Written::word));
    Written::Keys(keys)
}

fn tax_return(one: &Return) -> Keys {
    let credits = one.credits.iter().map(|(credit, amount)| {
        let line = Written::amount(*amount);
        let written = match (credit, one.worksheet_b) {
            (OtherCredit::ChildTax, WorksheetB::NotUsed) => {
                Written::Keys(Keys::new().with("return_line", line))
            }
            (OtherCredit::ChildTax, WorksheetB::Line14(line_14)) => Written::Keys(
                Keys::new().with("return_line", line).with("worksheet_b", Written::amount(line_14)),
            ),
            _ => line,
        };
        (credit, written)
    });
    let claimed: Keys = one.claimed.iter().map(|(key, amount)| (*key, Written::amount(*amount))).collect();
    Keys::new()
        .with("form", Written::word(one.form))
        .with("stage", Written::word(one.stage))
        .with("filing_status", Written::word(one.status))
        .with("filed", one.filed.map(Written::day))
        .with("tax_before_credits", Written::amount(one.tax))
        .with("other_credits", Written::entries(credits))
        .with(
            "claimed",
            (!claimed.is_empty()).then_some(Written::Keys(claimed.with("because", text(&one.because)))),
        )
        .with("rounding", one.cents.then_some(Written::word(RoundingChoice::Cents)))
        .with("separate_main_homes", one.separate_main_homes.then_some(Written::word(true)))
}
