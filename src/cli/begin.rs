//! `begin`: a new case, one question at a time.
//!
//! Where the case goes, what lies there already, what is kept meanwhile, and what is said at the end. The questions
//! are in [`crate::begin`], the asking in [`desk`](super::desk).

use super::desk::{Lines, Screen};
use super::keep::{self, Kept};
use super::{End, complain, days, load, our_fault, place, usage};
use crate::begin::{self, Answers, Begun, Choice, Conversation, Desk, Question, Reply, Stop};
use crate::folder::senders::FIRM_FILE;
use crate::law::Law;
use crate::name::Reference;
use crate::packet::write::Trouble;
use crate::wording::counted;
use jiff::civil::Date;
use std::path::{Path, PathBuf};

/// Make a new case, one question at a time.
///
/// Asks in the terminal for what matters and writes a case file; nothing is ever overwritten. `?` explains, `back` goes
/// one question back, `later` stops. The answers are kept in NAME.case.begun beside the case until it is written, and
/// the next `begin` in that folder goes on with them. Ends with 130 as long as the case is not written.
#[derive(clap::Args)]
pub(super) struct Begin {
    /// The folder for the case, or the file to be made, NAME.case.yaml; without it this folder
    place: Option<PathBuf>,
    /// Plain typed lines, also on a terminal
    #[arg(long)]
    plain: bool,
    /// The day on which it is begun, YYYY-MM-DD; without it today
    #[arg(long, value_name = "DATE", value_parser = usage::date)]
    dated: Option<Date>,
}

/// What is said first.
const WELCOME: &str = "A new case, one question at a time. Enter takes what stands in [ ].\n\
? explains a question, back goes one question back, later stops and keeps your answers.";

impl Begin {
    pub(super) fn run(self) -> End {
        let place = match Place::of(self.place.as_deref()) {
            Ok(place) => place,
            Err(end) => return end,
        };
        let taken = match taken(&place.folder) {
            Ok(taken) => taken,
            Err(end) => return end,
        };
        let today = match self.dated.map(|day| days::plausible("--dated", day)) {
            Some(Ok(day)) => day,
            Some(Err(end)) => return end,
            None => days::today(),
        };
        keep::tidy(&place.folder);
        match self.plain || !Screen::fits() {
            true => at(&mut Lines::new(), &place, taken, today),
            false => at(&mut Screen, &place, taken, today),
        }
    }
}

/// Where the case goes.
struct Place {
    folder: PathBuf,
    /// The file, where it was named; otherwise the reference names it.
    file: Option<PathBuf>,
}

impl Place {
    fn of(given: Option<&Path>) -> Result<Place, End> {
        let given = given.unwrap_or(Path::new("."));
        place::fit(given)?;
        if given.is_dir() {
            return Ok(Place { folder: given.to_path_buf(), file: None });
        }
        let named = given.file_name().is_some_and(|name| name.to_string_lossy().ends_with(".case.yaml"));
        if std::fs::symlink_metadata(given).is_ok() {
            tell!(
                "error: {} stands already, and nothing is ever overwritten\nhelp: name another file",
                given.display()
            );
            return Err(End::Files);
        }
        if !named {
            tell!(
                "error: {} is no folder, and a case file is called NAME.case.yaml\nhelp: name a folder that stands, or a file that ends in .case.yaml",
                given.display()
            );
            return Err(End::Usage);
        }
        let folder = given.parent().filter(|folder| !folder.as_os_str().is_empty()).unwrap_or(Path::new("."));
        if !folder.is_dir() {
            tell!("error: there is no folder {}\nhelp: make it first", folder.display());
            return Err(End::Files);
        }
        Ok(Place { folder: folder.to_path_buf(), file: Some(given.to_path_buf()) })
    }

    /// Returns the case file for a reference, or until there is one.
    fn case_file(&self, reference: Option<&Reference>) -> PathBuf {
        let name = || match reference {
            Some(reference) => reference.file(".case.yaml").to_string(),
            None => "new.case.yaml".to_string(),
        };
        self.file.clone().unwrap_or_else(|| self.folder.join(name()))
    }

