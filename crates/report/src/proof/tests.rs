//! A case with every kind of answer, as JSON, as text and as a page.

use std::collections::BTreeMap;

use proof::{Answer, Bound, Effort, How, Progress, Tightest, Verdict, Why, Witness};

use device::Span;

use super::*;
use crate::draw::{Picture, ProofPage};
use crate::failure::Failure;
use crate::record::{PlaceRecord, Scenario};
use crate::sketch::quiet_reading;
use crate::table::plain;
use crate::timeline::Timeline;

const SCENARIO: &str = "\
title = \"A4 is broken: \\\"sound\\\" <alone>\"
start = \"2026-03-02 08:00\"
expect = \"broken A4\"
rows = [
  [\"start\", \"wall-sensor\", \"motion\"],
  [\"09:15:01\", \"wall-sensor\", \"sound\"],
]
";

fn witness() -> Witness {
    Witness {
        text: SCENARIO.to_owned(),
        happenings: 2,
        length: Span::from_ms(4_501_000),
    }
}

/// A setting of each kind.
fn settings() -> Vec<SettingProof> {
    use proof::settings::{Does, Setting};
    let words = |all: &[&str]| all.iter().map(|it| (*it).to_owned()).collect();
    let mut sources = scenario::Sources::new();
    let place = scenario::Place {
        file: sources.add("room.toml", String::new()),
        start: 0,
        end: 0,
    };
    let all = [
        ("time-delay", Does::Something("30 min".to_owned())),
        ("off-after", Does::Nothing(words(&["24 h", "0 s"]))),
        ("grace", Does::Unknown(Bound::Transitions)),
        (
            "lost",
            Does::Unasked("it is there for when something goes wrong"),
        ),
    ];
    let records = all.map(|(key, does)| {
        let setting = Setting {
            point: "desk-lights".to_owned(),
            key,
            place,
            does,
        };
        let at = PlaceRecord {
            file: "room.toml".to_owned(),
            line: 7,
            column: 13,
        };
        SettingProof::of(&setting, at)
    });
    records.to_vec()
}

fn answer(id: &str, verdict: Verdict, how: How) -> Answer {
    let is_searched = how != How::Links;
    let said = |text: &str| match is_searched {
        true => vec![text.to_owned()],
        false => Vec::new(),
    };
    let mut assumptions = said("No frame is lost.");
    if id == "A4" {
        assumptions.push("card: Nobody presses while the card is <out>.".to_owned());
    }
    Answer {
        clause: 0,
        id: id.to_owned(),
        verdict,
        slice: is_searched.then(|| "desk-lights; wall-sensor motion, sound".to_owned()),
        effort: Effort {
            how,
            classes: 12_345,
            transitions: 67_890,
            bytes: 1 << 20,
            cramped: false,
        },
        assumptions,
        abstractions: said("Fades take no time."),
        tightest: (id == "A5").then_some(Tightest {
            asked: Span::from_minutes(76),
            holds: Span::from_ms(4_500_011),
            longer: true,
            sharp: true,
            follows: false,
        }),
        untold: None,
    }
}

/// The way of links that an answer tells.
fn links(verdict: &Verdict) -> Vec<LinkProof> {
    match verdict {
        Verdict::Linked(_) => vec![LinkProof {
            says: "wall-button is linked to <desk-lights>".to_owned(),
            at: Some(PlaceRecord {
                file: "office/room.toml".to_owned(),
                line: 45,
                column: 1,
            }),
        }],
        _ => Vec::new(),
    }
}

/// How far a search came that was ended by a bound.
fn spent() -> Progress {
    Progress {
        classes: 1_000_000,
        waiting: 4_321,
        transitions: 9_999_999,
        bytes: 1 << 30,
        ..Progress::default()
    }
}

/// A case with every kind of answer, and the run of the one that breaks.
pub(crate) fn case() -> (Case, BTreeMap<(usize, String), Picture>) {
    let sketch = quiet_reading();
    let run = sketch.run(4_800_000);
    let timeline = Timeline::of(&run);
    let failures = Failure::all(&run, &timeline);
    let records = Scenario::of(&run, 0, crate::verdict::Verdict::Broken, &failures).failures;
    let spent = Why::Spent(Bound::Memory, spent());
    let answers = [
        answer("A1", Verdict::Proved(None), How::Links),
        answer("A4", Verdict::Broken(witness()), How::Exact),
        answer("A5", Verdict::Proved(Some(witness())), How::Hull),
        answer("A6", Verdict::NeverExercised, How::Inclusion),
        answer("A7", Verdict::Undecided(spent), How::Exact),
        answer("A9", Verdict::Linked(Vec::new()), How::Links),
    ];
    let clauses = (1..).zip(&answers).map(|(line, answer)| {
        let is_broken = matches!(answer.verdict, Verdict::Broken(_));
        ClauseProof::of(Answered {
            answer,
            says: "Sound alone never turns the <lights> on.",
            place: PlaceRecord {
                file: "office/sequence.toml".to_owned(),
                line,
                column: 8,
            },
            time_ms: Some(1_234 * u64::from(line)),
            file: is_broken.then(|| "out/office/A4-broken.toml".to_owned()),
            failures: if is_broken {
                records.clone()
            } else {
                Vec::new()
            },
            links: links(&answer.verdict),
        })
    });
    let case = Case {
        version: VERSION,
        terms: (&proof::Terms {
            lose: 1,
            ..proof::Terms::default()
        })
            .into(),
        sweeps: Vec::new(),
        rooms: vec![
            RoomProof {
                room: "Office & store".to_owned(),
                file: "office/room.toml".to_owned(),
                setting: None,
                clauses: clauses.collect(),
                settings: settings(),
            },
            RoomProof {
                room: "Stair".to_owned(),
                file: "stair/room.toml".to_owned(),
                setting: None,
                clauses: Vec::new(),
                settings: Vec::new(),
            },
        ],
    };
    let picture = Picture { timeline, failures };
    (case, BTreeMap::from([((0, "A4".to_owned()), picture)]))
}

#[test]
fn a_case_is_told_in_full() {
    let (case, pictures) = case();
    let words = |picture: &Picture| picture.failures.iter().map(|it| it.text(100)).collect();
    let told = pictures
        .iter()
        .map(|(which, it)| (which.clone(), words(it)));
    insta::assert_snapshot!(text(&case, &told.collect(), &plain));
}

#[test]
fn records_of_a_case_read_as_documented_json() {
    let (case, _) = case();
    let json = case.to_json();
    assert_eq!(serde_json::from_str::<Case>(&json).unwrap(), case);
    insta::assert_snapshot!(json);
}

#[test]
fn without_times_no_time_is_told() {
    let (mut case, pictures) = case();
    let clauses = case.rooms.iter_mut().flat_map(|room| &mut room.clauses);
    clauses.for_each(|clause| clause.time_ms = None);
    let page = ProofPage {
        case: &case,
        pictures: &pictures,
    };
    let told = text(&case, &BTreeMap::new(), &plain);
    assert!(!told.contains("  time"), "{told}");
    assert!(!case.to_json().contains("time_ms"));
    assert!(!page.render().contains("Time</th>"));
}

#[test]
fn a_page_has_every_answer_and_fetches_nothing() {
    let (case, pictures) = case();
    let page = ProofPage {
        case: &case,
        pictures: &pictures,
    };
    let text = page.render();
    for clause in &case.rooms[0].clauses {
        assert!(text.contains(&format!(">{}<", clause.id)), "{}", clause.id);
    }
    for said in [
        "no clause: nothing can be proved",
        "can never be put to the test",
        "The bound on memory was hit",
        "wall-button is linked to &lt;desk-lights&gt; (office/room.toml:45:1)",
        "12 345",
        "Nobody presses while the card is &lt;out&gt;.",
        "[&quot;09:15:01&quot;, &quot;wall-sensor&quot;, &quot;sound&quot;]",
        "desk-lights; wall-sensor motion, sound",
        "local code",
    ] {
        assert!(text.contains(said), "{said}");
    }
    for outside in ["http:", "https:", "src=", "@import", "<script", "<link"] {
        assert!(!text.contains(outside), "{outside}");
    }
}

#[test]
fn every_mark_of_a_page_leads_to_a_row() {
    let (case, mut pictures) = case();
    // Two pictures of one run must not lead into each other's rows.
    let mut case = case;
    let again = ClauseProof {
        id: "A8".to_owned(),
        ..case.rooms[0].clauses[1].clone()
    };
    case.rooms[0].clauses.push(again);
    let picture = pictures[&(0, "A4".to_owned())].clone();
    pictures.insert((0, "A8".to_owned()), picture);
    let page = ProofPage {
        case: &case,
        pictures: &pictures,
    };
    let text = page.render();
    let after = |mark: &str| {
        let all = text.split(mark).skip(1);
        let mut all: Vec<&str> = all.filter_map(|rest| rest.split('"').next()).collect();
        all.sort_unstable();
        all
    };
    let ids = after(" id=\"");
    let mut once = ids.clone();
    once.dedup();
    assert_eq!(ids, once);
    let links = after("href=\"#");
    assert!(links.iter().any(|link| link.starts_with("clause-1-A8-e")));
    for link in links {
        assert!(ids.contains(&link), "{link}");
    }
}
