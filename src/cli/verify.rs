//! `verify`: is a sealed packet as it was sealed, do its figures follow from what is sealed, are its pages those.

use super::access::Access;
use super::log::{self, Log};
use super::progress::{self, Progress};
use super::streams::print_painted;
use super::{AsText, End, place, print, usage};
use crate::case::covered;
use crate::characters::unseen;
use crate::json;
use crate::many;
use crate::packet::{Asked, bag, slip};
use crate::verify::{
    self, Desk, Difference, Digits, Figures, Naming, Pages, Predecessor, Report, Slip, Verdict,
};
use crate::wording::{count, counted};
use crate::wrap::columns;
use serde_json::{Value, json};
use std::collections::BTreeSet;
use std::num::NonZeroUsize;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicBool, Ordering};

/// Check a sealed packet, or all below a folder: the seal, the figures, the pages.
#[derive(clap::Args)]
pub(super) struct Verify {
    /// The packet's folder, or a folder with packets at any depth
    packet: PathBuf,
    /// In which form
    #[arg(long = "as", value_enum, default_value = "text")]
    form: AsText,
    /// The digits on the packet's seal slip, at least the first row; blanks do not matter
    #[arg(long, value_name = "DIGITS", value_parser = usage::digits)]
    digest: Option<String>,
    /// The file to which the verdicts are added; without it verified.txt beside the packet, or in the folder
    #[arg(long, value_name = "FILE", conflicts_with = "no_log")]
    log: Option<PathBuf>,
    /// Keep no log
    #[arg(long)]
    no_log: bool,
    #[command(flatten)]
    access: Access,
}

/// The name of a log for which no other was given.
const LOG: &str = "verified.txt";
/// How many differences of one packet are printed.
const MOST_PRINTED: usize = 20;

/// How many packets came to what.
#[derive(Default)]
struct Counts {
    verified: usize,
    seal: usize,
    unread: usize,
    figures: usize,
    uncompared: usize,
    pages: usize,
}

impl Verify {
    pub(super) fn run(self) -> End {
        match self.verified() {
            Ok(end) | Err(end) => end,
        }
    }

    fn verified(&self) -> Result<End, End> {
        let wanted = &self.digest;
        let found = self.found()?;
        let single = found.packets == [self.packet.clone()];
        // The packets' own names with the folders they lie in, to see which slips have lost theirs.
        let mut present: BTreeSet<PathBuf> = BTreeSet::new();
        if wanted.is_some() && !single {
            tell!("error: --digest belongs to one packet\nhelp: name the folder of the packet itself");
            return Err(End::Usage);
        }
        let desk = Desk::default();
        let mut log = self.log(single)?;
        let idle = AtomicBool::new(false);
        let stop = if single { &idle } else { progress::stoppable()? };
        let threads = std::thread::available_parallelism().unwrap_or(NonZeroUsize::MIN);
        let mut progress = (!single).then(|| Progress::start(found.packets.len(), "packets"));
        let table = Table::new(&self.packet, &found.packets, self.form, single);
        let (mut counts, mut worst) = (Counts::default(), End::Done);
        let done = |n: usize, report: Report| {
            let digits = &Digits::compare(wanted.as_deref(), report.seal.digest.as_deref());
            let path = &found.packets[n];
            present.insert(path.clone());
            present.extend(report.naming.own().map(|own| path.with_file_name(own)));
            let end = judge(&report, digits, &mut counts);
            worst = worst.max(end);
            let tell = || {
                table.print(&table.one(n, &report, digits));
                complain(&report, digits);
            };
            match &progress {
                Some(progress) => progress.aside(tell),
                None => tell(),
            }
            if let Some(log) = &mut log {
                log.add(&harmless(&report.name), &logged(&report, digits));
            }
            if let Some(progress) = &mut progress {
                progress.step();
            }
        };
        many::in_order(&found.packets, threads, stop, |_, path| verify::verify(path, &desk), done);
        if let Some(progress) = progress {
            progress.end();
        }
        let stopped = stop.load(Ordering::Relaxed);
        // After an interruption nobody knows which packets are there.
        let slips = found.slips.iter().filter(|_| !stopped && !single);
        let lost: Vec<&PathBuf> = slips.filter(|slip| !has_packet(slip, &present)).collect();
        for slip in &lost {
            tell!(
                "error: the packet of {} is not beside it\nhelp: find out where it went; a packet is moved, renamed or given away together with its slip, or the slip is kept on paper",
                slip.display()
            );
            worst = worst.max(End::Unsealed);
            if let Some(log) = &mut log {
                let name =
                    slip.file_name().map_or_else(String::new, |name| name.to_string_lossy().into_owned());
                log.add(slip::packet_of(&name).unwrap_or_default(), "packet missing, its slip is here");
            }
        }
        if let Some(log) = log {
            worst = worst.max(log.close());
        }
        table.print(&table.end(&counts, found.drafts.len(), &lost));
        Ok(if stopped { End::Interrupted } else { worst })
    }

