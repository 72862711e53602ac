//! Folders as a whole: what lies in them, and copies.

use super::scratch::Scratch;
use std::fs;
use std::path::Path;

/// Every file below a folder, hidden ones too, by its path there; none where there is no folder.
pub fn paths(folder: &Path) -> Vec<String> {
    let mut found = Vec::new();
    let mut folders = vec![folder.to_path_buf()];
    while let Some(one) = folders.pop() {
        for entry in fs::read_dir(&one).into_iter().flatten() {
            let path = entry.expect("an entry").path();
            match path.is_dir() {
                true => folders.push(path),
                false => found.push(path.strip_prefix(folder).expect("below").to_string_lossy().into_owned()),
            }
        }
    }
    found.sort();
    found
}

/// The same with the bytes of each.
pub fn files(folder: &Path) -> Vec<(String, Vec<u8>)> {
    let read = |name: String| {
        let bytes = fs::read(folder.join(&name)).expect("a file");
        (name, bytes)
    };
    paths(folder).into_iter().map(read).collect()
}

/// Copies a file, or a folder with all that lies in it.
pub fn copy(from: &Path, to: &Path) {
    if !from.is_dir() {
        fs::create_dir_all(to.parent().expect("a folder")).expect("made");
        fs::copy(from, to).unwrap_or_else(|error| panic!("{}: {error}", from.display()));
        return;
    }
    fs::create_dir_all(to).expect("a folder");
    for entry in fs::read_dir(from).expect("a folder") {
        let entry = entry.expect("an entry");
        copy(&entry.path(), &to.join(entry.file_name()));
    }
}

impl Scratch {
    /// Writes a file, and the folders it lies in.
    pub fn write(&self, name: &str, text: &str) {
        let path = self.join(name);
        fs::create_dir_all(path.parent().expect("a folder")).expect("a folder");
        fs::write(path, text).expect("written");
    }

    /// Reads a file as text.
    pub fn read(&self, name: &str) -> String {
        fs::read_to_string(self.join(name)).unwrap_or_else(|error| panic!("{name}: {error}"))
    }
}
