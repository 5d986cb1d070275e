//! `roomrig prove`: every clause for every input at every moment, or the scenario that breaks it.

mod asked;
mod folder;
mod sweep;
mod watch;

use std::collections::BTreeMap;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

use proof::{Answer, Budget};
use report::draw::{Picture, ProofPage};
use report::proof::{
    Answered, Case, ClauseProof, LinkProof, ProofVerdict, RoomProof, SettingDoes, SettingProof,
};
use report::record::{FailureRecord, Scenario};
use report::run::Run;
use report::table;
use scenario::Sources;
use scenario::script::{Script, load};
use scenario::sequence_file;
use scenario::suite::Suite;

use self::asked::Asked;
use self::folder::Folder;
use self::sweep::Set;
pub(crate) use self::sweep::{Sweep, read as read_sweep};
use self::watch::Watch;
use crate::args::{self, ReportForm};
use crate::failure::Failure;
use crate::output::{self, COLUMNS};
use crate::rooms;
use crate::{Ended, Outcome};

/// Runs `roomrig prove`.
pub(crate) fn run(args: &args::Prove) -> Outcome {
    if let Some(path) = &args.html {
        output::ready(path)?;
    }
    let mut suite = rooms::open_all(&args.paths)?;
    if args.questions {
        ask_what_can_be_asked(&mut suite)?;
    }
    let sets = match &args.sweep {
        Some(sweep) => sweep.spread(&mut suite)?,
        None => Vec::new(),
    };
    let mut asked = Asked::of(&suite, args)?;
    sweep::ask_once(&mut asked, &suite, &sets);
    let folder = match &args.out {
        Some(path) => Some(Folder::ready(path, &suite, &asked)?),
        None => None,
    };
    let stop = stopper()?;
    let watch = Watch::new(&asked, &suite);
    let pool = pool(args, &asked)?;
    let answers = answers(args, &suite, &asked, (&watch, &stop), &pool);
    let settings = match args.questions {
        true => pool.install(|| settings(args, &suite, &asked, &stop)),
        false => Vec::new(),
    };
    watch.ends();
    let files = match &folder {
        Some(folder) => folder.write(&suite, &asked, &answers)?,
        None => BTreeMap::new(),
    };
    let mut told = tell(&mut suite, &asked, &answers, &files);
    let mut case = case(args, &suite, &asked, &answers, &told, &watch);
    for (room, settings) in case.rooms.iter_mut().zip(settings) {
        room.settings = settings;
    }
    add_settings(&mut case, &asked, &sets);
    if let Some(path) = &args.html {
        let page = ProofPage {
            case: &case,
            pictures: &pictures(&mut told),
        };
        output::file(path, page.render().as_bytes())?;
    }
    let text = match args.format {
        ReportForm::Json => case.to_json(),
        ReportForm::Text => words(&case, &told),
    };
    output::data(text.as_bytes())?;
    Ok(ended(&case))
}

/// The questions that can be asked of any room take the place of its clauses.
fn ask_what_can_be_asked(suite: &mut Suite) -> Result<(), Failure> {
    for room in suite.rooms.iter_mut().filter_map(|it| it.room.as_mut()) {
        let text = proof::questions::questions(room);
        let file = suite.sources.add("questions", text);
        let context = Some((room.names(), room.reaction));
        let mut wrong = Vec::new();
        let read = sequence_file::read(&suite.sources, file, context, &mut wrong);
        if !wrong.is_empty() {
            let rendered = wrong.iter().map(|it| it.render(&suite.sources, false));
            return Err(Failure::rendered(rendered.collect::<Vec<_>>().join("\n")));
        }
        room.plan.clauses = read.clauses;
        room.sentences = read.sentences;
        room.halves = read.halves;
        room.daylight = read.daylight;
    }
    Ok(())
}

/// The flag that the first Ctrl-C sets; a second one ends the program.
fn stopper() -> Result<Arc<AtomicBool>, Failure> {
    let stop = Arc::new(AtomicBool::new(false));
    let flag = Arc::clone(&stop);
    let handler = ctrlc::set_handler(move || {
        if flag.swap(true, Ordering::Relaxed) {
            std::process::exit(130);
        }
        output::talk("ends with what is known; press Ctrl-C again to end at once");
    });
    handler.map_err(|error| Failure::caused(&error, ""))?;
    Ok(stop)
}