    /// Finds what is to be verified, or says why there is nothing.
    fn found(&self) -> Result<verify::Found, End> {
        let path = &self.packet;
        // A stroke behind its name would hide that it is a link.
        if verify::is_link_for_packet(&path.components().collect::<PathBuf>()) {
            return Ok(verify::Found { packets: vec![self.packet.clone()], ..verify::Found::default() });
        }
        if !path.is_dir() {
            tell!(
                "error: {} is no folder\nhelp: name the folder that holds bagit.txt, or one above it",
                path.display()
            );
            return Err(End::Files);
        }
        let found = verify::below(path).map_err(|(folder, error)| {
            tell!("error: cannot read the folder {}: {error}", folder.display());
            End::Files
        })?;
        if found.drafts == [path.clone()] {
            tell!(
                "error: {} is a draft, and a draft is not sealed\nhelp: make the packet without --draft; that one can be verified",
                path.display()
            );
            return Err(End::Usage);
        }
        if found.packets.is_empty() && found.slips.is_empty() {
            tell!(
                "error: no sealed packet lies in {}\nhelp: a packet is a folder that holds bagit.txt; `gablework packet CASE` makes one",
                path.display()
            );
            return Err(End::Files);
        }
        Ok(found)
    }

    /// Opens the log. It never lies in a packet, for what is sealed stays as it is.
    fn log(&self, single: bool) -> Result<Option<Log>, End> {
        if self.no_log {
            return Ok(None);
        }
        let folder = |path: &Path| path.canonicalize().ok();
        let place = match &self.log {
            Some(place) => place.clone(),
            None if single => {
                let beside = folder(&self.packet).and_then(|packet| packet.parent().map(Path::to_path_buf));
                beside.unwrap_or_default().join(LOG)
            }
            None => self.packet.join(LOG),
        };
        place::fit(&place)?;
        if folder(log::folder_of(&place)).is_some_and(|parent| parent.ancestors().any(verify::is_sealed)) {
            tell!(
                "error: the log {} would lie in a packet\nhelp: name another file with --log, outside of every packet",
                place.display()
            );
            return Err(End::Usage);
        }
        match Log::at(&place, &self.access) {
            Ok(log) => Ok(Some(log)),
            Err(why) if self.log.is_some() => {
                tell!(
                    "error: {} cannot be used as a log: {why}\nhelp: name another file with --log",
                    place.display()
                );
                Err(End::Files)
            }
            Err(why) => {
                tell!(
                    "note: no log is kept, for {} cannot be used: {why}; --log FILE names another",
                    place.display()
                );
                Ok(None)
            }
        }
    }
}

/// Says whether the packet that a slip is called after is among those that are there.
fn has_packet(slip: &Path, present: &BTreeSet<PathBuf>) -> bool {
    let name = slip.file_name().and_then(|name| name.to_str()).and_then(slip::packet_of);
    name.is_some_and(|name| present.contains(&slip.with_file_name(name)))
}

