//! `kit`: the firm's own letters and layout. Copies the built-in ones out for editing, and reads edited ones.

use super::access::Access;
use super::{End, complain, place, print};
use crate::assemble::{self, OwnKit};
use crate::finding::{Severity, Sources};
use crate::letter;
use crate::packet::write::{self, Building, Trouble};
use crate::sheet::{self, Layout};
use crate::wording::counted;
use std::collections::BTreeSet;
use std::fs;
use std::io::ErrorKind;
use std::path::{Path, PathBuf};

/// Copy letters and layout out, for a firm to edit. Nothing that is there already is overwritten.
#[derive(clap::Args)]
pub(super) struct Kit {
    /// The folder for them; made where it does not exist
    folder: PathBuf,
    /// Add the files that a kit lacks, such as those of a new version; what is there stays as it is
    #[arg(long)]
    missing: bool,
    #[command(flatten)]
    access: Access,
}

/// The most a file of a kit may hold; far above any letter.
const MOST_BYTES: u64 = 1_000_000;

/// Letters and layout, as built in or as the firm has them.
pub(super) struct Used {
    /// The letters.
    pub letters: letter::Kit,
    /// The worksheet's layout, where the firm has its own.
    pub layout: Option<Layout>,
    /// The firm's files, by their path in the kit; empty for what is built in.
    pub files: Vec<(String, Vec<u8>)>,
}

/// Every file of a kit: its path there, and its text.
fn built_in() -> impl Iterator<Item = (&'static str, &'static str)> {
    std::iter::once(sheet::LAYOUT).chain(letter::BUILT_IN.iter().copied())
}

impl Kit {
    pub(super) fn run(self) -> End {
        match self.made() {
            Ok(end) | Err(end) => end,
        }
    }

    fn made(&self) -> Result<End, End> {
        let folder = &self.folder;
        place::fit(folder)?;
        let mut entries = match fs::read_dir(folder) {
            Err(error) if error.kind() == ErrorKind::NotFound && folder.symlink_metadata().is_err() => {
                return self.new_one();
            }
            entries => entries.map_err(|error| unreadable(folder, &error))?,
        };
        if entries.next().is_none() {
            // An empty folder, unless it is the one in use, gives its place to the whole kit.
            fs::remove_dir(folder).map_err(|error| {
                tell!("error: {} cannot be filled: {error}\nhelp: name a new folder", folder.display());
                End::Files
            })?;
            return self.new_one();
        }
        self.again()
    }

    /// Makes a kit where nothing stands: whole, or not at all.
    fn new_one(&self) -> Result<End, End> {
        let building = Building::start(&self.folder, self.access.readers()).map_err(|why| refused(&why))?;
        for (path, text) in built_in() {
            building.add(path, text.as_bytes()).map_err(|why| refused(&why))?;
        }
        building.finish(false).map_err(|why| refused(&why))?;
        print(&format!(
            "{} copied to {}\nEdit what you like, delete nothing that a letter uses, then: gablework packet CASE --kit {}\n",
            counted(built_in().count(), "file", "files"),
            self.folder.display(),
            self.folder.display()
        ));
        Ok(End::Done)
    }

    /// Says what a kit holds that was made before, and adds what it lacks where that is asked for.
    fn again(&self) -> Result<End, End> {
        let folder = &self.folder;
        let (mut same, mut changed, mut lacking) = (0, Vec::new(), Vec::new());
        for (path, text) in built_in() {
            match text_of(folder, path)? {
                None => lacking.push((path, text)),
                Some(own) if own == text => same += 1,
                Some(_) => changed.push(path),
            }
        }
        if same + changed.len() == 0 {
            tell!(
                "error: {} holds other files and no kit, and nothing is put among them\nhelp: name a new folder",
                folder.display()
            );
            return Err(End::Files);
        }
        let as_built_in = counted(same, "file", "files");
        let mut words = format!("{} holds a kit already: {as_built_in} as built in\n", folder.display());
        words += &listed("yours, and left as they are", &changed);
        let names: Vec<&str> = lacking.iter().map(|(path, _)| *path).collect();
        if !self.missing {
            words += &listed("not there; `--missing` adds them", &names);
            print(&words);
            return Ok(End::Done);
        }
        for (path, text) in &lacking {
            let put = write::put_file(&folder.join(path), text.as_bytes(), false, self.access.readers());
            put.map_err(|why| refused(&why))?;
        }
        words += &listed("added", &names);
        print(&words);
        Ok(End::Done)
    }
}

