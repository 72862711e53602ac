//! The program, run as people run it, and what it says.

use std::io::Write;
use std::path::Path;
use std::process::{Command, Output, Stdio};

/// The folder of the sources, where the demo cases are.
pub fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

/// The program, about to be run in a folder.
pub fn program(folder: &Path) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_gablework"));
    command.current_dir(folder);
    command
}

/// Runs the program in a folder.
pub fn run(folder: &Path, arguments: &[&str]) -> Output {
    program(folder).args(arguments).output().expect("the program runs")
}

/// Runs the program in a folder with something typed.
pub fn run_typed(folder: &Path, arguments: &[&str], typed: &str) -> Output {
    let mut child = program(folder)
        .args(arguments)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("the program runs");
    // A program that has ended no longer takes what is typed.
    let _ = child.stdin.take().expect("its input").write_all(typed.as_bytes());
    child.wait_with_output().expect("it ends")
}

/// What was printed as data.
pub fn out(output: &Output) -> String {
    String::from_utf8_lossy(&output.stdout).into_owned()
}

/// What was said besides.
pub fn err(output: &Output) -> String {
    String::from_utf8_lossy(&output.stderr).into_owned()
}

/// All that was printed and said.
pub fn said(output: &Output) -> String {
    out(output) + &err(output)
}

/// A path as an argument.
pub fn text(path: &Path) -> &str {
    path.to_str().expect("a scratch path is plain text")
}