/// Returns the verdict on the seal: a packet that is whole and has other digits than the slip is not the one sealed.
fn seal(report: &Report, digits: &Digits) -> Verdict {
    match report.verdict() {
        Verdict::Intact if *digits == Digits::Another => Verdict::Broken,
        verdict => verdict,
    }
}

/// Counts a packet, and says how it ends.
fn judge(report: &Report, digits: &Digits, counts: &mut Counts) -> End {
    let seal = seal(report, digits);
    counts.seal += usize::from(seal == Verdict::Broken);
    counts.unread += usize::from(seal == Verdict::NotRead);
    counts.figures += usize::from(matches!(report.figures, Figures::Differ { .. }));
    counts.uncompared += usize::from(matches!(report.figures, Figures::NotCompared(_)));
    counts.pages += usize::from(matches!(report.pages, Pages::Differ { .. }));
    let verified = is_verified(report, digits);
    counts.verified += usize::from(verified);
    match (verified, seal) {
        (true, _) => End::Done,
        (false, Verdict::NotRead) => End::Files,
        (false, Verdict::Intact) if report.figures_agree() => End::Usage,
        (false, _) => End::Unsealed,
    }
}

/// Says whether nothing is left to ask.
fn is_verified(report: &Report, digits: &Digits) -> bool {
    report.is_sealed() && report.figures_agree() && matches!(digits, Digits::NotGiven | Digits::Agree)
}

/// Says on the error stream what must not be overlooked.
fn complain(report: &Report, digits: &Digits) {
    let name = &harmless(&report.name);
    match seal(report, digits) {
        Verdict::Intact => {}
        Verdict::Broken => {
            tell!("error: {name}: the seal does not hold; do not rely on this packet before you know why");
        }
        Verdict::NotRead => tell!(
            "error: {name}: files of the packet could not be read, so nothing is known of its seal\n\
             help: close the programs that show them, or ask whoever owns them, then verify it again"
        ),
    }
    if let Digits::Mistyped { row, group, given, sealed } = digits {
        tell!(
            "error: {name}: the digits given differ in row {row}, group {group}: `{given}` was typed, and the packet has `{sealed}`\n\
             help: read the slip again; if it does say `{given}`, this is not the packet of that slip"
        );
    }
    if report.slip == Slip::Missing {
        tell!(
            "warning: {name}: no seal slip lies beside it; compare the digits with the slip that was printed, or with the register"
        );
    }
    match &report.figures {
        Figures::Agree { .. } => {}
        Figures::Differ { .. } => tell!("error: {name}: the figures do not follow from what is sealed"),
        Figures::NotCompared(_) => tell!(
            "error: {name}: the figures could not be compared with what is sealed, so nothing shows that they follow from it"
        ),
    }
    if matches!(report.pages, Pages::Differ { .. }) {
        tell!(
            "warning: {name}: THE PAGES ARE NOT THOSE that this same program draws from what is sealed; compare them by eye with a packet made anew"
        );
    }
}

/// Says what came of a packet, for the log.
fn logged(report: &Report, digits: &Digits) -> String {
    let slip = if report.slip == Slip::Missing { ", no slip beside" } else { "" };
    let compared = match digits {
        Digits::NotGiven => "",
        Digits::Agree => ", digits of the slip agree",
        Digits::Mistyped { .. } => ", digits of the slip not compared (mistyped)",
        Digits::Another => ", digits of the slip are others",
    };
    format!(
        "seal {}{slip}{compared}, figures {}, pages {}  sha256:{}",
        seal_word(report, digits).to_lowercase(),
        figures_word(report).to_lowercase(),
        pages_word(report).to_lowercase(),
        report.seal.digest.as_deref().unwrap_or("none")
    )
}

