//! Markdown (CommonMark with tables) of the catalogue and of the registry, for a wiki or a repository's pages.

pub mod facts;
pub mod rules;

use super::safe_text::one_line;

/// The first line of every file that is written; a file that begins otherwise is another's.
pub const MARK: &str = "<!-- written by tractwright; changes are lost when it is written again -->";

/// A page with its path below the directory that it is written to, with forward slashes.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Page {
    /// Its path.
    pub path: String,
    /// Its text without the mark.
    pub text: String,
}

/// Where the pages' links lead.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Links {
    /// To places of the same document.
    Within,
    /// To files beside each other.
    Files,
}

/// Text on one line in which Markdown finds nothing to interpret.
pub fn escape(text: &str) -> String {
    let text = one_line(text);
    let text = text.trim();
    let mut out = String::with_capacity(text.len() + 8);
    for (at, letter) in text.char_indices() {
        let rest = text.get(at..).unwrap_or_default();
        let acts = matches!(
            letter,
            '\\' | '`' | '*' | '_' | '[' | ']' | '<' | '>' | '|' | '~' | '&' | '#' | '$' | '!' | '{' | '}'
        );
        // An address is made a link without any sign of its own, and a name after @ a call.
        let links = (letter == ':' && rest.starts_with("://"))
            || (letter == '.' && text.get(..at).is_some_and(ends_in_www));
        let calls = letter == '@';
        let begins = at == 0 && matches!(letter, '-' | '+' | '=');
        let ends_number = matches!(letter, '.' | ')')
            && rest.get(1..).is_some_and(|behind| behind.is_empty() || behind.starts_with(' '));
        let counts = ends_number && at > 0 && text.get(..at).is_some_and(is_count);
        if links || calls {
            out.push_str(&format!("&#{};", u32::from(letter)));
            continue;
        }
        if acts || begins || counts {
            out.push('\\');
        }
        out.push(letter);
    }
    out
}

fn ends_in_www(text: &str) -> bool {
    text.to_ascii_lowercase().ends_with("www")
}

/// Whether text at the beginning of a line would number a list.
fn is_count(text: &str) -> bool {
    text.len() <= 9 && text.bytes().all(|byte| byte.is_ascii_digit())
}

/// A block of text as it stands, behind a fence longer than any in it.
fn fenced(text: &str) -> String {
    let lines = super::safe_text::visible(text);
    let mut longest = 2;
    let mut run = 0;
    for letter in lines.chars() {
        run = if letter == '`' { run + 1 } else { 0 };
        longest = longest.max(run);
    }
    let fence = "`".repeat(longest + 1);
    format!("{fence}text\n{}\n{fence}\n", lines.trim_end())
}

/// Paragraphs of running text.
fn paragraphs(out: &mut String, text: &str) {
    for paragraph in text.trim().split("\n\n") {
        out.push_str(&escape(paragraph));
        out.push_str("\n\n");
    }
}

/// A heading with a blank line behind it.
fn heading(out: &mut String, depth: usize, words: &str) {
    if !out.is_empty() && !out.ends_with("\n\n") {
        out.push('\n');
    }
    out.push_str(&format!("{} {}\n\n", "#".repeat(depth), escape(words)));
}

/// A table; its cells are Markdown already.
fn table(out: &mut String, head: &[&str], rows: &[Vec<String>]) {
    out.push_str(&format!("| {} |\n|{}\n", head.join(" | "), " --- |".repeat(head.len())));
    for row in rows {
        out.push_str(&format!("| {} |\n", row.join(" | ")));
    }
    out.push('\n');
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn what_markdown_would_interpret_is_escaped() {
        let cases = [
            ("a_b *c* `d`", "a\\_b \\*c\\* \\`d\\`"),
            ("[a](b) ![c](d)", "\\[a\\](b) \\!\\[c\\](d)"),
            ("<b> & &amp; a|b", "\\<b\\> \\& \\&amp; a\\|b"),
            ("- a\n- b", "\\- a - b"),
            ("1. a 2. b", "1\\. a 2. b"),
            ("# a #", "\\# a \\#"),
            ("see https://a.b and www.a.b, @c", "see https&#58;//a.b and www&#46;a.b, &#64;c"),
            ("0.2 of 3", "0.2 of 3"),
            ("12 mm, 5 % - 0.3", "12 mm, 5 % - 0.3"),
            ("   indented\tby four", "indented by four"),
        ];
        for (text, due) in cases {
            assert_eq!(escape(text), due, "{text}");
        }
    }

    #[test]
    fn a_fence_is_longer_than_those_inside() {
        assert_eq!(fenced("a\n```\nb"), "````text\na\n```\nb\n````\n");
        assert_eq!(fenced("a || b"), "```text\na || b\n```\n");
    }

    proptest! {
        /// Every sign that acts inside a line stands behind an odd number of backslashes, and taking those away gives the
        /// text back.
        #[test]
        fn escaping_keeps_the_text(text in "[a-c\\\\`*_\\[\\]<>|~#! -]{0,24}") {
            let escaped = escape(&text);
            let mut plain = String::new();
            let mut letters = escaped.chars();
            while let Some(letter) = letters.next() {
                if letter == '\\' {
                    plain.extend(letters.next());
                } else {
                    prop_assert!(!"`*_[]<>|~#!".contains(letter), "{escaped}");
                    plain.push(letter);
                }
            }
            prop_assert_eq!(plain, text.trim());
            prop_assert!(!escaped.starts_with(['-', '+']));
        }
    }
}
