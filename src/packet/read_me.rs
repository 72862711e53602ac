//! The text that a reader finds in a packet, perhaps ten years on and without the program.
//!
//! Comes in: what was asked for, and which files the packet holds. Goes out: plain text, in lines that a terminal or an
//! editor shows whole. Every command in it works as it stands; a test runs them.

use super::Request;

/// How wide its lines are.
const WIDTH: usize = 96;

/// Writes the text for a packet of a name with some files, by their path in the packet.
pub fn write(name: &str, request: &Request, paths: &[&str]) -> String {
    let mut out = Text::default();
    out.line("Residential energy credits: a packet of worksheet, letters, figures and papers");
    out.gap();
    out.line(&format!("Packet            {name}"));
    out.line(&format!("Client reference  {}", request.reference));
    out.line(&format!("Tax year          {}", request.year));
    out.line(&format!("Dated             {}", request.dated));
    out.line(&format!("Made by           gablework {}", env!("CARGO_PKG_VERSION")));
    out.gap();
    out.words(&format!("{}.", request.keep.told()));
    if let Some(replaced) = &request.replaces {
        out.words(&format!("{}.", replaced.told().trim_end_matches('.')));
    }
    what_it_is(&mut out, request);
    files(&mut out, request, paths);
    if request.draft {
        out.head("A draft");
        out.words("This is a draft. It is not sealed, and the next draft takes its place.");
    } else {
        seal(&mut out, name, paths);
    }
    figures(&mut out);
    again(&mut out, name, request);
    out.head("Cautions");
    out.words(
        "This is not tax or legal advice. The official form and its instructions, and a licensed preparer, decide. The law \
         was read as of the editions named in request.json. Some official lines were not read on the printed form; \
         figures.json says which (\"read\"), and the worksheet marks them with a dagger.",
    );
    out.0
}

fn what_it_is(out: &mut Text, request: &Request) {
    out.head("What this is");
    out.words(&format!(
        "One household's computation of the two federal residential energy credits of the United States for the tax year \
         {}: the energy efficient home improvement credit (section 25C of the Internal Revenue Code) and the residential \
         clean energy credit (section 25D), Form 5695, with the part carried from year to year. The numbers are those that \
         were worked out on the day above from the facts in the case.",
        request.year
    ));
}

fn files(out: &mut Text, request: &Request, paths: &[&str]) {
    out.head("The files");
    let has = |start: &str| paths.iter().any(|path| path.starts_with(start));
    let mut row = |name: &str, what: &str| out.entry(name, what);
    row("worksheet.pdf", "the computation, line by line, with the official line beside each of ours");
    if has("data/worksheet.xlsx") {
        row(
            "worksheet.xlsx",
            "the same as a spreadsheet: each amount a formula, made from facts and law on tabs of their own",
        );
    }
    row("letters/", "the letters to the client");
    row("figures.json", "every line of the year as data: value, expression, operands, sources");
    row("figures.csv", "the same lines as a table");
    row(&request.case_file, "the facts, as they were given");
    if has("data/firm.yaml") {
        row("firm.yaml", "the sender of the letters; its logo, if any, lies beside it");
    }
    row("law/", "the law of the years used, each value beside its source");
    row("layouts/", "which line of ours stands on which official line, and the order of the worksheet");
    if has("data/kit/") {
        row("kit/", "the firm's own letters and layout, as used");
    }
    if has("data/papers/") {
        row("papers/", "the papers, as given");
    }
    row("schemas/", "what each key of the case, the firm file and figures.json means (JSON Schema)");
    row("request.json", "what was asked for, the program's version, and fingerprints of what went in");
}

fn seal(out: &mut Text, name: &str, paths: &[&str]) {
    out.head("Is it as it was?");
    out.words(&format!(
        "The packet is a bag by the open standard BagIt (RFC 8493). In the folder above this one, manifest-sha256.txt and \
         manifest-sha512.txt list every file here with its digest; tagmanifest-sha256.txt and tagmanifest-sha512.txt list \
         those lists. The digest of tagmanifest-sha256.txt stands for the whole packet. It is printed on the seal slip, \
         {name}.seal.pdf, which is best kept apart from the packet: whoever could rewrite the packet could write new lists \
         too, but not the slip in your drawer."
    ));
    out.gap();
    out.words("With the program, which also finds files that were added:");
    out.command(&format!("gablework verify {name}"));
    out.words("Without it, in the folder that holds bagit.txt, on Linux:");
    out.command("sha256sum -c manifest-sha256.txt");
    out.command("sha256sum -c tagmanifest-sha256.txt");
    out.command("sha256sum tagmanifest-sha256.txt");
    out.words(
        "The first says OK for each file here, the second for each list. The third prints 64 digits, which must be those of \
         the seal slip. On a Mac write shasum -a 256 for sha256sum. In the PowerShell of Windows, Get-FileHash FILE prints \
         the digest of one file, to be compared with the list. Any program for BagIt bags checks all but the last.",
    );
    if paths.iter().any(|path| path.contains(['%', '\r', '\n'])) {
        out.gap();
        out.words(
            "In the lists %25 stands for a percent sign in the name of a file, %0D and %0A for line ends; sha256sum does not \
             know that and misses those files.",
        );
    }
}