fn seal_word(report: &Report, digits: &Digits) -> &'static str {
    match seal(report, digits) {
        Verdict::Intact => "intact",
        Verdict::Broken => "BROKEN",
        Verdict::NotRead => "NOT READ",
    }
}

fn figures_word(report: &Report) -> &'static str {
    match report.figures {
        Figures::Agree { .. } => "agree",
        Figures::Differ { .. } => "DIFFER",
        Figures::NotCompared(_) => "NOT COMPARED",
    }
}

fn pages_word(report: &Report) -> &'static str {
    match report.pages {
        Pages::Identical { .. } => "identical",
        Pages::Differ { .. } => "DIFFER",
        Pages::NotCompared(_) => "not compared",
    }
}

/// What is printed, packet by packet.
struct Table {
    form: AsText,
    single: bool,
    /// How the packets are called: their path from the folder that was named.
    names: Vec<String>,
    /// The widest name as it is shown.
    width: usize,
}

impl Table {
    fn new(folder: &Path, packets: &[PathBuf], form: AsText, single: bool) -> Table {
        let name = |packet: &PathBuf| {
            let inside = packet.strip_prefix(folder).ok().filter(|inside| !inside.as_os_str().is_empty());
            covered(&inside.unwrap_or(packet).display().to_string())
        };
        let names: Vec<String> = packets.iter().map(name).collect();
        let width = names.iter().map(|name| columns(&harmless(name))).max().unwrap_or(0).max(6);
        Table { form, single, names, width }
    }

    /// Prints a part of the table.
    fn print(&self, part: &str) {
        match self.form {
            AsText::Text => print(part),
            AsText::Json => print_painted(&json::escaped(part)),
        }
    }

    fn one(&self, n: usize, report: &Report, digits: &Digits) -> String {
        let name = &self.names[n];
        if self.form == AsText::Json {
            let opening = if n == 0 { "{\"format\": 1, \"packets\": [\n" } else { ",\n" };
            return format!("{opening}{}", as_json(name, report, digits));
        }
        let mut out = String::new();
        if self.single {
            out.push_str(&whole(report, digits));
            return out;
        }
        let pad =
            |text: &str, width: usize| format!("{text}{}", " ".repeat(width.saturating_sub(columns(text))));
        if n == 0 {
            out.push_str(&format!("{}  seal      figures       pages\n", pad("packet", self.width)));
        }
        out.push_str(&format!(
            "{}  {}  {}  {}\n",
            pad(&harmless(name), self.width),
            pad(seal_word(report, digits), 8),
            pad(figures_word(report), 12),
            pages_word(report)
        ));
        for line in details(report, digits) {
            out.push_str(&format!("    {line}\n"));
        }
        out
    }

    fn end(&self, counts: &Counts, drafts: usize, lost: &[&PathBuf]) -> String {
        let total = self.names.len();
        if self.form == AsText::Json {
            let counts = json!({
                "packets": total,
                "verified": counts.verified,
                "seal_broken": counts.seal,
                "seal_not_read": counts.unread,
                "figures_differ": counts.figures,
                "figures_not_compared": counts.uncompared,
                "pages_differ": counts.pages,
                "drafts_passed_over": drafts,
                "packets_missing": lost.len(),
            });
            let opening = if total == 0 { "{\"format\": 1, \"packets\": [" } else { "" };
            let lost: Vec<String> = lost.iter().map(|slip| covered(&slip.display().to_string())).collect();
            return format!(
                "{opening}\n], \"slips_without_packet\": {}, \"counts\": {counts}}}\n",
                json!(lost)
            );
        }
        if self.single {
            return String::new();
        }
        let mut out = format!("{}: {} verified", counted(total, "packet", "packets"), count(counts.verified));
        for (some, what) in [
            (counts.seal, "with a broken seal"),
            (counts.unread, "that could not be read"),
            (counts.figures, "with figures that do not follow"),
            (counts.uncompared, "with figures that could not be compared"),
            (counts.pages, "with other pages"),
            (lost.len(), "missing, of which the slip is here"),
        ] {
            if some > 0 {
                out.push_str(&format!(", {} {what}", count(some)));
            }
        }
        if drafts > 0 {
            let passed_over = counted(drafts, "draft passed over, which is", "drafts passed over, which are");
            out.push_str(&format!("; {passed_over} not sealed"));
        }
        out.push('\n');
        out
    }
}

