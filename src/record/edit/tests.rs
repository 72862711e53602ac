use super::super::rule::KeyRule;
use super::super::write::{Keys, With};
use super::*;
use proptest::prelude::*;
use proptest::test_runner::{Config, RngAlgorithm, TestRng, TestRunner};

static THING: Block = Block {
    name: "thing",
    keys: &[
        KeyRule::may("kind", Takes::Line, "x", "what it is"),
        KeyRule::may("amount", Takes::Amount, "5", "how much"),
        KeyRule::may("costs", Takes::List(&Takes::Block(&COST)), "[]", "what it cost"),
        KeyRule::may("inner", Takes::Block(&COST), "{}", "another"),
        KeyRule::may("note", Takes::Text, "x", "a note"),
    ],
    besides: None,
};

static COST: Block = Block {
    name: "cost",
    keys: &[
        KeyRule::may("item", Takes::Line, "x", "what for"),
        KeyRule::may("amount", Takes::Amount, "5", "how much"),
        KeyRule::may("because", Takes::Text, "x", "why"),
    ],
    besides: None,
};

static WHOLE: Block = Block {
    name: "whole",
    keys: &[
        KeyRule::may("format", Takes::FormatNumber, "1", "the format"),
        KeyRule::may("things", Takes::Named(&THING), "", "the things"),
        KeyRule::may("years", Takes::ByYear(&THING, || 2006..=2026), "", "the years"),
        KeyRule::may("words", Takes::List(&Takes::Line), "[]", "some words"),
        KeyRule::may("costs", Takes::List(&Takes::Block(&COST)), "[]", "what all cost"),
    ],
    besides: None,
};

static FILE: FileKind = FileKind::data("a file", "the file", &[&WHOLE, &THING, &COST]);

fn edited(text: &str, changes: &[Change]) -> String {
    edit(text.as_bytes(), &FILE, &WHOLE, changes).unwrap_or_else(|refused| panic!("{refused}\n{text}"))
}

fn cost(item: &str, amount: u32) -> Written {
    Written::Keys(Keys::new().with("amount", Written::word(amount)).with("item", Written::text(item)))
}

fn word(text: &str) -> Written {
    Written::word(text)
}

