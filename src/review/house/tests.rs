use super::*;
use crate::build::files::{LoadFault, Loader};
use crate::text::{Limits, parse};

struct Nothing;

impl Loader for Nothing {
    fn load(&self, _: &str) -> Result<Vec<u8>, LoadFault> {
        Err(LoadFault("nothing".to_owned()))
    }

    fn shown(&self, relative: &str) -> String {
        relative.to_owned()
    }
}

fn house(text: &str) -> House {
    let source = Arc::new(Source::new("house", text));
    let root = parse(FileId(0), text, &Limits::default()).root.expect("a test's own text");
    House::read(&source, &root, &Files::new(Box::new(Nothing), Limits::default()))
}

#[test]
fn paths_decide_what_counts() {
    let plain = house("format: 1\nrules: [ house/rules/ ]\n");
    assert_eq!(plain.faults, []);
    assert_eq!(plain.counts("a/b.yaml"), Counts::ByText);
    assert_eq!(plain.counts("tractwright.yaml"), Counts::House);
    assert_eq!(plain.counts("house/rules/placement/x.yaml"), Counts::House);
    assert_eq!(plain.counts("house/rules.yaml"), Counts::ByText);

    let some = house("format: 1\nbuilds: { include: [ \"builds/*.yaml\" ], exclude: [ \"**/old-*\" ] }\n");
    assert_eq!(some.faults, []);
    assert_eq!(some.counts("builds/a.yaml"), Counts::Build);
    assert_eq!(some.counts("builds/deep/a.yaml"), Counts::No, "one star stays within a folder");
    assert_eq!(some.counts("builds/old-a.yaml"), Counts::No);
    assert_eq!(some.counts("a.yaml"), Counts::No);
}

#[test]
fn who_may_accept_is_anybody_nobody_or_those_named() {
    let may = |list: &str| house(&format!("format: 1\n{list}\n")).may_accept("A");
    assert!(may("# nothing said"));
    assert!(may("who-may-accept: [ A ]"));
    assert!(!may("who-may-accept: [ B ]"));
    assert!(!may("who-may-accept: none"));
    assert!(!may("who-may-accept: []"));
}

#[test]
fn folders_of_rules_lie_below_the_root() {
    for folder in ["..", "/etc", ".", "a/../b", "a//b", "\"\"", "'a\\b'"] {
        let house = house(&format!("format: 1\nrules: [ {folder} ]\n"));
        assert_eq!((house.rules.len(), house.faults.len()), (0, 1), "{folder}");
    }
}

#[test]
fn tables_keep_values_with_their_source() {
    let house = house("format: 1\nclamps: { spring: { rolled: 0.2 kN, source: made } }\n");
    let row = house.clamps.first().expect("a row");
    assert_eq!((&*row.name, &*row.source), ("spring", "made"));
    assert_eq!(row.values, [("rolled", 200.0, "0.2 kN".to_owned())]);
}
