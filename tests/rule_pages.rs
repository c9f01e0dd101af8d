//! Promise: `rules --format markdown` gives each rule in force one page that says what its file says, with links that
//! lead somewhere and nothing that Markdown would take for its own; files of others stay as they are.

mod running;

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::Path;

use running::{Ran, example_house, project, run, write};
use tractwright::review::BuildVocabulary;
use tractwright::rules::Catalogue;

fn here(arguments: &[&str]) -> Ran {
    run(project(), arguments)
}

/// All pages by their path below the folder, as written by the program.
fn written() -> (tempfile::TempDir, BTreeMap<String, String>) {
    let folder = tempfile::tempdir().expect("a folder");
    let to = folder.path().join("pages");
    let ran = here(&["rules", "--format", "markdown", "--to", to.to_str().expect("text")]);
    assert_eq!((ran.status, &*ran.err), (Some(0), ""), "{}", ran.out);
    let mut pages = BTreeMap::new();
    gather(&to, &to, &mut pages);
    assert!(ran.out.contains(&format!("wrote {} pages", pages.len())), "{}", ran.out);
    (folder, pages)
}

fn gather(root: &Path, below: &Path, pages: &mut BTreeMap<String, String>) {
    for entry in fs::read_dir(below).expect("a folder") {
        let path = entry.expect("an entry").path();
        if path.is_dir() {
            gather(root, &path, pages);
        } else {
            let name = path.strip_prefix(root).expect("below it").to_str().expect("text").replace('\\', "/");
            pages.insert(name, fs::read_to_string(&path).expect("text"));
        }
    }
}

fn catalogue() -> Catalogue {
    let (catalogue, faulty) = Catalogue::embedded(&BuildVocabulary);
    assert!(faulty.is_empty());
    catalogue
}

#[test]
fn what_a_person_reads() {
    let (_folder, pages) = written();
    insta::assert_snapshot!("page", pages["flow/duct-too-fast.md"]);
    let head = |text: &str| text.lines().take(24).collect::<Vec<_>>().join("\n");
    insta::assert_snapshot!("index", head(&pages["index.md"]));
    insta::assert_snapshot!("facts", head(&pages["facts.md"]));
    let document = here(&["rules", "--format", "markdown"]).out;
    insta::assert_snapshot!("document", head(&document));
}

#[test]
fn every_rule_in_force_occurs_exactly_once() {
    let (_folder, pages) = written();
    let document = here(&["rules", "--format", "markdown"]).out;
    let catalogue = catalogue();
    let mut due = BTreeSet::from(["index.md".to_owned(), "facts.md".to_owned()]);
    for rule in catalogue.rules().iter().filter(|rule| rule.is_in_force()) {
        let path = format!("{}/{}.md", rule.family, rule.id);
        let entry = format!("| [{}](", rule.id);
        assert_eq!(pages["index.md"].matches(&format!("{entry}{path})")).count(), 1, "{}", rule.id);
        assert_eq!(document.matches(&format!("{entry}#{})", rule.id)).count(), 1, "{}", rule.id);
        assert_eq!(document.matches(&format!("<a id=\"{}\"></a>", rule.id)).count(), 1, "{}", rule.id);
        due.insert(path);
    }
    assert_eq!(pages.keys().cloned().collect::<BTreeSet<_>>(), due);
}

#[test]
fn a_page_holds_what_the_file_says() {
    let (_folder, pages) = written();
    let catalogue = catalogue();
    for rule in catalogue.rules().iter().filter(|rule| rule.is_in_force()) {
        let page = &pages[&format!("{}/{}.md", rule.family, rule.id)];
        let whole = catalogue.whole(&rule.id, &BuildVocabulary).expect("it was read once");
        assert!(page.contains(&format!("\n{}\n", rule.fails_when.text().trim())), "{}", rule.id);
        assert!(page.contains(&format!("- asked of each: {}\n", rule.for_each.word())), "{}", rule.id);
        assert_eq!(
            page.matches("\n| --- | --- | --- |\n").count(),
            usize::from(!rule.limits.is_empty()),
            "{}",
            rule.id
        );
        let cases = page
            .split("## Cases")
            .nth(1)
            .expect("cases")
            .lines()
            .filter(|line| line.starts_with("| "))
            .count();
        assert_eq!(cases, whole.cases.len() + 2, "{}: a head of two lines and a row a case", rule.id);
        for heading in ["## When it fails", "## Why"] {
            assert_eq!(page.matches(heading).count(), 1, "{}", rule.id);
        }
    }
}

/// Where the links of a text lead.
fn targets(text: &str) -> impl Iterator<Item = &str> {
    text.split("](").skip(1).map(|rest| rest.split(')').next().expect("a target"))
}

