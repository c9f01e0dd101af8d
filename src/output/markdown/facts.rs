//! The registry of facts as one page.

use super::{escape, heading, table};
use crate::facts::{Companion, Make, Row, equation, find, kind, rows};
use crate::known::Kind;
use crate::text::Dim;
use crate::tract::SubjectKind;

/// Where the page stands.
pub const PATH: &str = "facts.md";

/// The page: facts by the kind of subject that they are first of, in the order of the registry.
pub fn page() -> String {
    let mut out = String::new();
    heading(&mut out, 1, "Facts");
    super::paragraphs(
        &mut out,
        "What rules can read, by the kind of subject that has it. A worst case over operating points and sites has the engine speed \
         and the site where it is reached beside it, under its name with _speed and _site behind it.",
    );
    for on in SubjectKind::ALL {
        let own: Vec<&Row> = rows().filter(|row| row.on.first() == Some(on)).collect();
        if own.is_empty() {
            continue;
        }
        heading(&mut out, 2, on.word());
        let head = ["fact", "unit", "on", "meaning", "how it is made", "equation", "source"];
        table(&mut out, &head, &own.iter().map(|row| cells(row)).collect::<Vec<_>>());
    }
    out
}

fn cells(row: &Row) -> Vec<String> {
    let on: Vec<&str> = row.on.iter().map(|kind| kind.word()).collect();
    let made = match row.make {
        Make::NotBuilt => "not computed yet",
        Make::Worst(..) => "worst case",
        Make::Plain(_) => "one value",
    };
    let (how, source) = equation(row.name).map_or(("", ""), |equation| (equation.how, equation.source));
    vec![
        format!("<a id=\"{}\"></a>{}", anchor(row), escape(row.name)),
        escape(&unit(row.kind)),
        escape(&on.join(", ")),
        escape(row.meaning),
        format!("{made}, {}", escape(row.group.word())),
        escape(how),
        escape(source),
    ]
}

/// The unit of a fact, or its words.
fn unit(kind: Kind) -> String {
    match kind {
        Kind::Number(dim) if dim == Dim::ONE => "1".to_owned(),
        Kind::Number(dim) => dim.to_string(),
        other => other.to_string(),
    }
}

/// The name of a fact's place on the page. Facts of one name may be made differently on different kinds.
fn anchor(row: &Row) -> String {
    format!("{}-{}", row.on.first().map_or("", |kind| kind.word()), row.name)
}

/// A fact that a rule reads, as an entry of a list.
pub(super) fn entry(on: SubjectKind, whose: &str, name: &str, link: Option<&str>) -> String {
    let words = escape(&format!("{whose}.{name}"));
    let Some((row, companion)) = find(on, name) else { return format!("- {words}\n") };
    let named = match link {
        Some(to_root) => format!("[{words}]({to_root}{PATH}#{})", anchor(row)),
        None => words,
    };
    let meaning = match companion {
        Companion::Itself => escape(row.meaning),
        Companion::Speed => format!("engine speed at which {} is worst", escape(row.name)),
        Companion::Site => format!("site at which {} is worst", escape(row.name)),
    };
    format!("- {named} ({}): {meaning}\n", escape(&unit(kind(row, companion))))
}
