//! Good but unusual cases under `tests/good`: exactly the findings that the first line of each names, so that nothing
//! is asked without need.

use gablework::assemble;
use gablework::finding::Sources;
use gablework::law::Law;
use std::fs;
use std::path::Path;

#[test]
fn good_cases_raise_no_false_alarm() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/good");
    let mut files: Vec<_> = fs::read_dir(folder).unwrap().map(|one| one.unwrap().path()).collect();
    files.sort();
    let mut wrong = Vec::new();
    for file in &files {
        let name = file.file_name().unwrap().to_string_lossy().into_owned();
        let text = fs::read_to_string(file).unwrap();
        let first = text
            .lines()
            .next()
            .unwrap()
            .strip_prefix("# finds: ")
            .unwrap_or_else(|| panic!("{name}: no list"));
        let wanted: Vec<&str> = first.split(", ").filter(|code| *code != "nothing").collect();
        let computed = assemble::compute(&name, text.as_bytes(), Law::built_in(), Sources::default());
        let computed = computed.unwrap_or_else(|fault| panic!("{name}: {fault}"));
        let mut found: Vec<&str> = computed.outcome.findings.iter().map(|one| one.code).collect();
        found.sort_unstable();
        if found != wanted || computed.outcome.findings.iter().any(|one| one.blocking) {
            let told: Vec<String> =
                computed.outcome.findings.iter().map(|one| one.render(&computed.sources)).collect();
            wrong.push(format!("{name}: wanted {wanted:?}\n{}", told.join("\n")));
        }
    }
    assert!(files.len() >= 20, "only {} cases", files.len());
    assert!(wrong.is_empty(), "{}", wrong.join("\n----\n"));
}
