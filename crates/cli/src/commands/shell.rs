//! What a shell and `man` want to know of the command line.

use clap::CommandFactory;

use crate::args::{self, Cli};
use crate::{Ended, Outcome, output};

/// Prints the completions for a shell.
pub(crate) fn completions(args: &args::Completions) -> Outcome {
    let mut script = Vec::new();
    clap_complete::generate(args.shell, &mut Cli::command(), "roomrig", &mut script);
    output::data(&script)?;
    Ok(Ended::Held)
}

/// Prints the manual page, with a section for each command.
pub(crate) fn manual() -> Outcome {
    let mut page = Vec::new();
    let command = Cli::command();
    clap_mangen::Man::new(command.clone()).render(&mut page)?;
    for sub in command.get_subcommands() {
        let name = format!("roomrig-{}", sub.get_name());
        let sub = sub.clone().display_name(name.clone()).bin_name(name);
        clap_mangen::Man::new(sub).render(&mut page)?;
    }
    output::data(&page)?;
    Ok(Ended::Held)
}
