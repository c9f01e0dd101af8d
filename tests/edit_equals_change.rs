//! An edited text says what the changed tree says; comments stay; the same change once more finds nothing to do.

use std::fmt::Write;
use std::sync::Arc;

use proptest::prelude::*;
use proptest::sample::Index;
use tractwright::text::{
    Change, FileId, Limits, Node, Op, Route, Step, Value, WhyNot, edit, find, parse, scalar,
};

/// A value with the way it is written.
#[derive(Clone, Debug)]
enum Tree {
    Text(&'static str, Quotes),
    List(Vec<(Remarks, Tree)>, bool),
    Table(Vec<(&'static str, Remarks, Tree)>, bool),
}

#[derive(Clone, Copy, Debug)]
enum Quotes {
    Plain,
    Single,
    Double,
    /// A block of text.
    Block,
}

/// Comments on lines of their own ahead of an entry, and whether one stands behind it.
#[derive(Clone, Copy, Debug)]
struct Remarks {
    ahead: usize,
    behind: bool,
    blank: bool,
}

const PLAIN: &[&str] =
    &["x", "24 N", "none", "cold-pipe", "1,5 l", "it's", "a#b", "-5 mm", "é 3 µm", "~", "a:b", "x  y"];
const ODD: &[&str] = &[
    "",
    "null",
    "a: b",
    "x #y",
    "[z",
    "say \"x\"",
    " pad ",
    "- a",
    "tab\tx",
    "one\ntwo\n",
    "}",
    "'",
    "\\",
    "*x",
    "&y z",
    "? q",
    "---",
    "\u{feff}",
    "\u{85}",
    "!t",
    "%d",
    "@",
];
const KEYS: &[&str] =
    &["a", "b", "name", "2000 rpm", "long-key", "", "a, b", "c: d", "<<", "é", "#k", "-", "null", "x y"];

fn text() -> impl Strategy<Value = Tree> {
    let any: Vec<&'static str> = PLAIN.iter().chain(ODD).copied().collect();
    prop_oneof![
        3 => prop::sample::select(PLAIN).prop_map(|text| Tree::Text(text, Quotes::Plain)),
        1 => prop::sample::select(PLAIN).prop_map(|text| Tree::Text(text, Quotes::Single)),
        2 => prop::sample::select(any).prop_map(|text| Tree::Text(text, Quotes::Double)),
    ]
}

fn remarks() -> impl Strategy<Value = Remarks> {
    let ahead = prop_oneof![4 => Just(0usize), 1 => 1usize..3];
    (ahead, any::<bool>(), prop::bool::weighted(0.1)).prop_map(|(ahead, behind, blank)| Remarks {
        ahead,
        behind,
        blank,
    })
}

fn tree(leaf: impl Strategy<Value = Tree> + 'static) -> impl Strategy<Value = Tree> {
    let leaf = leaf.boxed();
    let inner = leaf.clone().prop_recursive(4, 24, 4, |inner| {
        let list = prop::collection::vec((remarks(), inner.clone()), 0..4);
        let table = prop::collection::vec((prop::sample::select(KEYS), remarks(), inner), 0..4);
        prop_oneof![
            (list, any::<bool>()).prop_map(|(entries, brackets)| Tree::List(entries, brackets)),
            (table, any::<bool>()).prop_map(|(entries, brackets)| Tree::Table(unique(entries), brackets)),
        ]
    });
    let entries = prop::collection::vec((prop::sample::select(KEYS), remarks(), inner), 1..5);
    entries.prop_map(|entries| Tree::Table(unique(entries), false))
}

fn unique(entries: Vec<(&'static str, Remarks, Tree)>) -> Vec<(&'static str, Remarks, Tree)> {
    let mut seen = std::collections::BTreeSet::new();
    entries.into_iter().filter(|(key, _, _)| seen.insert(*key)).collect()
}

/// Writes a tree, numbering its comments.
#[derive(Default)]
struct Writer {
    out: String,
    comments: usize,
}

impl Writer {
    fn ahead(&mut self, remarks: Remarks, indent: usize) {
        if remarks.blank {
            self.out.push('\n');
        }
        for _ in 0..remarks.ahead {
            self.comments += 1;
            writeln!(self.out, "{}# own {}.", " ".repeat(indent), self.comments).expect("a string takes all");
        }
    }

    fn behind(&mut self, remarks: Remarks) {
        if remarks.behind {
            self.comments += 1;
            write!(self.out, " # behind {}.", self.comments).expect("a string takes all");
        }
        self.out.push('\n');
    }

    /// The entries of a table or list, each on its lines; the first goes on the line that is begun, if one is.
    fn block(&mut self, tree: &Tree, indent: usize, mut begun: bool) {
        let mut start = |writer: &mut Writer, remarks: Remarks| {
            if !std::mem::take(&mut begun) {
                writer.ahead(remarks, indent);
                writer.out.push_str(&" ".repeat(indent));
            }
        };
        match tree {
            Tree::Table(entries, _) => {
                for (key, remarks, value) in entries {
                    start(self, *remarks);
                    self.out.push_str(&if PLAIN.contains(key) || *key == "a" {
                        (*key).to_owned()
                    } else {
                        double(key)
                    });
                    self.out.push(':');
                    self.value(value, *remarks, indent, false);
                }
            }
            Tree::List(entries, _) => {
                for (remarks, value) in entries {
                    start(self, *remarks);
                    self.out.push('-');
                    self.value(value, *remarks, indent, true);
                }
            }
            Tree::Text(..) => unreachable!("text is no block"),
        }
    }

    fn value(&mut self, value: &Tree, remarks: Remarks, indent: usize, in_list: bool) {
        match value {
            Tree::Text(text, Quotes::Block) => {
                let sign = if text.ends_with('\n') { "|" } else { "|-" };
                write!(self.out, " {sign}").expect("a string takes all");
                self.behind(Remarks { behind: remarks.behind && remarks.ahead > 0, ..remarks });
                for line in text.lines() {
                    writeln!(self.out, "{}{line}", " ".repeat(indent + 2)).expect("a string takes all");
                }
            }
            Tree::List(entries, false) if !entries.is_empty() => self.below(value, remarks, indent, in_list),
            Tree::Table(entries, false) if !entries.is_empty() => self.below(value, remarks, indent, in_list),
            // Left out.
            Tree::Text("~", Quotes::Plain) => self.behind(remarks),
            _ => {
                write!(self.out, " {}", line(value)).expect("a string takes all");
                self.behind(remarks);
            }
        }
    }

    fn below(&mut self, value: &Tree, remarks: Remarks, indent: usize, in_list: bool) {
        if in_list && !remarks.behind {
            self.out.push(' ');
            self.block(value, indent + 2, true);
        } else {
            self.behind(remarks);
            self.block(value, indent + if in_list { 4 } else { 2 }, false);
        }
    }
}

fn line(tree: &Tree) -> String {
    match tree {
        Tree::Text(text, Quotes::Plain) if !text.contains(',') => (*text).to_owned(),
        Tree::Text(text, Quotes::Single) => format!("'{}'", text.replace('\'', "''")),
        Tree::Text(text, _) => double(text),
        Tree::List(entries, _) => {
            let entries: Vec<_> = entries.iter().map(|(_, entry)| line(entry)).collect();
            format!("[{}]", entries.join(", "))
        }
        Tree::Table(entries, _) => {
            let entries: Vec<_> =
                entries.iter().map(|(key, _, value)| format!("{}: {}", double(key), line(value))).collect();
            format!("{{ {} }}", entries.join(" , "))
        }
    }
}

fn double(text: &str) -> String {
    let mut out = String::from("\"");
    for sign in text.chars() {
        match sign {
            '"' | '\\' => out.extend(['\\', sign]),
            _ if sign.is_control() || sign == '\u{feff}' => {
                write!(out, "\\u{:04x}", u32::from(sign)).expect("a string takes all")
            }
            _ => out.push(sign),
        }
    }
    out + "\""
}

fn written(tree: &Tree, windows: bool, ends_with_break: bool) -> String {
    let mut writer = Writer::default();
    writer.block(tree, 0, false);
    let mut out = writer.out;
    if !ends_with_break {
        out.pop();
    }
    if windows { out.replace('\n', "\r\n") } else { out }
}

fn read(text: &str) -> Arc<Node> {
    let parsed = parse(FileId(0), text, &Limits::default());
    assert_eq!(parsed.faults, [], "{text}");
    parsed.root.expect("the text says something")
}

/// What to do to a tree, at a place of it.
#[derive(Clone, Debug)]
enum Deed {
    Set(&'static str, bool),
    SetTable(&'static str),
    SetList(usize),
    Insert(&'static str, &'static str),
    Remove,
}

fn deed() -> impl Strategy<Value = (Index, Deed)> {
    let words: Vec<&'static str> = PLAIN.iter().chain(ODD).copied().collect();
    let deed = prop_oneof![
        (prop::sample::select(words.clone()), any::<bool>()).prop_map(|(word, plain)| Deed::Set(word, plain)),
        prop::sample::select(words.clone()).prop_map(Deed::SetTable),
        (0usize..4).prop_map(Deed::SetList),
        (prop::sample::select(KEYS), prop::sample::select(words))
            .prop_map(|(key, word)| Deed::Insert(key, word)),
        Just(Deed::Remove),
        Just(Deed::Remove),
    ];
    (any::<Index>(), deed)
}

fn routes(node: &Arc<Node>, at: &Route, all: &mut Vec<Route>) {
    let mut go = |step: Step, below: &Arc<Node>| {
        all.push(at.step(step.clone()));
        routes(below, &at.step(step), all);
    };
    match &node.value {
        Value::Scalar(_) => {}
        Value::List(list) => {
            list.iter().enumerate().for_each(|(number, below)| go(Step::Index(number), below))
        }
        Value::Map(map) => map.iter().for_each(|entry| go(Step::Key(entry.key.text.clone()), &entry.value)),
    }
}

/// The deed as a change of this tree; nothing where it makes no sense.
fn op(root: &Arc<Node>, (index, deed): &(Index, Deed)) -> Option<Op> {
    let mut all = Vec::new();
    routes(root, &Route::root(), &mut all);
    if all.is_empty() {
        return None;
    }
    let at = index.get(&all).clone();
    let node = find(root, &at)?.node;
    let flow = |text: String| {
        let Change(ops) = Change::parse_assignment(&format!("x={text}")).expect("a test's own value");
        match ops.into_iter().next() {
            Some(Op::Set(_, node)) => node,
            _ => unreachable!("an assignment sets"),
        }
    };
    Some(match deed {
        Deed::Set(word, true) => Op::Set(at, scalar(word)),
        Deed::Set(word, false) => Op::Set(at, flow(double(word))),
        Deed::SetTable(word) => Op::Set(at, flow(format!("{{ a: {}, name: 1, new: [ ~ ] }}", double(word)))),
        Deed::SetList(count) => Op::Set(at, flow(format!("[ {} ]", vec!["x"; *count].join(", ")))),
        Deed::Insert(key, word) => match &node.value {
            Value::List(list) => Op::Set(at.index(list.len()).key(key), scalar(word)),
            Value::Map(_) => Op::Set(at.key(key).key("deep"), scalar(word)),
            Value::Scalar(_) if node.is_null() => Op::Set(at.key(key), scalar(word)),
            Value::Scalar(_) => return None,
        },
        Deed::Remove => Op::Remove(at),
    })
}

/// Makes the deeds one after another, and checks what is promised of each; the reasons for which any was refused.
fn check(text: &str, deeds: &[(Index, Deed)]) -> Result<Vec<WhyNot>, TestCaseError> {
    let mut text = text.to_owned();
    let mut refused = Vec::new();
    for deed in deeds {
        let root = read(&text);
        let Some(op) = op(&root, deed) else { continue };
        let change = Change(vec![op.clone()]);
        let Ok(wanted) = change.apply(&root) else { continue };
        let edits = match edit(&text, &root, &change) {
            Ok(edits) => edits,
            Err(cannot) => {
                refused.push(cannot.why);
                continue;
            }
        };
        let after = edits.apply(&text);
        let tree = read(&after);
        prop_assert!(tree.same_content(&wanted), "{op:?}\n{text}\n->\n{after}");
        for (at, comment) in own_comments(&text) {
            let within = find(&root, op.route()).is_some_and(|found| {
                let place = found.node.place();
                let dash = text.get(..place.start).and_then(|before| before.rfind('-')).unwrap_or(0);
                found.key.map_or(dash, |key| key.span.start) <= at && at < place.end
            });
            prop_assert!(within || after.contains(comment), "{comment} is lost: {op:?}\n{text}\n->\n{after}");
        }
        let windows = text.contains("\r\n");
        prop_assert_eq!(
            after.matches('\n').count(),
            after.matches("\r\n").count() + if windows { 0 } else { after.matches('\n').count() }
        );
        if let Op::Set(..) = op {
            let again = edit(&after, &tree, &change);
            prop_assert!(again.is_ok_and(|edits| edits.is_empty()), "{op:?}\n{after}");
        }
        text = after;
    }
    Ok(refused)
}

/// Comments on lines of their own, with the byte each begins at.
fn own_comments(text: &str) -> impl Iterator<Item = (usize, &str)> {
    let begin = text.split_inclusive('\n').scan(0, |at, line| {
        let start = *at;
        *at += line.len();
        Some((start, line))
    });
    begin.filter(|(_, line)| line.trim_start().starts_with("# own")).map(|(at, line)| (at, line.trim()))
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 500, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn any_change_of_a_text_without_aliases_is_made(
        tree in tree(text()),
        windows in any::<bool>(),
        ends_with_break in any::<bool>(),
        deeds in prop::collection::vec(deed(), 1..4),
    ) {
        let refused = check(&written(&tree, windows, ends_with_break), &deeds)?;
        prop_assert!(refused.is_empty(), "{refused:?}\n{}", written(&tree, windows, ends_with_break));
    }

    #[test]
    fn among_blocks_of_text_it_is_made_or_refused(
        tree in tree(prop_oneof![
            text(),
            prop::sample::select(vec!["one\ntwo\n", "one", "# none\n  in\n", "a: b\n\nc\n"])
                .prop_map(|text| Tree::Text(text, Quotes::Block)),
        ]),
        ends_with_break in any::<bool>(),
        deeds in prop::collection::vec(deed(), 1..4),
    ) {
        let refused = check(&written(&tree, false, ends_with_break), &deeds)?;
        prop_assert!(refused.iter().all(|why| matches!(why, WhyNot::Layout(_))), "{refused:?}");
    }

    #[test]
    fn what_aliases_share_is_never_changed_for_others(
        values in prop::collection::vec((0usize..3, 0usize..4), 2..8),
        deeds in prop::collection::vec(deed(), 1..4),
    ) {
        // Each entry is an anchor's value, or an alias of one that stands before it.
        let mut text = String::new();
        for (number, (kind, of)) in values.iter().enumerate() {
            let value = match kind {
                0 if number > 0 => format!("*x{}", of % number),
                1 => format!("&x{number} {{ b: {of}, c: [ 1, 2 ] }} # behind"),
                _ => format!("&x{number}\n  # own {number}.\n  b: {of}\n  c:\n  - 1\n  - 2"),
            };
            let value = if value.starts_with('*') { format!("[ {value} ] ") } else { value };
            writeln!(text, "k{number}: {value}").expect("a string takes all");
        }
        let parsed = parse(FileId(0), &text, &Limits::default());
        prop_assume!(parsed.faults.is_empty());
        check(&text, &deeds)?;
    }
}
