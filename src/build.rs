//! Lists the editions that the program carries: one file of law and one official line map for each tax year; and works
//! out a mark of the program's own sources.
//!
//! A new edition is a new file and no line of code, so the lists are made from the folders when the program is built.
//! The mark tells programs apart that have one version number and are not the same: what a packet was made with can be
//! expected to make the same pages again only where the mark is the same.

use std::fs;
use std::path::{Path, PathBuf};

fn main() {
    let root = std::env::var("CARGO_MANIFEST_DIR").expect("cargo names the package's folder");
    let out = std::env::var("OUT_DIR").expect("cargo names a folder for what is made");
    let law = years(&Path::new(&root).join("src/law/years"));
    let maps = years(&Path::new(&root).join("layouts/official"));
    let list = |years: &[i16], folder: &str, name: &str| {
        let one = |year: &i16| {
            format!(
                "({year}, \"{name}/{year}.yaml\", include_str!(concat!(env!(\"CARGO_MANIFEST_DIR\"), \"/{folder}/{year}.yaml\"))),\n"
            )
        };
        format!("&[\n{}]\n", years.iter().map(one).collect::<String>())
    };
    let write = |name: &str, text: String| {
        fs::write(Path::new(&out).join(name), text).expect("the folder for what is made can be written");
    };
    write("law_files.rs", list(&law, "src/law/years", "law"));
    write("official_files.rs", list(&maps, "layouts/official", "official"));
    println!("cargo::rustc-env=GABLEWORK_SOURCES={:032x}", mark(Path::new(&root)));
    for part in SOURCES {
        println!("cargo::rerun-if-changed={part}");
    }
}

/// What the program is made of.
const SOURCES: [&str; 4] = ["src", "layouts", "letters", "Cargo.lock"];

/// Returns a mark over every file that the program is made of: FNV-1a with 128 bits, over names and contents. It tells
/// apart, and protects from nothing.
fn mark(root: &Path) -> u128 {
    let mut files = Vec::new();
    let mut open: Vec<PathBuf> = SOURCES.iter().map(|part| root.join(part)).collect();
    while let Some(path) = open.pop() {
        if path.is_dir() {
            let entries = fs::read_dir(&path).unwrap_or_else(|error| panic!("{}: {error}", path.display()));
            open.extend(entries.map(|entry| entry.expect("the folder can be read").path()));
        } else if path.is_file() {
            let name = path.strip_prefix(root).expect("below the package's folder");
            files.push((name.to_string_lossy().replace('\\', "/"), path));
        }
    }
    files.sort();
    let mut mark: u128 = 0x6c62_272e_07bb_0142_62b8_2175_6295_c58d;
    let mut add = |byte: u8| mark = (mark ^ u128::from(byte)).wrapping_mul(0x0100_0000_0000_0000_0000_013b);
    for (name, path) in files {
        let bytes = fs::read(&path).unwrap_or_else(|error| panic!("{}: {error}", path.display()));
        // A checkout on another system may have other ends of lines.
        let contents = bytes.into_iter().filter(|byte| *byte != b'\r');
        name.bytes().chain([0]).chain(contents).chain([0]).for_each(&mut add);
    }
    mark
}

/// Returns the years that have a file in a folder, in order. Any other file there is a mistake.
fn years(folder: &Path) -> Vec<i16> {
    let entries = fs::read_dir(folder).unwrap_or_else(|error| panic!("{}: {error}", folder.display()));
    let mut years: Vec<i16> = entries
        .map(|entry| {
            let name = entry.expect("the folder can be read").file_name();
            let name = name.to_string_lossy();
            let year = name.strip_suffix(".yaml").filter(|year| year.len() == 4);
            year.and_then(|year| year.parse().ok()).unwrap_or_else(|| {
                panic!("{}: `{name}` is no file of a tax year, such as 2024.yaml", folder.display())
            })
        })
        .collect();
    years.sort_unstable();
    years
}
