//! The `gablework` command: everything it does is in the library's `cli`.

fn main() -> std::process::ExitCode {
    gablework::cli::run(std::env::args_os())
}
