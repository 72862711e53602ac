//! The firm's logo.

use super::inside::{self, Refused};
use crate::case::firm::Firm;
use crate::finding::Finding;
use crate::picture::{self, Picture};
use std::path::Path;

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
    let unreadable = |why: String| {
        let message = format!("cannot read the logo `{}`: {why}", named.value);
        error("logo-unreadable", message, "correct the path, or leave `logo:` out")
    };
    let refused = |why: picture::Unusable| {
        let help = format!(
            "save it as PNG with at most {} points on a side; a letterhead shows about 600",
            picture::MOST_POINTS
        );
        error("logo-unusable", format!("the logo `{}` cannot be used: {why}", named.value), &help)
    };
    let bytes = inside::read(folder, &named.value, picture::MOST_BYTES).map_err(|why| match why {
        Refused::Outside => error(
            "logo-outside",
            format!("`{}` leads out of the folder of the firm file", named.value),
            "keep the logo beside the firm file or below it, as a file and not as a link",
        ),
        Refused::NoFile => unreadable("it is no file".to_string()),
        Refused::TooLarge => refused(picture::Unusable::TooLarge),
        Refused::Unreadable(error) => unreadable(error.to_string()),
    })?;
    picture::read(&bytes, &firm.name.value).map(Some).map_err(refused)
}