fn listed(what: &str, paths: &[&str]) -> String {
    if paths.is_empty() { String::new() } else { format!("{} {what}: {}\n", paths.len(), paths.join(", ")) }
}

fn refused(trouble: &Trouble) -> End {
    tell!("error: {trouble}\nhelp: {}", trouble.help());
    End::Files
}

fn unreadable(path: &Path, error: &std::io::Error) -> End {
    let help = match error.kind() {
        ErrorKind::NotADirectory => "\nhelp: name a folder",
        ErrorKind::NotFound => "\nhelp: the link leads to nothing; name the folder itself",
        _ => "",
    };
    tell!("error: cannot read {}: {error}{help}", path.display());
    End::Files
}

/// Reads a kit: the firm's folder, or what is built in. Findings about the firm's files point into them; what is
/// absent there is taken as built in, the letters of a language all together or not at all.
pub(super) fn read(folder: Option<&Path>, sources: &mut Sources) -> Result<Used, End> {
    let Some(folder) = folder else {
        return Ok(Used { letters: letter::Kit::built_in(sources), layout: None, files: Vec::new() });
    };
    if !folder.is_dir() {
        tell!(
            "error: {} is no folder\nhelp: `gablework kit {}` makes one",
            folder.display(),
            folder.display()
        );
        return Err(End::Files);
    }
    let mut files = Vec::new();
    let mut passed_over = Vec::new();
    let (layout_path, _) = sheet::LAYOUT;
    if let Some(text) = text_of(folder, layout_path)? {
        files.push((layout_path.to_string(), text));
    }
    for language in languages(folder, &mut passed_over)? {
        files.extend(letters_of(folder, &language, &mut passed_over)?);
    }
    if files.is_empty() {
        tell!(
            "error: {} is no kit: it holds neither {layout_path} nor letters such as {}\nhelp: name the folder that `gablework kit` made, which holds both; `gablework kit NEW-FOLDER` makes one",
            folder.display(),
            letter::BUILT_IN.first().map_or("", |(path, _)| path)
        );
        return Err(End::Files);
    }
    tell_what_is_left_out(folder, &files, &passed_over);
    let shown = |path: &str| folder.join(path).display().to_string();
    let OwnKit { letters, layout, findings: found } = assemble::own_kit(&files, shown, sources);
    complain(&found, sources);
    if found.iter().any(|finding| finding.severity == Severity::Error) {
        tell!("The kit {} cannot be used: fix what is marked above.", folder.display());
        return Err(End::CaseErrors);
    }
    let files = files.into_iter().map(|(path, text)| (path, text.into_bytes())).collect();
    Ok(Used { letters, layout, files })
}

/// Says which letters a kit leaves out, what is taken as built in instead, and what in it is not read.
fn tell_what_is_left_out(folder: &Path, files: &[(String, String)], passed_over: &[String]) {
    let has = |path: &str| files.iter().any(|(own, _)| own == path);
    let of_language = |path: &str| path.splitn(3, '/').take(2).collect::<Vec<_>>().join("/");
    let languages: BTreeSet<String> = files.iter().map(|(path, _)| of_language(path)).collect();
    let absent: Vec<&str> = built_in().map(|(path, _)| path).filter(|path| !has(path)).collect();
    let (left_out, built_in): (Vec<&str>, Vec<&str>) = absent
        .into_iter()
        .partition(|path| path.starts_with("letters/") && languages.contains(&of_language(path)));
    let whole: BTreeSet<String> = built_in.into_iter().map(of_language).collect();
    let note = |what: &str, names: Vec<String>| {
        if !names.is_empty() {
            tell!("note: the kit {} {what}: {}", folder.display(), names.join(", "));
        }
    };
    note(
        "leaves out, so that they are not made or used",
        left_out.iter().map(|path| path.to_string()).collect(),
    );
    note("does not hold, so that they are taken as built in", whole.into_iter().collect());
    note("also holds what is not read", passed_over.to_vec());
}

