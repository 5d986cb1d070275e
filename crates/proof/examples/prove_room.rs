use std::sync::atomic::AtomicBool;
struct O(std::time::Instant);
impl proof::Observer for O {
    fn answers(&self, _: usize, a: &proof::Answer) {
        let v = match &a.verdict {
            proof::Verdict::Proved(w) => format!("PROVED example {}", w.is_some()),
            proof::Verdict::Broken(w) => format!(
                "BROKEN {}\n{}",
                w.happenings,
                if std::env::args().len() > 2 {
                    &w.text
                } else {
                    ""
                }
            ),
            o => format!("{o:?}"),
        };
        println!("{:8} {:?} {:?} {}", a.id, self.0.elapsed(), a.effort, v);
    }
}
fn main() {
    let args: Vec<String> = std::env::args().collect();
    let suite = scenario::suite::Suite::open(&[std::path::PathBuf::from(&args[1])]).unwrap();
    for room in &suite.rooms {
        println!("=== {:?}", room.room.as_ref().unwrap().plan.name);
        let file = room.room.as_ref().unwrap();
        let clauses: Vec<u16> = (0..file.plan.clauses.len() as u16)
            .filter(|c| args.len() < 3 || file.plan.clauses[*c as usize].id == args[2])
            .collect();
        let mut terms = proof::Terms::default();
        if let Ok(n) = std::env::var("LOSE") {
            terms.lose = n.parse().unwrap();
        }
        let b = proof::Budget {
            transitions: std::env::var("T")
                .map(|t| t.parse().unwrap())
                .unwrap_or(2_000_000),
            ..proof::Budget::default()
        };
        proof::prove(
            file,
            &clauses,
            &terms,
            b,
            &O(std::time::Instant::now()),
            &AtomicBool::new(false),
        );
    }
}
