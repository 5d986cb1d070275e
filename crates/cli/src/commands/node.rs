//! `roomrig node`: one device of a room in a process of its own.

use std::path::Path;
use std::sync::Arc;

use live::Part;
use room::Device;
use scenario::diagnostic::{all_of, nearest};
use tokio::net::TcpStream;

use crate::args;
use crate::failure::Failure;
use crate::{Ended, Outcome, rooms};

/// Runs `roomrig node`.
pub(crate) fn run(args: &args::Node) -> Outcome {
    let part = part(&args.path, &args.device)?;
    let served = super::live::runtime()?.block_on(async {
        let stream = TcpStream::connect(args.host).await.map_err(|error| {
            let message = format!("{} cannot be reached: {error}", args.host);
            Failure::new(
                message,
                "is `roomrig live` running, and does it listen there?",
            )
        })?;
        // Answers are small and each is waited for.
        let _unimportant = stream.set_nodelay(true);
        Ok::<_, Failure>(live::serve(part, &args.token, stream).await)
    })?;
    match served {
        Ok(()) => Ok(Ended::Held),
        Err(error) => Err(Failure::caused(&error, "")),
    }
}

/// The device as the files at `path` say it is.
fn part(path: &Path, name: &str) -> Result<Part, Failure> {
    if path.is_dir() {
        let plan = super::live::room(path)?.0;
        let device = device(&plan, name)?;
        return Ok(Part::of_room(plan, device));
    }
    let (_, script) = rooms::open_one(path)?;
    let device = device(&script.plan, name)?;
    Ok(Part::of_script(&script, device))
}

/// The device of this name.
pub(crate) fn device(plan: &Arc<room::Plan>, name: &str) -> Result<Device, Failure> {
    let known = live::devices(plan);
    known.get(name).copied().ok_or_else(|| {
        let names: Vec<&str> = known.keys().map(String::as_str).collect();
        let hint = match nearest(name, names.iter().copied()) {
            Some(near) => format!("did you mean `{near}`?"),
            None => format!("the devices are {}", all_of(names.iter().copied())),
        };
        Failure::new(format!("the room has no device `{name}`"), &hint)
    })
}
