//! A case written out as a file, in the style of the demo cases, with comments.
//!
//! Comes in: a [`Draft`]. Goes out: the text of a case file. Decides where quotes are needed; the meaning of a key in
//! a comment comes from the table of keys, so it is the same everywhere.

use super::draft::{Address, Draft, Home, Item, Return, Value, WorksheetB, plain};
use crate::case::{self, Language, OtherCredit, RoundingChoice};
use crate::record::rule::Block;
use jiff::civil::Date;
use std::fmt::Write;

/// Writes the file.
pub(super) fn write(draft: &Draft, today: Date) -> String {
    let mut out = String::from("# yaml-language-server: $schema=gablework-case.schema.json\n");
    let _ = writeln!(out, "# The case of {}, begun on {today} with `gablework begin`.", draft.reference);
    out.push_str("#\n# Everything here may be changed and added to; `gablework check` says what is wrong or missing.\n");
    out.push_str(
        "# What each key means stands in the README, and an editor shows it while one types.\n\nformat: 1\n",
    );
    client(draft, &mut out);
    if let Some((by, on)) = &draft.prepared {
        let _ = writeln!(out, "\nprepared: {{by: {}, on: {on}}}", text(by));
    }
    section("homes", &draft.homes, &mut out, home);
    section("property", &draft.items, &mut out, item);
    carried(draft, &mut out);
    section("returns", &draft.returns, &mut out, tax_return);
    papers(draft, &mut out);
    settled(draft, today, &mut out);
    out
}

/// Writes a firm file.
pub(super) fn firm(name: &str, to: &Address, phone: &str, signatory: &str, title: Option<&str>) -> String {
    let mut out = String::from("# yaml-language-server: $schema=gablework-firm.schema.json\n");
    out.push_str(
        "# Who sends the letters. The README lists the other keys, such as email, logo and letterhead.\n\n",
    );
    let mut put = |key: &str, value: String| out.push_str(&format!("{key}: {value}\n"));
    put("name", text(name));
    put("address", value(&Value::Keys(address(to))));
    put("phone", text(phone));
    put("signatory", text(signatory));
    if let Some(title) = title {
        put("title", text(title));
    }
    out
}

fn client(draft: &Draft, out: &mut String) {
    let _ = writeln!(out, "\nclient:\n  reference: {}", text(&draft.reference));
    out.push_str("  people:\n");
    for person in &draft.people {
        let mut keys = vec![("name", Value::Text(person.name.clone()))];
        keys.extend(person.tin.iter().map(|tin| ("tin", Value::Text(tin.clone()))));
        let _ = writeln!(out, "    - {}", value(&Value::Keys(keys)));
    }
    if let Some(to) = &draft.mail_to {
        let names = draft.people.iter().map(|one| Value::Text(one.name.clone())).collect();
        let mut keys = vec![("names", Value::List(names))];
        keys.extend(address(to));
        let _ = writeln!(out, "  mail_to: {}", value(&Value::Keys(keys)));
    }
    if let Some(language) = draft.language.filter(|language| *language != Language::En) {
        let _ = writeln!(out, "  language: {language}");
    }
    if let Some(one) = &draft.engagement {
        let mut keys = vec![("reminder_basis", Value::Word(one.basis.word().to_string()))];
        keys.extend(one.consented.map(|day| ("consented", Value::day(day))));
        keys.extend(one.until.map(|day| ("until", Value::day(day))));
        let line = format!("  engagement: {}", value(&Value::Keys(keys)));
        commented(&line, "why the firm may send yearly reminders", out);
    }
}

fn address(one: &Address) -> Vec<(&'static str, Value)> {
    let text = |words: &str| Value::Text(words.to_string());
    let mut keys = vec![("street", text(&one.street))];
    keys.extend(one.unit.iter().map(|unit| ("unit", text(unit))));
    keys.extend([("city", text(&one.city)), ("state", text(&one.state)), ("zip", text(&one.zip))]);
    keys
}

/// Writes a section of entries, the first of them with comments.
fn section<T>(name: &str, entries: &[T], out: &mut String, one: fn(&T, &mut Entry<'_>)) {
    if entries.is_empty() {
        return;
    }
    let _ = writeln!(out, "\n{name}:");
    for (n, entry) in entries.iter().enumerate() {
        if n > 0 {
            out.push('\n');
        }
        one(entry, &mut Entry { out, comments: n == 0 });
    }
}

/// Where one entry is being written.
struct Entry<'o> {
    out: &'o mut String,
    comments: bool,
}

