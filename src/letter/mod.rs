//! The client's letters.
//!
//! Comes in: a case, its figures and facts, the law, the firm, and the letters' own texts. Goes out: for each letter
//! that applies a [`Document`], and all that is wrong with the texts. A letter is front matter (`front`), names in
//! braces (`names`, checked by `tags` and filled from `values`) and light Markdown (`markup`). Knows nothing of pages; computes nothing.
//!
//! Letters are made whatever the case says of delivery: `delivery: none` keeps a letter out of the mail, and the
//! packet still holds it, because the archive shows what the client could have been told.

mod bounded;
mod dates;
mod front;
pub mod markup;
pub mod names;
pub mod post;
mod speech;
mod tags;
mod translation;
mod values;

use crate::case::firm::{Firm, Letterhead};
use crate::case::{Case, Delivery, Language, TaxYear};
use crate::credit::Outcome;
use crate::credit::facts::Facts;
use crate::document::{Block, Document, Furniture, Setting, plain};
use crate::finding::{Finding, Severity, SourceId, Sources, Span, Spanned};
use crate::law::Law;
use crate::picture::Picture;
use crate::record::tree::take_in;
use crate::redact;
use bounded::{Bounded, MOST_WRITTEN};
use front::{FactName, Front};
use handlebars::{
    Context, Handlebars, Helper, HelperDef, HelperResult, JsonRender, Output, RenderContext,
    RenderErrorReason,
};
use jiff::civil::Date;
use serde_json::{Map, Value};
use speech::{Speech, Table};
use std::sync::OnceLock;

/// What letters are written about.
#[derive(Clone, Copy, Debug)]
pub struct Request<'a> {
    /// The case.
    pub case: &'a Case,
    /// The law.
    pub law: &'a Law,
    /// Its figures.
    pub outcome: &'a Outcome,
    /// The tax year of the letters.
    pub year: TaxYear,
    /// The facts of that year.
    pub facts: &'a Facts,
    /// Who sends them; without a firm the head stays free for printed paper.
    pub firm: Option<&'a Firm>,
    /// The firm's logo, where its letterhead shows one.
    pub logo: Option<&'a Picture>,
    /// The date of the letters.
    pub dated: Date,
    /// The packet whose letters these replace, where they are a correction.
    pub replaces: Option<Earlier<'a>>,
}

/// Letters that went out before, as a correction names them.
#[derive(Clone, Copy, Debug)]
pub struct Earlier<'a> {
    /// The packet they are in.
    pub packet: &'a str,
    /// Their date; none where that packet's correction does not repeat it.
    pub dated: Option<Date>,
}

/// The letters' own texts, read and checked: a folder for each language.
pub struct Kit {
    folders: Vec<Shelved>,
}

/// A language and its folder. One that is built in is read when the first client of that language comes: reading takes
/// longer than writing a client's letters, and few firms write in every language.
struct Shelved {
    language: Language,
    built_in: Vec<Source<'static>>,
    folder: OnceLock<Folder>,
}

/// A text of a kit: its path, itself, and where findings find it; `None` where the text was refused with findings.
type Source<'t> = (&'t str, &'t str, Option<SourceId>);

impl Shelved {
    fn folder(&self) -> &Folder {
        self.folder.get_or_init(|| {
            let mut findings = Vec::new();
            let folder = Folder::built_in(self.language, &self.built_in, &mut findings);
            assert!(findings.is_empty(), "the built-in letters are without fault: {findings:?}");
            folder
        })
    }
}

/// The letters of one language.
struct Folder {
    language: Language,
    letters: Vec<Letter>,
    engine: Handlebars<'static>,
    /// The words that values bring in; English needs none.
    table: Option<Table>,
}

/// One letter's text.
struct Letter {
    name: String,
    source: SourceId,
    /// Where the body begins.
    body: usize,
    front: Front,
}