/// As many threads as asked.
fn pool(args: &args::Prove, asked: &Asked) -> Result<rayon::ThreadPool, Failure> {
    let clauses: usize = asked.rooms.iter().map(|it| it.clauses.len()).sum();
    let mut pool = rayon::ThreadPoolBuilder::new();
    if let Some(threads) = args.jobs {
        // More threads than clauses would only wait.
        pool = pool.num_threads(threads.get().min(clauses.max(1)));
    }
    pool.build().map_err(|error| {
        Failure::new(
            format!("threads cannot be started: {error}"),
            "try `--jobs 1`",
        )
    })
}

fn budget(args: &args::Prove) -> Budget {
    Budget {
        bytes: args.memory,
        transitions: args.steps,
        // The least time is the answer to most of the questions.
        tightest: args.tightest || args.questions,
        ..Budget::default()
    }
}

/// Puts the clauses of all rooms to the symbolic clock.
fn answers(
    args: &args::Prove,
    suite: &Suite,
    asked: &Asked,
    (watch, stop): (&Watch, &AtomicBool),
    pool: &rayon::ThreadPool,
) -> Vec<Vec<Answer>> {
    let rooms: Vec<_> = (asked.rooms.iter())
        .map(|it| {
            let room = rooms::read(&suite.rooms[it.room]);
            (room, it.clauses.clone(), it.terms.clone())
        })
        .collect();
    pool.install(|| proof::prove_all(&rooms, budget(args), watch, stop))
}

/// Asks what each setting does that the file of a room gives.
fn settings(
    args: &args::Prove,
    suite: &Suite,
    asked: &Asked,
    stop: &AtomicBool,
) -> Vec<Vec<SettingProof>> {
    let rooms = asked.rooms.iter().map(|it| {
        let room = rooms::read(&suite.rooms[it.room]);
        let settings = proof::settings::settings(room, &it.terms, budget(args), stop);
        let records = settings.iter().map(|setting| {
            let place = report::outcome::place(&suite.sources, setting.place);
            SettingProof::of(setting, (&place).into())
        });
        records.collect()
    });
    rooms.collect()
}

/// What is known of the scenario of an answer: where it stands, and what its run shows.
#[derive(Debug, Default)]
struct Told {
    file: Option<String>,
    failures: Vec<FailureRecord>,
    words: Vec<String>,
    picture: Option<Picture>,
}

/// The room among those asked, and the id of the clause.
type Which = (usize, String);

/// Runs the scenario of every broken clause, and tells what breaks in it and why.
fn tell(
    suite: &mut Suite,
    asked: &Asked,
    answers: &[Vec<Answer>],
    files: &BTreeMap<Which, String>,
) -> BTreeMap<Which, Told> {
    let mut all = BTreeMap::new();
    for (place, answers) in answers.iter().enumerate() {
        for answer in answers {
            let which = (place, answer.id.clone());
            let file = files.get(&which).cloned();
            let mut told = Told {
                file,
                ..Told::default()
            };
            if let proof::Verdict::Broken(witness) = &answer.verdict {
                let name = told.file.clone().unwrap_or_else(|| folder::name(answer));
                let room = asked.rooms[place].room;
                told.add_run(suite, room, &name, &folder::text(witness));
            }
            all.insert(which, told);
        }
    }
    all
}

impl Told {
    /// Runs a scenario of a room and keeps what broke in it.
    fn add_run(&mut self, suite: &mut Suite, room: usize, name: &str, text: &str) {
        let Some(script) = script(&mut suite.sources, &suite.rooms[room], name, text) else {
            return;
        };
        let outcome = scenario::run::run(&script, 0);

        let run = Run::of(&outcome, &suite.sources, rooms::read(&suite.rooms[room]));
        let (timeline, mut failures) = rooms::breaks(&run);
        for failure in &mut failures {
            // The scenario expects it; whoever asked for a proof did not.
            failure.as_expected = false;
        }
        let words = failures.iter().map(|broken| broken.text(COLUMNS));
        self.words = words.collect();
        self.failures = Scenario::of(&run, 0, outcome.verdict.into(), &failures).failures;
        self.picture = Some(Picture { timeline, failures });
    }
}