impl Entry<'_> {
    fn head(&mut self, key: &str) {
        let _ = writeln!(self.out, "  {key}:");
    }

    /// Writes a key, in the first entry with its meaning.
    fn put(&mut self, block: &Block, key: &str, one: &Value) {
        let line = format!("    {key}: {}", value(one));
        match block.rule(key).filter(|_| self.comments) {
            Some(rule) => commented(&line, rule.meaning, self.out),
            None => commented(&line, "", self.out),
        }
    }

    fn word(&mut self, block: &Block, key: &str, word: &str) {
        self.put(block, key, &Value::Word(word.to_string()));
    }

    /// Writes a list with each entry on its own line.
    fn list(&mut self, key: &str, entries: Vec<Value>) {
        if !entries.is_empty() {
            let _ = writeln!(self.out, "    {key}:");
        }
        for entry in entries {
            let _ = writeln!(self.out, "      - {}", value(&entry));
        }
    }
}

/// Writes a line with a comment behind it, where both fit.
fn commented(line: &str, comment: &str, out: &mut String) {
    let width = line.chars().count().max(36);
    if comment.is_empty() || width + 4 + comment.chars().count() > 118 {
        let _ = writeln!(out, "{line}");
    } else {
        let _ = writeln!(out, "{line:<width$}  # {comment}");
    }
}

fn home(home: &Home, entry: &mut Entry<'_>) {
    let block = &case::HOME;
    entry.head(&home.key);
    entry.put(block, "address", &Value::Keys(address(&home.address)));
    entry.word(block, "use", home.use_.word());
    entry.word(block, "held_as", home.held_as.word());
    if let Some(day) = home.original_use {
        entry.put(block, "original_use", &Value::day(day));
    }
}

fn item(item: &Item, entry: &mut Entry<'_>) {
    let block = &case::ITEM;
    entry.head(&item.key);
    entry.word(block, "kind", item.kind.word());
    entry.word(block, "home", &item.home);
    entry.word(block, "part_of", item.part_of.word());
    // In the order of the table, whatever the order of the questions.
    for rule in block.keys {
        if let Some((key, one)) = item.facts.iter().find(|(key, _)| *key == rule.key) {
            entry.put(block, key, one);
        }
    }
    let evidence = |key: &Option<String>| {
        key.iter().map(|key| ("evidence", Value::Word(key.clone()))).collect::<Vec<_>>()
    };
    let costs = item.costs.iter().map(|cost| {
        let mut keys = vec![
            ("item", Value::Text(cost.item.clone())),
            ("as", Value::Word(cost.nature.word().to_string())),
            ("amount", Value::amount(cost.amount)),
        ];
        keys.extend(cost.materials.iter().map(|share| ("materials", Value::Word(share.clone()))));
        keys.extend(cost.because.iter().map(|why| ("because", Value::Text(why.clone()))));
        keys.extend(evidence(&cost.evidence));
        Value::Keys(keys)
    });
    entry.list("costs", costs.collect());
    let incentives = item.incentives.iter().map(|one| {
        let mut keys = vec![
            ("from", Value::Text(one.from.clone())),
            ("as", Value::Word(one.kind.word().to_string())),
            ("amount", Value::amount(one.amount)),
        ];
        keys.extend(one.received.map(|day| ("received", Value::day(day))));
        keys.extend(evidence(&one.evidence));
        Value::Keys(keys)
    });
    entry.list("incentives", incentives.collect());
}

fn carried(draft: &Draft, out: &mut String) {
    if let Some(one) = &draft.carried_in {
        let mut keys = vec![("amount", Value::amount(one.amount))];
        keys.extend(one.shown_on.iter().map(|place| ("shown_on", Value::Text(place.clone()))));
        keys.extend(one.belongs_to.iter().map(|name| ("belongs_to", Value::Text(name.clone()))));
        let _ = writeln!(out, "\ncarried_in:\n  {}: {}", one.year, value(&Value::Keys(keys)));
    }
    if !draft.earlier.is_empty() {
        out.push_str("\nearlier_credits:\n");
    }
    for one in &draft.earlier {
        let mut keys = vec![("nonbusiness_energy_credit", Value::amount(one.credit))];
        keys.extend(one.windows.map(|cost| ("window_cost", Value::amount(cost))));
        let _ = writeln!(out, "  {}: {}", one.year, value(&Value::Keys(keys)));
    }
}

