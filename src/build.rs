//! Lists the editions that the program carries: one file of law and one official line map for each tax year.
//!
//! A new edition is a new file and no line of code, so the lists are made from the folders when the program is built.

use std::fs;
use std::path::Path;

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
    let span = format!("{}..={}\n", law.first().expect("a year"), law.last().expect("a year"));
    let write = |name: &str, text: String| {
        fs::write(Path::new(&out).join(name), text).expect("the folder for what is made can be written");
    };
    write("law_files.rs", list(&law, "src/law/years", "law"));
    write("official_files.rs", list(&maps, "layouts/official", "official"));
    write("law_span.rs", span);
    println!("cargo::rerun-if-changed=src/build.rs");
    println!("cargo::rerun-if-changed=src/law/years");
    println!("cargo::rerun-if-changed=layouts/official");
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
