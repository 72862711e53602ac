//! Other people's code: under which licenses, from where, each once; and the bill of materials of what is shipped.
//!
//! What is allowed stands in `.deny.toml`. Cargo is asked, without a network. Whether anything is known to be unsafe
//! needs the database of advisories, which lies elsewhere: `cargo deny check advisories` asks it.

use serde_json::{Value, json};
use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::Path;
use std::process::Command;

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

/// One library: name, version, license as its author wrote it.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
struct Library {
    name: String,
    version: String,
    license: String,
}

/// Asks Cargo for libraries, each with its depth in the tree, for this machine.
fn tree(edges: &str) -> Vec<(usize, Library)> {
    let out = Command::new(env!("CARGO"))
        .current_dir(root())
        .args([
            "tree",
            "--offline",
            "--locked",
            "--edges",
            edges,
            "--prefix",
            "depth",
            "--format",
            " {p}|{l}",
        ])
        .output()
        .expect("cargo runs");
    assert!(out.status.success(), "{}", String::from_utf8_lossy(&out.stderr));
    let text = String::from_utf8(out.stdout).expect("text");
    let library = |line: &str| {
        let (depth, rest) = line.split_once(' ')?;
        let (package, license) = rest.split_once('|')?;
        let (name, version) = package.split_once(" v")?;
        let version = version.split(' ').next()?;
        let license = license.trim_end_matches(" (*)").to_string();
        Some((depth.parse().ok()?, Library { name: name.into(), version: version.into(), license }))
    };
    let lines = text.lines().filter(|line| !line.is_empty());
    lines.map(|line| library(line).unwrap_or_else(|| panic!("cargo tree says `{line}`"))).collect()
}

/// The quoted words of a list in `.deny.toml`.
fn list(key: &str) -> Vec<String> {
    let text = fs::read_to_string(root().join(".deny.toml")).expect("the file");
    let (_, rest) = text.split_once(&format!("\n{key} = [")).unwrap_or_else(|| panic!("`{key}` is absent"));
    let (inside, _) = rest.split_once("\n]").unwrap_or_else(|| rest.split_once(']').expect("an end"));
    let quoted = |line: &str| line.split('"').skip(1).step_by(2).map(str::to_string).collect::<Vec<_>>();
    inside.lines().filter(|line| !line.trim_start().starts_with('#')).flat_map(quoted).collect()
}

/// Says whether an expression of licenses (SPDX 2.3, annex D) can be met with those allowed: of `OR` one, of `AND` all.
fn met(expression: &str, allowed: &[String]) -> bool {
    // Older packages divide by a stroke what is meant as `OR`.
    let text = expression.replace('/', " OR ").replace('(', " ( ").replace(')', " ) ");
    let words: Vec<&str> = text.split_whitespace().collect();
    let mut at = 0;
    let met = any(&words, &mut at, allowed);
    assert_eq!(at, words.len(), "`{expression}` is not understood");
    met
}

fn any(words: &[&str], at: &mut usize, allowed: &[String]) -> bool {
    let mut met = all(words, at, allowed);
    while words.get(*at) == Some(&"OR") {
        *at += 1;
        met |= all(words, at, allowed);
    }
    met
}

fn all(words: &[&str], at: &mut usize, allowed: &[String]) -> bool {
    let mut met = one(words, at, allowed);
    while words.get(*at) == Some(&"AND") {
        *at += 1;
        met &= one(words, at, allowed);
    }
    met
}

fn one(words: &[&str], at: &mut usize, allowed: &[String]) -> bool {
    let word = words.get(*at).copied().unwrap_or_default();
    *at += 1;
    if word == "(" {
        let met = any(words, at, allowed);
        *at += 1;
        return met;
    }
    let mut license = word.to_string();
    if words.get(*at) == Some(&"WITH") {
        license = format!("{word} WITH {}", words.get(*at + 1).copied().unwrap_or_default());
        *at += 2;
    }
    allowed.contains(&license)
}