/// Tells of one packet in full.
fn whole(report: &Report, digits: &Digits) -> String {
    let mut out = match &report.asked {
        Some(Asked { year, dated, .. }) => {
            format!("{}, tax year {year}, dated {dated}\n", harmless(&report.name))
        }
        None => format!("{}\n", harmless(&report.name)),
    };
    let mut row = |head: &str, word: &str, more: &str| {
        let (word, more) = (harmless(word), harmless(more));
        out.push_str(format!("  {head:<8}  {word:<12}  {more}").trim_end());
        out.push('\n');
    };
    let files = format!(
        "{} of {} in the payload, each compared with its SHA-256 and SHA-512",
        counted(report.seal.payload.len(), "file", "files"),
        counted(report.seal.bytes() as usize, "byte", "bytes")
    );
    row("seal", seal_word(report, digits), &files);
    let figures = match &report.figures {
        Figures::Agree { lines } => {
            format!(
                "{}, computed again from the sealed case and the sealed law",
                counted(*lines, "line", "lines")
            )
        }
        Figures::Differ { differences, more } => {
            counted(differences.len() + more, "difference", "differences")
        }
        Figures::NotCompared(why) => why.to_string(),
    };
    row("figures", figures_word(report), &figures);
    let pages = match &report.pages {
        Pages::Identical { files } => {
            format!("{}, drawn again, the same to the byte", counted(*files, "file", "files"))
        }
        Pages::Differ { files } => {
            format!("{}, although the same program drew them", counted(files.len(), "file", "files"))
        }
        Pages::NotCompared(why) => why.to_string(),
    };
    row("pages", pages_word(report), &pages);
    if let Some(chain) = &report.replaces {
        let found = match chain.found {
            Predecessor::Elsewhere => "does not lie beside it".to_string(),
            Predecessor::Same => "lies beside it, and is the one named".to_string(),
            Predecessor::Another => "LIES BESIDE IT AND IS NOT THE ONE NAMED".to_string(),
        };
        row("replaces", &chain.packet, &found);
    }
    if let Some(digest) = &report.seal.digest {
        for (n, groups) in bag::groups(digest).iter().enumerate() {
            row(if n == 0 { "digest" } else { "" }, &format!("{}  {}", n + 1, groups.join(" ")), "");
        }
    }
    let slip = match (&report.slip, digits) {
        (_, Digits::Another) => "THE DIGITS GIVEN ARE NOT THESE",
        (_, Digits::Mistyped { .. }) => "the digits given were mistyped; compare these rows again",
        (Slip::Missing | Slip::Agrees | Slip::NotCompared, Digits::Agree) => "the digits given are these",
        (Slip::Missing, _) => {
            "no slip lies beside the packet; compare these rows with the one kept elsewhere"
        }
        (Slip::Agrees, _) => {
            "the slip beside the packet is its own; compare these rows with the one kept elsewhere"
        }
        (Slip::NotCompared, _) => {
            "the slip beside the packet names them, and another program drew it; compare its rows with these by eye"
        }
        (Slip::Names(_), _) => "THE SLIP BESIDE THE PACKET NAMES OTHERS",
        (Slip::NotRead, _) => "THE SLIP BESIDE THE PACKET COULD NOT BE COMPARED",
        (Slip::Altered | Slip::Misnamed(_) | Slip::NoFile, _) => "THE SLIP BESIDE THE PACKET IS NOT ITS OWN",
    };
    row("", slip, "");
    for line in details(report, digits) {
        out.push_str(&format!("  {line}\n"));
    }
    out
}

