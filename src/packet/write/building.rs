//! A folder filled file by file beside its place, and renamed in when it is whole: for what is too large to be held
//! until the end.
//!
//! Until [`Building::finish`] nothing stands at the place, and what is given up is removed. While it is filled, no other
//! run can write the same one.

use super::disk::{Disk, Readers, Real};
use super::lock::Lock;
use super::trouble::Trouble;
use super::{Beside, clear, create_folders, folder_of, move_in};
use crate::name::unfit_path;
use std::cell::RefCell;
use std::collections::BTreeSet;
use std::fs::{self, File};
use std::path::{Path, PathBuf};

/// A folder that is being filled.
pub struct Building<'a> {
    disk: &'a dyn Disk,
    beside: Beside,
    readers: Readers,
    /// The folders made in it so far.
    folders: RefCell<BTreeSet<PathBuf>>,
    whole: bool,
    _lock: Lock<'a>,
}

/// A file of it that grows row by row.
pub struct Rows<'a> {
    disk: &'a dyn Disk,
    path: PathBuf,
    file: File,
    /// What is not written yet.
    waiting: Vec<u8>,
}

/// So much is written at a time.
const AT_A_TIME: usize = 1 << 16;

impl Building<'static> {
    /// Starts a folder that is to stand at a place.
    pub fn start(place: &Path, readers: Readers) -> Result<Building<'static>, Trouble> {
        Building::start_on(&Real, place, readers)
    }
}

impl<'a> Building<'a> {
    pub(super) fn start_on(
        disk: &'a dyn Disk,
        place: &Path,
        readers: Readers,
    ) -> Result<Building<'a>, Trouble> {
        let folder = folder_of(place);
        create_folders(disk, folder, readers)?;
        let name = place.file_name().map_or_else(String::new, |name| name.to_string_lossy().into_owned());
        let lock = Lock::take(disk, folder, &name)?;
        let beside = Beside::of(folder, &name);
        beside.tidy(disk)?;
        disk.create_folder(&beside.part, readers).map_err(Trouble::of("create", place))?;
        let folders = RefCell::new(BTreeSet::from([beside.part.clone()]));
        Ok(Building { disk, beside, readers, folders, whole: false, _lock: lock })
    }

    /// Adds a file whole. Its name may lead through a folder below.
    pub fn add(&self, name: &str, bytes: &[u8]) -> Result<(), Trouble> {
        let (path, mut file) = self.create(name)?;
        self.disk.write(&mut file, bytes).map_err(Trouble::of("write", &path))?;
        self.disk.sync_file(&file).map_err(Trouble::of("sync", &path))
    }

    /// Adds a file that grows.
    pub fn grow(&self, name: &str) -> Result<Rows<'a>, Trouble> {
        let (path, file) = self.create(name)?;
        Ok(Rows { disk: self.disk, path, file, waiting: Vec::new() })
    }

    /// Makes an empty file and the folder it lies in. Troubles speak of the place where it is to stand.
    fn create(&self, name: &str) -> Result<(PathBuf, File), Trouble> {
        if let Some(why) = unfit_path(name) {
            return Err(Trouble::Name { path: name.to_string(), why });
        }
        let path = self.beside.part.join(name);
        let mut folders = self.folders.borrow_mut();
        let mut missing: Vec<&Path> =
            path.ancestors().skip(1).take_while(|folder| !folders.contains(*folder)).collect();
        missing.reverse();
        let speaking = |trouble: Trouble| trouble.speaking_of(&self.beside.place, &self.beside.part);
        for folder in missing {
            self.disk
                .create_folder(folder, self.readers)
                .map_err(|error| speaking(Trouble::of("create", folder)(error)))?;
            folders.insert(folder.to_path_buf());
        }
        let file = self.disk.create_file(&path, self.readers);
        let file = file.map_err(|error| speaking(Trouble::of("create", &path)(error)))?;
        Ok((self.beside.place.join(name), file))
    }

    /// Puts the folder into its place. One that stands there is replaced where that is wanted.
    pub fn finish(mut self, replace: bool) -> Result<(), Trouble> {
        let Beside { place, part, old } = &self.beside;
        // Inner folders first.
        for folder in self.folders.borrow().iter().rev() {
            let synced = self.disk.sync_folder(folder).map_err(Trouble::of("sync", folder));
            synced.map_err(|trouble| trouble.speaking_of(place, part))?;
        }
        let replace = replace && fs::symlink_metadata(place).is_ok();
        if replace {
            self.disk.rename(place, old).map_err(Trouble::of("move", place))?;
        }
        let moved = move_in(self.disk, part, place).inspect_err(|_| {
            if replace {
                // The old one is better than none.
                let _ = self.disk.rename(old, place);
            }
        });
        moved.map_err(|trouble| trouble.speaking_of(place, part))?;
        let folder = folder_of(place);
        let synced = self.disk.sync_folder(folder).map_err(Trouble::of("sync", folder));
        if replace {
            clear(self.disk, old)?;
        }
        self.whole = true;
        synced
    }
}