/// A scenario that was found, read as if it were a file of the room.
fn script(
    sources: &mut Sources,
    room: &scenario::site::Room,
    name: &str,
    text: &str,
) -> Option<Arc<Script>> {
    let file = sources.add(name, text);
    let mut loaded = load(sources, file, rooms::read(room));
    loaded.scripts.pop().map(Arc::new)
}

/// Everything as records.
fn case(
    args: &args::Prove,
    suite: &Suite,
    asked: &Asked,
    answers: &[Vec<Answer>],
    told: &BTreeMap<Which, Told>,
    watch: &Watch,
) -> Case {
    let rooms = asked.rooms.iter().zip(answers).enumerate();
    let rooms = rooms.map(|(place, (it, answers))| {
        let room = &suite.rooms[it.room];
        let sentences = report::outcome::Sentence::all(rooms::read(room));
        let clauses = answers.iter().map(|answer| {
            let told = &told[&(place, answer.id.clone())];
            let sentence = &sentences[usize::from(answer.clause)];
            ClauseProof::of(Answered {
                answer,
                says: &sentence.says,
                place: (&report::outcome::place(&suite.sources, sentence.place)).into(),
                time_ms: (!args.no_times).then(|| watch.took(place, answer.clause)),
                file: told.file.clone(),
                failures: told.failures.clone(),
                links: links(suite, answer),
            })
        });
        RoomProof {
            room: rooms::read(room).plan.name.clone(),
            file: suite.sources.file(room.file).name().to_owned(),
            setting: None,
            clauses: clauses.collect(),
            settings: Vec::new(),
        }
    });
    Case {
        version: report::proof::VERSION,
        terms: (&asked.terms).into(),
        sweeps: Vec::new(),
        rooms: rooms.collect(),
    }
}

/// Says how each room was set, and adds the tables of a sweep.
fn add_settings(case: &mut Case, asked: &Asked, sets: &[Set]) {
    if sets.is_empty() {
        return;
    }
    for (room, it) in case.rooms.iter_mut().zip(&asked.rooms) {
        room.setting = Some(sets[it.room].to_string());
    }
    case.sweeps = sweep::tables(case, asked, sets);
}

/// The way on which links break a clause; nothing where they do not.
fn links(suite: &Suite, answer: &Answer) -> Vec<LinkProof> {
    let proof::Verdict::Linked(steps) = &answer.verdict else {
        return Vec::new();
    };
    let place = |place| (&report::outcome::place(&suite.sources, place)).into();
    let steps = steps.iter().map(|step| LinkProof {
        says: step.says.clone(),
        at: step.place.map(place),
    });
    steps.collect()
}

/// The runs to draw.
fn pictures(told: &mut BTreeMap<Which, Told>) -> BTreeMap<Which, Picture> {
    let told = told.iter_mut();
    let pictures = told.map(|(which, told)| Some((which.clone(), told.picture.take()?)));
    pictures.flatten().collect()
}

fn words(case: &Case, told: &BTreeMap<Which, Told>) -> String {
    let paint: &table::Paint = if output::colours() {
        &output::paint
    } else {
        &table::plain
    };
    let told = told.iter();
    let told = told.map(|(which, told)| (which.clone(), told.words.clone()));
    report::proof::text(case, &told.collect(), paint)
}

/// What is broken weighs more than what nobody can say.
fn ended(case: &Case) -> Ended {
    use ProofVerdict::{Broken, NeverExercised, Undecided};
    let settings = |does| case.count_settings(does);
    if case.count(Broken) + case.count(NeverExercised) + settings(SettingDoes::Nothing) > 0 {
        Ended::Broken
    } else if case.count(Undecided) + settings(SettingDoes::Unknown) > 0 || case.total() == 0 {
        Ended::Undecided
    } else {
        Ended::Held
    }
}
