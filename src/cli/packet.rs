//! `packet`: the main job.

use super::access::Access;
use super::progress::{self, Progress};
use super::{End, complain, kit, load, our_fault, print};
use crate::assemble::{self, Also, Material, NoPacket, Wanted};
use crate::case::firm::{self, Firm};
use crate::case::{Case, TaxYear};
use crate::credit::facts::Facts;
use crate::finding::{Finding, Severity, Sources};
use crate::law::{Credit, Law};
use crate::packet::write::{self, Trouble};
use crate::packet::{Asked, Replaced, bag, slip};
use crate::picture::{self, Picture};
use jiff::civil::Date;
use std::collections::HashMap;
use std::path::{Component, Path, PathBuf};
use std::sync::atomic::Ordering;

/// Make the packet of a case.
#[derive(clap::Args)]
pub(super) struct Packet {
    /// The case file, or a folder of them
    case: PathBuf,
    /// The tax year; without it the latest with a return
    #[arg(long)]
    year: Option<i16>,
    /// The folder the packet is put into
    #[arg(long, default_value = "packets")]
    out: PathBuf,
    /// Make a draft: replaceable, with the word on every page; also while errors or questions stand open
    #[arg(long)]
    draft: bool,
    /// The packet this one replaces
    #[arg(long, value_name = "OLD", requires = "because")]
    replaces: Option<String>,
    /// Why it is replaced
    #[arg(long, value_name = "TEXT", requires = "replaces")]
    because: Option<String>,
    /// The date on the papers; without it today
    #[arg(long, value_name = "DATE")]
    dated: Option<Date>,
    /// The firm's file; without it firm.yaml beside the case, where there is one
    #[arg(long, value_name = "FILE")]
    firm: Option<PathBuf>,
    /// Letters also as HTML for e-mail, or for word processors
    #[arg(long, value_name = "FORM", value_enum, value_delimiter = ',')]
    also: Vec<Form>,
    /// The firm's own letters and layout: a folder that `kit` made
    #[arg(long, value_name = "DIR")]
    kit: Option<PathBuf>,
    /// Warnings and questions count as errors
    #[arg(long)]
    strict: bool,
    #[command(flatten)]
    access: Access,
}

/// A form of letters besides PDF.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, clap::ValueEnum)]
enum Form {
    /// One file of HTML
    Html,
    /// A file for word processors
    Docx,
}

/// What all cases of one run share.
struct Desk {
    dated: Date,
    kit: kit::Used,
    /// The texts of the letters, which findings about them point into.
    sources: Sources,
    /// The client references seen so far, without regard to case, and where.
    references: HashMap<String, PathBuf>,
}

/// Who sends the letters, as read.
struct Sender {
    firm: Firm,
    bytes: Vec<u8>,
    logo: Option<Picture>,
}

impl Packet {
    pub(super) fn run(self) -> End {
        let files = match load::case_files(&self.case) {
            Ok(files) => files,
            Err(end) => return end,
        };
        let dated = self.dated.unwrap_or_else(|| {
            let today = jiff::Zoned::now().date();
            print(&format!("Dated {today}\n"));
            today
        });
        let mut sources = Sources::default();
        let kit = match kit::read(self.kit.as_deref(), &mut sources) {
            Ok(kit) => kit,
            Err(end) => return end,
        };
        let mut desk = Desk { dated, kit, sources, references: HashMap::new() };
        let stop = match progress::stoppable() {
            Ok(stop) => stop,
            Err(end) => return end,
        };
        let mut progress = Progress::start(files.len(), "cases");
        let mut worst = End::Done;
        for path in &files {
            if stop.load(Ordering::Relaxed) {
                worst = End::Interrupted;
                break;
            }
            progress.aside(|| worst = worst.max(self.one(path, &mut desk)));
            progress.step();
        }
        progress.end();
        worst
    }

