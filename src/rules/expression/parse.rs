//! From text to the lowered form, by recursive descent; whatever CEL has and the rule language has not is refused by its
//! kind, at its place.

use std::ops::Range;
use std::sync::Arc;

use super::lex::{Is, Lexer, Token, not_understood, syntax};
use super::operator::{Operator, Piece};
use super::tree::{End, Hold, Name, Step, Term};
use super::{LONGEST, Wrong};
use crate::rules::vocabulary::Whose;
use crate::text::FaultKind;

/// The most brackets inside one another. The parser calls itself only for what stands in brackets, and for each of the
/// five levels of operators within them.
const MOST_BRACKETS: usize = 8;

/// Words that CEL keeps for itself; as a field's name they may stand.
const RESERVED: [&str; 17] = [
    "as",
    "break",
    "const",
    "continue",
    "else",
    "for",
    "function",
    "if",
    "import",
    "let",
    "loop",
    "package",
    "namespace",
    "return",
    "var",
    "void",
    "while",
];

const BRACES: &str = "tables in braces are not part of the rule language";

/// What CEL rewrites into loops.
const LOOPS: [&str; 6] = ["all", "exists", "exists_one", "existsOne", "map", "filter"];

/// Reads an expression, or says what is wrong with it; the first thing wrong is all that is said.
pub(super) fn parse(text: &str) -> Result<Step, Wrong> {
    let whole = 0..text.len();
    if text.trim().is_empty() {
        return Err(Wrong::new(FaultKind::Missing, whole, "an expression is due here"));
    }
    if text.len() > LONGEST {
        let message = format!("an expression is at most {LONGEST} bytes long, and this has {}", text.len());
        return Err(Wrong::new(FaultKind::TooLarge, whole, message));
    }
    let mut lexer = Lexer::new(text);
    let next = lexer.next()?;
    let mut parser = Parser { text, lexer, next, open: 0 };
    let piece = parser.piece(Hold::Any)?;
    if parser.next.is == Is::End { Ok(piece.step) } else { Err(parser.unexpected()) }
}

struct Parser<'a> {
    text: &'a str,
    lexer: Lexer<'a>,
    /// The token that was read and not yet taken.
    next: Token<'a>,
    /// How many brackets are open.
    open: usize,
}

