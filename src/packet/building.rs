//! A folder filled file by file beside its place, and renamed in when it is whole.
//!
//! For what is too large to be held until the end. Until [`Building::finish`] nothing stands at the place, and what
//! is left undone is removed. What stands there is replaced only when told, and only where nobody else has put
//! anything into it.

use super::write::{Trouble, clear, create_folder, move_in, private, sync_folder, write_file};
use std::fs::{self, File, OpenOptions};
use std::io::{BufWriter, Write};
use std::path::{Path, PathBuf};

/// A folder that is being filled.
pub struct Building {
    place: PathBuf,
    beside: PathBuf,
    whole: bool,
}

/// A file of it that grows row by row.
pub struct Growing {
    path: PathBuf,
    file: BufWriter<File>,
}

impl Building {
    /// Starts a folder, and removes what an interrupted run has left of it.
    pub fn start(place: &Path) -> Result<Building, Trouble> {
        let name = place.file_name().map_or_else(String::new, |name| name.to_string_lossy().into_owned());
        let beside = place.with_file_name(format!(".{name}.part"));
        clear(&beside)?;
        create_folder(&beside)?;
        Ok(Building { place: place.to_path_buf(), beside, whole: false })
    }

    /// Adds a file whole. Its name may lead through folders below.
    pub fn add(&self, name: &str, bytes: &[u8]) -> Result<(), Trouble> {
        let path = self.path(name)?;
        write_file(&path, bytes)
    }

    /// Adds a file that grows.
    pub fn grow(&self, name: &str) -> Result<Growing, Trouble> {
        let path = self.path(name)?;
        let fail = |doing| {
            let path = path.clone();
            move |error| Trouble::File { doing, path, error }
        };
        let file = OpenOptions::new().write(true).create_new(true).open(&path).map_err(fail("create"))?;
        private(&file).map_err(fail("protect"))?;
        Ok(Growing { path, file: BufWriter::new(file) })
    }

    /// Puts the folder into its place. One that stands there is replaced where that is wanted.
    pub fn finish(mut self, replace: bool) -> Result<(), Trouble> {
        sync_below(&self.beside)?;
        let stands = fs::symlink_metadata(&self.place).is_ok();
        if stands && replace {
            let name =
                self.place.file_name().map_or_else(String::new, |name| name.to_string_lossy().into_owned());
            let old = self.place.with_file_name(format!(".{name}.old"));
            clear(&old)?;
            fs::rename(&self.place, &old).map_err(|error| Trouble::File {
                doing: "move",
                path: self.place.clone(),
                error,
            })?;
            move_in(&self.beside, &self.place)?;
            self.whole = true;
            clear(&old)?;
        } else {
            move_in(&self.beside, &self.place)?;
            self.whole = true;
        }
        match self.place.parent() {
            Some(folder) if !folder.as_os_str().is_empty() => sync_folder(folder),
            _ => sync_folder(Path::new(".")),
        }
    }

    fn path(&self, name: &str) -> Result<PathBuf, Trouble> {
        let path = self.beside.join(name);
        if let Some(folder) = path.parent().filter(|folder| *folder != self.beside) {
            create_folder(folder)?;
        }
        Ok(path)
    }
}

impl Drop for Building {
    fn drop(&mut self) {
        if !self.whole {
            let _ = fs::remove_dir_all(&self.beside);
        }
    }
}

impl Growing {
    /// Appends a text.
    pub fn add(&mut self, text: &str) -> Result<(), Trouble> {
        self.file.write_all(text.as_bytes()).map_err(|error| self.trouble("write", error))
    }

    /// Ends the file.
    pub fn end(mut self) -> Result<(), Trouble> {
        self.file.flush().map_err(|error| self.trouble("write", error))?;
        self.file.get_ref().sync_all().map_err(|error| self.trouble("sync", error))
    }

    fn trouble(&self, doing: &'static str, error: std::io::Error) -> Trouble {
        Trouble::File { doing, path: self.path.clone(), error }
    }
}

/// Syncs a folder and those below it.
fn sync_below(folder: &Path) -> Result<(), Trouble> {
    let fail = |error| Trouble::File { doing: "sync", path: folder.to_path_buf(), error };
    for entry in fs::read_dir(folder).map_err(fail)? {
        let entry = entry.map_err(fail)?;
        if entry.file_type().map_err(fail)?.is_dir() {
            sync_below(&entry.path())?;
        }
    }
    sync_folder(folder)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn scratch(name: &str) -> PathBuf {
        let path = std::env::temp_dir().join(format!("gablework-building-{name}-{}", std::process::id()));
        let _ = fs::remove_dir_all(&path);
        fs::create_dir_all(&path).unwrap();
        path
    }

    fn names(folder: &Path) -> Vec<String> {
        let mut names: Vec<String> = fs::read_dir(folder)
            .unwrap()
            .map(|entry| entry.unwrap().file_name().to_string_lossy().into_owned())
            .collect();
        names.sort();
        names
    }

    fn build(place: &Path, text: &str) -> Building {
        let building = Building::start(place).unwrap();
        building.add("below/one.txt", text.as_bytes()).unwrap();
        let mut rows = building.grow("rows.csv").unwrap();
        rows.add("a\r\n").unwrap();
        rows.add("b\r\n").unwrap();
        rows.end().unwrap();
        building
    }

    #[test]
    fn stands_when_it_is_whole_and_not_before() {
        let out = scratch("whole");
        let place = out.join("season");
        let building = build(&place, "first");
        assert_eq!(names(&out), [".season.part"]);
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
        fs::remove_dir_all(out).unwrap();
    }

    #[test]
    fn what_an_interrupted_run_left_is_removed_first() {
        let out = scratch("left");
        fs::create_dir(out.join(".season.part")).unwrap();
        fs::write(out.join(".season.part/stray.txt"), "stray").unwrap();
        build(&out.join("season"), "first").finish(false).unwrap();
        assert_eq!(names(&out.join("season")), ["below", "rows.csv"]);
        fs::remove_dir_all(out).unwrap();
    }
}