/// The texts built into the program: path and text. Letters stand in their language's folder, what several letters
/// share in `parts`; the table of a language's words beside its letters.
pub const BUILT_IN: &[(&str, &str)] = &[
    ("letters/en/results.md", include_str!("../../letters/en/results.md")),
    ("letters/en/amended-results.md", include_str!("../../letters/en/amended-results.md")),
    ("letters/en/open-window.md", include_str!("../../letters/en/open-window.md")),
    ("letters/en/carryforward.md", include_str!("../../letters/en/carryforward.md")),
    ("letters/en/yearly-reminder.md", include_str!("../../letters/en/yearly-reminder.md")),
    ("letters/en/used-up.md", include_str!("../../letters/en/used-up.md")),
    ("letters/en/papers-missing.md", include_str!("../../letters/en/papers-missing.md")),
    ("letters/en/papers-to-keep.md", include_str!("../../letters/en/papers-to-keep.md")),
    ("letters/en/parts/call.md", include_str!("../../letters/en/parts/call.md")),
    ("letters/en/parts/cautions.md", include_str!("../../letters/en/parts/cautions.md")),
    ("letters/en/parts/changed-years.md", include_str!("../../letters/en/parts/changed-years.md")),
    ("letters/en/parts/changes.md", include_str!("../../letters/en/parts/changes.md")),
    ("letters/en/parts/family.md", include_str!("../../letters/en/parts/family.md")),
    ("letters/en/parts/outlook.md", include_str!("../../letters/en/parts/outlook.md")),
    ("letters/es/results.md", include_str!("../../letters/es/results.md")),
    ("letters/es/amended-results.md", include_str!("../../letters/es/amended-results.md")),
    ("letters/es/open-window.md", include_str!("../../letters/es/open-window.md")),
    ("letters/es/carryforward.md", include_str!("../../letters/es/carryforward.md")),
    ("letters/es/yearly-reminder.md", include_str!("../../letters/es/yearly-reminder.md")),
    ("letters/es/used-up.md", include_str!("../../letters/es/used-up.md")),
    ("letters/es/papers-missing.md", include_str!("../../letters/es/papers-missing.md")),
    ("letters/es/papers-to-keep.md", include_str!("../../letters/es/papers-to-keep.md")),
    ("letters/es/parts/call.md", include_str!("../../letters/es/parts/call.md")),
    ("letters/es/parts/cautions.md", include_str!("../../letters/es/parts/cautions.md")),
    ("letters/es/parts/changed-years.md", include_str!("../../letters/es/parts/changed-years.md")),
    ("letters/es/parts/changes.md", include_str!("../../letters/es/parts/changes.md")),
    ("letters/es/parts/family.md", include_str!("../../letters/es/parts/family.md")),
    ("letters/es/parts/outlook.md", include_str!("../../letters/es/parts/outlook.md")),
    ("letters/es/words.yaml", include_str!("../../letters/es/words.yaml")),
];

/// The letter that a season needs of every household with credit left.
pub const REMINDER: &str = "yearly-reminder";

/// Writes a day as letters in a language do.
pub fn day(language: Language, day: Date) -> String {
    Speech { language, table: None }.date(day)
}

/// Writes every letter that applies, in the order of the kit, each with its name.
///
/// A letter that cannot be written is left out, and a finding says why.
pub fn write(request: &Request<'_>, kit: &Kit) -> (Vec<(String, Document)>, Vec<Finding>) {
    let (folder, mut findings) = folder(request, kit);
    let Some(folder) = folder else { return (Vec::new(), findings) };
    let values = values::values(request, folder.speech());
    let mut documents = Vec::new();
    for letter in folder.letters.iter().filter(|letter| applies(&letter.front, request.facts)) {
        match folder.document(letter, request, &values) {
            Ok(document) => documents.push((letter.name.clone(), document)),
            Err(told) => findings.extend(told),
        }
    }
    (documents, findings)
}