impl<'a> Parser<'a> {
    /// Takes a token.
    fn take(&mut self) -> Result<Token<'a>, Wrong> {
        let following = self.lexer.next()?;
        Ok(std::mem::replace(&mut self.next, following))
    }

    fn is(&self, mark: &'static str) -> bool {
        self.next.is == Is::Mark(mark)
    }

    /// Takes a mark if it is next.
    fn takes(&mut self, mark: &'static str) -> Result<bool, Wrong> {
        let is = self.is(mark);
        if is {
            self.take()?;
        }
        Ok(is)
    }

    /// Takes the opening bracket that is next.
    fn open(&mut self) -> Result<Token<'a>, Wrong> {
        self.open += 1;
        if self.open > MOST_BRACKETS {
            let message = format!("an expression has at most {MOST_BRACKETS} brackets inside one another");
            return Err(Wrong::new(FaultKind::TooDeep, self.next.span.clone(), message));
        }
        self.take()
    }

    /// Takes the closing bracket that is due.
    fn close(&mut self, mark: &'static str) -> Result<Token<'a>, Wrong> {
        self.open = self.open.saturating_sub(1);
        if self.is(mark) { self.take() } else { Err(self.unexpected()) }
    }

    /// The next token cannot stand where it stands.
    fn unexpected(&self) -> Wrong {
        let span = self.next.span.clone();
        not_understood(span.clone(), self.text.get(span.start..).unwrap_or_default())
    }

    /// The next token is not part of the rule language.
    fn refused(&self, message: impl Into<String>) -> Wrong {
        Wrong::new(FaultKind::Syntax, self.next.span.clone(), message)
    }

    /// What is made by operators that hold at least so tightly; those of one hold are paired from the left.
    fn piece(&mut self, loosest: Hold) -> Result<Piece, Wrong> {
        let mut left = self.prefixed()?;
        loop {
            if self.is("in") && loosest <= Hold::Compare {
                left = self.one_of(left)?;
                continue;
            }
            let operator = Operator::of(self.next.is).filter(|own| own.hold() >= loosest);
            let Some(operator) = operator else { return Ok(left) };
            let token = self.take()?.span;
            let right = self.piece(operator.hold().tighter())?;
            left = Piece::joined(operator, left, right, token)?;
        }
    }

    /// What is looked up in a list of words, of which `in` is next.
    fn one_of(&mut self, left: Piece) -> Result<Piece, Wrong> {
        let token = self.take()?.span;
        let due = "`in` wants a list of words, as `in ['manifold', 'runner']`";
        let mut words: Vec<Arc<str>> = Vec::new();
        if self.is("[") {
            self.open()?;
            while !self.is("]") {
                match self.next.is {
                    Is::Word(word) => words.push(word.into()),
                    Is::End => return Err(self.unexpected()),
                    _ => return Err(self.refused(due)),
                }
                self.take()?;
                if !self.takes(",")? {
                    break;
                }
            }
            self.close("]")?;
        }
        let computed = Operator::of(self.next.is).is_some_and(|operator| operator.hold() > Hold::Compare);
        if words.is_empty() || computed {
            return Err(Wrong::new(FaultKind::Syntax, token, due));
        }
        self.nothing_behind()?;
        let span = left.step.span.start..token.end;
        Piece::of(Term::OneOf(Box::new(left.step), words), span, left.height, token)
    }

    /// What may have signs before it: any count of `!` or of `-`, of which two undo each other.
    fn prefixed(&mut self) -> Result<Piece, Wrong> {
        let first = self.next.span.clone();
        let mut nots = 0usize;
        while self.takes("!")? {
            nots += 1;
        }
        // Behind `!` there is at most the sign of a number.
        let mut minuses = 0usize;
        while (nots == 0 || minuses == 0) && self.takes("-")? {
            minuses += 1;
        }
        // A number's only sign is its own.
        let negative = minuses == 1 && matches!(self.next.is, Is::Whole(_) | Is::Decimal(_));
        if negative {
            minuses = 0;
        } else if nots > 0 && minuses > 0 {
            return Err(self.unexpected());
        }
        let piece = self.primary(negative)?;
        self.nothing_behind()?;
        let span = first.start..piece.step.span.end;
        if nots % 2 == 1 {
            Piece::of(Term::Not(Box::new(piece.step)), span, piece.height, first)
        } else if minuses % 2 == 1 {
            Piece::of(Term::Negative(Box::new(piece.step)), span, piece.height, first)
        } else {
            Ok(piece)
        }
    }

    /// What no operator divides.
    fn primary(&mut self, negative: bool) -> Result<Piece, Wrong> {
        let term = match self.next.is {
            Is::Whole(number) => self.number(whole(number, negative))?,
            Is::Decimal(number) => self.number(decimal(number, negative))?,
            Is::Word(word) => Term::Word(word.into()),
            Is::Truth(truth) => Term::Bool(truth),
            Is::Name(name) => return self.named(name),
            Is::Mark("(") => {
                self.open()?;
                let piece = self.piece(Hold::Any)?;
                self.close(")")?;
                return Ok(piece);
            }
            Is::Mark("[") => return Err(self.list()?),
            Is::Mark("{") => return Err(self.refused(BRACES)),
            Is::Mark(_) | Is::End => return Err(self.unexpected()),
        };
        Ok(Piece::leaf(term, self.take()?.span))
    }

    fn number(&self, number: Option<f64>) -> Result<Term, Wrong> {
        number
            .map(Term::Number)
            .ok_or_else(|| syntax(self.next.span.clone(), "this number is too large to be kept"))
    }

    /// `it.x`, `build.x`, `limits.x`, `settings.x`, a call, or a name without a dot.
    fn named(&mut self, root: &str) -> Result<Piece, Wrong> {
        let token = self.take()?.span;
        if RESERVED.contains(&root) {
            let message = format!("`{root}` is a reserved word of the expression language");
            return Err(syntax(token, message));
        }
        if self.is("(") {
            return self.call(root, token);
        }
        if !self.takes(".")? {
            return Ok(Piece::leaf(Term::Name(Name::Bare(root.into())), token));
        }
        let Is::Name(field) = self.next.is else { return Err(self.unexpected()) };
        let span = token.start..self.take()?.span.end;
        if self.is("(") {
            return Err(self.method(field));
        }
        let field = field.into();
        let name = match root {
            "it" => Name::Fact(Whose::It, field),
            "build" => Name::Fact(Whose::Build, field),
            "limits" => Name::Limit(field),
            "settings" => Name::Setting(field),
            _ => {
                let message =
                    format!("names begin with `it`, `build`, `limits` or `settings`, not with `{root}`");
                return Err(Wrong::new(FaultKind::DanglingName, token, message));
            }
        };
        Ok(Piece::leaf(Term::Name(name), span))
    }

    /// A function and what stands in its brackets, the opening one of which is next.
    fn call(&mut self, function: &str, name: Range<usize>) -> Result<Piece, Wrong> {
        if function == "has" {
            return Err(self.refused(
                "`has` is not part of the rule language: a fact that is not known makes a result open by itself",
            ));
        }
        if !["abs", "min", "max"].contains(&function) {
            let message =
                format!("`{function}(…)` is not part of the rule language; there are `abs`, `min` and `max`");
            return Err(self.refused(message));
        }
        let bracket = self.open()?.span;
        let mut steps = Vec::new();
        let mut inner = 0;
        if !self.is(")") {
            loop {
                let piece = self.piece(Hold::Any)?;
                inner = inner.max(piece.height);
                steps.push(piece.step);
                if !self.takes(",")? {
                    break;
                }
            }
        }
        let span = name.start..self.close(")")?.span.end;
        let wrong = |message: String| Err(Wrong::new(FaultKind::Syntax, bracket.clone(), message));
        let term = match function {
            "abs" => match <[Step; 1]>::try_from(steps) {
                Ok([step]) => Term::Abs(Box::new(step)),
                Err(_) => return wrong("`abs` takes one number".to_owned()),
            },
            _ if steps.len() < 2 => return wrong(format!("`{function}` takes two numbers or more")),
            "min" => Term::Extreme(End::Least, steps),
            _ => Term::Extreme(End::Greatest, steps),
        };
        Piece::of(term, span, inner, bracket)
    }

    /// Refuses what CEL lets stand behind a value, and `%` and `?`, which the rule language has not either.
    fn nothing_behind(&mut self) -> Result<(), Wrong> {
        match self.next.is {
            Is::Mark(".") => {
                let dot = self.take()?.span;
                let Is::Name(name) = self.next.is else { return Err(self.unexpected()) };
                self.take()?;
                if self.is("(") {
                    return Err(self.method(name));
                }
                Err(Wrong::new(FaultKind::Syntax, dot, "a name has one dot, as `it.host_bore`"))
            }
            Is::Mark("[") => Err(self.refused("brackets after a name are not part of the rule language")),
            Is::Mark("{") => Err(self.refused(BRACES)),
            Is::Mark("?") => Err(self.refused("`? :` is not part of the rule language")),
            Is::Mark("%") => {
                Err(self.refused("`%` is not part of the rule language; a share is written as 0.1"))
            }
            _ => Ok(()),
        }
    }

    /// Refuses a function behind a dot, whose bracket is next.
    fn method(&self, name: &str) -> Wrong {
        if LOOPS.contains(&name) {
            return self
                .refused("`has`, `all`, `exists`, `map` and `filter` are not part of the rule language");
        }
        self.refused(format!("`.{name}(…)` is not part of the rule language"))
    }

    /// Refuses a list that does not stand after `in`, or what is called on it.
    fn list(&mut self) -> Result<Wrong, Wrong> {
        let refusal = self.refused("a list stands only after `in`");
        let mut open = 0usize;
        loop {
            match self.next.is {
                Is::Mark("[") => open += 1,
                Is::Mark("]") => open = open.saturating_sub(1),
                Is::End => return Err(self.unexpected()),
                _ => {}
            }
            self.take()?;
            if open == 0 {
                self.nothing_behind()?;
                return Ok(refusal);
            }
        }
    }
}

/// Whole numbers are numbers like any other, so that `6 * it.bore` and `1 / 4` mean what they say. Up to 2^53 nothing is
/// lost, and no limit is larger.
fn whole(number: &str, negative: bool) -> Option<f64> {
    let (digits, base) = number.strip_prefix("0x").map_or((number, 10), |digits| (digits, 16));
    i64::from_str_radix(&format!("{}{digits}", sign(negative)), base).ok().map(|number| number as f64)
}

fn decimal(number: &str, negative: bool) -> Option<f64> {
    format!("{}{number}", sign(negative)).parse().ok().filter(|number: &f64| number.is_finite())
}

fn sign(negative: bool) -> &'static str {
    if negative { "-" } else { "" }
}
