//! The parser against another, which reads the whole of CEL: what ours reads, theirs reads as the same tree on the same
//! bytes, and what only theirs reads is not part of the rule language.

use std::ops::Range;
use std::sync::Arc;
use std::thread;

use cel::Program;
use cel::common::ast::{CallExpr, Expr, IdedExpr, LiteralValue, SelectExpr, SourceInfo, operators};
use proptest::prelude::*;
use proptest::sample::{Index, select};

use super::parse::parse;
use super::tree::{End, Name, Power, Relation, Sign, Step, Term};
use crate::rules::embedded_files;
use crate::rules::vocabulary::Whose;
use crate::text::FaultKind;

/// The tree that the other parser makes of a text; nothing if it refuses it or if the rule language has not all of it.
fn theirs(text: &str) -> Option<Step> {
    // Each bracket costs that parser up to 170 kB of stack.
    let roomy = thread::Builder::new().stack_size(256 << 20);
    thread::scope(|scope| {
        let read = || {
            let program = Program::compile(text).ok()?;
            Lowering { text, places: program.source_info() }.lower(program.expression())
        };
        roomy.spawn_scoped(scope, read).expect("a thread").join().ok()?
    })
}

/// Asserts that both make the same of a text, and says whether they read it.
fn agree(text: &str) -> Result<bool, TestCaseError> {
    match (parse(text), theirs(text)) {
        (Ok(ours), Some(theirs)) => {
            // As text, so that nought and nought with a minus are told apart.
            prop_assert_eq!(format!("{ours:#?}"), format!("{theirs:#?}"), "{}", text);
            return Ok(true);
        }
        (Ok(ours), None) => prop_assert!(false, "only ours reads {text:?}: {ours}"),
        (Err(wrong), theirs) => {
            prop_assert!(text.get(wrong.span.clone()).is_some(), "{:?} of {:?}", wrong.span, text);
            let hidden = ["\\", "//", "'''", "\"\"\""].iter().any(|sign| text.contains(sign));
            let bounded = matches!(wrong.kind, FaultKind::TooDeep | FaultKind::TooLarge);
            prop_assert!(theirs.is_none() || hidden || bounded, "only theirs reads {text:?}: {wrong:?}");
        }
    }
    Ok(false)
}

fn blank() -> impl Strategy<Value = &'static str> {
    select(vec!["", " ", "  ", "\n", "\t"])
}

/// Any expression of the language, whatever its kinds.
fn expression() -> impl Strategy<Value = String> {
    const LEAVES: [&str; 34] = [
        "0",
        "1",
        "42",
        "007",
        "0x1F",
        "9223372036854775807",
        "0.0",
        "1.25",
        ".5",
        "1e3",
        "2.5E-3",
        "6e+2",
        ".5e1",
        "-1",
        "-0",
        "-0.0",
        "- 2.5",
        "-9223372036854775808",
        "'tip-out'",
        "\"it's\"",
        "'µ)°'",
        "''",
        "r'raw'",
        "true",
        "false",
        "it.bore",
        "it . bore",
        "it.as",
        "build.fuel",
        "limits.a_1",
        "settings._b",
        "by",
        "inn",
        "_",
    ];
    const SIGNS: [&str; 8] = ["!", "!!", "! ! !", "-", "--", "- - -", "!-", "-("];
    const BETWEEN: [&str; 12] = ["||", "&&", "<", "<=", ">", ">=", "==", "!=", "+", "-", "*", "/"];
    const LISTS: [&str; 4] = ["['a']", "['a', \"b\"]", "[ 'µ' , '',]", "['a','b']"];
    let leaf = prop_oneof![
        4 => select(LEAVES.as_slice()).prop_map(str::to_owned),
        1 => (select(SIGNS.as_slice()), select(vec!["1", "2.5", "it.bore", "by", "'a'"])).prop_map(|(sign, leaf)| {
            match sign {
                "!-" => format!("!-{}", if leaf.starts_with(|c: char| c.is_ascii_digit()) { leaf } else { "1" }),
                "-(" => format!("-({leaf})"),
                _ => format!("{sign}{leaf}"),
            }
        }),
    ];
    leaf.prop_recursive(6, 40, 3, |inner| {
        let three = (inner.clone(), inner.clone(), inner.clone());
        prop_oneof![
            8 => (inner.clone(), blank(), select(BETWEEN.as_slice()), blank(), inner.clone())
                .prop_map(|(left, before, sign, after, right)| format!("{left}{before}{sign}{after}{right}")),
            2 => (select(vec!["", "!", "!!", "-", "--", "- - -"]), blank(), inner.clone(), blank())
                .prop_map(|(sign, before, inner, after)| format!("{sign}({before}{inner}{after})")),
            1 => (
                inner.clone(),
                select(LISTS.as_slice()),
                select(BETWEEN.as_slice()).prop_filter("looser than `in`, or as loose", |sign| !"+-*/".contains(sign)),
                inner.clone(),
            )
                .prop_map(|(left, list, sign, right)| format!("{left} in {list}{sign}{right}")),
            1 => (inner.clone(), select(LISTS.as_slice())).prop_map(|(left, list)| format!("({left} in {list})")),
            1 => (blank(), inner).prop_map(|(blank, inner)| format!("abs{blank}({inner}{blank})")),
            1 => (select(vec!["min", "max"]), blank(), three)
                .prop_map(|(end, blank, (a, b, c))| format!("{end}{blank}({a}{blank},{b}, {c})")),
        ]
    })
}