impl Drop for Building<'_> {
    fn drop(&mut self) {
        if !self.whole {
            let _ = clear(self.disk, &self.beside.part);
        }
    }
}

impl Rows<'_> {
    /// Appends a text.
    pub fn add(&mut self, text: &str) -> Result<(), Trouble> {
        self.waiting.extend(text.as_bytes());
        if self.waiting.len() < AT_A_TIME { Ok(()) } else { self.write() }
    }

    /// Ends the file.
    pub fn end(mut self) -> Result<(), Trouble> {
        self.write()?;
        self.disk.sync_file(&self.file).map_err(Trouble::of("sync", &self.path))
    }

    fn write(&mut self) -> Result<(), Trouble> {
        self.disk.write(&mut self.file, &self.waiting).map_err(Trouble::of("write", &self.path))?;
        self.waiting.clear();
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::scratch::{Scratch, names};

    fn build(place: &Path, text: &str) -> Building<'static> {
        let building = Building::start(place, Readers::Owner).unwrap();
        building.add("below/one.txt", text.as_bytes()).unwrap();
        let mut rows = building.grow("rows.csv").unwrap();
        rows.add("a\r\n").unwrap();
        rows.add("b\r\n").unwrap();
        rows.end().unwrap();
        building
    }

    #[test]
    fn stands_when_it_is_whole_and_not_before() {
        let scratch = Scratch::new("whole");
        let out = scratch.0.clone();
        let place = out.join("season");
        let building = build(&place, "first");
        assert_eq!(names(&out), [".season.lock", ".season.part"]);
        building.finish(false).unwrap();
        assert_eq!(names(&out), ["season"]);
        assert_eq!(fs::read_to_string(place.join("rows.csv")).unwrap(), "a\r\nb\r\n");
        drop(build(&place, "given up"));
        assert_eq!(names(&out), ["season"]);
        assert!(matches!(build(&place, "second").finish(false), Err(Trouble::Stands(_))));
        assert_eq!(fs::read_to_string(place.join("below/one.txt")).unwrap(), "first");
        build(&place, "third").finish(true).unwrap();
        assert_eq!(fs::read_to_string(place.join("below/one.txt")).unwrap(), "third");
        assert_eq!(names(&out), ["season"]);
    }

    #[test]
    fn what_a_killed_run_left_is_removed_and_what_it_moved_away_comes_back() {
        let scratch = Scratch::new("left");
        let out = scratch.0.clone();
        fs::create_dir(out.join(".season.part")).unwrap();
        fs::write(out.join(".season.part/stray.txt"), "stray").unwrap();
        fs::create_dir(out.join(".season.old")).unwrap();
        fs::write(out.join(".season.old/rows.csv"), "before").unwrap();
        let building = build(&out.join("season"), "first");
        assert_eq!(fs::read_to_string(out.join("season/rows.csv")).unwrap(), "before");
        building.finish(true).unwrap();
        assert_eq!(names(&out.join("season")), ["below", "rows.csv"]);
        assert_eq!(names(&out), ["season"]);
    }
}