/// Writes one letter by its name, whether or not its facts hold: the reminder of a season, for instance, whose year
/// needs neither a return in the case nor law of its own (see [`crate::credit::season`]).
///
/// The letter is `None` where the kit has none of that name, or where it cannot be written; findings say why.
pub fn write_one(request: &Request<'_>, kit: &Kit, name: &str) -> (Option<Document>, Vec<Finding>) {
    let (folder, mut findings) = folder(request, kit);
    let Some(folder) = folder else { return (None, findings) };
    let Some(letter) = folder.letters.iter().find(|letter| letter.name == name) else {
        findings.push(Finding::error("letter-not-written", format!("the kit has no letter `{name}`")));
        return (None, findings);
    };
    match folder.document(letter, request, &values::values(request, folder.speech())) {
        Ok(document) => (Some(document), findings),
        Err(told) => {
            findings.extend(told);
            (None, findings)
        }
    }
}

/// Chooses the folder of the client's language, or English where the kit has none for it, and says what stands in
/// the way of mailing the letters.
fn folder<'k>(request: &Request<'_>, kit: &'k Kit) -> (Option<&'k Folder>, Vec<Finding>) {
    let wanted = request.case.client.language;
    let of = |language| kit.folders.iter().find(|shelved| shelved.language == language);
    let mut findings = Vec::new();
    if of(wanted).is_none() {
        findings.push(
            Finding::warning(
                "letter-language",
                format!("there are no letters in {}, so they are in English", wanted.label()),
            )
            .at(request.case.client.reference.span)
            .help("write `language: en`, or add letters in that language to your own kit"),
        );
    }
    findings.extend(about_the_client(request));
    findings.extend(dates::find(request));
    (of(wanted).or_else(|| of(Language::En)).map(Shelved::folder), findings)
}

/// How many lines the head of printed paper takes.
const PRINTED_HEAD_LINES: usize = 5;

/// Says whether a letter's facts hold.
fn applies(front: &Front, facts: &Facts) -> bool {
    let holds = |name: &Spanned<FactName>| facts.holds(&name.value.0) == Some(true);
    front.when.0.iter().all(holds) && !front.unless.0.iter().any(holds)
}

/// Says what stands in the way of mailing the letters.
fn about_the_client(request: &Request<'_>) -> Vec<Finding> {
    let client = &request.case.client;
    let mut findings = Vec::new();
    let Some(to) = &client.mail_to else {
        if client.delivery == Delivery::Mail {
            findings.push(
                Finding::warning(
                    "letter-without-address",
                    "the letters are to be mailed, and the case has no address for them",
                )
                .at(client.reference.span)
                .help("add `mail_to:` with names, street, city, state and ZIP, or write `delivery: portal`"),
            );
        }
        return findings;
    };
    let lines = post::address(to);
    if lines.len() > post::MAX_LINES {
        findings.push(
            Finding::warning(
                "letter-address-lines",
                format!(
                    "the address has {} lines, and {} stay visible in a window envelope",
                    lines.len(),
                    post::MAX_LINES
                ),
            )
            .at(to.span)
            .help("keep two names in `mail_to`, or use a larger envelope"),
        );
    }
    if let Some(long) = lines.iter().find(|line| line.chars().count() > post::MAX_CHARACTERS) {
        findings.push(
            Finding::warning(
                "letter-address-width",
                format!("the address line `{long}` is wider than a window envelope shows"),
            )
            .at(to.span)
            .help("shorten it with the usual abbreviations, such as ST, AVE, APT"),
        );
    }
    findings
}

/// The folder of letters and the name of a file within a path such as `letters/en/parts/call.md`.
struct Place<'p> {
    language: Option<Language>,
    folder: &'p str,
    stem: &'p str,
    part: bool,
    table: bool,
}

impl Place<'_> {
    fn of(path: &str) -> Place<'_> {
        let mut pieces = path.rsplit('/');
        let file = pieces.next().unwrap_or(path);
        let above = pieces.next().unwrap_or("");
        let part = above == "parts";
        let folder = if part { pieces.next().unwrap_or("") } else { above };
        let stem = file.strip_suffix(".md").unwrap_or(file);
        Place { language: Language::from_word(folder), folder, stem, part, table: file == WORDS_FILE }
    }
}