#[test]
fn expressions_of_licenses_are_read_as_the_standard_has_them() {
    let allowed = ["MIT", "Zlib", "Apache-2.0 WITH LLVM-exception"].map(String::from);
    for (expression, expected) in [
        ("MIT", true),
        ("GPL-3.0-only", false),
        ("GPL-3.0-only OR MIT", true),
        ("GPL-3.0-only/MIT", true),
        ("MIT AND GPL-3.0-only", false),
        ("(GPL-3.0-only OR MIT) AND Zlib", true),
        ("MIT AND (GPL-3.0-only OR AGPL-3.0-only)", false),
        ("Apache-2.0 WITH LLVM-exception", true),
        ("Apache-2.0", false),
    ] {
        assert_eq!(met(expression, &allowed), expected, "{expression}");
    }
}

#[test]
fn every_license_is_allowed_and_every_allowed_one_is_used() {
    let allowed = list("allow");
    let libraries: BTreeSet<Library> = tree("normal,build,dev").into_iter().map(|(_, one)| one).collect();
    assert!(libraries.len() > 150);
    for one in &libraries {
        assert!(met(&one.license, &allowed), "{} {}: `{}`", one.name, one.version, one.license);
    }
    for license in &allowed {
        let rest: Vec<String> = allowed.iter().filter(|one| *one != license).cloned().collect();
        let needs = |one: &&Library| !met(&one.license, &rest);
        assert!(
            libraries.iter().any(|one| needs(&one)) || license == "Apache-2.0",
            "nothing needs {license}"
        );
    }
}

#[test]
fn a_library_stands_twice_only_for_a_reason() {
    let mut versions: BTreeMap<String, BTreeSet<String>> = BTreeMap::new();
    for (_, one) in tree("normal,build,dev") {
        versions.entry(one.name).or_default().insert(one.version);
    }
    let skipped: Vec<String> = list("skip").chunks(2).map(|pair| pair[0].clone()).collect();
    let of_skip = |name: &str, version: &str| {
        skipped.iter().any(|skip| {
            let (known, start) = skip.split_once('@').expect("a name and a version");
            known == name && (version == start || version.starts_with(&format!("{start}.")))
        })
    };
    for (name, versions) in &versions {
        let kept: Vec<&String> = versions.iter().filter(|version| !of_skip(name, version)).collect();
        assert!(kept.len() <= 1, "{name} stands as {versions:?}, and `.deny.toml` gives no reason");
    }
    for skip in &skipped {
        let name = skip.split('@').next().unwrap_or_default();
        assert!(versions.get(name).is_some_and(|versions| versions.len() > 1), "{skip} stands once now");
    }
}

/// What `Cargo.lock` says of every library: where it comes from, and its checksum.
fn locked() -> BTreeMap<(String, String), (String, String)> {
    let text = fs::read_to_string(root().join("Cargo.lock")).expect("the lock file");
    let value = |block: &str, key: &str| {
        let line = block.lines().find_map(|line| line.strip_prefix(&format!("{key} = \"")));
        line.and_then(|rest| rest.strip_suffix('"')).unwrap_or_default().to_string()
    };
    let blocks = text.split("[[package]]").skip(1);
    blocks
        .map(|block| {
            (
                (value(block, "name"), value(block, "version")),
                (value(block, "source"), value(block, "checksum")),
            )
        })
        .collect()
}

#[test]
fn everything_comes_from_the_registry_with_its_checksum() {
    let from = list("allow-registry");
    for ((name, version), (source, checksum)) in locked() {
        if name == "gablework" {
            continue;
        }
        let known =
            source.strip_prefix("registry+").is_some_and(|source| from.iter().any(|one| one == source));
        assert!(known, "{name} {version} comes from `{source}`");
        assert!(checksum.len() == 64, "{name} {version} has no checksum");
    }
}