fn tax_return(one: &Return, entry: &mut Entry<'_>) {
    let block = &case::RETURN;
    entry.head(&one.year.to_string());
    entry.word(block, "form", one.form.word());
    entry.word(block, "stage", one.stage.word());
    entry.word(block, "filing_status", one.status.word());
    if let Some(day) = one.filed {
        entry.put(block, "filed", &Value::day(day));
    }
    entry.word(block, "tax_before_credits", &plain(one.tax));
    if !one.credits.is_empty() {
        let _ = writeln!(entry.out, "    other_credits:");
    }
    for (credit, amount) in &one.credits {
        let amount = match (credit, one.worksheet_b) {
            (OtherCredit::ChildTax, WorksheetB::NotUsed) => {
                Value::Keys(vec![("return_line", Value::amount(*amount))])
            }
            (OtherCredit::ChildTax, WorksheetB::Line14(line)) => Value::Keys(vec![
                ("return_line", Value::amount(*amount)),
                ("worksheet_b", Value::amount(line)),
            ]),
            _ => Value::amount(*amount),
        };
        let _ = writeln!(entry.out, "      {}: {}", credit.word(), value(&amount));
    }
    if !one.claimed.is_empty() {
        let mut keys: Vec<(&str, Value)> =
            one.claimed.iter().map(|(key, amount)| (*key, Value::amount(*amount))).collect();
        keys.extend(one.because.iter().map(|because| ("because", Value::Text(because.clone()))));
        entry.put(block, "claimed", &Value::Keys(keys));
    }
    if one.cents {
        entry.word(block, "rounding", RoundingChoice::Cents.word());
    }
    if one.separate_main_homes {
        entry.word(block, "separate_main_homes", "true");
    }
}

fn papers(draft: &Draft, out: &mut String) {
    if !draft.papers.is_empty() {
        out.push_str("\nevidence:\n");
    }
    for paper in &draft.papers {
        let on_file = if paper.on_file { "true" } else { "false" };
        let mut keys = vec![
            ("type", Value::Word(paper.kind.word().to_string())),
            ("on_file", Value::Word(on_file.to_string())),
        ];
        keys.extend(paper.kept_at.iter().map(|place| ("where", Value::Text(place.clone()))));
        let _ = writeln!(out, "  {}: {}", paper.key, value(&Value::Keys(keys)));
    }
}

fn settled(draft: &Draft, today: Date, out: &mut String) {
    if !draft.settled.is_empty() {
        out.push_str("\nanswers:\n");
    }
    for one in &draft.settled {
        let mut keys = vec![
            ("question", Value::Word(one.question.to_string())),
            ("about", Value::Word(one.about.clone())),
            ("answer", Value::Text(one.answer.clone())),
        ];
        keys.extend(one.given.iter().map(|given| ("for", Value::Text(given.clone()))));
        keys.extend(draft.prepared.iter().map(|(by, _)| ("by", Value::Text(by.clone()))));
        keys.push(("on", Value::day(today)));
        let _ = writeln!(out, "  - {}", value(&Value::Keys(keys)));
    }
}

/// Writes a value on one line.
fn value(one: &Value) -> String {
    match one {
        Value::Word(word) => word.clone(),
        Value::Text(words) => text(words),
        Value::List(all) => format!("[{}]", all.iter().map(value).collect::<Vec<_>>().join(", ")),
        Value::Keys(keys) => {
            let pairs: Vec<String> = keys.iter().map(|(key, one)| format!("{key}: {}", value(one))).collect();
            format!("{{{}}}", pairs.join(", "))
        }
    }
}

/// Writes a text, in quotes unless it is plain beyond doubt for every reader of YAML.
fn text(words: &str) -> String {
    let plain = words.starts_with(|c: char| c.is_alphanumeric())
        && words.chars().any(char::is_alphabetic)
        && words
            .chars()
            .all(|c| c.is_alphanumeric() || matches!(c, ' ' | '.' | '-' | '/' | '(' | ')' | '\'' | '+'))
        && !words.ends_with(' ')
        && !numeric(words)
        && !RESERVED.contains(&words.to_lowercase().as_str());
    if plain {
        words.to_string()
    } else {
        format!("\"{}\"", words.replace('\\', "\\\\").replace('"', "\\\""))
    }
}

/// Words that one reader of YAML or another takes for something else than a text.
pub(super) const RESERVED: [&str; 9] = ["true", "false", "yes", "no", "on", "off", "null", "y", "n"];

/// Says whether a text could be taken for a number, such as `1e3` or `0x10`.
fn numeric(words: &str) -> bool {
    let head = words.starts_with(|c: char| c.is_ascii_digit());
    head && !words.contains(' ') || matches!(words.to_lowercase().as_str(), "nan" | "inf" | "infinity")
}

#[cfg(test)]
mod tests {
    use super::text;

    #[test]
    fn quotes_stand_where_a_reader_could_doubt() {
        for plain in [
            "12 Alder Lane",
            "Ana Alder",
            "O'Hara-Lind",
            "2025 Form 5695 line 16",
            "Zo\u{eb} Rook",
            "HH-0412",
        ] {
            assert_eq!(text(plain), plain);
        }
        for doubtful in [
            "01040",
            "1e3",
            "yes",
            "No",
            "null",
            "a: b",
            "a #b",
            "***-**-1234",
            "Apt 4, rear",
            "45990-0103",
            "{x}",
        ] {
            assert_eq!(text(doubtful), format!("\"{doubtful}\""));
        }
        assert_eq!(text("the \"old\" house"), "\"the \\\"old\\\" house\"");
    }
}
