//! A room with the settings that the shipped rooms do without.

use scenario::Sources;
use scenario::room_file::{RoomFile, read_room};

/// The rooms, read.
pub(crate) fn rooms() -> Vec<RoomFile> {
    let mut sources = Sources::new();
    let file = sources.add("room.toml", RARE.to_owned());
    let (room, found) = read_room(&sources, file, None, None);
    let said: Vec<String> = found.iter().map(|it| it.render(&sources, false)).collect();
    vec![room.unwrap_or_else(|| panic!("{}", said.join("\n")))]
}

const RARE: &str = r#"
name = "Test bay"
time-zone = "Europe/London"

[bus]
copies = "10 %"

[outputs.row-a]
drive = "0-10 V"
relay = "feed"
grace = "10 s"
warning = "30 s"
fade-on = "0 s"

[outputs.row-b]
drive = "0-10 V"
relay = "feed"

[outputs.spot]
drive = "relay"
feedback = "5 s"
table = 4
grace = "5 s"

[outputs.air]
drive = "dry contact"
minimum-on = "30 s"

[outputs.wall]
drive = "0-10 V"

[outputs.outlet]
drive = "receptacle"

[sources.eye]
kind = "occupancy"
senses = ["motion", "sound"]
time-delay = "30 s"
sound-window = "60 s"
sound-grace = "10 s"
hold-off = "100 lx"
repeat = "10 s"
daylight = "10 %"

[sources.eye-b]
kind = "occupancy"
time-delay = "60 s"

[sources.unit]
kind = "switch"
buttons = ["left up/down", "right up/down"]

[sources.pad]
kind = "switch"
buttons = "single"

[sources.photo]
kind = "daylight"
daylight = "20 %"
electric = { row-a = "100 lx" }

[sources.photo-b]
kind = "daylight"
daylight = "20 %"

[sources.reader]
kind = "card"
captive = true
verifies = true
linger = "10 s"

[[links]]
from = "eye"
to = ["row-a", "row-b", "spot", "outlet"]
role = "auto-on"

[[links]]
from = "eye"
to = "air"
role = "auto-on"
run-on = "10 s"

[[links]]
from = "eye-b"
to = "row-a"
role = "partial-on"
level = "80 %"
setback = "20 %"

[[links]]
from = "eye-b"
to = "spot"
role = "manual-on"

[[links]]
from = "unit/left"
to = ["row-a", "row-b"]

[[links]]
from = "unit/right"
to = ["row-a", "spot", "wall"]

[[links]]
from = "pad"
to = ["wall", "spot"]

[[links]]
from = "reader"
to = "wall"

[[links]]
from = "photo"
to = "row-a"
role = "limit"
night = { sensor = "100 lx", task = "500 lx" }
day = { sensor = "200 lx", task = "400 lx" }
dark-after = "30 s"

[[links]]
from = "photo-b"
to = "row-b"
role = "limit"
loop = "open"
night = { sensor = "0 lx", task = "0 lx" }
day = { sensor = "200 lx", task = "400 lx" }

[[links]]
from = "photo-b"
to = "wall"
role = "limit"
loop = "open"
"#;