/// What is put into a text to spoil it.
const SPOILS: [&str; 52] = [
    "(",
    ")",
    "[",
    "]",
    "{",
    "}",
    "'",
    "\"",
    ".",
    ",",
    "?",
    ":",
    "%",
    "!",
    "-",
    "+",
    "*",
    "/",
    "<",
    "=",
    "&",
    "&&",
    "|",
    "||",
    " ",
    "\n",
    "\u{b}",
    "µ",
    "°",
    "`",
    "\\",
    "//",
    "''",
    "u",
    "b",
    "r",
    "e",
    "e5",
    "0x",
    "9",
    ".5",
    " in ",
    "['a']",
    "true",
    "null",
    "as",
    "has(it.x)",
    ".all(x, x)",
    ".size()",
    "it",
    ".x",
    "𝄞",
];

/// A text with some characters taken out and something else put in their stead.
fn spoilt(text: &str, edits: &[(Index, usize, Option<&'static str>)]) -> String {
    let mut characters: Vec<char> = text.chars().collect();
    for (at, length, put) in edits {
        let at = at.index(characters.len() + 1);
        let end = (at + length).min(characters.len());
        characters.splice(at..end, put.unwrap_or_default().chars());
    }
    characters.into_iter().collect()
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 600, ..ProptestConfig::default() })]

    #[test]
    fn every_expression_of_the_language_is_read_alike(text in expression()) {
        if !agree(&text)? {
            let kind = parse(&text).map_err(|wrong| wrong.kind);
            prop_assert!(matches!(kind, Err(FaultKind::TooDeep | FaultKind::TooLarge)), "{text:?}: {kind:?}");
        }
    }

    #[test]
    fn a_spoilt_expression_is_read_alike_or_refused(
        text in expression(),
        edits in prop::collection::vec(
            (any::<Index>(), 0usize..4, prop::option::weighted(0.8, select(SPOILS.as_slice()))), 1..4
        ),
    ) {
        agree(&spoilt(&text, &edits))?;
    }

    #[test]
    fn tokens_in_any_order_are_read_alike_or_refused(
        tokens in prop::collection::vec(
            prop_oneof![
                select(SPOILS.as_slice()),
                select(vec!["1", "2.5", "it.x", "by", "'a'", "abs(", "min(", " in ['a']", "==", "it", "x"]),
            ],
            1..9
        ),
    ) {
        agree(&tokens.concat())?;
    }
}

#[test]
fn the_expressions_of_all_rules_are_read_alike() {
    let mut read = 0;
    for (path, text) in embedded_files() {
        let rule: serde_yaml::Value = serde_yaml::from_str(&text).expect("an embedded rule is YAML");
        let mut texts = Vec::new();
        gather(&rule, &mut texts);
        for text in texts {
            match agree(&text) {
                Ok(both) => read += usize::from(both),
                Err(error) => panic!("{path}: {error}"),
            }
        }
    }
    assert!(read > 1000, "{read}");
}