fn figures(out: &mut Text) {
    out.head("To check a figure by hand");
    out.words(
        "Each line in figures.json has its value, and under \"expr\" how it came about. \"used\" gives the operands with their \
         exact values, also those of other years. \"how\" says the same in words. The parts of an expression:",
    );
    out.gap();
    for (part, meaning) in [
        ("fact", "a value of the case; \"at\" gives file, line and column"),
        ("law", "a value of a year's law; law/YEAR.yaml holds it with its source"),
        ("number", "a plain number of a unit of measure"),
        ("figure", "another line, written YEAR:LINE, with @ and what it is about"),
        (
            "rows",
            "from some lines ordered by amount (or by the amounts in \"by\"), largest first, ties as listed: nth, the n-th \
                  (nothing where there are fewer); after, the sum of all after the n-th",
        ),
        ("words_of_row", "the words that belong to the n-th largest row"),
        ("sum", "all added; of nothing it is zero"),
        ("less", "the first less the second"),
        ("times", "the first times the second"),
        ("share", "whole times part divided by of, in one exact step; nothing where of is nothing"),
        ("smaller", "the smallest of them"),
        ("not_below_zero", "the amount, or zero where it is below zero"),
        ("passing", "above where amount is greater than limit, else otherwise"),
        ("round", "half up: to whole dollars, to cents, or to tenths of a percent"),
        ("ruled", "of, where the ruling counts it; else nothing, for the reason given"),
        ("answer", "read from facts, for the reason given"),
    ] {
        out.entry(part, meaning);
    }
}

fn again(out: &mut Text, name: &str, request: &Request) {
    out.head("To compute everything again");
    if request.draft {
        out.command(&format!("gablework figures {} --year {}", quoted(&request.case_file), request.year));
        return;
    }
    out.words(
        "gablework verify, as above, does it from the files here: the figures from this case and this law, and the pages as \
         well. It says too what the law as known to the program today would give differently. The lines alone, by the law \
         of today's program:",
    );
    out.command(&format!(
        "gablework figures {} --year {}",
        quoted(&format!("{name}/data/{}", request.case_file)),
        request.year
    ));
}

/// Quotes a word for a shell where it needs that.
fn quoted(word: &str) -> String {
    let plain = |c: char| c.is_ascii_alphanumeric() || "-_./".contains(c);
    if word.chars().all(plain) { word.to_string() } else { format!("'{}'", word.replace('\'', "'\\''")) }
}

/// Plain text in the making.
#[derive(Default)]
struct Text(String);

impl Text {
    fn line(&mut self, text: &str) {
        self.0.push_str(text);
        self.0.push('\n');
    }

    fn gap(&mut self) {
        self.0.push('\n');
    }

    fn head(&mut self, text: &str) {
        self.gap();
        self.line(text);
        self.line(&"-".repeat(text.len()));
    }

    fn command(&mut self, text: &str) {
        self.line(&format!("    {text}"));
    }

    /// A paragraph.
    fn words(&mut self, text: &str) {
        self.wrapped(text, 0, "");
    }

    /// A name and what it is.
    fn entry(&mut self, name: &str, what: &str) {
        let name = if name.chars().count() < 15 { format!("{name:<16}") } else { format!("{name}  ") };
        self.wrapped(what, 18, &format!("  {name}"));
    }

    /// Writes words in lines, the first after something, the others under them.
    fn wrapped(&mut self, text: &str, indent: usize, first: &str) {
        let mut line = first.to_string();
        let mut fresh = true;
        for word in text.split_whitespace() {
            let width = line.chars().count() + usize::from(!fresh) + word.chars().count();
            if width > WIDTH && !fresh {
                self.line(line.trim_end());
                line = " ".repeat(indent);
                fresh = true;
            }
            if !fresh {
                line.push(' ');
            }
            line.push_str(word);
            fresh = false;
        }
        self.line(line.trim_end());
    }
}
