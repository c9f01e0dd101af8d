//! Promise: of the faults planted in the examples the review finds every one, where it stands and as grave as it is,
//! and nothing else.
//!
//! For each list in `tests/planted` the example of its name gives exactly the findings of the list; undoing one fault
//! alone takes exactly its findings away; planting it alone in the sound example that it starts from brings exactly them. Each number that
//! the list gives is met every time. The starter itself is sound. What stands under `later` is planted too, and
//! expects nothing yet. No fault is told twice: each brings one finding, but for those that are listed with the reason.

mod common;

use std::sync::Arc;

use common::{
    Example, Expected, Planted, PlantedFault, STARTER, catalogue, findings, is_finding, yaml_names,
};
use tractwright::review::{Review, Verdict};
use tractwright::rules::Catalogue;
use tractwright::text::{Change, Node};

/// The least that the lists plant: fewer would mean that one was not read.
const LISTS: usize = 12;
const FAULTS: usize = 30;

fn lists() -> Vec<(Example, Planted)> {
    let names = yaml_names("tests/planted");
    names.iter().map(|name| (Example::read(name), Planted::read(name))).collect()
}

/// Everything in which a review of a tree differs from what is expected of it, in words.
fn differences<'a>(
    example: &Example,
    root: &Arc<Node>,
    review: &Review,
    expected: impl Iterator<Item = &'a Expected>,
) -> Vec<String> {
    let mut wrong: Vec<String> =
        review.faults.iter().map(|fault| format!("fault: {}", fault.message)).collect();
    let mut left = findings(review);
    for one in expected {
        let finding = (one.rule.clone(), one.at.clone());
        match left.iter().position(|found| *found == finding) {
            Some(at) => drop(left.remove(at)),
            None => {
                wrong.push(format!("missing: {} at {}", one.rule, one.at));
                continue;
            }
        }
        let Some((fact, from, to)) = &one.number else { continue };
        let of = |result: &&tractwright::review::RuleResult| {
            is_finding(result) && *result.rule.id == *one.rule && result.main_route().to_string() == one.at
        };
        let result = review.results.iter().find(of).expect("it was found above");
        let number = example.number(root, result, fact);
        if number.dim != from.dim || number.dim != to.dim {
            wrong.push(format!(
                "{}: {fact} is in {}, its range in {} and {}",
                one.rule, number.dim, from.dim, to.dim
            ));
        } else if !(from.v..=to.v).contains(&number.v) {
            wrong.push(format!("{}: {fact} is {}, not within {} to {}", one.rule, number.v, from.v, to.v));
        }
    }
    wrong.extend(left.iter().map(|(rule, at)| format!("unexpected: {rule} at {at}")));
    wrong
}

/// Reviews an example with a change made, and says in what it differs from what is expected.
fn told<'a>(
    catalogue: &Catalogue,
    example: &Example,
    change: &Change,
    expected: impl Iterator<Item = &'a Expected>,
    what: &str,
) -> Vec<String> {
    let root = example.changed(change);
    let review = example.review(catalogue, &root);
    let wrong = differences(example, &root, &review, expected);
    wrong.into_iter().map(|wrong| format!("{}, {what}: {wrong}", example.name)).collect()
}

#[test]
fn the_faulty_examples_give_exactly_the_planted_findings() {
    let catalogue = catalogue();
    let lists = lists();
    assert!(lists.len() >= LISTS, "{} lists", lists.len());
    assert!(lists.iter().map(|(_, planted)| planted.faults.len()).sum::<usize>() >= FAULTS);
    let wrong: Vec<String> = lists
        .iter()
        .flat_map(|(example, planted)| {
            let expected = planted.faults.iter().flat_map(PlantedFault::beside_others);
            told(&catalogue, example, &Change::default(), expected, "as it stands")
        })
        .collect();
    assert!(wrong.is_empty(), "{wrong:#?}");
}

#[test]
fn undoing_one_fault_takes_exactly_its_findings_away() {
    let catalogue = catalogue();
    let mut wrong = Vec::new();
    for (example, planted) in lists() {
        for (undone, fault) in planted.faults.iter().enumerate() {
            let others = planted.faults.iter().enumerate().filter(|(at, _)| *at != undone);
            let expected = others.flat_map(|(_, fault)| fault.beside_others());
            let what = format!("without \"{}\"", fault.name);
            wrong.extend(told(&catalogue, &example, &fault.undo, expected, &what));
        }
        for fault in &planted.later {
            let expected = planted.faults.iter().flat_map(PlantedFault::beside_others);
            let what = format!("without \"{}\"", fault.name);
            wrong.extend(told(&catalogue, &example, &fault.undo, expected, &what));
        }
    }
    assert!(wrong.is_empty(), "{wrong:#?}");
}

