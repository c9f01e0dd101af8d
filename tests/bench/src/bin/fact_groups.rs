//! Where the time of a review goes: every fact that a rule in force reads is asked of every example, group by group, in an
//! order in which no group pays for one before it. `cargo run --release --bin fact_groups` in this folder; it prints shares.

use std::path::Path;
use std::time::{Duration, Instant};

use tractwright::build::Build;
use tractwright::build::files::{DiskLoader, Files};
use tractwright::facts::{Group, Scope, Sites, find};
use tractwright::review::BuildVocabulary;
use tractwright::rules::{Catalogue, Whose};
use tractwright::text::{FileId, Limits, parse};
use tractwright::tract::SubjectKind;

const GROUPS: [Group; 4] = [Group::Graph, Group::Steady, Group::Statics, Group::TipOut];

fn main() {
    let start = Instant::now();
    let (catalogue, _) = Catalogue::embedded(&BuildVocabulary);
    let rules = start.elapsed();
    let project = Path::new(env!("CARGO_MANIFEST_DIR")).join("../..");
    let folder = project.join("examples");
    let mut names: Vec<_> = std::fs::read_dir(&folder)
        .expect("the examples lie beside")
        .filter_map(|entry| Some(entry.ok()?.path()))
        .filter(|path| path.extension().is_some_and(|ending| ending == "yaml"))
        .collect();
    names.sort();
    let (mut reading, mut groups) = (Duration::ZERO, [Duration::ZERO; 4]);
    for path in &names {
        let from = Instant::now();
        let text = std::fs::read_to_string(path).expect("an example can be read");
        let root = parse(FileId(0), &text, &Limits::default()).root.expect("an example is no empty text");
        let loader = DiskLoader::new(&project, Path::new("examples"), 1 << 22).expect("the folder can be opened");
        let build = Build::read(FileId(0), &root, &Files::new(Box::new(loader), Limits::default()));
        reading += from.elapsed();
        let scope = Scope::new(&build);
        let whole = scope.whole_build();
        for (group, time) in GROUPS.iter().zip(&mut groups) {
            let from = Instant::now();
            for rule in catalogue.rules().iter().filter(|rule| rule.is_in_force()) {
                for (whose, fact) in rule.facts() {
                    let kind = if whose == Whose::It { rule.for_each } else { SubjectKind::Build };
                    if find(kind, &fact).is_none_or(|(row, _)| row.group != *group) {
                        continue;
                    }
                    if whose == Whose::It {
                        for subject in scope.tract().subjects(kind) {
                            std::hint::black_box(scope.fact(&subject, &fact, Sites::All));
                        }
                    } else {
                        std::hint::black_box(scope.fact(&whole, &fact, Sites::All));
                    }
                }
            }
            *time += from.elapsed();
        }
    }
    let total: Duration = groups.iter().sum::<Duration>() + reading + rules;
    let share = |time: Duration| 100.0 * time.as_secs_f64() / total.as_secs_f64();
    println!("{} examples, {:.2} s in all", names.len(), total.as_secs_f64());
    println!("reading the rules: {:.2} %", share(rules));
    println!("reading the texts: {:.2} %", share(reading));
    for (group, time) in GROUPS.iter().zip(groups) {
        println!("facts of the group {}: {:.2} %", group.word(), share(time));
    }
}
