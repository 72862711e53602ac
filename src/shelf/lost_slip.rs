//! The seal slip of a packet that stands without one, as after a run that was killed between the two.

use super::Shelf;
use crate::assemble;
use crate::folder;
use crate::packet::write::{self, Readers, Trouble};
use crate::packet::{Asked, bag, slip};
use std::path::PathBuf;

/// What came of a slip that did not stand.
#[derive(Debug)]
pub enum Again {
    /// It is drawn again and stands here.
    Made(PathBuf),
    /// It could not be written.
    Failed(Trouble),
}

impl Shelf {
    /// Makes the seal slip of a sealed packet where it is missing, and says so; nothing where it stands, or where the
    /// packet is not as it was sealed.
    pub fn slip_again(&self, name: &str, readers: Readers) -> Option<Again> {
        let place = self.place(&slip::file_name(name));
        let stands = || place.symlink_metadata().is_ok();
        // Another run may be about to write it.
        if stands() || (write::wait_for(&self.folder, name).is_ok() && stands()) {
            return None;
        }
        let checked = bag::check(&self.place(name));
        let digest = checked.digest.clone().filter(|_| checked.is_intact())?;
        let request = folder::read(&self.place(name).join(assemble::REQUEST)).ok()?;
        let asked = Asked::read(&String::from_utf8(request).ok()?).ok()?;
        let (_, bytes) = assemble::slip(name, &asked, &digest).ok()?;
        match write::put_file(&place, &bytes, false, readers) {
            Ok(()) => Some(Again::Made(place)),
            Err(Trouble::Stands(_)) => None,
            Err(trouble) => Some(Again::Failed(trouble)),
        }
    }
}