    fn one(&self, path: &Path, desk: &mut Desk) -> End {
        let mut loaded = match load::load_beside(path, desk.sources.clone()) {
            Ok(loaded) => loaded,
            Err(end) => return end,
        };
        complain(&loaded.computed.findings, &loaded.computed.sources);
        let end = End::of(&loaded.computed.findings, self.strict);
        let Some(case) = loaded.computed.case.clone() else {
            eprintln!(
                "No packet for {}: it cannot be read as a case; mend what is marked above.",
                path.display()
            );
            return end.max(End::CaseErrors);
        };
        // Not even a draft may carry a full taxpayer number further.
        let secret = loaded.computed.findings.iter().any(|finding| finding.code == "taxpayer-number");
        if end == End::CaseErrors && (secret || !self.draft) {
            let or_draft = if secret { "" } else { ", or make a --draft" };
            eprintln!("No packet for {}: mend what is marked above{or_draft}.", path.display());
            return end;
        }
        let open: Vec<&Finding> =
            loaded.computed.findings.iter().filter(|finding| finding.blocking).collect();
        if !self.draft && !open.is_empty() {
            eprint!("{}", unanswered(path, &open));
            return End::CaseErrors;
        }
        let reference = case.client.reference.value.to_lowercase();
        if let Some(first) = desk.references.insert(reference, path.to_path_buf()) {
            eprintln!(
                "error: {} and {} have the same client reference {}",
                first.display(),
                path.display(),
                case.client.reference.value
            );
            return End::CaseErrors;
        }
        let Some(year) = self.year.map(TaxYear).or_else(|| loaded.computed.latest_year()) else {
            eprintln!("error: {} speaks of no tax year", path.display());
            return End::CaseErrors;
        };
        if !loaded.computed.outcome.years.contains(&year) {
            let years: Vec<String> = loaded.computed.outcome.years.iter().map(ToString::to_string).collect();
            eprintln!("error: {} has no figures for {year}; it has {}", path.display(), years.join(", "));
            return End::Usage;
        }
        match self.make(path, &case, year, desk, &mut loaded) {
            Ok(()) => end,
            Err(trouble) => end.max(trouble),
        }
    }

    fn make(
        &self,
        path: &Path,
        case: &Case,
        year: TaxYear,
        desk: &Desk,
        loaded: &mut load::Loaded,
    ) -> Result<(), End> {
        dated_well(case, year, desk.dated)?;
        let replaces = match (&self.replaces, &self.because) {
            (Some(old), Some(because)) => Some(self.replaced(old, because, case, year)?),
            _ => None,
        };
        let wanted = Wanted {
            year,
            dated: desk.dated,
            draft: self.draft,
            case_file: path.file_name().map_or_else(String::new, |name| name.to_string_lossy().into_owned()),
            replaces,
            name: self.name(case, year),
            also: self.also(),
        };
        let place = self.out.join(&wanted.name);
        if !self.draft && place.is_dir() {
            self.slip_again(&place);
        }
        if place.symlink_metadata().is_ok() && !(self.draft && place.join(write::DRAFT_MARK).is_file()) {
            return Err(report(&Trouble::Stands(place)));
        }
        let sender = self.firm(path, loaded)?;
        let papers = papers(path, case, loaded)?;
        let material = Material {
            letters: &desk.kit.letters,
            layout: desk.kit.layout.as_ref(),
            kit: &desk.kit.files,
            case_bytes: &loaded.bytes,
            firm: sender.as_ref().map(|one| (&one.firm, one.bytes.as_slice())),
            logo: sender.as_ref().and_then(|one| one.logo.as_ref()),
            papers: &papers,
        };
        let law = Law::built_in();
        let (packet, facts) = match assemble::packet(&mut loaded.computed, law, &wanted, &material) {
            Ok(made) => made,
            Err(NoPacket::Fault(what)) => return Err(our_fault(&what)),
            Err(NoPacket::Findings(findings)) => {
                complain(&findings, &loaded.computed.sources);
                return Err(End::CaseErrors);
            }
        };
        let place =
            write::put(&self.out, &packet, self.access.readers()).map_err(|trouble| report(&trouble))?;
        print(&summary(case, year, &facts, &place, &packet));
        Ok(())
    }

