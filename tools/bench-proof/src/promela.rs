//! The room as a Promela model, checked by SPIN.

use std::path::{Path, PathBuf};
use std::process::Command;

use crate::child::{Found, limited};
use crate::steps::{Asked, DELAY, Room, WINDOW};

/// Makes a checker of the room and lets it run; making it is not timed.
pub(crate) fn check(room: Room, folder: &Path) -> Result<Found, String> {
    let pan = make(room, folder)?;
    let pan = pan.to_string_lossy();
    let timed = "TIMEFORMAT='%3U %3S'; time \"$0\" \"$@\"";
    let mut command = limited("bash", &["-c", timed, &pan, "-m1000000", "-w24"]);
    command.current_dir(folder);
    let output = command.output().map_err(|error| error.to_string())?;
    let said = String::from_utf8_lossy(&output.stdout);
    let talk = String::from_utf8_lossy(&output.stderr);
    let holds = if said.contains("assertion violated") {
        false
    } else if said.contains("errors: 0")
        && !said.contains("too small")
        && !said.contains("memory limit")
        && !said.contains("out of memory")
    {
        true
    } else {
        return Ok(Found::none());
    };
    let mut found = Found::states(holds, number(&said, "states, stored") as u64);
    found.nanoseconds = seconds(&talk).ok_or("the shell does not say how long spin took")?;
    found.kib = (number(&said, "total actual memory usage") * 1_024.0) as u64;
    Ok(found)
}

/// The nanoseconds of the last line, which has two numbers of seconds.
fn seconds(talk: &str) -> Option<u128> {
    let parts: Vec<f64> = (talk.lines().last()?.split_whitespace())
        .filter_map(|it| it.parse().ok())
        .collect();
    (parts.len() == 2).then(|| (parts.iter().sum::<f64>() * 1e9) as u128)
}

/// The number at the head of the line that ends so; 0 without one.
fn number(said: &str, what: &str) -> f64 {
    let mut lines = said.lines();
    let line = lines.find(|line| line.contains(what));
    line.and_then(|line| line.split_whitespace().next()?.parse().ok())
        .unwrap_or(0.0)
}

fn make(room: Room, folder: &Path) -> Result<PathBuf, String> {
    std::fs::create_dir_all(folder).map_err(|error| error.to_string())?;
    std::fs::write(folder.join("room.pml"), model(room)).map_err(|error| error.to_string())?;
    run(folder, "spin", &["-a", "room.pml"])?;
    let flags = [
        "-O2",
        "-w",
        "-DSAFETY",
        "-DNOFAIR",
        "-DMEMLIM=6144",
        "-o",
        "pan",
        "pan.c",
    ];
    run(folder, "gcc", &flags)?;
    Ok(folder.join("pan"))
}

fn run(folder: &Path, program: &str, arguments: &[&str]) -> Result<(), String> {
    let output = Command::new(program)
        .args(arguments)
        .current_dir(folder)
        .output()
        .map_err(|error| format!("{program}: {error}"))?;
    if output.status.success() {
        Ok(())
    } else {
        Err(format!(
            "{program}: {}",
            String::from_utf8_lossy(&output.stderr)
        ))
    }
}

/// The model: each way of the loop is one step, one input and then the time.
fn model(room: Room) -> String {
    let sensors = room.sensors;
    let exception = match room.asked {
        Asked::Literal => "",
        Asked::Clause | Asked::Short => " || manual",
    };
    let each = |text: &str| -> String {
        (0..sensors)
            .map(|at| text.replace('#', &at.to_string()))
            .collect()
    };
    let fall = each(
        "  if :: win[#] > 0 -> win[#]-- :: else fi;
  if
  :: vac[#] > 0 ->
     vac[#]--;
     if
     :: vac[#] == 0 ->
        mask = mask & (255 - (1 << #));
        if :: mask == 0 -> lights = 0; receptacle = 0 :: else fi
     :: else
     fi
  :: else
  fi;
",
    );
    let ways = each("  :: d_step { motion(#); pass() }\n  :: d_step { sound(#); pass() }\n");
    format!(
        "#define V {delay}
#define W {window}
#define Q {quiet}
byte vac[{sensors}], win[{sensors}], mask, lights, quiet = Q;
bit receptacle, manual;

inline motion(i) {{
  if
  :: vac[i] == 0 ->
     mask = mask | (1 << i);
     receptacle = 1;
     if :: lights == 0 -> lights = 50 :: else fi
  :: else
  fi;
  vac[i] = V; win[i] = W; quiet = 0; manual = 0
}}

inline sound(i) {{
  if :: vac[i] > 0 && win[i] > 0 -> vac[i] = V :: else fi
}}

inline press() {{
  if :: lights > 0 -> lights = 0 :: else -> lights = 100 fi;
  if :: mask == 0 -> manual = 1 :: else fi
}}

inline pass() {{
{fall}  if :: quiet < Q -> quiet++ :: else fi;
  assert(quiet < Q || lights == 0{exception})
}}

active proctype room() {{
  do
  :: d_step {{ pass() }}
  :: d_step {{ press(); pass() }}
{ways}  od
}}
",
        delay = room.steps(DELAY),
        window = room.steps(WINDOW),
        quiet = room.quiet(),
    )
}