/// Makes the bill of materials of the program for this machine, in CycloneDX 1.5 (ECMA-424): what is in it, from where,
/// with checksums and licenses, and what asks for what. No day and no random number stands in it.
fn bill() -> Value {
    let locked = locked();
    let own = |one: &Library| one.name == "gablework";
    let reference = |one: &Library| format!("pkg:cargo/{}@{}", one.name, one.version);
    let expression = |one: &Library| one.license.replace(" / ", " OR ").replace('/', " OR ");
    let tree = tree("normal,no-proc-macro");
    let libraries: BTreeSet<&Library> = tree.iter().map(|(_, one)| one).collect();
    let mut needs: BTreeMap<String, BTreeSet<String>> =
        libraries.iter().map(|one| (reference(one), BTreeSet::new())).collect();
    let mut above: Vec<String> = Vec::new();
    for (depth, one) in &tree {
        above.truncate(*depth);
        if let Some(parent) = above.last() {
            needs.entry(parent.clone()).or_default().insert(reference(one));
        }
        above.push(reference(one));
    }
    let mut components: Vec<Value> = libraries
        .iter()
        .filter(|one| !own(one))
        .map(|one| {
            let (_, checksum) = &locked[&(one.name.clone(), one.version.clone())];
            json!({
                "type": "library",
                "bom-ref": reference(one),
                "name": one.name,
                "version": one.version,
                "hashes": [{"alg": "SHA-256", "content": checksum}],
                "licenses": [{"expression": expression(one)}],
                "purl": reference(one),
            })
        })
        .collect();
    components.push(json!({
        "type": "data",
        "bom-ref": "layouts/fonts",
        "name": "Source Sans 3",
        "description": "the typeface, embedded in the program and, cut down, in every PDF",
        "licenses": [{"license": {"id": "OFL-1.1"}}],
    }));
    let program = libraries.iter().find(|one| own(one)).expect("the program itself");
    json!({
        "$schema": "http://cyclonedx.org/schema/bom-1.5.schema.json",
        "bomFormat": "CycloneDX",
        "specVersion": "1.5",
        "version": 1,
        "metadata": {"component": {
            "type": "application",
            "bom-ref": reference(program),
            "name": program.name,
            "version": program.version,
            "licenses": [{"expression": expression(program)}],
            "purl": reference(program),
        }},
        "components": components,
        "dependencies": needs.into_iter().map(|(one, needs)| json!({"ref": one, "dependsOn": needs})).collect::<Vec<_>>(),
    })
}

/// Writes the bill into the folder of built things, where a release takes it from.
#[test]
fn the_bill_of_materials_is_whole() {
    let bill = bill();
    let components = bill["components"].as_array().expect("components");
    let names: BTreeSet<&str> = components.iter().filter_map(|one| one["name"].as_str()).collect();
    let manifest = fs::read_to_string(root().join("Cargo.toml")).expect("the manifest");
    let (_, rest) = manifest.split_once("[dependencies]\n").expect("dependencies");
    let (direct, _) = rest.split_once("\n\n").expect("an end");
    // Macros that work only while the program is built are no part of it.
    for line in direct.lines() {
        let name = line.split(' ').next().unwrap_or_default();
        let package =
            line.split("package = \"").nth(1).and_then(|rest| rest.split('"').next()).unwrap_or(name);
        assert!(names.contains(package), "{package} is not in the bill");
    }
    for library in ["proptest", "criterion", "jsonschema"] {
        assert!(!names.contains(library), "{library} is for tests and stands in the bill");
    }
    let references: BTreeSet<&str> = components.iter().filter_map(|one| one["bom-ref"].as_str()).collect();
    assert_eq!(references.len(), components.len());
    for one in bill["dependencies"].as_array().expect("dependencies") {
        for needed in one["dependsOn"].as_array().expect("a list") {
            assert!(references.contains(needed.as_str().expect("a reference")), "{needed} is no component");
        }
    }
    for one in components.iter().filter(|one| one["type"] == "library") {
        assert_eq!(one["hashes"][0]["content"].as_str().map(str::len), Some(64), "{one}");
    }
    let path = Path::new(env!("CARGO_TARGET_TMPDIR")).join("gablework.cdx.json");
    fs::write(path, format!("{bill:#}\n")).expect("a file");
}
