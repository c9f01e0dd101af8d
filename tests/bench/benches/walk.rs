//! What a review costs, step by step, on one core. Quote ratios of one run, not absolute times.

use std::path::Path;

use divan::{Bencher, black_box};
use tractwright::build::Build;
use tractwright::build::files::{DiskLoader, Files};
use tractwright::known::Unrecorded;
use tractwright::model::Steady;
use tractwright::review::{BuildVocabulary, Options, Review, Reviewer};
use tractwright::rules::{Catalogue, embedded_files};
use tractwright::text::{FileId, Limits, parse};

const TEXT: &str = include_str!("../../../examples/hill-climb.yaml");

fn main() {
    divan::main();
}

fn files() -> Files {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("../..");
    let loader = DiskLoader::new(&root, Path::new("examples"), 1 << 22).expect("the project's folder");
    Files::new(Box::new(loader), Limits::default())
}

/// The yardstick: the parser's events alone.
#[divan::bench]
fn a_yaml_events_alone() -> usize {
    granit_parser::Parser::new_from_str(black_box(TEXT)).map_while(Result::ok).count()
}

#[divan::bench]
fn b_text_to_tree() {
    black_box(parse(FileId(0), black_box(TEXT), &Limits::default()));
}

#[divan::bench]
fn c_tree_to_build(bencher: Bencher) {
    let files = files();
    let root = parse(FileId(0), TEXT, files.limits()).root.expect("a tree");
    bencher.bench_local(|| black_box(Build::read(FileId(0), &root, &files)));
}

#[divan::bench]
fn d_steady_points(bencher: Bencher) {
    let files = files();
    let root = parse(FileId(0), TEXT, files.limits()).root.expect("a tree");
    let build = Build::read(FileId(0), &root, &files);
    bencher.bench_local(|| black_box(Steady::solve(&build, &Unrecorded)));
}

/// Operating points for each second of one core: items are points, off boost and boosted, of all three sites.
#[divan::bench]
fn d2_operating_points(bencher: Bencher) {
    let files = files();
    let root = parse(FileId(0), TEXT, files.limits()).root.expect("a tree");
    let build = Build::read(FileId(0), &root, &files);
    let count = |steady: &Steady| {
        steady.sites.iter().filter_map(|site| site.points.exact()).map(Vec::len).sum::<usize>()
    };
    let points = count(&Steady::solve(&build, &Unrecorded));
    bencher
        .counter(divan::counter::ItemsCount::new(points))
        .bench_local(|| black_box(Steady::solve(&build, &Unrecorded)));
}

/// A thousand builds one after the other, text to results, no cures: compare with a thousand times the events alone.
#[divan::bench(sample_count = 3, sample_size = 1)]
fn h_thousand_builds(bencher: Bencher) {
    let (catalogue, _) = Catalogue::embedded(&BuildVocabulary);
    let reviewer = Reviewer::new(&catalogue, Options::default());
    bencher.counter(divan::counter::ItemsCount::new(1000_usize)).bench_local(|| {
        for _ in 0..1000 {
            let files = files();
            let root = parse(FileId(0), black_box(TEXT), files.limits()).root.expect("a tree");
            black_box(reviewer.review(FileId(0), &root, &files));
        }
    });
}

/// Reading, all rules over all subjects, no cures.
#[divan::bench]
fn e_whole_review(bencher: Bencher) {
    let (catalogue, _) = Catalogue::embedded(&BuildVocabulary);
    let reviewer = Reviewer::new(&catalogue, Options::default());
    let files = files();
    let root = parse(FileId(0), TEXT, files.limits()).root.expect("a tree");
    bencher.bench_local(|| black_box(reviewer.review(FileId(0), &root, &files)));
}

/// The same without the rules that need the steady points: the walk itself.
#[divan::bench]
fn f_walk_of_the_graph_rules(bencher: Bencher) {
    let (catalogue, _) = Catalogue::embedded(&BuildVocabulary);
    let steady = ["charge-too-hot", "points-left-of-surge-line", "surge-margin-thin"];
    let rules =
        catalogue.rules().iter().map(|rule| rule.id.to_string()).filter(|id| !steady.contains(&id.as_str()));
    let reviewer = Reviewer::new(&catalogue, Options { rules: rules.collect(), ..Options::default() });
    let files = files();
    let root = parse(FileId(0), TEXT, files.limits()).root.expect("a tree");
    bencher.bench_local(|| black_box(reviewer.review(FileId(0), &root, &files)));
}

