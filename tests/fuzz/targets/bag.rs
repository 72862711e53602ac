//! Sealed packets in which somebody changed something: every change is noticed, whatever it is.

use gablework::packet::Packet;
use gablework::packet::bag::{self, Info};
use std::collections::BTreeMap;
use std::fs;
use std::path::PathBuf;
use std::sync::atomic::{AtomicUsize, Ordering};

/// A folder for one bag, removed at the end.
pub struct Folder(pub PathBuf);

impl Folder {
    /// Makes an empty one.
    pub fn new() -> Folder {
        static COUNT: AtomicUsize = AtomicUsize::new(0);
        let number = COUNT.fetch_add(1, Ordering::Relaxed);
        let fast = PathBuf::from("/dev/shm");
        let root = if fast.is_dir() { fast } else { std::env::temp_dir() };
        let path = root.join(format!("gablework-bag-{}-{number}", std::process::id()));
        fs::create_dir_all(path.join("data/letters")).expect("a folder");
        Folder(path)
    }
}

impl Drop for Folder {
    fn drop(&mut self) {
        let _ = fs::remove_dir_all(&self.0);
    }
}

/// Writes a packet and its seal slip into a folder, and returns where the packet lies.
pub fn lay_down(packet: &Packet, folder: &Folder) -> PathBuf {
    let root = folder.0.join(&packet.name);
    for (path, bytes) in &packet.files {
        let full = root.join(path);
        fs::create_dir_all(full.parent().expect("a folder")).expect("a folder");
        fs::write(full, bytes).expect("a file");
    }
    if let Some((name, bytes)) = &packet.slip {
        fs::write(folder.0.join(name), bytes).expect("a file");
    }
    root
}

fn sealed() -> Packet {
    let mut packet = Packet::new(gablework::name::FileName::new("HH-1-2025").expect("a name"));
    packet.add("data/figures.json", "{\"format\": 1}\n");
    packet.add("data/letters/results.pdf", "%PDF-1.7\n");
    packet.add("data/Zo\u{eb} 1.txt", "");
    let info = Info(vec![
        ("Bagging-Date", "2026-11-12".to_string()),
        ("External-Identifier", "HH-1-2025".to_string()),
    ]);
    bag::seal(&mut packet, &info, &BTreeMap::new()).expect("a seal");
    packet
}

/// The first byte says which file is changed, the rest what stands in it then; past the last file, one is added.
pub fn bag(bytes: &[u8]) {
    let Some((which, changed)) = bytes.split_first() else { return };
    let packet = sealed();
    let folder = Folder::new();
    for (path, bytes) in &packet.files {
        fs::write(folder.0.join(path), bytes).expect("a file");
    }
    let at = usize::from(*which) % (packet.files.len() + 2);
    let (path, before) = match packet.files.get(at) {
        Some((path, bytes)) => (path.as_str(), Some(bytes.as_slice())),
        None if at == packet.files.len() => ("data/added.txt", None),
        None => ("fetch.txt", None),
    };
    fs::write(folder.0.join(path), changed).expect("a file");
    let checked = bag::check(&folder.0);
    assert_eq!(checked.is_intact(), before == Some(changed), "{path} was changed: {:?}", checked.damage);
    for damage in &checked.damage {
        let told = damage.to_string();
        assert!(!told.is_empty() && !told.chars().any(char::is_control), "{told:?}");
    }
}