/// The file that holds a language's words.
const WORDS_FILE: &str = "words.yaml";

impl Kit {
    /// Reads and checks letters, parts and tables of words, given as path and text: `LANGUAGE/NAME.md`,
    /// `LANGUAGE/parts/NAME.md`, `LANGUAGE/words.yaml`, under whatever folder.
    ///
    /// Letters in which something is wrong are left out, and findings say what.
    pub fn read(files: &[(&str, &str)], sources: &mut Sources) -> (Kit, Vec<Finding>) {
        let mut findings = Vec::new();
        let mut folders = Vec::new();
        for language in Language::ALL {
            let of_language: Vec<_> = of_language(files, *language)
                .map(|(path, text)| {
                    let before = findings.len();
                    let (source, _) = take_in(path, text, sources, &mut findings);
                    if text.len() > MOST_WRITTEN && !Place::of(path).table {
                        let message = format!(
                            "the letter has {} bytes; at most {MOST_WRITTEN} are read, and a page has some thousands",
                            text.len()
                        );
                        findings.push(
                            Finding::error("file-too-large", message)
                                .at(Span { source, start: 0, end: 0 })
                                .help("write a shorter letter, or two"),
                        );
                    }
                    (path, text, (findings.len() == before).then_some(source))
                })
                .collect();
            if !of_language.is_empty() {
                let folder = Folder::read(*language, &of_language, sources, &mut findings);
                folders.push(Shelved { language: *language, built_in: Vec::new(), folder: folder.into() });
            }
        }
        for (path, text) in files.iter().filter(|(path, _)| Place::of(path).language.is_none()) {
            let source = sources.add(*path, *text);
            let known: Vec<&str> = Language::ALL.iter().map(|one| one.word()).collect();
            findings.push(
                Finding::error(
                    "template-language",
                    format!("`{}` is no language of letters", Place::of(path).folder),
                )
                .at(Span { source, start: 0, end: 0 })
                .help(format!("letters stand in a folder named {}", known.join(" or "))),
            );
        }
        (Kit { folders }, findings)
    }

    /// Returns the letters built into the program; a language is read when it is first written in. That nothing is
    /// wrong in them the tests see to.
    pub fn built_in(sources: &mut Sources) -> Kit {
        let shelved = |language: &Language| Shelved {
            language: *language,
            built_in: of_language(BUILT_IN, *language)
                .map(|(path, text)| (path, text, Some(sources.add(path, text))))
                .collect(),
            folder: OnceLock::new(),
        };
        Kit { folders: Language::ALL.iter().map(shelved).collect() }
    }

    /// Returns the names of the letters of a language, in order.
    pub fn names(&self, language: Language) -> Vec<&str> {
        let of_language = self.folders.iter().filter(|folder| folder.language == language);
        of_language.flat_map(|shelved| &shelved.folder().letters).map(|letter| letter.name.as_str()).collect()
    }
}

/// Chooses the texts of a language.
fn of_language<'f, 't>(
    files: &'f [(&'t str, &'t str)],
    language: Language,
) -> impl Iterator<Item = (&'t str, &'t str)> + use<'f, 't> {
    files.iter().copied().filter(move |(path, _)| Place::of(path).language == Some(language))
}

/// Returns the built-in words of a language, where it needs any.
fn built_in_words(language: Language) -> Option<Table> {
    let wanted = format!("/{language}/{WORDS_FILE}");
    let (path, text) = BUILT_IN.iter().find(|(path, _)| path.ends_with(&wanted))?;
    Some(translation::read_built_in(path, text))
}

