//! `completions` and `manual`: the command line described for shells and for `man`, from the one description that
//! also reads it.

use super::{Arguments, End, our_fault, print};
use clap::CommandFactory;
use clap_complete::Shell;

/// Print a script that completes commands and options as one types them in a shell.
#[derive(clap::Args)]
pub(super) struct Completions {
    /// The shell
    #[arg(value_enum)]
    shell: Shell,
}

impl Completions {
    pub(super) fn run(self) -> End {
        let mut script = Vec::new();
        clap_complete::generate(self.shell, &mut Arguments::command(), "gablework", &mut script);
        print(&String::from_utf8_lossy(&script));
        End::Done
    }
}

/// Print a manual page.
#[derive(clap::Args)]
pub(super) struct Manual {
    /// Of which command; without it of the whole program
    command: Option<String>,
}

impl Manual {
    pub(super) fn run(self) -> End {
        let mut whole = Arguments::command();
        // Gives each command its full name, which is what `man` calls its page.
        whole.build();
        let page = match &self.command {
            None => whole,
            Some(name) => match whole.find_subcommand(name) {
                Some(found) => found.clone(),
                None => {
                    let names: Vec<&str> = whole.get_subcommands().map(clap::Command::get_name).collect();
                    tell!("error: there is no command `{name}`\nhelp: write one of: {}", names.join(", "));
                    return End::Usage;
                }
            },
        };
        let mut text = Vec::new();
        match clap_mangen::Man::new(page).render(&mut text) {
            Ok(()) => print(&String::from_utf8_lossy(&text)),
            Err(error) => return our_fault(&error),
        }
        End::Done
    }
}
