//! From text to the lowered form: the parser's tree is walked once, and whatever the rule language has not is refused
//! by its kind, at its place.

use std::ops::Range;
use std::sync::Arc;

use cel::common::ast::{CallExpr, Expr, IdedExpr, LiteralValue, SelectExpr, SourceInfo, operators};
use cel::{ParseErrors, Program};

use super::tree::{End, Name, Power, Relation, Sign, Step, Term};
use super::{LONGEST, Wrong};
use crate::rules::vocabulary::Whose;
use crate::text::FaultKind;
use crate::text::fault::quoted;

/// The most pieces that may stand inside one another.
const DEEPEST: usize = 32;

/// The most brackets inside one another: each costs the parser up to 170 kB of stack when it is built without
/// optimisation, and threads have 2 MB.
const MOST_BRACKETS: usize = 8;

/// Reads an expression, or says what is wrong with it; the first thing wrong is all that is said.
pub(super) fn parse(text: &str) -> Result<Step, Wrong> {
    let whole = 0..text.len();
    if text.trim().is_empty() {
        return Err(Wrong::new(FaultKind::Missing, whole, "an expression is due here"));
    }
    bounded(text)?;
    if let Some(name) = plain_name(text) {
        return Ok(Step { term: Term::Name(name), span: whole });
    }
    let program = Program::compile(text).map_err(|errors| syntax(text, &errors))?;
    Lowering { text, places: program.source_info() }.lower(program.expression(), 0)
}

/// The name that the whole text is, if it is nothing else: two expressions of three are, and the parser's tables cost
/// more to build than all else at the program's start.
fn plain_name(text: &str) -> Option<Name> {
    let (root, field) = text.split_once('.')?;
    let letters = |c: char| c.is_ascii_lowercase() || c == '_';
    let plain = field.starts_with(letters) && field.chars().all(|c| letters(c) || c.is_ascii_digit());
    rooted(root, field).filter(|_| plain)
}

/// The name that a root and what follows its dot make, if there is such a root.
fn rooted(root: &str, field: &str) -> Option<Name> {
    let field = field.into();
    match root {
        "it" => Some(Name::Fact(Whose::It, field)),
        "build" => Some(Name::Fact(Whose::Build, field)),
        "limits" => Some(Name::Limit(field)),
        "settings" => Some(Name::Setting(field)),
        _ => None,
    }
}

/// Refuses what the parser's stack might not bear: its own limit bounds neither chains such as `1+1+…`, which the
/// length does, nor brackets within a small stack, which are counted here. For the count to be right, quotes must mean
/// what they seem to.
fn bounded(text: &str) -> Result<(), Wrong> {
    if text.len() > LONGEST {
        let message = format!("an expression is at most {LONGEST} bytes long, and this has {}", text.len());
        return Err(Wrong::new(FaultKind::TooLarge, 0..text.len(), message));
    }
    for (sign, message) in [
        ("\\", "an expression holds no backslash"),
        ("'''", "a word stands in single quotes"),
        ("\"\"\"", "a word stands in single quotes"),
        ("//", "an expression holds no comment"),
    ] {
        if let Some(at) = text.find(sign) {
            return Err(Wrong::new(FaultKind::Syntax, at..at + sign.len(), message));
        }
    }
    let mut quote = None;
    let mut open = 0usize;
    for (at, byte) in text.bytes().enumerate() {
        match (quote, byte) {
            (Some(mark), _) if mark == byte => quote = None,
            (None, b'\'' | b'"') => quote = Some(byte),
            (None, b'(' | b'[' | b'{') => open += 1,
            (None, b')' | b']' | b'}') => open = open.saturating_sub(1),
            _ => {}
        }
        if open > MOST_BRACKETS {
            let message = format!("an expression has at most {MOST_BRACKETS} brackets inside one another");
            return Err(Wrong::new(FaultKind::TooDeep, at..at + 1, message));
        }
    }
    Ok(())
}

/// The parser's first complaint, in plain words.
fn syntax(text: &str, errors: &ParseErrors) -> Wrong {
    let first = errors.errors.first();
    let at = first.map_or(0, |error| {
        let count = |number: isize| usize::try_from(number).unwrap_or(0);
        byte_at(text, count(error.pos.0), count(error.pos.1))
    });
    let rest = text.get(at..).unwrap_or_default();
    let end = rest.chars().next().map_or(at, |character| at + character.len_utf8());
    let found = match text.get(at..end) {
        None | Some("") => "the expression ends too early".to_owned(),
        Some(digit) if digit.starts_with(|digit: char| digit.is_ascii_digit()) => {
            "this number is not understood, or is too large to be kept".to_owned()
        }
        Some(character) => format!("{} is not understood here", quoted(character)),
    };
    let reserved = first.and_then(|error| error.msg.strip_prefix("reserved identifier: "));
    let message = match reserved {
        Some(word) => format!("`{word}` is a reserved word of the expression language"),
        None => found,
    };
    Wrong::new(FaultKind::Syntax, at..end, message).with_help(
        "expressions are written as `it.distance < limits.least * it.bore && it.purpose == 'tip-out'`",
    )
}