impl Folder {
    /// Reads the built-in letters of a language. They are read among texts of their own, because the run's may be in use
    /// elsewhere by then; the places of what is found later are among the run's.
    fn built_in(language: Language, files: &[Source<'_>], findings: &mut Vec<Finding>) -> Folder {
        let mut texts = Sources::default();
        let own: Vec<Source<'_>> =
            files.iter().map(|(path, text, _)| (*path, *text, Some(texts.add(*path, *text)))).collect();
        let mut folder = Folder::read(language, &own, &mut texts, findings);
        for letter in &mut folder.letters {
            let file = own.iter().zip(files).find(|((.., source), _)| *source == Some(letter.source));
            letter.source = file.and_then(|(_, (.., source))| *source).unwrap_or(letter.source);
        }
        folder
    }

    fn read(
        language: Language,
        files: &[Source<'_>],
        sources: &mut Sources,
        findings: &mut Vec<Finding>,
    ) -> Folder {
        let parts: Vec<&str> = files
            .iter()
            .map(|(path, ..)| Place::of(path))
            .filter(|one| one.part)
            .map(|one| one.stem)
            .collect();
        let mut folder = Folder { language, letters: Vec::new(), engine: engine(language), table: None };
        for (path, text, source) in files.iter().copied() {
            let Some(source) = source else { continue };
            let place = Place::of(path);
            if place.table {
                folder.table =
                    translation::read(source, built_in_words(language).as_ref(), sources, findings);
                continue;
            }
            let before = findings.len();
            let read = if place.part { None } else { front::read(source, sources, findings) };
            let body = read.as_ref().map_or(0, |(_, body)| *body);
            let name = place.stem.to_string();
            let registered = if place.part { name.clone() } else { format!("{name}.md") };
            // The front matter is checked with the body, since names may stand in the subject line.
            tags::check(text, 0, source, (place.part, &parts), findings);
            if findings.len() == before {
                findings.extend(markup_of_source(text, body, source));
                findings.extend(folder.register(&registered, text, body, source));
                if let Some((front, _)) = &read {
                    let lines = std::iter::once(&front.subject).chain(&front.enclosures.0);
                    findings.extend(lines.filter_map(wrong_line));
                }
            }
            if let (Some((front, body)), true) = (read, findings.len() == before) {
                folder.letters.push(Letter { name, source, body, front });
            }
        }
        // A kit whose table of words was left out has the built-in one; a faulty one has been complained about.
        if !files.iter().any(|(path, ..)| Place::of(path).table) {
            folder.table = built_in_words(language);
        }
        folder
    }

    fn speech(&self) -> Speech<'_> {
        Speech { language: self.language, table: self.table.as_ref() }
    }

    /// Takes a text into the engine; its body keeps the lines of the file, so that places are the file's.
    fn register(&mut self, name: &str, text: &str, body: usize, source: SourceId) -> Option<Finding> {
        let blank: String = text[..body].matches('\n').collect();
        let error = self.engine.register_template_string(name, format!("{blank}{}", &text[body..])).err()?;
        let start = error.pos().map_or(body, |(line, column)| byte_of(text, line, column));
        Some(
            Finding::error("template-form", format!("this text cannot be read: {}", error.reason()))
                .at(line_from(text, start, source))
                .help("look for a brace too many or too few"),
        )
    }

    fn document(
        &self,
        letter: &Letter,
        request: &Request<'_>,
        values: &Map<String, Value>,
    ) -> Result<Document, Vec<Finding>> {
        let whole = Span { source: letter.source, start: letter.body as u32, end: letter.body as u32 };
        let fault = |reason: String| {
            vec![
                Finding::error(
                    "letter-not-written",
                    format!("the letter `{}` cannot be written: {reason}", letter.name),
                )
                .at(whole),
            ]
        };
        let mut filled = Bounded::default();
        self.engine
            .render_to_write(&format!("{}.md", letter.name), values, &mut filled)
            .map_err(|error| fault(error.to_string()))?;
        let filled = filled.into_text();
        let body = markup::blocks(&filled).map_err(|refused| {
            let about = |one: markup::Refused| {
                let excerpt = filled.get(one.range).unwrap_or("").lines().next().unwrap_or("");
                Finding::error(
                    "template-markup",
                    format!("the letter `{}` holds {}: {excerpt}", letter.name, one.what),
                )
                .at(whole)
                .help(one.help)
            };
            refused.into_iter().map(about).collect::<Vec<_>>()
        })?;
        let line = |text: &String| -> Result<String, Vec<Finding>> {
            let filled =
                self.engine.render_template(text, values).map_err(|error| fault(error.to_string()))?;
            markup::line(&filled).map_err(|_| fault(format!("`{text}` is no plain line")))
        };
        let subject = line(&letter.front.subject.value)?;
        let enclosures =
            letter.front.enclosures.0.iter().map(|one| line(&one.value)).collect::<Result<Vec<_>, _>>()?;
        Ok(assemble(request, values, self.speech(), subject, body, enclosures))
    }
}

/// How many of a letter's last blocks stay with the signature: whom to call.
const ENDING_BLOCKS: usize = 1;

/// Puts a letter's parts in their order: sender, date, address, salutation, subject, body, close, enclosures.
fn assemble(
    request: &Request<'_>,
    values: &Map<String, Value>,
    speech: Speech<'_>,
    subject: String,
    body: Vec<Block>,
    enclosures: Vec<String>,
) -> Document {
    let text = |of: &str, name: &str| values[of][name].as_str().unwrap_or("").to_string();
    let dated = speech.date(request.dated);
    let year = request.year.to_string();
    let reference = text("client", "reference");
    // Without a firm the letter goes on printed paper, whose own head takes these lines.
    let printed = request.firm.is_none_or(|firm| firm.letterhead == Letterhead::Preprinted);
    let sender = match request.firm.filter(|_| !printed) {
        Some(firm) => sender(firm),
        None => vec![String::new(); PRINTED_HEAD_LINES],
    };
    let logo = request.firm.zip(request.logo).filter(|(firm, _)| firm.letterhead == Letterhead::Logo);
    let dates = vec![
        dated.clone(),
        speech.say("Our reference: {}", &[&reference]),
        speech.say("Tax year {}", &[&year]),
    ];
    let mut blocks = Vec::new();
    if let Some((firm, picture)) = logo {
        let alternative = speech.say("Logo of {}", &[&firm.name.value]);
        blocks.push(Block::Logo(Picture { alternative, ..picture.clone() }));
    }
    blocks.extend([Block::Sender(sender), Block::DateLines(dates)]);
    if let Some(to) = &request.case.client.mail_to {
        blocks.push(Block::Address(post::address(to)));
    }
    blocks.push(Block::Paragraph(plain(format!("{}:", text("client", "salutation")))));
    blocks.push(Block::Heading { level: 1, words: plain(subject.clone()) });
    // Not every letter of the earlier packet need have a successor, so what is replaced is named by date and packet.
    blocks.extend(request.replaces.map(|earlier| {
        let words = match earlier.dated {
            Some(day) => speech.say(
                "This letter is a correction. It replaces what we wrote to you on {} about tax year {} (our packet {}).",
                &[&speech.date(day), &year, earlier.packet],
            ),
            None => speech.say(
                "This letter is a correction. It replaces what we wrote to you before about tax year {} (our packet {}).",
                &[&year, earlier.packet],
            ),
        };
        Block::Paragraph(plain(words))
    }));
    let mut body = with_introductions(body);
    // What the letter ends in stays with its signature, so that no page holds a name alone.
    let end = body.len().saturating_sub(ENDING_BLOCKS);
    let mut close = body.split_off(end);
    blocks.extend(body);
    let signed = [text("firm", "signatory"), text("firm", "title"), text("firm", "name")];
    let signed: Vec<String> = signed.into_iter().filter(|line| !line.is_empty()).collect();
    close.extend([
        Block::Paragraph(plain(speech.say("Sincerely,", &[]))),
        Block::Space(2),
        Block::Paragraph(plain(signed.join("\n"))),
    ]);
    if !enclosures.is_empty() {
        close.push(Block::Small(plain(speech.say("Enclosed: {}", &[&enclosures.join("; ")]))));
    }
    blocks.push(Block::Together(close));
    let names = text("client", "names_joined");
    let addressee = if names.is_empty() { text("client", "reference") } else { names };
    Document {
        title: subject,
        language: speech.language.word().to_string(),
        subject: speech.say("{}, tax year {}", &[&reference, &year]),
        author: text("firm", "name"),
        setting: Setting::Letter,
        furniture: Furniture {
            head: (format!("{addressee}, {dated}"), speech.say("Page {page} of {pages}", &[])),
            foot: (String::new(), String::new()),
            mark: (request.facts.holds("draft") == Some(true)).then(|| speech.say("DRAFT", &[])),
        },
        blocks,
    }
}

/// Binds a paragraph that ends in a colon to the list it introduces, so that no page ends between them.
fn with_introductions(body: Vec<Block>) -> Vec<Block> {
    let introduces = |block: &Block| match block {
        Block::Paragraph(words) => words.last().is_some_and(|run| run.text.trim_end().ends_with(':')),
        _ => false,
    };
    let mut out: Vec<Block> = Vec::new();
    for block in body {
        let is_list = matches!(block, Block::List { .. });
        match out.pop_if(|before| is_list && introduces(before)) {
            Some(before) => out.push(Block::Together(vec![before, block])),
            None => out.push(block),
        }
    }
    out
}

fn sender(firm: &Firm) -> Vec<String> {
    let mut lines = vec![firm.name.value.clone()];
    lines.extend(post::sender_address(&firm.address));
    lines.push(firm.phone.value.clone());
    lines.extend(firm.email.as_ref().map(|email| email.value.clone()));
    lines
}

/// Makes the engine that fills in names: strict, with values escaped for Markdown and nothing but our helpers.
fn engine(language: Language) -> Handlebars<'static> {
    let mut engine = Handlebars::new();
    engine.set_strict_mode(true);
    engine.register_escape_fn(markup::escape);
    engine.register_helper("plural", Box::new(plural));
    engine.register_helper("count", Box::new(Count(language)));
    engine.register_helper("and", Box::new(And(language)));
    engine
}