/// All texts of one line in a file, and what stands in the braces of each.
fn gather(value: &serde_yaml::Value, texts: &mut Vec<String>) {
    match value {
        serde_yaml::Value::String(text) if !text.contains('\n') => {
            for piece in text.split("{{").skip(1) {
                let inner = piece.split("}}").next().unwrap_or_default();
                texts.push(inner.split(" | ").next().unwrap_or_default().to_owned());
            }
            texts.push(text.clone());
        }
        serde_yaml::Value::Sequence(all) => all.iter().for_each(|one| gather(one, texts)),
        serde_yaml::Value::Mapping(all) => all.values().for_each(|one| gather(one, texts)),
        _ => {}
    }
}

/// Their tree made ours.
struct Lowering<'a> {
    text: &'a str,
    places: &'a SourceInfo,
}

impl Lowering<'_> {
    fn lower(&self, expr: &IdedExpr) -> Option<Step> {
        match &expr.expr {
            Expr::Literal(literal) => self.literal(expr.id, literal),
            // A name that begins with a dot is one from outside all that is around it, which ours has not.
            Expr::Ident(name) if name.starts_with('.') => None,
            Expr::Ident(name) => {
                Some(Step { term: Term::Name(Name::Bare(name.as_str().into())), span: self.token(expr.id) })
            }
            Expr::Select(select) => self.select(expr.id, select),
            Expr::Call(call) => self.call(expr.id, call),
            _ => None,
        }
    }

    /// The bytes of the one token that a node is known by.
    fn token(&self, id: u64) -> Range<usize> {
        let (start, stop) = self.places.offset_for(id).unwrap_or((0, 0));
        let start = self.boundary(start as usize);
        let end = self.boundary(stop as usize + 1).max(start);
        start..end
    }

    /// The nearest place at or after a byte that does not cut a character.
    fn boundary(&self, byte: usize) -> usize {
        (byte..).find(|at| self.text.is_char_boundary((*at).min(self.text.len()))).unwrap_or(byte)
    }

    /// The text between two places, without blanks.
    fn between(&self, start: usize, end: usize) -> &str {
        self.text.get(start..end).unwrap_or("?").trim()
    }

    fn literal(&self, id: u64, literal: &LiteralValue) -> Option<Step> {
        let term = match literal {
            LiteralValue::Boolean(truth) => Term::Bool(*truth.inner()),
            LiteralValue::Double(number) => Term::Number(*number.inner()),
            LiteralValue::Int(number) => Term::Number(*number.inner() as f64),
            LiteralValue::String(word) => Term::Word(word.inner().into()),
            LiteralValue::UInt(_) | LiteralValue::Bytes(_) | LiteralValue::Null => return None,
        };
        Some(Step { term, span: self.token(id) })
    }

    fn select(&self, id: u64, select: &SelectExpr) -> Option<Step> {
        let Expr::Ident(root) = &select.operand.expr else { return None };
        let root_span = self.token(select.operand.id);
        let dot = self.token(id);
        // Theirs lets a bracket stand between the root and the dot.
        if select.test || !self.between(root_span.end, dot.start).is_empty() {
            return None;
        }
        let field: Arc<str> = select.field.as_str().into();
        let after = self.text.get(dot.end..)?;
        let end = dot.end + after.find(&*field)? + field.len();
        let name = match root.as_str() {
            "it" => Name::Fact(Whose::It, field),
            "build" => Name::Fact(Whose::Build, field),
            "limits" => Name::Limit(field),
            "settings" => Name::Setting(field),
            _ => return None,
        };
        Some(Step { term: Term::Name(name), span: root_span.start..end })
    }

    fn call(&self, id: u64, call: &CallExpr) -> Option<Step> {
        if call.target.is_some() {
            return None;
        }
        let lower = |at: usize| call.args.get(at).and_then(|arg| self.lower(arg)).map(Box::new);
        let compare = |relation| Some(Term::Compare(relation, lower(0)?, lower(1)?));
        let several = || call.args.iter().map(|arg| self.lower(arg)).collect::<Option<Vec<Step>>>();
        let term = match call.func_name.as_str() {
            operators::LOGICAL_NOT => Term::Not(lower(0)?),
            operators::LOGICAL_AND => Term::All(self.chain(call)?),
            operators::LOGICAL_OR => Term::Any(self.chain(call)?),
            operators::LESS => compare(Relation::Less)?,
            operators::LESS_EQUALS => compare(Relation::AtMost)?,
            operators::GREATER => compare(Relation::More)?,
            operators::GREATER_EQUALS => compare(Relation::AtLeast)?,
            operators::EQUALS => compare(Relation::Is)?,
            operators::NOT_EQUALS => compare(Relation::IsNot)?,
            operators::IN => Term::OneOf(lower(0)?, self.words(id, call)?),
            operators::NEGATE => Term::Negative(lower(0)?),
            operators::ADD => Term::Sum(Sign::Plus, lower(0)?, lower(1)?),
            operators::SUBSTRACT => Term::Sum(Sign::Minus, lower(0)?, lower(1)?),
            operators::MULTIPLY => Term::Product(Power::Times, lower(0)?, lower(1)?),
            operators::DIVIDE => Term::Product(Power::Over, lower(0)?, lower(1)?),
            "abs" if call.args.len() == 1 => Term::Abs(lower(0)?),
            "min" if call.args.len() > 1 => Term::Extreme(End::Least, several()?),
            "max" if call.args.len() > 1 => Term::Extreme(End::Greatest, several()?),
            _ => return None,
        };
        Some(self.whole(id, term))
    }

    /// The operands of a chain of one operator, which theirs pairs evenly.
    fn chain(&self, call: &CallExpr) -> Option<Vec<Step>> {
        let mut all = Vec::new();
        for arg in &call.args {
            match &arg.expr {
                Expr::Call(inner) if inner.func_name == call.func_name => all.extend(self.chain(inner)?),
                _ => all.push(self.lower(arg)?),
            }
        }
        Some(all)
    }

    /// The words of the list after `in`; theirs lets brackets and signs stand around both.
    fn words(&self, id: u64, call: &CallExpr) -> Option<Vec<Arc<str>>> {
        let list = call.args.get(1)?;
        let Expr::List(elements) = &list.expr else { return None };
        let mut at = self.token(id).end;
        let mut step_to = |id: u64, due: &str| {
            let place = self.token(id);
            let from = std::mem::replace(&mut at, place.end);
            (self.between(from, place.start) == due).then_some(())
        };
        step_to(list.id, "")?;
        let mut words = Vec::new();
        for element in &elements.elements {
            let Expr::Literal(LiteralValue::String(word)) = &element.expr else { return None };
            step_to(element.id, if words.is_empty() { "" } else { "," })?;
            words.push(word.inner().into());
        }
        let after = self.text.get(at..)?.trim_start();
        let closed = after.strip_prefix(',').unwrap_or(after).trim_start().starts_with(']');
        (closed && !words.is_empty()).then_some(words)
    }

    /// A piece made of others, on all their bytes, its sign's and the brackets that close it.
    fn whole(&self, id: u64, term: Term) -> Step {
        let mut step = Step { term, span: self.token(id) };
        let token = step.span.clone();
        let inner: Vec<Range<usize>> = step.parts().iter().map(|part| part.span.clone()).collect();
        for span in inner {
            step.span = step.span.start.min(span.start)..step.span.end.max(span.end);
        }
        if matches!(step.term, Term::Abs(_) | Term::Extreme(..)) {
            // The token of a call is its opening bracket; its name has three letters and stands before it.
            let before = self.text.get(..token.start).unwrap_or_default().trim_end();
            step.span = before.len() - "min".len()..self.closing(token.start);
        }
        step
    }

    /// The end of the bracket that closes the one at a byte.
    fn closing(&self, at: usize) -> usize {
        let mut open = 0usize;
        let mut quote = None;
        for (byte, character) in self.text.char_indices().skip_while(|(byte, _)| *byte < at) {
            match (quote, character) {
                (Some(mark), _) if mark == character => quote = None,
                (None, '\'' | '"') => quote = Some(character),
                (None, '(') => open += 1,
                (None, ')') => open -= 1,
                _ => {}
            }
            if open == 0 {
                return byte + 1;
            }
        }
        self.text.len()
    }
}
