//! An expression's text with values in the place of its names, as one writes it on paper.

use super::lex::{Is, Lexer, Token};

/// The text with what each name stands for put in its place: `it.gap < 6 * it.bore` becomes `64 mm < 6 × 51 mm`. The values are
/// asked for by the two words round the dot; a name without one is left as it is, and so is a text that is no expression.
pub fn put_in(text: &str, value: &dyn Fn(&str, &str) -> Option<String>) -> String {
    let tokens = tokens(text);
    let mut written = String::new();
    let mut at = 0;
    let mut rest = tokens.as_slice();
    while let [token, after @ ..] = rest {
        rest = after;
        let between = text.get(at..token.span.start).unwrap_or_default();
        written.push_str(between);
        at = token.span.end;
        if let (Is::Name(root), [dot, Token { is: Is::Name(name), span }, beyond @ ..]) = (token.is, after)
            && dot.is == Is::Mark(".")
            && let Some(value) = value(root, name)
        {
            // A value below nought stands in brackets where another sign stands before it.
            let bare = !value.starts_with('-') || !written.trim_end().ends_with(SIGNS);
            written.push_str(&if bare { value } else { format!("({value})") });
            (at, rest) = (span.end, beyond);
        } else if token.is == Is::Mark("*") {
            written.push('×');
        } else if token.is == Is::Mark("!") {
            written.push_str("not ");
        } else {
            written.push_str(text.get(token.span.clone()).unwrap_or_default());
        }
    }
    written.push_str(text.get(at..).unwrap_or_default());
    written
}

const SIGNS: [char; 4] = ['+', '-', '×', '/'];

/// The tokens up to the end, or to the first thing that is none.
fn tokens(text: &str) -> Vec<Token<'_>> {
    let mut lexer = Lexer::new(text);
    let next = || lexer.next().ok().filter(|token| token.is != Is::End);
    std::iter::from_fn(next).collect()
}

#[cfg(test)]
mod tests {
    use super::put_in;

    #[test]
    fn names_give_way_to_what_they_stand_for() {
        let value = |root: &str, name: &str| match (root, name) {
            ("it", "gap") => Some("64 mm".to_owned()),
            ("limits", "least") => Some("-6".to_owned()),
            _ => None,
        };
        assert_eq!(put_in("it.gap < limits.least * it.bore", &value), "64 mm < -6 × it.bore");
        assert_eq!(put_in("max(it.gap, -limits.least) != 'it.gap'", &value), "max(64 mm, -(-6)) != 'it.gap'");
        assert_eq!(put_in("by - limits.least", &value), "by - (-6)");
        assert_eq!(put_in("!it.gap || it.gap != 3", &value), "not 64 mm || 64 mm != 3");
        assert_eq!(put_in("it.gap & 3", &value), "64 mm & 3");
    }
}