/// Returns the number of entries of a helper's list.
fn entries(helper: &Helper<'_>) -> Result<usize, RenderErrorReason> {
    let list = helper.param(0).and_then(|list| list.value().as_array());
    list.map(Vec::len).ok_or(RenderErrorReason::InvalidParamType("a list"))
}

fn plural(
    helper: &Helper<'_>,
    _: &Handlebars<'_>,
    _: &Context,
    _: &mut RenderContext<'_, '_>,
    out: &mut dyn Output,
) -> HelperResult {
    let which = if entries(helper)? == 1 { 1 } else { 2 };
    let words = helper.param(which).map(|words| words.value().render()).unwrap_or_default();
    out.write(&markup::escape(&words))?;
    Ok(())
}

/// `count`: the number of entries of a list, in words of the language.
struct Count(Language);

impl HelperDef for Count {
    fn call<'reg: 'rc, 'rc>(
        &self,
        helper: &Helper<'rc>,
        _: &'reg Handlebars<'reg>,
        _: &'rc Context,
        _: &mut RenderContext<'reg, 'rc>,
        out: &mut dyn Output,
    ) -> HelperResult {
        let speech = Speech { language: self.0, table: None };
        out.write(&speech.count(entries(helper)?))?;
        Ok(())
    }
}

/// `and`: the entries of a list, joined as people of the language say them.
struct And(Language);