    /// Returns the forms of letters besides PDF, each once.
    fn also(&self) -> Vec<Also> {
        let mut forms = self.also.clone();
        forms.sort();
        forms.dedup();
        let of = |form| match form {
            Form::Html => Also::Html,
            Form::Docx => Also::Docx,
        };
        forms.into_iter().map(of).collect()
    }

    /// Returns the packet's name: the reference and the year; a correction counts on from the packet it replaces.
    fn name(&self, case: &Case, year: TaxYear) -> String {
        let plain = format!("{}-{year}", case.client.reference.value);
        if self.draft {
            return format!("{plain}-draft");
        }
        if self.replaces.is_none() {
            return plain;
        }
        let mut n = 2;
        while self.out.join(format!("{plain}-r{n}")).symlink_metadata().is_ok() {
            n += 1;
        }
        format!("{plain}-r{n}")
    }

    /// Makes the seal slip of a packet that stands without one, as after a run that was killed between the two.
    fn slip_again(&self, place: &Path) {
        let name = place.file_name().map_or_else(String::new, |name| name.to_string_lossy().into_owned());
        let slip = place.with_file_name(slip::file_name(&name));
        let checked = bag::check(place);
        let stands = slip.symlink_metadata().is_ok() || !checked.is_intact();
        let Some(digest) = checked.digest.filter(|_| !stands) else { return };
        let request = load::read_some(&place.join("data/request.json"))
            .ok()
            .and_then(|bytes| String::from_utf8(bytes).ok());
        let Some(asked) = request.and_then(|text| Asked::read(&text).ok()) else { return };
        let drawn = assemble::slip(&name, &asked, &digest);
        let Ok((_, bytes)) = drawn else { return };
        if write::put_file(&slip, &bytes, false, self.access.readers()).is_ok() {
            print(&format!(
                "{} stands without its seal slip; made again: {}\n",
                place.display(),
                slip.display()
            ));
        }
    }

    /// Makes sure that the packet to be replaced stands as it was sealed, is of the same client and year, and is not
    /// replaced already; and returns what the correction says of it.
    fn replaced(&self, old: &str, because: &str, case: &Case, year: TaxYear) -> Result<Replaced, End> {
        let complain = |what: String, help: &str| {
            eprintln!("error: {what}\nhelp: {help}");
            End::Usage
        };
        let named = "--replaces takes the name of a packet that stands in the folder of --out";
        let request = |folder: &Path| {
            let stored = load::read_some(&folder.join("data/request.json")).ok()?;
            serde_json::from_slice::<serde_json::Value>(&stored).ok()
        };
        let place = self.out.join(old);
        let plain = Path::new(old).components().count() == 1 && !old.contains(['/', '\\']);
        let Some(stored) = request(&place).filter(|_| plain) else {
            return Err(complain(format!("there is no packet `{old}` in {}", self.out.display()), named));
        };
        if stored["reference"] != case.client.reference.value.as_str() || stored["year"] != year.0 {
            return Err(complain(format!("`{old}` is not a packet of this client and {year}"), named));
        }
        if stored["draft"] == true {
            let help = "a draft is replaced by the next one; make the packet without --replaces";
            return Err(complain(format!("`{old}` is a draft"), help));
        }
        let first = format!("{}-{year}", case.client.reference.value);
        let taken = (2..).map(|n| format!("{first}-r{n}"));
        let mut others = taken.map_while(|name| request(&self.out.join(&name)).map(|stored| (name, stored)));
        if let Some((name, _)) = others.find(|(_, stored)| stored["replaces"]["packet"] == old) {
            let help = format!("replace `{name}`, or the latest correction after it");
            return Err(complain(format!("`{old}` is replaced by `{name}` already"), &help));
        }
        let checked = bag::check(&place);
        let Some(digest) = checked.digest.clone().filter(|_| checked.is_intact()) else {
            for damage in checked.damage.iter().take(5) {
                eprintln!("error: {old}: {damage}");
            }
            eprintln!(
                "error: `{old}` is not as it was sealed, so a correction cannot name it\nhelp: bring it back from a backup and see `gablework verify {}`",
                place.display()
            );
            return Err(End::Unsealed);
        };
        let because = because.split_whitespace().collect::<Vec<&str>>().join(" ");
        if because.is_empty() {
            return Err(complain("--because is empty".to_string(), "say why the packet is replaced"));
        }
        Ok(Replaced { packet: old.to_string(), digest, because })
    }

