//! `roomrig new`: a folder with a commented starter room.

use std::fs;
use std::io::ErrorKind;

use scenario::diagnostic::all_of;
use scenario::starter::{STARTERS, starter};

use crate::args;
use crate::failure::Failure;
use crate::{Ended, Outcome, output};

/// Runs `roomrig new`. The folder is made as a whole or not at all.
pub(crate) fn run(args: &args::New) -> Outcome {
    let folder = &args.folder;
    let Some(files) = starter(&args.like) else {
        let names = STARTERS.iter().map(|(name, _)| *name);
        let message = format!("there is no starter room `{}`", args.like);
        return Err(Failure::new(
            message,
            &format!("there are {}", all_of(names)),
        ));
    };
    fs::create_dir(folder).map_err(|error| {
        let hint = match error.kind() {
            ErrorKind::AlreadyExists => "name a folder that is not there yet",
            ErrorKind::NotFound => "the folder above must be there",
            _ => "may you write there?",
        };
        Failure::new(
            format!("{}: cannot be made: {error}", folder.display()),
            hint,
        )
    })?;
    for file in files {
        if let Err(failure) = output::file(&folder.join(file.name), file.text.as_bytes()) {
            // Half a room helps nobody; what cannot be removed either is reported anyway.
            let _left = fs::remove_dir_all(folder);
            return Err(failure);
        }
    }
    let folder = folder.display();
    output::talk(&format!(
        "made {folder}; next: roomrig run {folder}, then change a line and run it again"
    ));
    Ok(Ended::Held)
}