/// What it shows, the text before, the change, the text afterwards.
type Example = (&'static str, &'static str, fn() -> Change, &'static str);

const CHANGES: &[Example] = &[
    (
        "a value, with its comment and the quotes of others",
        "format: 1\nthings:\n  a:   # first\n    kind:   'x'   # old\n    note: \"y\"\n",
        || Change::set("things.a.kind", word("new")),
        "format: 1\nthings:\n  a:   # first\n    kind:   new   # old\n    note: \"y\"\n",
    ),
    (
        "a new key behind the one before it in the table, and the comment below that one",
        "things:\n  a:\n    kind: x\n      # of the kind\n    # of the note\n    note: y\n",
        || Change::set("things.a.amount", word("5")),
        "things:\n  a:\n    kind: x\n      # of the kind\n    amount: 5\n    # of the note\n    note: y\n",
    ),
    (
        "a first key stands above the comment of the one that was first",
        "things:\n  a:\n    # of the note\n    note: y\n",
        || Change::set("things.a.kind", word("x")),
        "things:\n  a:\n    kind: x\n    # of the note\n    note: y\n",
    ),
    (
        "a first key behind the dash of a list",
        "costs:\n- amount: 4   # four\n  because: x\n",
        || Change::set("costs.1.item", word("a")),
        "costs:\n- item: a\n  amount: 4   # four\n  because: x\n",
    ),
    (
        "an entry as the last one is written, on lines",
        "costs:\n    -   item: a\n        amount: 4\n    # and more\n\nwords: [x]\n",
        || Change::add("costs", cost("b: c", 5)),
        "costs:\n    -   item: a\n        amount: 4\n    # and more\n    -   item: \"b: c\"\n        amount: 5\n\nwords: [x]\n",
    ),
    (
        "an entry as the last one is written, in braces",
        "costs:\n- {item: a}  # one\nwords: []\n",
        || Change::add("costs", cost("b", 5)),
        "costs:\n- {item: a}  # one\n- {item: b, amount: 5}\nwords: []\n",
    ),
    (
        "a list that is not there yet, as the file has its lists",
        "format: 1\ncosts:\n- {item: a}\nthings:\n    a:\n        kind: x\n",
        || Change::add("things.a.costs", cost("b", 5)),
        "format: 1\ncosts:\n- {item: a}\nthings:\n    a:\n        kind: x\n        costs:\n        - {item: b, amount: 5}\n",
    ),
    (
        "a list in brackets",
        "words: [x, 'y' ]  # two\n",
        || Change::add("words", word("z")),
        "words: [x, 'y', z ]  # two\n",
    ),
    ("an empty list", "words: [ ]\n", || Change::add("words", word("z")), "words: [z ]\n"),
    (
        "a key in braces, before the comma at the end",
        "things: {a: {kind: x,\n  note: y, }}\n",
        || Change::set("things.a.amount", word("5")),
        "things: {a: {kind: x, amount: 5,\n  note: y, }}\n",
    ),
    (
        "a section with all that is below it, after an empty line as the others",
        "format: 1\n\nthings:\n  a:\n    kind: x\n\n# the words\nwords: [x]\n",
        || Change::set("years.2026.amount", word("5")),
        "format: 1\n\nthings:\n  a:\n    kind: x\n\nyears:\n  2026: {amount: 5}\n\n# the words\nwords: [x]\n",
    ),
    (
        "a year in its order",
        "years:\n  2024:\n    kind: x\n  2026:\n    kind: z\n",
        || {
            Change::set(
                "years.2025",
                Written::Lines(Keys::new().with("kind", word("y")).with("amount", word("1"))),
            )
        },
        "years:\n  2024:\n    kind: x\n  2025:\n    kind: y\n    amount: 1\n  2026:\n    kind: z\n",
    ),
    (
        "a section of which nothing is said yet",
        "years: ~   # none yet\nwords: [x]\n",
        || Change::set("years.2025", Written::Lines(Keys::new().with("kind", word("y")))),
        "years:   # none yet\n  2025:\n    kind: y\nwords: [x]\n",
    ),
    (
        "ends of lines and the mark at the head as they are, and no end of the last line",
        "\u{feff}format: 1\r\nyears:\r\n  2024: {kind: x}",
        || Change::set("years.2025.kind", word("y")),
        "\u{feff}format: 1\r\nyears:\r\n  2024: {kind: x}\r\n  2025: {kind: y}",
    ),
    (
        "behind a text that keeps its empty lines",
        "things:\n  a:\n    note: |+\n      # no comment\n\nwords: [x]\n",
        || Change::set("things.b.kind", word("y")),
        "things:\n  a:\n    note: |+\n      # no comment\n\n  b: {kind: y}\nwords: [x]\n",
    ),
    (
        "a text on several lines",
        "things:\n  a:\n    note: >-   # why\n      one\n      two\n    # end\n",
        || Change::set("things.a.note", Written::text("three, four")),
        "things:\n  a:\n    note: \"three, four\"   # why\n    # end\n",
    ),
];

#[test]
fn a_change_leaves_all_else_as_it_is() {
    for (name, before, change, after) in CHANGES {
        assert_eq!(edited(before, &[change()]), *after, "{name}");
    }
}

#[test]
fn several_changes_are_made_one_after_the_other() {
    let text = "format: 1\n";
    let changes = [
        Change::set("years.2025.kind", word("x")),
        Change::set("years.2025.amount", word("7")),
        Change::add("words", Written::text("a, b")),
        Change::set("years.2025.amount", word("8")),
    ];
    assert_eq!(
        edited(text, &changes),
        "format: 1\nyears:\n  2025: {kind: x, amount: 8}\nwords: [\"a, b\"]\n"
    );
}

#[test]
fn what_cannot_be_changed_in_place_is_refused_in_words() {
    let refused = |text: &str, change: Change| {
        edit(text.as_bytes(), &FILE, &WHOLE, &[change]).expect_err("refused").to_string()
    };
    let set = |path: &str| Change::set(path, word("5"));
    for (text, change, words) in [
        ("a: b\n c: d\n", set("format"), "line 2: "),
        ("", set("format"), "no keys with values are there"),
        ("things: {a: {kind: &x y}}\n", set("things.a.amount"), "line 1: "),
        ("things: x\n", set("things.a.kind"), "no keys with values are there"),
        ("words: [x]\n", set("words.2"), "the list has no such entry"),
        ("words: [x]\n", set("words.0"), "the list has no such entry"),
        ("things:\n  a:\n    kind: x\n", set("things.a"), "it has lines of its own"),
        ("words: [x, # one\n  y]\n", set("words"), "a comment stands in it"),
        ("words: x\n", Change::add("words", word("y")), "no list is there"),
        ("costs:\n- # first\n  {item: a}\n", Change::add("costs", word("b")), "not written with a dash"),
        // What the writer could not have written so that it is read as meant.
        ("format: 1\n", Change::set("things.a.kind", word("x: y")), "would not read as meant"),
        ("format: 1\n", Change::set("things.a.kind", word("x #y")), "would not read as meant"),
        ("format: 1\n", Change::set("things.a.kind", word("")), "would not read as meant"),
        ("format: 1\n", Change::set("things.a.kind", Written::text("a\nb")), "would not read as meant"),
        ("format: 1\n", Change::set("things.a.kind", Written::text("a\u{202e}b")), "would not read as meant"),
    ] {
        let said = refused(text, change);
        assert!(said.contains(words), "{text:?}: {said}");
    }
}

/// A full taxpayer number that was typed is neither written nor shown.
#[test]
fn a_full_taxpayer_number_is_refused_unseen() {
    let change = Change::set("things.a.kind", Written::text("412-55-9981"));
    let said = edit(b"format: 1\n", &FILE, &WHOLE, &[change]).expect_err("refused").to_string();
    assert!(!said.contains("9981") && !said.contains("412"), "{said}");
    let said = edit(b"format: 412-55-9981\n", &FILE, &WHOLE, &[]).expect_err("refused").to_string();
    assert!(!said.contains("9981") && !said.contains("412"), "{said}");
}

#[test]
fn the_difference_shows_lines_taken_out_and_put_in() {
    let old = "a\nb\nc\nd\ne\nf\ng\nh\n";
    let new = "a\nB\nc\nd\ne\nf\ng\nh\ni\u{202e}\r\n";
    let shown = difference(old, new, 1).to_string();
    assert_eq!(shown, "  1  a\n- 2  b\n+ 2  B\n  3  c\n\n  8  h\n+ 9  i\\u{202e}\n");
    assert_eq!(difference(old, old, 2), Difference::default());
    assert_eq!(difference("", "x", 2).places, [[Line::In(1, "x".to_string())]]);
}

// ---- Every place of files in every layout ----

/// Where a change could go: paths of texts, lists and groups of keys.
fn places_of(node: &Node, table: Table, path: &str, found: &mut Vec<(String, Table, &'static str)>) {
    let below = |step: &str| if path.is_empty() { step.to_string() } else { format!("{path}.{step}") };
    match &node.value {
        _ if node.is_nothing() => found.push((path.to_string(), table, "nothing")),
        Value::Text { .. } => found.push((path.to_string(), table, "text")),
        Value::List(all) => {
            found.push((path.to_string(), table, "list"));
            for (n, one) in all.iter().enumerate() {
                places_of(one, table.entry(), &below(&(n + 1).to_string()), found);
            }
        }
        Value::Map { entries, .. } => {
            found.push((path.to_string(), table, "keys"));
            for one in entries {
                places_of(&one.value, table.below(&one.key.value), &below(&one.key.value), found);
            }
        }
    }
}

/// Returns how much of a text is left at its head and its end in another one.
fn left(old: &str, new: &str) -> usize {
    let same = |(one, other): &(u8, u8)| one == other;
    let head = old.bytes().zip(new.bytes()).take_while(same).count();
    let rest = (old.len() - head).min(new.len() - head);
    let end = old.bytes().rev().zip(new.bytes().rev()).take(rest).take_while(same).count();
    head + end
}

/// Returns the comments that were put into a text, by their marks.
fn comments(text: &str) -> Vec<&str> {
    text.match_indices("#~")
        .map(|(at, _)| text[at..].split(['\r', '\n']).next().unwrap_or_default())
        .collect()
}

/// Makes a change at every place of a file, and looks at what is left of it.
fn change_everywhere(text: &str, kind: &'static FileKind, block: &'static Block) {
    let (_, root) = read(text.as_bytes(), kind).unwrap_or_else(|refused| {
        panic!(
            "{refused}
{text}"
        )
    });
    let mut found = Vec::new();
    places_of(&root, Table::Keys(block), "", &mut found);
    let mut seen = 0;
    for (path, table, what) in found {
        let below = |step: &str| if path.is_empty() { step.to_string() } else { format!("{path}.{step}") };
        let mut changes = match what {
            "text" | "nothing" => vec![Change::set(&path, Written::text("new, and \"more\""))],
            "list" => {
                vec![Change::add(&path, Written::text("one more")), Change::add(&path, cost("one more", 77))]
            }
            _ => Vec::new(),
        };
        if what == "keys" {
            let keys = match table {
                Table::Keys(block) => block.keys.iter().map(|rule| rule.key.to_string()).collect(),
                Table::ByYear(_) => vec!["2010".to_string(), "2019".to_string(), "2031".to_string()],
                _ => vec!["one-more".to_string()],
            };
            for (n, key) in keys.into_iter().enumerate() {
                changes.push(match n % 2 {
                    0 => Change::set(below(&key), Written::Lines(Keys::new().with("kind", word("x")))),
                    _ => Change::add(below(&key), cost("one more", 77)),
                });
            }
        }
        for change in changes {
            let found = follow(&root, Table::Keys(block), &change.path).expect("a place");
            let standing = found.missing.is_empty();
            let new = match edit(text.as_bytes(), kind, block, std::slice::from_ref(&change)) {
                Ok(new) => new,
                Err(Refused::Unfit { .. }) if standing && what == "keys" => continue,
                Err(refused) => panic!("{refused}: {change:?}\n{text}"),
            };
            seen += 1;
            assert_eq!(comments(text), comments(&new), "{change:?}\n{text}\n--\n{new}");
            let gone = match standing {
                true if matches!(change.what, What::Set(_)) => {
                    (found.node.span.end - found.node.span.start) as usize + HEAD
                }
                _ => 0,
            };
            // The sign for nothing is taken out where lines come below it.
            let unsigned = |text: &str| match is_nothing(&root, &change.path) {
                true => text.replace(" ~", ""),
                false => text.to_string(),
            };
            let (old, new_text) = (unsigned(text), unsigned(&new));
            assert!(left(&old, &new_text) + gone >= old.len(), "{change:?}\n{text}\n--\n{new}");
            assert_eq!(text.contains("\r\n"), new.contains("\r\n"));
            assert_eq!(
                new.matches("\r\n").count() * usize::from(text.contains('\r')),
                match text.contains('\r') {
                    true => new.matches('\n').count(),
                    false => 0,
                }
            );
        }
    }
    assert!(seen > 0, "{text}");
}

/// What goes with a text on lines of its own: its sign, and how far in it begins.
const HEAD: usize = 48;

/// Cases as they are: every text changed, every list longer by one, every group with a key more.
#[test]
fn cases_keep_what_is_not_changed() {
    let root = std::path::Path::new(env!("CARGO_MANIFEST_DIR"));
    for name in ["tests/cases/every-key", "demo/two-owners-first"] {
        let text = std::fs::read_to_string(root.join(format!("{name}.case.yaml"))).expect("a case");
        change_everywhere(&text.replace("# ", "#~ "), &crate::case::FILE, &crate::case::CASE);
    }
}

fn is_nothing(root: &Node, path: &str) -> bool {
    let number = |step: &str| step.parse::<usize>().ok()?.checked_sub(1);
    let found = path.split('.').try_fold(root, |node, step| match &node.value {
        Value::List(all) => all.get(number(step)?),
        _ => node.get(step),
    });
    found.is_some_and(Node::is_nothing)
}

/// A value for a generated file.
#[derive(Clone, Debug)]
enum Tree {
    Text(usize),
    List(Vec<Tree>),
    Map(Vec<(String, Tree)>),
}

/// How a part of a generated file is laid out.
#[derive(Clone, Debug)]
struct Layout {
    braces: bool,
    by: usize,
    comment_above: bool,
    comment_behind: bool,
    comment_below: bool,
    empty_line: bool,
}

const TEXTS: &[&str] = &[
    "x",
    "2,000.00",
    "'it''s \"this\" # no comment'",
    "\"say \\\"it\\\" {x} \"",
    "two words",
    "~",
    "",
    "|\n%  # no comment\n%  two\n",
    ">+\n%  one\n%\n",
    "|-   #~ of the text\n%  one\n",
    "plain on\n%  two lines",
    "\u{e9}\u{e9}n \u{f1}",
];

/// Writes a generated file, each part as a layout says; `inside` braces no part may have lines of its own.
fn print(
    tree: &Tree,
    column: usize,
    inside: bool,
    layouts: &mut dyn Iterator<Item = Layout>,
    out: &mut String,
) {
    let layout = layouts.next().expect("endless");
    let braces = inside || layout.braces;
    let space = " ".repeat(column);
    let comment = |out: &mut String, words: &str| {
        let n = comments(out).len();
        out.push_str(&format!("#~ {words} {n}\n"));
    };
    match tree {
        Tree::Text(n) => {
            let text = TEXTS[n % TEXTS.len()];
            let text = match inside && (text.contains('\n') || text.contains(',')) {
                true => "in one line",
                false => text,
            };
            out.push_str(&text.replace('%', &" ".repeat(column)));
        }
        Tree::List(all) if braces || all.is_empty() => {
            out.push('[');
            for (n, one) in all.iter().enumerate() {
                if n > 0 {
                    out.push_str(", ");
                }
                print_filled(one, layouts, out);
            }
            out.push(']');
        }
        Tree::Map(all) if braces || all.is_empty() => {
            out.push('{');
            for (n, (key, one)) in all.iter().enumerate() {
                if n > 0 {
                    out.push(',');
                    match layout.comment_behind {
                        true => {
                            out.push_str("   ");
                            comment(out, "in braces");
                            out.push_str(&" ".repeat(40));
                        }
                        false => out.push(' '),
                    }
                }
                out.push_str(&format!("{key}: "));
                print(one, 0, true, layouts, out);
            }
            out.push('}');
        }
        Tree::List(all) => {
            for (n, one) in all.iter().enumerate() {
                if layout.comment_above && n != 0 {
                    out.push_str(&space);
                    comment(out, "above an entry");
                }
                if n > 0 || column > 0 || !out.is_empty() {
                    out.push_str(&space);
                }
                out.push_str("- ");
                print_filled_at(one, column + 2, layouts, out);
                end_line(out);
            }
        }
        Tree::Map(all) => {
            for (n, (key, one)) in all.iter().enumerate() {
                let part = layouts.next().expect("endless");
                let behind_dash = n == 0 && out.ends_with("- ");
                if !behind_dash {
                    if part.empty_line && n > 0 {
                        out.push('\n');
                    }
                    if part.comment_above {
                        out.push_str(&space);
                        comment(out, "above a key");
                    }
                    out.push_str(&space);
                }
                out.push_str(&format!("{key}:"));
                let next = layouts.next().expect("endless");
                let lines = match one {
                    Tree::Text(_) => false,
                    Tree::List(all) => !next.braces && !all.is_empty(),
                    Tree::Map(all) => !next.braces && !all.is_empty(),
                };
                let mut rest = std::iter::once(next).chain(&mut *layouts);
                let rest: &mut dyn Iterator<Item = Layout> = &mut rest;
                if lines {
                    if part.comment_behind {
                        out.push_str("  ");
                        comment(out, "behind a key");
                    } else {
                        out.push('\n');
                    }
                    let by = match one {
                        Tree::List(_) => part.by - 1,
                        _ => part.by,
                    };
                    print(one, column + by, false, rest, out);
                } else {
                    out.push(' ');
                    print(one, column + 1, false, rest, out);
                    if part.comment_behind
                        && !out.ends_with('\n')
                        && !matches!(one, Tree::Text(n) if TEXTS[n % TEXTS.len()].contains('\n'))
                    {
                        out.push_str("  ");
                        comment(out, "behind a value");
                    }
                    end_line(out);
                }
                if part.comment_below && n + 1 < all.len() {
                    // Not as far in as a text on several lines, of which it would be a part.
                    out.push_str(&space);
                    comment(out, "below a value");
                }
            }
        }
    }
}

fn end_line(out: &mut String) {
    if !out.ends_with('\n') {
        out.push('\n');
    }
}

/// In a list no entry is nothing, which no list of ours has.
fn print_filled(one: &Tree, layouts: &mut dyn Iterator<Item = Layout>, out: &mut String) {
    match one {
        Tree::Text(n) if matches!(TEXTS[n % TEXTS.len()], "" | "~") => out.push('x'),
        one => print(one, 0, true, layouts, out),
    }
}

fn print_filled_at(one: &Tree, column: usize, layouts: &mut dyn Iterator<Item = Layout>, out: &mut String) {
    match one {
        Tree::Text(n) if matches!(TEXTS[n % TEXTS.len()], "" | "~") => out.push('x'),
        Tree::List(_) => print(one, column, true, layouts, out),
        one => print(one, column, false, layouts, out),
    }
}

fn group(block: &'static Block) -> BoxedStrategy<Tree> {
    let keys: Vec<&'static KeyRule> = block.keys.iter().collect();
    proptest::sample::subsequence(keys, 1..=block.keys.len())
        .prop_flat_map(|keys| {
            keys.into_iter()
                .map(|rule| value(&rule.takes).prop_map(move |one| (rule.key.to_string(), one)))
                .collect::<Vec<_>>()
        })
        .prop_shuffle()
        .prop_map(Tree::Map)
        .boxed()
}

fn value(takes: &'static Takes) -> BoxedStrategy<Tree> {
    let text = || (0..TEXTS.len()).prop_map(Tree::Text);
    let under = |block, keys: &'static [&'static str]| {
        proptest::sample::subsequence(keys, 0..=keys.len())
            .prop_flat_map(move |keys| {
                keys.into_iter()
                    .map(|key| group(block).prop_map(move |one| (key.to_string(), one)))
                    .collect::<Vec<_>>()
            })
            .prop_map(Tree::Map)
            .boxed()
    };
    match takes {
        Takes::List(one) => prop::collection::vec(value(one), 0..4).prop_map(Tree::List).boxed(),
        Takes::Block(block) => group(block),
        Takes::Named(block) => under(block, &["a", "\"b c\"", "d-e"]),
        Takes::ByYear(block, _) => under(block, &["2019", "2024", "2025"]),
        _ => text().boxed(),
    }
}

fn layout() -> impl Strategy<Value = Layout> {
    (prop::bool::weighted(0.3), 1usize..5, any::<[bool; 4]>()).prop_map(
        |(braces, by, [above, behind, below, empty])| Layout {
            braces,
            by,
            comment_above: above,
            comment_behind: behind,
            comment_below: below,
            empty_line: empty,
        },
    )
}

#[test]
fn files_in_every_layout_keep_what_is_not_changed() {
    let config = Config { cases: 24, failure_persistence: None, ..Config::default() };
    let mut runner = TestRunner::new_with_rng(config, TestRng::deterministic_rng(RngAlgorithm::ChaCha));
    let given = (group(&WHOLE), prop::collection::vec(layout(), 40), any::<[bool; 3]>());
    let given = given.prop_map(|(tree, layouts, [crlf, mark, no_end])| {
        let mut text = String::new();
        // The outermost keys stand on lines of their own.
        let first = Layout { braces: false, ..layouts[0].clone() };
        let mut layouts = std::iter::once(first).chain(layouts.iter().cloned().cycle());
        print(&tree, 0, false, &mut layouts, &mut text);
        if no_end && !text.ends_with("\n\n") {
            text.truncate(text.trim_end().len());
        }
        let text = if crlf { text.replace('\n', "\r\n") } else { text };
        if mark { format!("\u{feff}{text}") } else { text }
    });
    let run = runner.run(&given, |text| {
        // Some texts are read differently by two readers, and refused as they are.
        match read(text.as_bytes(), &FILE) {
            Ok(_) => change_everywhere(&text, &FILE, &WHOLE),
            Err(_) => return Err(TestCaseError::reject("read differently")),
        }
        Ok(())
    });
    run.unwrap_or_else(|error| panic!("{error}"));
}