/// Findings with cures over a number: one that is told from the description, from the static balance, from the steady points, and
/// a table that is cut. An example, and the rule that finds its fault in it.
const CURED: [&str; 4] = [
    "coupe-a sensor-range-short",
    "lesson relief-valve-open-at-idle",
    "hill-climb-a charge-too-hot",
    "hill-climb-a points-left-of-surge-line",
];

/// The starter with faults planted in it.
const TWINS: [&str; 2] = ["hill-climb-a", "hill-climb-b"];

fn review_of(example: &str, options: Options) -> impl Fn() -> Review {
    let (catalogue, _) = Catalogue::embedded(&BuildVocabulary);
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join(format!("../../examples/{example}.yaml"));
    let text = std::fs::read_to_string(path).expect("the example");
    let files = files();
    let root = parse(FileId(0), &text, files.limits()).root.expect("a tree");
    move || Reviewer::new(&catalogue, options.clone()).review(FileId(0), &root, &files)
}

fn tried(review: &Review) -> usize {
    review.results.iter().map(|result| result.tried).sum()
}

/// Every finding of the twins that a cure is written for, besides those above.
fn cured() -> Vec<String> {
    let mut all: Vec<String> = CURED.map(str::to_owned).to_vec();
    for twin in TWINS {
        for result in review_of(twin, Options::default())().results {
            let one = format!("{twin} {}", result.rule.id);
            if result.speaks() && !result.rule.cures.is_empty() && !all.contains(&one) {
                all.push(one);
            }
        }
    }
    all
}

fn one_rule(bencher: Bencher, which: &str, cures: bool) {
    let (example, rule) = which.split_once(' ').expect("two words");
    let review = review_of(example, Options { rules: vec![rule.to_owned()], cures, ..Options::default() });
    let tried = tried(&review());
    bencher.counter(divan::counter::ItemsCount::new(tried.max(1))).bench_local(|| black_box(review()));
}

/// A finding without its cures.
#[divan::bench(args = cured(), sample_count = 20)]
fn i0_finding_alone(bencher: Bencher, which: &str) {
    one_rule(bencher, which, false);
}

/// The same with them; items are the changed builds that are looked at. Two reviews with all rules, of the build as it is and as it would
/// be, belong to it. Tip-out runs that were made before under the same numbers are not made again: the fastest tells the search alone.
#[divan::bench(args = cured(), sample_count = 20, sample_size = 1)]
fn i1_finding_with_its_cures(bencher: Bencher, which: &str) {
    one_rule(bencher, which, true);
}

/// A twin with all rules: what it finds, no cures.
#[divan::bench(args = TWINS, sample_count = 20)]
fn j0_twin_alone(bencher: Bencher, twin: &str) {
    let review = review_of(twin, Options::default());
    review();
    bencher.bench_local(|| black_box(review()));
}

/// The same with the cures of all findings; items are the changed builds.
#[divan::bench(args = TWINS, sample_count = 5, sample_size = 1)]
fn j1_twin_with_cures(bencher: Bencher, twin: &str) {
    let review = review_of(twin, Options { cures: true, ..Options::default() });
    let tried = tried(&review());
    bencher.counter(divan::counter::ItemsCount::new(tried.max(1))).bench_local(|| black_box(review()));
}

/// Reading the rules that come with the program, lowered when it was built.
#[divan::bench]
fn g0_embedded_rules() {
    black_box(Catalogue::embedded(&BuildVocabulary));
}

/// Loading rule files from their texts: twelve, and 110 (copies under other names).
#[divan::bench(args = [12, 110])]
fn g_load_rules(bencher: Bencher, count: usize) {
    // Without what they silence, which may not be among the first of them.
    let alone = |text: String| {
        let mut silencing = false;
        let stays = |line: &&str| {
            silencing = line.starts_with("silences:") || silencing && line.starts_with("  - ");
            !silencing
        };
        text.lines().filter(stays).fold(String::new(), |all, line| all + line + "\n")
    };
    let texts: Vec<(String, String)> = embedded_files().map(|(path, text)| (path, alone(text))).collect();
    let many: Vec<(String, String)> = (0..count)
        .map(|i| {
            let (path, text) = &texts[i % texts.len()];
            let copy = i / texts.len();
            let (folder, name) = path.split_once('/').expect("a family");
            let id = name.trim_end_matches(".yaml");
            let new = if copy == 0 { id.to_owned() } else { format!("{id}-copy-{copy}") };
            (format!("{folder}/{new}.yaml"), text.replacen(&format!("id: {id}"), &format!("id: {new}"), 1))
        })
        .collect();
    bencher.bench_local(|| {
        let (catalogue, _) = Catalogue::load(many.clone(), &BuildVocabulary);
        assert!(catalogue.rules().len() == count);
        black_box(catalogue)
    });
}