    /// Returns the unfinished cases that may be gone on with.
    fn unfinished(&self) -> Result<Vec<Kept>, End> {
        match &self.file {
            Some(file) => Ok(Kept::of(&keep::beside(file)).into_iter().collect()),
            None => Kept::all_in(&self.folder),
        }
    }
}

/// Returns the references of the cases in a folder, and the names of their files, which new cases must not have.
fn taken(folder: &Path) -> Result<Vec<String>, End> {
    let mut taken = Vec::new();
    for path in load::case_files_below(folder)? {
        taken.extend(load::reference_of(&load::read(&path)?));
        if path.parent() == Some(folder) || path.parent() == Some(Path::new("")) {
            let name = path.file_name().map(|name| name.to_string_lossy().into_owned()).unwrap_or_default();
            taken.extend(name.strip_suffix(".case.yaml").map(str::to_string));
        }
    }
    Ok(taken)
}

/// Asks at a desk, and writes what comes of it.
fn at(desk: &mut dyn Desk, place: &Place, mut taken: Vec<String>, today: Date) -> End {
    let unfinished = match place.unfinished() {
        Ok(unfinished) => unfinished,
        Err(end) => return end,
    };
    desk.say(WELCOME);
    let going_on = match choose(desk, &unfinished) {
        Ok(going_on) => going_on,
        Err(Gone) => return End::Interrupted,
    };
    let others = unfinished.iter().filter(|one| going_on.is_none_or(|chosen| chosen.path != one.path));
    taken.extend(others.filter_map(|one| one.answers.get(REFERENCE).map(str::to_string)));
    let answers = going_on.map(|one| one.answers.clone()).unwrap_or_default();
    let mut kept_at = going_on.map(|one| one.path.clone());

    let mut keep = |answers: &Answers| {
        // Kept answers may have been changed by somebody since.
        let reference = answers.get(REFERENCE).and_then(|text| Reference::new(text).ok());
        let path = keep::beside(&place.case_file(reference.as_ref()));
        if kept_at.as_ref() != Some(&path) && std::fs::symlink_metadata(&path).is_ok() {
            return Err(std::io::Error::other(format!("{} stands already; move it away", shown(&path))));
        }
        keep::keep(&path, &answers.to_bytes())?;
        // With another reference the answers are kept under another name.
        if let Some(old) = kept_at.replace(path.clone()).filter(|old| *old != path) {
            std::fs::remove_file(old)?;
        }
        Ok(())
    };
    let mut conversation = Conversation::new(Law::built_in(), today, &taken, desk, &mut keep, answers);
    let asked = begin::ask(&mut conversation);
    match asked {
        Ok(begun) => {
            let end = written(place, &begun, kept_at.as_deref(), |folder| offer_firm(desk, folder, today));
            end.unwrap_or_else(|end| end)
        }
        Err(stop) => stopped(&stop, kept_at.as_deref()),
    }
}

/// The question whose answer names the files.
const REFERENCE: &str = "client.reference";

/// Whoever was to answer has gone.
struct Gone;

/// Offers what was begun before.
fn choose<'k>(desk: &mut dyn Desk, unfinished: &'k [Kept]) -> Result<Option<&'k Kept>, Gone> {
    if unfinished.is_empty() {
        return Ok(None);
    }
    let kept = |one: &Kept| counted(one.answers.count(), "answer is", "answers are");
    let label = |one: &Kept| format!("go on with {}: {} kept", one.name(), kept(one));
    let mut choices: Vec<Choice> = unfinished.iter().map(|one| Choice::new(one.name(), label(one))).collect();
    choices.push(Choice::new("+new", "begin a new case"));
    let question = Question::menu("An unfinished case lies here", choices);
    loop {
        let Reply::Typed(typed) = desk.ask(&question) else { return Err(Gone) };
        match typed.trim().to_lowercase().as_str() {
            "later" | "back" => return Err(Gone),
            "?" => desk.say(&question.explain),
            typed => match begin::asking::read(&question, typed) {
                Ok(word) => return Ok(unfinished.iter().find(|one| one.name() == word)),
                Err(refusal) => desk.refuse(&refusal),
            },
        }
    }
}

