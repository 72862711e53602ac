//! Writes plausible cases into a folder: `cargo bench --bench season -- write FOLDER --count 10000`.

mod households;

use households::Lot;
use std::path::Path;
use std::process::ExitCode;

const HELP: &str = "\
Cases for timing and for tests over many: cargo bench --bench season -- ARGUMENTS

  write FOLDER [--count N] [--seed N] [--broken PER-THOUSAND]
      writes N cases (10000) below FOLDER, and a firm.yaml; of a thousand, so many are broken (10)
";

fn main() -> ExitCode {
    // The build tool adds `--bench` behind the arguments.
    let given: Vec<String> = std::env::args().skip(1).filter(|one| one != "--bench").collect();
    let given: Vec<&str> = given.iter().map(String::as_str).collect();
    match given.as_slice() {
        ["write", folder, options @ ..] => match lot(options) {
            Some(lot) => write(lot, Path::new(folder)),
            None => wrong(),
        },
        [] => {
            print!("{HELP}");
            ExitCode::SUCCESS
        }
        _ => wrong(),
    }
}

fn lot(options: &[&str]) -> Option<Lot> {
    let mut lot = Lot { count: 10_000, seed: 1, broken: 10 };
    for pair in options.chunks(2) {
        match pair {
            ["--count", number] => lot.count = number.parse().ok()?,
            ["--seed", number] => lot.seed = number.parse().ok()?,
            ["--broken", number] => lot.broken = number.parse().ok().filter(|number| *number <= 1000)?,
            _ => return None,
        }
    }
    Some(lot)
}

fn write(lot: Lot, folder: &Path) -> ExitCode {
    if folder.exists() {
        eprintln!("error: {} is there already; name a folder that is not", folder.display());
        return ExitCode::from(2);
    }
    match lot.write(folder) {
        Ok(()) => {
            let broken = (0..lot.count).filter(|number| lot.breakage(*number).is_some()).count();
            println!("{} cases, {broken} of them broken, in {}", lot.count, folder.display());
            ExitCode::SUCCESS
        }
        Err(error) => {
            eprintln!("error: cannot write below {}: {error}", folder.display());
            ExitCode::from(4)
        }
    }
}

fn wrong() -> ExitCode {
    eprint!("{HELP}");
    ExitCode::from(2)
}
