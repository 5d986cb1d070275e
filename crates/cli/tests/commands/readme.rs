//! What README shows is what the program says.

use crate::{Folder, roomrig, root};

fn readme() -> String {
    std::fs::read_to_string(root().join("README.md")).expect("README.md is there")
}

/// The blocks of README between fences, without the fences.
fn blocks(text: &str) -> Vec<&str> {
    text.split("```").skip(1).step_by(2).collect()
}

#[test]
fn the_picture_is_what_draw_draws() {
    let folder = Folder::new("readme-picture");
    let drawn = folder.0.join("picture.svg");
    let drawn = drawn.to_str().unwrap();
    let scenario = "scenarios/private-office/quiet-reading.toml";
    assert!(readme().contains("](.readme/quiet-reading.svg)"));
    assert!(readme().contains(&format!("`roomrig draw {scenario}`")));
    roomrig(&["draw", scenario, "-o", drawn]).ends_with(0);
    let shown = std::fs::read(root().join(".readme/quiet-reading.svg")).unwrap();
    assert!(
        shown == folder.read("picture.svg"),
        "run: roomrig draw {scenario} -o .readme/quiet-reading.svg"
    );
}

#[test]
fn the_answers_are_what_why_answers() {
    let text = readme();
    let mut asked = 0;
    for block in blocks(&text) {
        let Some((line, answer)) = block.trim_start().split_once('\n') else {
            continue;
        };
        let Some(args) = line.strip_prefix("$ roomrig ") else {
            continue;
        };
        let args: Vec<&str> = args.split(' ').collect();
        assert_eq!(roomrig(&args).ends_with(0).text(), answer, "{line}");
        asked += 1;
    }
    assert!(asked > 0 && text.contains("--at 09:20\n"));
}

#[test]
fn the_failure_is_what_run_prints() {
    let text = readme();
    let block = |block: &&&str| block.contains("✗ desk-lights is off at 17:15:01");
    let blocks = blocks(&text);
    let shown = blocks.iter().find(block).expect("README shows a failure");
    // The office of the annex, with a check that comes before the lights have gone off.
    let folder = Folder::new("readme-failure");
    let office = "scenarios/private-office";
    folder.copy(office, office);
    let scenario = format!("{office}/back-for-the-keys.toml");
    folder.change(&scenario, "\"17:15:06\"", "\"17:15:01\"");
    let told = folder.run(&["run", &scenario]).ends_with(1);
    assert!(told.text().contains(shown.trim_start()), "{}", told.text());
}

#[test]
fn the_loss_and_the_sweep_are_what_prove_prints() {
    let text = readme();
    let blocks = blocks(&text);
    let shown = |begins: &str| {
        let mut blocks = blocks.iter().map(|it| it.trim_start());
        let block = blocks.find(|it| it.starts_with(begins));
        block.unwrap_or_else(|| panic!("README shows no {begins}"))
    };
    let lose = "prove scenarios/three-offices --lose 1 -c T1 -c T2 -c T4.201";
    assert!(text.contains(&format!("`roomrig {lose}`")));
    let args: Vec<&str> = lose.split(' ').collect();
    let told = roomrig(&args).ends_with(1);
    assert!(told.text().contains(shown("✗ T4.201")), "{}", told.text());
    assert!(
        told.text().contains(": 2 proved, 1 broken\n"),
        "{}",
        told.text()
    );
    let sweep = "wall-sensor time-delay = 5 min to 25 min every 5 min";
    let office = "prove scenarios/private-office -c A9 -c A10 --sweep";
    assert!(text.contains(&format!("`roomrig {office} '{sweep}'`")));
    let args: Vec<&str> = office.split(' ').chain([sweep]).collect();
    let told = roomrig(&args).ends_with(1);
    assert!(
        told.text().starts_with(shown("Office 112")),
        "{}",
        told.text()
    );
}

#[test]
fn the_exit_codes_are_the_ones_of_the_help() {
    let help = roomrig(&["--help"]).ends_with(0);
    let codes = help
        .text()
        .split_once("Exit codes:\n")
        .expect("help lists them")
        .1;
    let codes: Vec<&str> = codes
        .lines()
        .map(|line| line.trim_start().get(..1).unwrap_or(""))
        .collect();
    assert_eq!(codes, ["0", "1", "2", "3"]);
    assert!(readme().contains("Exit codes: 0 everything held, 1 something broke, 2 bad usage"));
}