impl HelperDef for And {
    fn call<'reg: 'rc, 'rc>(
        &self,
        helper: &Helper<'rc>,
        _: &'reg Handlebars<'reg>,
        _: &'rc Context,
        _: &mut RenderContext<'reg, 'rc>,
        out: &mut dyn Output,
    ) -> HelperResult {
        let list = helper.param(0).and_then(|list| list.value().as_array());
        let words: Vec<String> = list
            .ok_or(RenderErrorReason::InvalidParamType("a list"))?
            .iter()
            .map(|one| markup::escape(&one.render()))
            .collect();
        let speech = Speech { language: self.0, table: None };
        out.write(&speech.joined(&words))?;
        Ok(())
    }
}

/// Finds markup that letters do not have in a text whose names are not filled in yet, so that it is told at its
/// place. A tag that prints becomes letters, any other tag blanks; values cannot bring markup in.
fn markup_of_source(text: &str, body: usize, source: SourceId) -> Vec<Finding> {
    let mut bytes = text.as_bytes().to_vec();
    bytes[..body].iter_mut().filter(|byte| **byte != b'\n').for_each(|byte| *byte = b' ');
    for tag in tags::tags(text, body).0 {
        let line_start = text[..tag.span.start].rfind('\n').map_or(0, |at| at + 1);
        let alone = text[line_start..tag.span.start].trim().is_empty();
        // A blank at the head of a line would make the words behind it look like a block of code.
        let fill = if tag.prints
            || (alone && !text[tag.span.end..].lines().next().unwrap_or("").trim().is_empty())
        {
            b'x'
        } else {
            b' '
        };
        bytes[tag.span].iter_mut().filter(|byte| **byte != b'\n').for_each(|byte| *byte = fill);
    }
    let Ok(blanked) = String::from_utf8(bytes) else { return Vec::new() };
    let refused = match markup::blocks(&blanked) {
        // A number in pieces: behind escapes, or with emphasis between its digits.
        Ok(blocks) if !redact::find(&markup::words(&blocks)).is_empty() => {
            // At the start of the file, whose line shows nothing of it.
            let mut finding = redact::finding(Span { source, start: 0, end: 0 });
            finding.message =
                "a full taxpayer number, in pieces or behind escapes, is in this letter (not shown)"
                    .to_string();
            return vec![finding];
        }
        Ok(_) => Vec::new(),
        Err(refused) => refused,
    };
    refused
        .into_iter()
        .map(|one| {
            let end = text[one.range.start..one.range.end].trim_end().len() + one.range.start;
            Finding::error("template-markup", format!("letters hold no such thing: {}", one.what))
                .at(Span { source, start: one.range.start as u32, end: end as u32 })
                .help(one.help)
        })
        .collect()
}

