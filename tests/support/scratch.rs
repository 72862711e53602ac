//! A folder of its own for a test, removed at the end.

use std::fs;
use std::path::PathBuf;

/// The folder.
pub struct Scratch(pub PathBuf);

impl Scratch {
    /// Makes an empty folder.
    pub fn new(name: &str) -> Scratch {
        let path = std::env::temp_dir().join(format!("gablework-{name}-{}", std::process::id()));
        let _ = fs::remove_dir_all(&path);
        fs::create_dir_all(&path).expect("a scratch folder");
        Scratch(path)
    }

    /// Returns a path inside.
    pub fn join(&self, name: &str) -> PathBuf {
        self.0.join(name)
    }
}

impl Drop for Scratch {
    fn drop(&mut self) {
        let _ = fs::remove_dir_all(&self.0);
    }
}
