//! The firm's logo, and whether a path that a file names stays in its folder.

use crate::case::firm::Firm;
use crate::finding::Finding;
use crate::picture::{self, Picture};
use std::path::{Component, Path};

/// Reads the firm's logo. Its path may not leave the folder of the firm's file, nor follow a link out of it.
pub(super) fn logo(firm: &Firm, firm_file: &Path) -> Result<Option<Picture>, Box<Finding>> {
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
pub(super) fn stays_in(folder: &Path, named: &str) -> bool {
    let inside = Path::new(named).components().all(|part| matches!(part, Component::Normal(_)));
    match (folder.join(named).canonicalize(), folder.canonicalize()) {
        (Ok(full), Ok(folder)) => inside && full.starts_with(folder),
        _ => inside,
    }
}