/// The byte at a line and column, both from 1, the column in characters; the end of the text if there is none.
pub(in crate::rules) fn byte_at(text: &str, line: usize, column: usize) -> usize {
    let before: usize = text.split_inclusive('\n').take(line.saturating_sub(1)).map(str::len).sum();
    let rest = text.get(before..).unwrap_or_default();
    before + rest.char_indices().nth(column.saturating_sub(1)).map_or(rest.len(), |(at, _)| at)
}

struct Lowering<'a> {
    text: &'a str,
    places: &'a SourceInfo,
}

impl Lowering<'_> {
    fn lower(&self, expr: &IdedExpr, depth: usize) -> Result<Step, Wrong> {
        if depth > DEEPEST {
            let message = format!("an expression holds at most {DEEPEST} steps inside one another");
            return Err(Wrong::new(FaultKind::TooDeep, self.token(expr.id), message));
        }
        match &expr.expr {
            Expr::Literal(literal) => self.literal(expr.id, literal),
            Expr::Ident(name) => Ok(self.name(self.token(expr.id), Name::Bare(name.as_str().into()))),
            Expr::Select(select) => self.select(expr.id, select),
            Expr::Call(call) => self.call(expr.id, call, depth),
            Expr::List(_) => Err(self.refuse(expr.id, "a list stands only after `in`")),
            Expr::Comprehension(_) => Err(self.refuse(
                expr.id,
                "`has`, `all`, `exists`, `map` and `filter` are not part of the rule language",
            )),
            Expr::Map(_) | Expr::Struct(_) => {
                Err(self.refuse(expr.id, "tables in braces are not part of the rule language"))
            }
            Expr::Unspecified => Err(self.refuse(expr.id, "this is not understood")),
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
        let mut byte = byte.min(self.text.len());
        while !self.text.is_char_boundary(byte) {
            byte += 1;
        }
        byte
    }

    fn refuse(&self, id: u64, message: impl Into<String>) -> Wrong {
        Wrong::new(FaultKind::Syntax, self.token(id), message)
    }

    fn name(&self, span: Range<usize>, name: Name) -> Step {
        Step { term: Term::Name(name), span }
    }

    fn literal(&self, id: u64, literal: &LiteralValue) -> Result<Step, Wrong> {
        let term = match literal {
            LiteralValue::Boolean(truth) => Term::Bool(*truth.inner()),
            LiteralValue::Double(number) => Term::Number(*number.inner()),
            // Whole numbers are numbers like any other, so that `6 * it.bore` and `1 / 4` mean what they say. Up to
            // 2^53 nothing is lost, and no limit is larger.
            LiteralValue::Int(number) => Term::Number(*number.inner() as f64),
            LiteralValue::String(word) => Term::Word(word.inner().into()),
            LiteralValue::UInt(_) => return Err(self.refuse(id, "numbers are written without a `u`")),
            LiteralValue::Bytes(_) => return Err(self.refuse(id, "words are written without a `b`")),
            LiteralValue::Null => return Err(self.refuse(id, "`null` is not part of the rule language")),
        };
        Ok(Step { term, span: self.token(id) })
    }

    /// `it.x`, `build.x`, `limits.x`, `settings.x`
    fn select(&self, id: u64, select: &SelectExpr) -> Result<Step, Wrong> {
        if select.test {
            return Err(self.refuse(id, "`has` is not part of the rule language: a fact that is not known makes a result open by itself"));
        }
        let Expr::Ident(root) = &select.operand.expr else {
            return Err(self.refuse(id, "a name has one dot, as `it.host_bore`"));
        };
        let root_span = self.token(select.operand.id);
        let dot = self.token(id);
        let after = self.text.get(dot.end..).unwrap_or_default();
        let blanks = after.len() - after.trim_start().len();
        let end = self.boundary(dot.end + blanks + select.field.len());
        let Some(name) = rooted(root, &select.field) else {
            let message =
                format!("names begin with `it`, `build`, `limits` or `settings`, not with `{root}`");
            return Err(Wrong::new(FaultKind::DanglingName, root_span, message));
        };
        Ok(self.name(root_span.start..end, name))
    }

    fn call(&self, id: u64, call: &CallExpr, depth: usize) -> Result<Step, Wrong> {
        if call.target.is_some() {
            return Err(self.refuse(id, format!("`.{}(…)` is not part of the rule language", call.func_name)));
        }
        let lower = |at: usize| match call.args.get(at) {
            Some(arg) => self.lower(arg, depth + 1).map(Box::new),
            None => Err(self.refuse(id, "something is missing here")),
        };
        let pair = || Ok::<_, Wrong>((lower(0)?, lower(1)?));
        let compare = |relation| pair().map(|(left, right)| Term::Compare(relation, left, right));
        let sum = |sign| pair().map(|(left, right)| Term::Sum(sign, left, right));
        let product = |power| pair().map(|(left, right)| Term::Product(power, left, right));
        let term = match call.func_name.as_str() {
            operators::LOGICAL_NOT => Term::Not(lower(0)?),
            operators::LOGICAL_AND => Term::All(self.chain(call, depth, operators::LOGICAL_AND)?),
            operators::LOGICAL_OR => Term::Any(self.chain(call, depth, operators::LOGICAL_OR)?),
            operators::LESS => compare(Relation::Less)?,
            operators::LESS_EQUALS => compare(Relation::AtMost)?,
            operators::GREATER => compare(Relation::More)?,
            operators::GREATER_EQUALS => compare(Relation::AtLeast)?,
            operators::EQUALS => compare(Relation::Is)?,
            operators::NOT_EQUALS => compare(Relation::IsNot)?,
            operators::IN => Term::OneOf(lower(0)?, self.words(id, call)?),
            operators::NEGATE => Term::Negative(lower(0)?),
            operators::ADD => sum(Sign::Plus)?,
            operators::SUBSTRACT => sum(Sign::Minus)?,
            operators::MULTIPLY => product(Power::Times)?,
            operators::DIVIDE => product(Power::Over)?,
            "abs" if call.args.len() == 1 => Term::Abs(lower(0)?),
            "abs" => return Err(self.refuse(id, "`abs` takes one number")),
            "min" => Term::Extreme(End::Least, self.several(id, call, depth)?),
            "max" => Term::Extreme(End::Greatest, self.several(id, call, depth)?),
            operators::CONDITIONAL => return Err(self.refuse(id, "`? :` is not part of the rule language")),
            operators::INDEX => {
                return Err(self.refuse(id, "brackets after a name are not part of the rule language"));
            }
            operators::MODULO => {
                return Err(
                    self.refuse(id, "`%` is not part of the rule language; a share is written as 0.1")
                );
            }
            other => {
                let message = format!(
                    "`{other}(…)` is not part of the rule language; there are `abs`, `min` and `max`"
                );
                return Err(self.refuse(id, message));
            }
        };
        Ok(self.whole(id, term))
    }

    /// The operands of a chain of one operator, however the parser has paired them.
    fn chain(&self, call: &CallExpr, depth: usize, operator: &str) -> Result<Vec<Step>, Wrong> {
        let mut all = Vec::new();
        for arg in &call.args {
            match &arg.expr {
                Expr::Call(inner) if inner.func_name == operator && depth < DEEPEST => {
                    all.extend(self.chain(inner, depth + 1, operator)?);
                }
                _ => all.push(self.lower(arg, depth + 1)?),
            }
        }
        Ok(all)
    }

    /// The words of the list after `in`.
    fn words(&self, id: u64, call: &CallExpr) -> Result<Vec<Arc<str>>, Wrong> {
        let due = "`in` wants a list of words, as `in ['manifold', 'runner']`";
        let Some(Expr::List(list)) = call.args.get(1).map(|arg| &arg.expr) else {
            return Err(self.refuse(id, due));
        };
        let words = list.elements.iter().map(|element| match &element.expr {
            Expr::Literal(LiteralValue::String(word)) => Ok(Arc::from(word.inner())),
            _ => Err(self.refuse(element.id, due)),
        });
        let words: Vec<Arc<str>> = words.collect::<Result<_, _>>()?;
        if words.is_empty() { Err(self.refuse(id, due)) } else { Ok(words) }
    }

    /// The numbers of a `min` or `max`.
    fn several(&self, id: u64, call: &CallExpr, depth: usize) -> Result<Vec<Step>, Wrong> {
        if call.args.len() < 2 {
            return Err(self.refuse(id, format!("`{}` takes two numbers or more", call.func_name)));
        }
        call.args.iter().map(|arg| self.lower(arg, depth + 1)).collect()
    }

    /// A piece made of others, on all their bytes, its sign's and the brackets that close it.
    fn whole(&self, id: u64, term: Term) -> Step {
        let mut step = Step { term, span: self.token(id) };
        let inner: Vec<Range<usize>> = step.parts().iter().map(|part| part.span.clone()).collect();
        for span in inner {
            step.span = step.span.start.min(span.start)..step.span.end.max(span.end);
        }
        if matches!(step.term, Term::Abs(_) | Term::Extreme(..)) {
            // The token of a call is its opening bracket; its name has three letters and stands before it.
            let before = self.text.get(..step.span.start).unwrap_or_default().trim_end();
            step.span.start = before.len().saturating_sub("min".len());
            let after = self.text.get(step.span.end..).unwrap_or_default();
            step.span.end += after.find(')').map_or(0, |at| at + 1);
        }
        step
    }
}
