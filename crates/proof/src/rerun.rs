//! tmp
use crate::answer::Witness;
use device::Span;
use prover::slice::Slice;
use prover::{Happening, Path};
use scenario::room_file::RoomFile;
pub(crate) fn broken(
    _room: &RoomFile,
    _slice: &Slice,
    _clause: u16,
    path: &Path,
) -> Result<Witness, String> {
    let happenings = path.steps.iter().flat_map(|s| &s.happens).count();
    let text = path
        .steps
        .iter()
        .map(|s| {
            format!(
                "{:?} fired {:?}",
                s.happens
                    .iter()
                    .map(|h| match h {
                        Happening::Input(i) => format!("{i:?}"),
                        o => format!("{o:?}"),
                    })
                    .collect::<Vec<_>>(),
                (&s.fired, &s.started, &s.stopped)
            )
        })
        .collect::<Vec<_>>()
        .join("\n");
    Ok(Witness {
        text,
        happenings,
        length: Span::ZERO,
    })
}
pub(crate) fn exercised(
    room: &RoomFile,
    slice: &Slice,
    clause: u16,
    path: &Path,
) -> Result<Witness, String> {
    broken(room, slice, clause, path)
}