/// Says what is wrong with a line of the front matter that ends up on paper.
fn wrong_line(line: &Spanned<String>) -> Option<Finding> {
    let (tags, _) = tags::tags(&line.value, 0);
    let blocks = tags.iter().any(|tag| !tag.prints);
    let mut shown = line.value.clone();
    tags.iter().rev().for_each(|tag| shown.replace_range(tag.span.clone(), "x"));
    let refused = markup::line(&shown).err();
    if !blocks && refused.is_none() {
        return None;
    }
    Some(
        Finding::error("template-front", "a line of the front matter takes words and names only")
            .at(line.span)
            .help("leave out `#if` and markup; write another letter where the subject has to differ"),
    )
}

/// Returns the byte at a line and column, both counted from one.
fn byte_of(text: &str, line: usize, column: usize) -> usize {
    let start: usize = text.split_inclusive('\n').take(line.saturating_sub(1)).map(str::len).sum();
    let inside = text[start..].char_indices().nth(column.saturating_sub(1)).map_or(0, |(at, _)| at);
    start + inside
}

/// Returns the span from a byte to the end of its line.
fn line_from(text: &str, start: usize, source: SourceId) -> Span {
    let start = start.min(text.len());
    let end = text[start..].find('\n').map_or(text.len(), |n| start + n);
    Span { source, start: start as u32, end: end as u32 }
}

/// Says whether findings allow letters to be written.
pub fn usable(findings: &[Finding]) -> bool {
    findings.iter().all(|one| one.severity < Severity::Error)
}

#[cfg(test)]
pub(crate) mod tests;