/// Returns the names in a folder of a kit, in order; none where there is no such folder.
fn names_in(folder: &Path) -> Result<Vec<(String, fs::FileType)>, End> {
    let entries = match fs::read_dir(folder) {
        Err(error) if error.kind() == ErrorKind::NotFound && folder.symlink_metadata().is_err() => {
            return Ok(Vec::new());
        }
        entries => entries.map_err(|error| unreadable(folder, &error))?,
    };
    let mut names = Vec::new();
    for entry in entries {
        let entry = entry.map_err(|error| unreadable(folder, &error))?;
        let kind = entry.file_type().map_err(|error| unreadable(folder, &error))?;
        names.push((entry.file_name().to_string_lossy().into_owned(), kind));
    }
    names.sort_by(|(one, _), (other, _)| one.cmp(other));
    Ok(names)
}

/// Says whether a name is that of a backup or of the system: they begin with a point or end in a mark of their own.
fn is_by_the_way(name: &str) -> bool {
    name.starts_with('.') || name.ends_with(['~', '#'])
}

/// Returns the folders of letters in a kit; one that is no language is complained about when its letters are read.
fn languages(folder: &Path, passed_over: &mut Vec<String>) -> Result<Vec<String>, End> {
    let mut languages = Vec::new();
    for (name, kind) in names_in(&folder.join("letters"))? {
        if kind.is_dir() {
            languages.push(name);
        } else if !is_by_the_way(&name) {
            passed_over.push(format!("letters/{name}"));
        }
    }
    Ok(languages)
}

/// Returns the letters, parts and words of a language in a kit, in the order of the built-in ones, others after them.
fn letters_of(
    folder: &Path,
    language: &str,
    passed_over: &mut Vec<String>,
) -> Result<Vec<(String, String)>, End> {
    let mut paths = Vec::new();
    for inside in [format!("letters/{language}"), format!("letters/{language}/parts")] {
        for (name, kind) in names_in(&folder.join(&inside))? {
            let ours = name.ends_with(".md") || name == "words.yaml";
            if is_by_the_way(&name) || (name == "parts" && kind.is_dir()) {
                continue;
            }
            if ours { &mut paths } else { &mut *passed_over }.push(format!("{inside}/{name}"));
        }
    }
    let rank = |path: &String| letter::BUILT_IN.iter().position(|(known, _)| known == path);
    paths.sort_by_key(|path| (rank(path).unwrap_or(usize::MAX), path.clone()));
    let mut found = Vec::new();
    for path in paths {
        if let Some(text) = text_of(folder, &path)? {
            found.push((path, text));
        }
    }
    Ok(found)
}

/// Reads a file of a kit; none where it does not stand. A link is not followed.
fn text_of(folder: &Path, path: &str) -> Result<Option<String>, End> {
    let full = folder.join(path);
    let complain = |why: String| {
        tell!("error: cannot read {}: {why}", full.display());
        End::Files
    };
    let Ok(about) = full.symlink_metadata() else { return Ok(None) };
    if !about.is_file() {
        return Err(complain("it is no file; links are not followed".to_string()));
    }
    if about.len() > MOST_BYTES {
        return Err(complain("it is larger than any letter or layout".to_string()));
    }
    let bytes = fs::read(&full).map_err(|error| complain(error.to_string()))?;
    let text = String::from_utf8(bytes).map_err(|_| complain("it is no UTF-8 text".to_string()))?;
    Ok(Some(text.strip_prefix('\u{feff}').unwrap_or(&text).replace("\r\n", "\n")))
}