    /// Reads the firm's file: the one named, or `firm.yaml` beside the case.
    fn firm(&self, case: &Path, loaded: &mut load::Loaded) -> Result<Option<Sender>, End> {
        let beside = case.with_file_name("firm.yaml");
        let path = match &self.firm {
            Some(path) => path.clone(),
            None if beside.is_file() => beside,
            None => return Ok(None),
        };
        let bytes = load::read(&path)?;
        let (firm, findings) = firm::read(&path.display().to_string(), &bytes, &mut loaded.computed.sources);
        complain(&findings, &loaded.computed.sources);
        let Some(firm) = firm.filter(|_| findings.iter().all(|one| one.severity != Severity::Error)) else {
            return Err(End::CaseErrors);
        };
        let logo = logo(&firm, &path).map_err(|finding| {
            complain(&[*finding], &loaded.computed.sources);
            End::CaseErrors
        })?;
        Ok(Some(Sender { firm, bytes, logo }))
    }
}

/// Refuses a date from before the year, which can only be a slip, and says where the case was signed for later. A
/// projection may be made in the year before.
fn dated_well(case: &Case, year: TaxYear, dated: Date) -> Result<(), End> {
    if dated.year() < year.0 - 1 {
        eprintln!(
            "error: the date on the papers, {dated}, lies long before the tax year {year}\nhelp: correct --dated, or leave it out for today's date"
        );
        return Err(End::Usage);
    }
    let signed =
        [&case.prepared, &case.reviewed].into_iter().flatten().filter_map(|signed| signed.on.as_ref());
    if let Some(signed) = signed.map(|on| on.value).max().filter(|signed| *signed > dated) {
        eprintln!("warning: the papers are dated {dated}, and the case was last signed for on {signed}");
    }
    Ok(())
}

/// Says which answers a packet waits for, as entries to be filled in.
fn unanswered(path: &Path, open: &[&Finding]) -> String {
    let (asked, they) = match open.len() {
        1 => ("a question is".to_string(), "its answer"),
        n => (format!("{n} questions are"), "their answers"),
    };
    let mut out = format!(
        "No packet for {}: {asked} open, and {they} could change a figure. Mend the case where each points, or answer \
         under `answers:` (fill in the dots; `because:` may follow), or make a --draft:\n\nanswers:\n",
        path.display()
    );
    for entry in open.iter().filter_map(|question| question.answer_entry()) {
        out.push_str(&format!("  - {entry}\n"));
    }
    out
}

/// Reads the firm's logo. Its path may not leave the folder of the firm's file, nor follow a link out of it.
fn logo(firm: &Firm, firm_file: &Path) -> Result<Option<Picture>, Box<Finding>> {
    let Some(named) = &firm.logo else { return Ok(None) };
    let error = |code: &'static str, message: String, help: &str| {
        Box::new(Finding::error(code, message).at(named.span).help(help.to_string()))
    };
    let folder = match firm_file.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder,
        _ => Path::new("."),
    };
    if !stays_in(folder, &named.value) {
        return Err(error(
            "logo-outside",
            format!("`{}` leads out of the folder of the firm file", named.value),
            "keep the logo beside the firm file or below it, as a file and not as a link",
        ));
    }
    let unreadable = |why: String| {
        let message = format!("cannot read the logo `{}`: {why}", named.value);
        error("logo-unreadable", message, "correct the path, or leave `logo:` out")
    };
    let full = folder.join(&named.value);
    let size = std::fs::metadata(&full).map_err(|error| unreadable(error.to_string()))?.len();
    let refused = |why: picture::Unusable| {
        let help = format!(
            "save it as PNG with at most {} points on a side; a letterhead shows about 600",
            picture::MOST_POINTS
        );
        error("logo-unusable", format!("the logo `{}` cannot be used: {why}", named.value), &help)
    };
    if size > picture::MOST_BYTES {
        return Err(refused(picture::Unusable::TooLarge));
    }
    let bytes = std::fs::read(&full).map_err(|error| unreadable(error.to_string()))?;
    picture::read(&bytes, &firm.name.value).map(Some).map_err(refused)
}