/// Says why there is no case yet.
fn stopped(stop: &Stop, kept_at: Option<&Path>) -> End {
    match stop {
        Stop::Fault(fault) => our_fault(fault),
        Stop::NotKept(error) => {
            tell!("\nerror: the answers cannot be kept: {error}");
            End::Files
        }
        Stop::Later | Stop::Back => {
            match kept_at {
                Some(path) => tell!(
                    "\nStopped. Your answers are kept in {}; the next `gablework begin` there goes on with them.",
                    shown(path)
                ),
                None => tell!("\nStopped. Nothing was answered and nothing is kept."),
            }
            End::Interrupted
        }
    }
}

/// Offers to make a firm file where a case has none beside it or above it.
fn offer_firm(desk: &mut dyn Desk, folder: &Path, today: Date) -> Result<(), End> {
    let here = if folder.as_os_str().is_empty() { Path::new(".") } else { folder };
    let whole = here.canonicalize().unwrap_or_else(|_| here.to_path_buf());
    if whole.ancestors().any(|one| one.join(FIRM_FILE).symlink_metadata().is_ok()) {
        return Ok(());
    }
    desk.say(&format!(
        "\nThere is no {FIRM_FILE} here. Without one the letters lack the firm's name, address, telephone number and \
         signatory."
    ));
    let mut keep = |_: &Answers| Ok(());
    let mut conversation =
        Conversation::new(Law::built_in(), today, &[], desk, &mut keep, Answers::default());
    let text = match begin::firm::ask(&mut conversation) {
        Ok(Some(text)) => text,
        Ok(None) | Err(Stop::Later | Stop::Back) => return Ok(()),
        Err(Stop::NotKept(error)) => return Err(our_fault(&error)),
        Err(Stop::Fault(fault)) => return Err(our_fault(&fault)),
    };
    let file = folder.join(FIRM_FILE);
    keep::write_new(&file, text.as_bytes()).map_err(|trouble| {
        tell!("error: {trouble}\nhelp: {}", trouble.help());
        End::Files
    })?;
    tell!("\nWritten: {}", shown(&file));
    Ok(())
}

/// Writes the case, says what is still open, makes the offer for its folder, and says what comes next.
fn written(
    place: &Place,
    begun: &Begun,
    kept_at: Option<&Path>,
    offer: impl FnOnce(&Path) -> Result<(), End>,
) -> Result<End, End> {
    let path = place.case_file(Some(&begun.reference));
    if let Err(trouble) = keep::write_new(&path, begun.text.as_bytes()) {
        match &trouble {
            Trouble::Stands(_) => tell!("error: {trouble}"),
            other => tell!("error: {other}\nhelp: {}", other.help()),
        }
        if let Some(kept) = kept_at {
            tell!(
                "help: your answers are kept in {}; begin again and choose another reference",
                kept.display()
            );
        }
        return Err(End::Files);
    }
    if let Some(Err(error)) = kept_at.map(std::fs::remove_file) {
        tell!("The kept answers could not be removed: {error}");
    }
    let path = path.strip_prefix(".").unwrap_or(&path).to_path_buf();
    let loaded = load::load(&path)?;
    let findings = &loaded.computed.outcome.findings;
    tell!("\nWritten: {}", shown(&path));
    if !findings.is_empty() {
        tell!("What is still open ({}):\n", super::check::tally(findings));
        complain(findings, &loaded.computed.sources);
    }
    let offered = offer(&place.folder);
    let name = in_quotes(&path);
    tell!(
        "Next, after looking it over or changing it in an editor:\n  gablework check {name}\n  gablework packet {name}"
    );
    offered.map(|()| End::of(findings, false))
}

/// Writes a path without the sign for this folder.
fn shown(path: &Path) -> String {
    path.strip_prefix(".").unwrap_or(path).display().to_string()
}

/// Writes a path as a shell takes it.
fn in_quotes(path: &Path) -> String {
    let text = shown(path);
    let plain = text.chars().all(|c| c.is_alphanumeric() || matches!(c, '-' | '_' | '.' | '/' | '\\' | ':'));
    if plain { text } else { format!("\"{text}\"") }
}
