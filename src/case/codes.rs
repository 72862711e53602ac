//! The catalogue of what can be wrong with a case file, one line for each code.
//!
//! Nothing comes in. Programs may rely on the codes; their words may change. For every code a small case
//! under `tests/findings` shows the finding as it is printed.

/// Code and meaning of every finding that reading a case can yield.
pub const CODES: &[(&str, &str)] = &[
    // The file and its text.
    ("file-too-large", "the file is larger than any case"),
    ("not-text", "the file is not a text file, or its text is UTF-16"),
    ("not-utf-8", "a byte of the file is not UTF-8 text"),
    (
        "hidden-character",
        "a character that cannot be seen, or that turns the text around it",
    ),
    ("taxpayer-number", "a full taxpayer number, also in a comment"),
    ("empty-file", "the file holds nothing but blanks and comments"),
    (
        "more-findings",
        "very many findings, of which the first are shown",
    ),
    // YAML.
    (
        "alias",
        "a reference to another place, or a text that begins with `*` and needs quotes",
    ),
    ("anchor", "a name given to a value with `&`"),
    ("tag", "a type given to a value with `!`"),
    ("merge-key", "keys taken over with `<<`"),
    (
        "directive",
        "an order to the YAML reader in a line that begins with `%`",
    ),
    ("several-documents", "a second document in the same file"),
    ("duplicate-key", "the same key twice in one group"),
    ("key-not-text", "a list or group where a key belongs"),
    (
        "needs-quotes",
        "a text with a sign that has a meaning of its own in YAML",
    ),
    ("quotes", "a text in quotes that does not end, or ends too early"),
    ("escape", "a backslash in double quotes that begins no escape"),
    (
        "brackets-open",
        "brackets that do not close, or a missing comma between entries",
    ),
    (
        "comma-in-braces",
        "a comma inside braces that cuts a value in two",
    ),
    (
        "comment-cuts-text",
        "a number sign that makes the rest of a text a comment",
    ),
    ("tab", "a tab where blanks are counted"),
    (
        "indentation",
        "a line that begins in a column where it belongs to nothing",
    ),
    ("nested-too-deep", "lists and groups too deep in each other"),
    ("too-many-entries", "more keys and values than any case has"),
    ("not-yaml", "anything else that does not fit together as YAML"),
    (
        "two-readings",
        "a place that two YAML readers understand differently",
    ),
    // Keys and shapes.
    ("format-number", "a format other than 1"),
    ("unknown-key", "a key that does not belong here"),
    ("missing-key", "a key that must stand here and does not"),
    (
        "nothing-here",
        "a key with nothing behind it where something is needed",
    ),
    (
        "wrong-shape",
        "a list, a group or a single value where another of the three belongs",
    ),
    ("fiscal-year", "a return for a fiscal year"),
    (
        "key-form",
        "a name of a home, an item or a paper that is not written as names are",
    ),
    (
        "unknown-reference",
        "a name or path that leads to nothing in the case",
    ),
    // Values.
    ("unknown-word", "a word that is none of those the key takes"),
    ("text-form", "a text with several lines where one line belongs"),
    ("text-too-long", "a text longer than is read"),
    ("amount-form", "an amount that is not written as amounts are"),
    (
        "percentage-form",
        "a percentage without its sign or outside 0% to 100%",
    ),
    ("quantity-form", "a quantity that is no plain number"),
    ("count-form", "a number of units that is no whole number"),
    (
        "date-form",
        "a date that does not exist or is written another way",
    ),
    ("yes-no-form", "neither true nor false"),
    ("tax-year", "no tax year, or one outside what is possible"),
    ("reference-form", "a client's reference that cannot name files"),
    ("tin-form", "a taxpayer number that is not masked as it should be"),
    ("state-form", "no two-letter name of a state"),
    ("zip-form", "no ZIP code"),
    (
        "maker-code-form",
        "a maker's code that has not 4 letters or digits",
    ),
    ("pin-form", "a product number that has not 17 letters or digits"),
    (
        "file-path",
        "a file of a paper that does not lie beside or below the case",
    ),
    // Contradictions.
    ("people-count", "no person on the return, or more than two"),
    (
        "use-order",
        "uses of a home that are not in the order of their first days",
    ),
    ("date-order", "two days in an order that cannot be, or rarely is"),
    (
        "date-after-signature",
        "something that happened after the day the case was last signed for",
    ),
    (
        "cost-paid-after-return",
        "a payment after the return of its year was filed",
    ),
    (
        "return-date-too-early",
        "a return filed or due before its year was over",
    ),
    (
        "stage-and-filed",
        "something only a filed return has, on a return that is not filed",
    ),
    (
        "separate-main-homes",
        "two main homes of a couple on a return of one person",
    ),
    ("credits-above-tax", "other credits that are more than the tax"),
    ("codes-and-units", "several codes, but not one for each unit"),
    ("enables-itself", "an item said to enable itself"),
    ("named-twice", "the same item twice in one list"),
    (
        "fact-without-effect",
        "a fact that only items of another kind have",
    ),
    (
        "materials-without-lump-sum",
        "a materials share on a cost that is not one price",
    ),
    ("because-missing", "a treatment chosen without a reason"),
    ("counted-above-amount", "more counted of a cost than the cost"),
    (
        "discount-above-costs",
        "discounts that are more than what they are taken from",
    ),
    (
        "shared-parts",
        "parts of something shared that do not add up to the whole",
    ),
    ("answered-twice", "two answers to one question about one thing"),
];