/// Returns what is wrong with a packet, and what is worth knowing, a line each.
fn details(report: &Report, digits: &Digits) -> Vec<String> {
    let mut lines: Vec<String> =
        report.seal.damage.iter().take(MOST_PRINTED).map(|damage| format!("seal: {damage}")).collect();
    let more = report.seal.damage.len().saturating_sub(MOST_PRINTED) + report.seal.more;
    if more > 0 {
        lines.push(format!("seal: and {more} more"));
    }
    if *digits == Digits::Another {
        lines.push("seal: the digits given are not those of this packet".to_string());
    }
    match &report.naming {
        Naming::Own(_) => {}
        Naming::Copy(own) => lines.push(format!("note: this is packet {own}, in a folder of another name")),
        Naming::Another(own) => lines.push(format!(
            "seal: this is packet {own}, in a folder that bears the name of another; call it {own} again"
        )),
        // Where the description itself is damaged, that has been said.
        Naming::Unnamed if report.seal.is_intact() => {
            lines.push(format!("seal: {} does not name the packet that was asked for", bag::INFO_FILE))
        }
        Naming::Unnamed => {}
    }
    let beside = slip::file_name(report.naming.own().unwrap_or(&report.name));
    match &report.slip {
        Slip::Missing | Slip::Agrees => {}
        Slip::NotCompared => {
            lines.push(format!("note: {beside} was drawn by another program; its page was not compared"))
        }
        Slip::Names(None) => lines.push(format!("seal: {beside} is no slip; it names no digest")),
        Slip::Names(Some(named)) => {
            lines.push(format!("seal: {beside} beside the packet names another digest, {named}"))
        }
        Slip::Altered => lines.push(format!(
            "seal: {beside} is not the slip that is drawn from this packet, although it bears the mark of its digest"
        )),
        Slip::Misnamed(name) => lines.push(format!(
            "seal: {} is this packet's slip under another name; it is {beside}",
            harmless(name)
        )),
        Slip::NoFile => lines.push(format!("seal: {beside} beside the packet is no plain file")),
        Slip::NotRead => lines.push(format!("seal: {beside} beside the packet could not be compared: a file cannot be read")),
    }
    if let Some(chain) = report.replaces.as_ref().filter(|chain| chain.found == Predecessor::Another) {
        lines.push(format!("seal: {} beside it is not the packet that this one replaces", chain.packet));
    }
    match &report.figures {
        Figures::Differ { differences, more } => {
            lines.extend(
                differences
                    .iter()
                    .take(MOST_PRINTED)
                    .map(|one| format!("figures: {}", told(one, "computed again"))),
            );
            let more = differences.len().saturating_sub(MOST_PRINTED) + more;
            if more > 0 {
                lines.push(format!("figures: and {more} more"));
            }
        }
        Figures::NotCompared(why) => lines.push(format!("figures: {why}")),
        Figures::Agree { .. } => {}
    }
    if let Pages::Differ { files } = &report.pages {
        lines.extend(
            files.iter().take(MOST_PRINTED).map(|file| format!("pages: {file} is not what is drawn again")),
        );
    }
    match &report.today {
        Some(differences) if !differences.is_empty() => {
            lines.push(format!(
                "note: the law as this program knows it today gives {} otherwise; the packet stays right for its day",
                counted(differences.len(), "line", "lines")
            ));
            lines.extend(
                differences.iter().take(MOST_PRINTED).map(|one| format!("note: {}", told(one, "today"))),
            );
        }
        _ => {}
    }
    lines.extend(report.notes.iter().map(|note| format!("note: {note}")));
    lines.iter().map(|line| harmless(line)).collect()
}

