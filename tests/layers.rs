//! The order of the house: a module uses only those above it in the code map of DEVELOPERS.md.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

/// The modules of the code map and their rows, counted from the top.
fn code_map() -> BTreeMap<String, usize> {
    let text = fs::read_to_string(root().join("DEVELOPERS.md")).expect("DEVELOPERS.md");
    let (_, table) = text.split_once("| module | its one subject |").expect("the code map");
    let rows = table.lines().skip(2).take_while(|line| line.starts_with('|')).enumerate();
    let modules = rows.flat_map(|(n, row)| {
        let cell = row.split('|').nth(1).unwrap_or_default();
        cell.split('`').skip(1).step_by(2).map(move |path| (path.to_string(), n)).collect::<Vec<_>>()
    });
    modules
        .map(|(path, n)| (path.trim_start_matches("src/").trim_end_matches(".rs").to_string(), n))
        .collect()
}

/// Every source file, with the module it is of.
fn sources() -> Vec<(String, PathBuf)> {
    fn below(folder: &Path, found: &mut Vec<PathBuf>) {
        for entry in fs::read_dir(folder).expect("a folder") {
            let path = entry.expect("an entry").path();
            match path.is_dir() {
                true => below(&path, found),
                false => found.push(path),
            }
        }
    }
    let src = root().join("src");
    let mut found = Vec::new();
    below(&src, &mut found);
    let of = |path: &PathBuf| {
        let inside = path.strip_prefix(&src).expect("below src").components().next().expect("a name");
        inside.as_os_str().to_string_lossy().trim_end_matches(".rs").to_string()
    };
    // Tests look wherever they like.
    let code = found.into_iter().filter(|path| path.extension().is_some_and(|one| one == "rs"));
    code.filter(|path| path.file_stem().is_some_and(|one| one != "tests" && one != "faults"))
        .map(|path| (of(&path), path))
        .collect()
}

#[test]
fn a_module_uses_only_those_above_it_in_the_code_map() {
    let map = code_map();
    let mut wrong = Vec::new();
    for (module, path) in sources() {
        if ["lib", "main"].contains(&module.as_str()) {
            continue;
        }
        let Some(row) = map.get(&module) else {
            wrong.push(format!("{module} is not in the code map"));
            continue;
        };
        let text = fs::read_to_string(&path).expect("a source file");
        let code = text.split("#[cfg(test)]\nmod tests").next().unwrap_or_default();
        let code = code.lines().filter(|line| !line.trim_start().starts_with("//"));
        let paths = code.flat_map(|line| line.split("crate::").skip(1)).flat_map(used);
        for other in paths.filter(|other| *other != module && map.get(other).is_none_or(|one| one >= row)) {
            wrong.push(format!("{} uses {other}", path.strip_prefix(root()).unwrap_or(&path).display()));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

/// The modules that the text behind `crate::` names: one, or several in braces.
fn used(behind: &str) -> Vec<String> {
    let word = |text: &str| {
        text.chars().take_while(|c| c.is_ascii_lowercase() || *c == '_' || c.is_ascii_digit()).collect()
    };
    match behind.strip_prefix('{') {
        Some(list) => {
            list.split(['}', ';']).next().unwrap_or_default().split(',').map(|one| word(one.trim())).collect()
        }
        None => vec![word(behind)],
    }
}

/// Inside a module that is read as a whole, no file leads round to itself: `record` reads every file that people write,
/// `case` is the house's shape, and whoever reads one of their files must not have to know all others first.
#[test]
fn no_files_of_a_module_use_each_other_in_a_circle() {
    for module in ["record", "case"] {
        let uses = uses_inside(module);
        assert!(uses.values().any(|others| !others.is_empty()), "{module}");
        // Whatever can be taken away because it uses nothing that is left is in no circle.
        let mut left = uses.clone();
        while let Some(done) = left
            .iter()
            .find(|(_, others)| others.iter().all(|one| !left.contains_key(one)))
            .map(|(one, _)| one.clone())
        {
            left.remove(&done);
        }
        assert!(left.is_empty(), "{module}: these lead round to each other: {left:#?}");
    }
}

/// The files of a module, each with those beside it that it names, by path or by what the module hands on from them.
fn uses_inside(module: &str) -> BTreeMap<String, Vec<String>> {
    let folder = root().join("src").join(module);
    let code = |path: &Path| {
        let text = fs::read_to_string(path).expect("a source file");
        let code = text.split("#[cfg(test)]\nmod tests").next().unwrap_or_default();
        code.lines().filter(|line| !line.trim_start().starts_with("//")).collect::<Vec<_>>().join("\n")
    };
    let names = |behind: &str| -> Vec<String> {
        let end = |list: &str| match list.starts_with('{') {
            true => list.find('}'),
            false => list.find(|c: char| !c.is_alphanumeric() && c != '_'),
        };
        let list = &behind[..end(behind).unwrap_or(behind.len())];
        list.split(|c: char| !c.is_alphanumeric() && c != '_')
            .filter(|one| !one.is_empty())
            .map(String::from)
            .collect()
    };
    let mut handed_on = BTreeMap::new();
    for line in code(&folder.join("mod.rs")).split(';') {
        if let Some((_, used)) = line.split_once("use ")
            && line.contains("pub")
            && let Some((file, list)) = used.split_once("::")
        {
            handed_on.extend(names(list).into_iter().map(|name| (name, file.to_string())));
        }
    }
    let entries = fs::read_dir(&folder).expect("a folder").map(|entry| entry.expect("an entry").path());
    let files: BTreeMap<String, String> = entries
        .filter(|path| path.extension().is_some_and(|one| one == "rs"))
        .map(|path| (path.file_stem().unwrap_or_default().to_string_lossy().into_owned(), code(&path)))
        .filter(|(name, _)| !["mod", "tests"].contains(&name.as_str()))
        .collect();
    let own = format!("crate::{module}::");
    let uses = |(name, code): (&String, &String)| {
        let named = code.split("super::").skip(1).chain(code.split(&own).skip(1)).flat_map(names);
        let others = named.map(|one| handed_on.get(&one).cloned().unwrap_or(one));
        (name.clone(), others.filter(|one| one != name && files.contains_key(one)).collect())
    };
    files.iter().map(uses).collect()
}
