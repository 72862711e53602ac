//! The `gablework` command: everything it does is in the library's `cli`.

#![forbid(unsafe_code)]

fn main() -> std::process::ExitCode {
    gablework::cli::run(std::env::args_os())
}