/// Tells a difference; `other` is what the second value is called. What others wrote is shown harmlessly.
fn told(one: &Difference, other: &str) -> String {
    let value = |value: &Option<String>| match value {
        Some(value) if value.is_empty() => "nothing".to_string(),
        Some(value) => value.clone(),
        None => "no such line".to_string(),
    };
    let (place, label) = (&one.place, &one.label);
    match (&one.sealed, &one.computed) {
        (None, None) => format!("{place} {label}"),
        (sealed, computed) => {
            format!("line {place} ({label}): sealed {}, {other} {}", value(sealed), value(computed))
        }
    }
}

/// Shows what others may have written: no character that nobody sees, or that turns a line, reaches the terminal, and
/// nobody has to read more than some lines of it.
fn harmless(text: &str) -> String {
    const MOST: usize = 400;
    let mut out = String::new();
    for (n, c) in text.chars().enumerate() {
        if n == MOST {
            out.push_str(" ..");
            break;
        }
        match unseen(c).is_some() || matches!(c, '\n' | '\t') {
            true => out.extend(c.escape_unicode()),
            false => out.push(c),
        }
    }
    out
}

fn as_json(name: &str, report: &Report, digits: &Digits) -> Value {
    let differences = |all: &[Difference]| -> Vec<Value> {
        let one = |one: &Difference| json!({"place": one.place, "label": one.label, "sealed": one.sealed, "computed": one.computed});
        all.iter().map(one).collect()
    };
    let damage: Vec<Value> = report
        .seal
        .damage
        .iter()
        .map(|one| json!({"code": one.code(), "path": one.path(), "message": one.to_string()}))
        .collect();
    let word = |word: &str| word.to_lowercase().replace(' ', "_");
    let figures = match &report.figures {
        Figures::Agree { lines } => json!({"lines": lines}),
        Figures::Differ { differences: all, more } => json!({"differences": differences(all), "more": more}),
        Figures::NotCompared(why) => json!({"because": why.to_string()}),
    };
    let pages = match &report.pages {
        Pages::Identical { files } => json!({"files": files}),
        Pages::Differ { files } => json!({"differ": files}),
        Pages::NotCompared(why) => json!({"because": why.to_string()}),
    };
    let with = |verdict: &str, mut more: Value| {
        more["verdict"] = json!(word(verdict));
        more
    };
    let slip = match &report.slip {
        Slip::Missing => "not_beside",
        Slip::Agrees => "agrees",
        Slip::NotCompared => "not_compared",
        Slip::Names(_) => "names_another",
        Slip::Altered => "altered",
        Slip::Misnamed(_) => "misnamed",
        Slip::NoFile => "no_file",
        Slip::NotRead => "not_read",
    };
    let naming = match &report.naming {
        Naming::Own(_) => "own",
        Naming::Copy(_) => "copy",
        Naming::Another(_) => "another",
        Naming::Unnamed => "unnamed",
    };
    json!({
        "packet": report.name,
        "path": name,
        "verified": is_verified(report, digits),
        "reference": report.asked.as_ref().map(|asked| asked.reference.clone()),
        "year": report.asked.as_ref().map(|asked| asked.year),
        "version": report.asked.as_ref().map(|asked| asked.version.clone()),
        "digest": report.seal.digest,
        "seal": with(seal_word(report, digits), json!({
            "files": report.seal.payload.len(),
            "bytes": report.seal.bytes(),
            "damage": damage,
            "more": report.seal.more,
            "slip": slip,
            "name": report.naming.own(),
            "folder_name": naming,
            "digest_as_given": match digits {
                Digits::NotGiven => "not_given",
                Digits::Agree => "agrees",
                Digits::Mistyped { .. } => "mistyped",
                Digits::Another => "another",
            },
        })),
        "figures": with(figures_word(report), figures),
        "pages": with(pages_word(report), pages),
        "replaces": report.replaces.as_ref().map(|chain| json!({
            "packet": chain.packet,
            "found": match chain.found {
                Predecessor::Elsewhere => "not_beside",
                Predecessor::Same => "the_one_named",
                Predecessor::Another => "another",
            },
        })),
        "today": report.today.as_deref().map(differences),
        "notes": report.notes,
    })
}