#[test]
fn links_lead_somewhere() {
    let (_folder, pages) = written();
    let mut followed = 0;
    for (path, text) in &pages {
        for target in targets(text) {
            let (file, place) =
                target.split_once('#').map_or((target, None), |(file, place)| (file, Some(place)));
            let folder = path.rsplit_once('/').map_or("", |(folder, _)| folder);
            let file = match file.strip_prefix("../") {
                Some(rest) if !folder.is_empty() => rest.to_owned(),
                Some(_) => panic!("{path}: {target} leads out of the folder"),
                None if folder.is_empty() => file.to_owned(),
                None => format!("{folder}/{file}"),
            };
            let there = pages.get(&file).unwrap_or_else(|| panic!("{path}: {target} leads nowhere"));
            if let Some(place) = place {
                assert_eq!(there.matches(&format!("<a id=\"{place}\"></a>")).count(), 1, "{path}: {target}");
            }
            followed += 1;
        }
    }
    assert!(followed > 200, "only {followed} links");
    let document = here(&["rules", "--format", "markdown"]).out;
    for target in targets(&document) {
        let place = target.strip_prefix('#').unwrap_or_else(|| panic!("{target} leads out of the document"));
        assert!(document.contains(&format!("<a id=\"{place}\"></a>")), "{target}");
    }
}

#[test]
fn tables_have_as_many_cells_as_their_heads() {
    let (_folder, pages) = written();
    let cells = |line: &str| line.replace("\\\\", "").replace("\\|", "").matches('|').count();
    for (path, text) in &pages {
        let mut wanted = None;
        for line in text.lines() {
            if line.starts_with("| ") {
                assert_eq!(cells(line), *wanted.get_or_insert(cells(line)), "{path}: {line}");
            } else if !line.starts_with("|") {
                wanted = None;
            }
        }
    }
}

#[test]
fn the_facts_stand_alone_too_and_each_once() {
    let page = here(&["rules", "facts", "--format", "markdown"]);
    assert_eq!(page.status, Some(0));
    let rows = page.out.lines().filter(|line| line.starts_with("| <a id=")).count();
    assert_eq!(rows, tractwright::facts::rows().count());
    let (_folder, pages) = written();
    assert!(pages["facts.md"].ends_with(&page.out));
}

#[test]
fn files_of_others_are_left_as_they_are() {
    let folder = tempfile::tempdir().expect("a folder");
    let to = |arguments: &[&str]| {
        let to = folder.path().to_str().expect("text");
        here(&[&["rules"], arguments, &["--format", "markdown", "--to", to]].concat())
    };
    assert_eq!(to(&[]).status, Some(0));
    let page = folder.path().join("flow/duct-too-fast.md");
    let first = fs::read_to_string(&page).expect("a page");
    fs::write(&page, first.replace("## Why", "## Wherefore")).expect("written");
    assert_eq!(to(&[]).status, Some(0), "what it wrote itself it writes anew");
    assert_eq!(fs::read_to_string(&page).expect("a page"), first);

    fs::remove_file(folder.path().join("facts.md")).expect("removed");
    write(folder.path(), "flow/duct-too-fast.md", "# Notes of my own\n");
    let ran = to(&[]);
    assert_eq!(ran.status, Some(2));
    assert!(ran.err.contains("flow/duct-too-fast.md: it was not written by this program"), "{}", ran.err);
    assert_eq!(fs::read_to_string(&page).expect("a page"), "# Notes of my own\n");
    assert!(!folder.path().join("facts.md").exists(), "nothing was written");
    assert_eq!(to(&["facts"]).status, Some(0));
    assert!(folder.path().join("facts.md").exists());
}

#[cfg(unix)]
#[test]
fn links_of_the_file_system_are_not_followed() {
    let folder = tempfile::tempdir().expect("a folder");
    let elsewhere = tempfile::tempdir().expect("a folder");
    std::os::unix::fs::symlink(elsewhere.path(), folder.path().join("flow")).expect("a link");
    let ran = here(&["rules", "--format", "markdown", "--to", folder.path().to_str().expect("text")]);
    assert_eq!(ran.status, Some(2));
    assert_eq!(fs::read_dir(elsewhere.path()).expect("a folder").count(), 0);
}

#[test]
fn a_directory_alone_is_not_enough_and_a_house_shows_its_own_rules() {
    let ran = here(&["rules", "--to", "anywhere"]);
    assert_eq!(ran.status, Some(2));
    assert!(ran.err.contains("--format markdown"), "{}", ran.err);
    assert!(!project().join("anywhere").exists());
    let house = example_house();
    let ran = run(house.path(), &["rules", "--format", "markdown"]);
    assert_eq!(ran.status, Some(0), "{}", ran.err);
    assert!(ran.out.contains("relief-valve-heard-in-paddock"), "the house's own rule");
}
