//! `roomrig schema`: what an editor needs to know of a file.

use scenario::schema::{FileKind, schema};

use crate::args::{self, SchemaFile};
use crate::{Ended, Outcome, output};

/// Runs `roomrig schema`.
pub(crate) fn run(args: &args::Schema) -> Outcome {
    let kind = match args.file {
        SchemaFile::Room => FileKind::Room,
        SchemaFile::Sequence => FileKind::Sequence,
        SchemaFile::Scenario => FileKind::Scenario,
        SchemaFile::Site => FileKind::Site,
    };
    output::data(format!("{:#}\n", schema(kind)).as_bytes())?;
    Ok(Ended::Held)
}