#[test]
fn planting_one_fault_in_the_starter_brings_exactly_its_findings() {
    let catalogue = catalogue();
    let mut wrong = Vec::new();
    for (_, planted) in lists() {
        let starter = Example::read(&planted.base);
        for fault in &planted.faults {
            let what = format!("with \"{}\"", fault.name);
            wrong.extend(told(&catalogue, &starter, &fault.plant, fault.expect.iter(), &what));
        }
        for fault in &planted.later {
            let what = format!("with \"{}\"", fault.name);
            wrong.extend(told(&catalogue, &starter, &fault.plant, [].iter(), &what));
        }
    }
    assert!(wrong.is_empty(), "{wrong:#?}");
}

/// The lists hold everything in which the examples differ from the starter: with all of it planted or undone the one
/// becomes the other.
#[test]
fn the_examples_differ_from_the_starter_in_nothing_but_what_is_planted() {
    for (example, planted) in lists() {
        let starter = Example::read(&planted.base);
        let all = || planted.faults.iter().chain(&planted.later);
        let plants = Change(all().flat_map(|fault| fault.plant.0.clone()).collect());
        let undoes = Change(all().flat_map(|fault| fault.undo.0.clone()).collect());
        assert!(!starter.root.same_content(&example.root), "{}: nothing is planted", example.name);
        assert!(starter.changed(&plants).same_content(&example.root), "{}: planted", example.name);
        assert!(example.changed(&undoes).same_content(&starter.root), "{}: undone", example.name);
    }
}

/// Faults that bring more than one finding, and why neither of them can keep quiet: list, fault, reason.
const TOLD_TWICE: &[(&str, &str, &str)] = &[
    ("coupe-a", "vented on the road", "noise and approval are two laws, looked up in two places"),
    (
        "hill-climb-a",
        "boost that the summit does not bear",
        "one number goes past two limits: a rotor on the summit, a filter in the valley",
    ),
    (
        "hill-climb-b",
        "tap beside the compressor",
        "alone it surges as well, which a softer spring would mend too; a custom that warns may not hide an error that is computed",
    ),
    (
        "vintage-a",
        "relief valve where nothing is trapped",
        "the valve is of no use, and what it lets out burns: to return all of it ends the danger and not the waste, and neither may hide the other",
    ),
];

#[test]
fn no_fault_is_told_twice() {
    let mut twice = Vec::new();
    for (example, planted) in lists() {
        for fault in planted.faults.iter().filter(|fault| fault.expect.len() > 1) {
            twice.push((example.name.clone(), fault.name.clone()));
        }
    }
    let listed: Vec<(String, String)> =
        TOLD_TWICE.iter().map(|(list, fault, _)| ((*list).to_owned(), (*fault).to_owned())).collect();
    assert_eq!(twice, listed, "a fault that brings two findings is mended, or listed with its reason");
}

/// What a list starts from has no findings. Of the starter nothing is left open but what waits for a computation.
#[test]
fn what_faults_are_planted_in_is_sound() {
    let mut bases: Vec<String> = lists().into_iter().map(|(_, planted)| planted.base).collect();
    bases.sort();
    bases.dedup();
    for base in bases {
        let example = Example::read(&base);
        let review = example.review(&catalogue(), &example.root);
        assert!(review.faults.is_empty(), "{base}: {:?}", review.faults);
        assert_eq!(findings(&review), [], "{base}");
        assert!(review.tally.pass > 0, "{base}");
        for result in review.results.iter().filter(|result| result.verdict() == Verdict::Open) {
            let missing = &result.missing;
            let waits =
                !missing.not_built.is_empty() && missing.fields.is_empty() && missing.hindrances.is_empty();
            assert!(
                waits || base != STARTER,
                "{} of {} is open: {missing:?}",
                result.rule.id,
                result.subject.name
            );
        }
    }
}

/// The comparison itself sees too much, too little, the wrong place and the wrong number.
#[test]
fn a_list_that_is_wrong_is_noticed() {
    let catalogue = catalogue();
    let example = Example::read("hill-climb-b");
    let right = Planted::read("hill-climb-b");
    let differs = |change: &dyn Fn(&mut Vec<Expected>)| {
        let mut expected: Vec<Expected> =
            right.faults.iter().flat_map(PlantedFault::beside_others).cloned().collect();
        change(&mut expected);
        told(&catalogue, &example, &Change::default(), expected.iter(), "wrong")
    };
    assert_eq!(differs(&|_| {}), Vec::<String>::new());
    assert_eq!(differs(&|list| drop(list.pop())).len(), 1, "one finding more than listed");
    assert_eq!(differs(&|list| list.push(list[0].clone())).len(), 1, "one less");
    assert_eq!(differs(&|list| list[0].at = "parts.relief".to_owned()).len(), 2, "another place");
    assert_eq!(differs(&|list| list[0].rule = "charge-too-hot".to_owned()).len(), 2, "another rule");
    let narrow = |list: &mut Vec<Expected>| {
        let (_, from, to) = list[0].number.as_mut().expect("the first has a number");
        from.v *= 2.0;
        to.v *= 2.0;
    };
    assert_eq!(differs(&narrow).len(), 1, "another range");
}
