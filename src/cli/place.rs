//! Places that are named for what a command writes, looked at before any work begins.

use super::End;
use crate::characters::unseen;
use crate::packet::write::Trouble;
use std::path::{Component, Path};

/// Refuses a place whose name nobody could read, and one that is no name at all.
pub(super) fn fit(place: &Path) -> Result<(), End> {
    if !matches!(place.components().next_back(), Some(Component::Normal(_) | Component::CurDir))
        && !place.is_dir()
    {
        tell!("error: {} names nothing that could be made\nhelp: name a file or a folder", place.display());
        return Err(End::Usage);
    }
    // What stands already is the user's own affair; what would be made is not.
    let made = place.ancestors().take_while(|one| one.symlink_metadata().is_err());
    for part in made.filter_map(Path::file_name) {
        let name = part.to_string_lossy();
        let called = |c: char| unseen(c).or(c.is_control().then_some("a control character"));
        if let Some((c, called)) = name.chars().find_map(|c| Some((c, called(c)?))) {
            tell!(
                "error: the name {} holds a character that cannot be seen, U+{:04X}, {called}\nhelp: name another, typed by hand",
                name.escape_debug(),
                u32::from(c)
            );
            return Err(End::Usage);
        }
    }
    Ok(())
}

/// Says that a file stands, or why not.
pub(super) fn put(path: &Path, done: Result<(), Trouble>) -> End {
    match done {
        Ok(()) => {
            tell!("Written: {}", path.display());
            End::Done
        }
        Err(Trouble::Stands(path)) => standing(&path),
        Err(trouble) => {
            tell!("error: {trouble}\nhelp: {}", trouble.help());
            End::Files
        }
    }
}

/// Says that something stands where a file was to be written.
pub(super) fn standing(path: &Path) -> End {
    tell!(
        "error: {} stands already, and nothing is overwritten\nhelp: name another file with --out, or move the old one away",
        path.display()
    );
    End::Files
}