/// Says whether a path named in a file stays in a folder, links followed; one that does not exist does.
fn stays_in(folder: &Path, named: &str) -> bool {
    let inside = Path::new(named).components().all(|part| matches!(part, Component::Normal(_)));
    match (folder.join(named).canonicalize(), folder.canonicalize()) {
        (Ok(full), Ok(folder)) => inside && full.starts_with(folder),
        _ => inside,
    }
}

/// Says why a packet could not be put in its place.
fn report(trouble: &Trouble) -> End {
    let help = match trouble {
        Trouble::Stands(_) => {
            "make a correction with --replaces NAME --because REASON, or name another folder with --out"
        }
        other => other.help(),
    };
    eprintln!("error: {trouble}\nhelp: {help}");
    End::Files
}

/// Reads the evidence files of a case. A path may not leave the case's folder, nor follow a link out of it.
fn papers(path: &Path, case: &Case, loaded: &load::Loaded) -> Result<Vec<(String, Vec<u8>)>, End> {
    let folder = path.parent().map_or_else(|| PathBuf::from("."), Path::to_path_buf);
    let mut found = Vec::new();
    let mut complaints = Vec::new();
    for paper in &case.evidence {
        let Some(file) = &paper.file else { continue };
        let full = folder.join(&file.value);
        if !stays_in(&folder, &file.value) {
            complaints.push(
                Finding::error("paper-outside", format!("`{}` leads out of the case's folder", file.value))
                    .at(file.span)
                    .help("keep evidence files in the case's folder or below it, and name them from there"),
            );
            continue;
        }
        match std::fs::read(&full) {
            Ok(bytes) => found.push((file.value.replace('\\', "/"), bytes)),
            Err(error) => complaints.push(
                Finding::error(
                    "paper-unreadable",
                    format!("cannot read the paper `{}`: {error}", file.value),
                )
                .at(file.span)
                .help("correct the path, or leave `file:` out if the paper is kept elsewhere"),
            ),
        }
    }
    complain(&complaints, &loaded.computed.sources);
    if complaints.is_empty() { Ok(found) } else { Err(End::CaseErrors) }
}

/// What the terminal says of a finished packet.
fn summary(
    case: &Case,
    year: TaxYear,
    facts: &Facts,
    place: &Path,
    packet: &crate::packet::Packet,
) -> String {
    let called =
        |credit: Credit| Law::built_in().year(year).map_or(credit.called(), |law| law.called(credit));
    let mut out = format!("{}, tax year {year}\n", case.client.reference.value);
    let mut row = |label: &str, name: &str| {
        out.push_str(&format!("  {label:<42} {:>14}\n", facts.amount(name).spoken()))
    };
    if facts.yes["improvement_in_force"] {
        row(&format!("{} allowed", called(Credit::Improvement)), "improvement_allowed");
        if facts.yes["loses_improvement"] {
            row("  lost to the tax limit", "improvement_lost");
        }
    }
    row(&format!("{} allowed", called(Credit::Clean)), "clean_allowed");
    row(&format!("  carried forward to {}", year.after()), "carried_out");
    out.push_str(&format!("  worksheet  {}\n", place.join("data/worksheet.pdf").display()));
    for (path, _) in &packet.files {
        if path.starts_with("data/letters/") {
            out.push_str(&format!("  letter     {}\n", place.join(path).display()));
        }
    }
    if let Some((slip, _)) = &packet.slip {
        out.push_str(&format!("  seal slip  {}\n", place.with_file_name(slip).display()));
    }
    out
}
