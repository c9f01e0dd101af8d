//! Text from strangers made safe to show: what could steer a terminal, turn a line round or forge a line of output is
//! shown as a visible mark.

/// Whether a character could steer, hide or turn what is shown.
fn steers(letter: char) -> bool {
    let invisible = matches!(
        letter,
        '\u{61c}'
            | '\u{200b}'..='\u{200f}'
            | '\u{2028}'..='\u{202e}'
            | '\u{2060}'..='\u{206f}'
            | '\u{feff}'
            | '\u{fff9}'..='\u{fffb}'
    );
    invisible || (letter.is_control() && !matches!(letter, '\n' | '\t'))
}

/// The same text with a visible mark of equal length in bytes for each character that steers, so that places keep
/// pointing at the same bytes.
pub fn visible(text: &str) -> String {
    let mut shown = String::with_capacity(text.len());
    let mut letters = text.chars().peekable();
    while let Some(letter) = letters.next() {
        // The two characters of a line's end in some systems are harmless as a pair.
        if letter == '\r' && letters.peek() == Some(&'\n') {
            shown.push(letter);
        } else if steers(letter) {
            shown.push_str(match letter.len_utf8() {
                1 => "?",
                2 => "\u{bf}",
                3 => "\u{fffd}",
                _ => "\u{fffd}?",
            });
        } else {
            shown.push(letter);
        }
    }
    shown
}

/// Text for one line: visible, and with spaces for line ends and tabs.
pub fn one_line(text: &str) -> String {
    visible(text)
        .chars()
        .map(|letter| if matches!(letter, '\n' | '\r' | '\t') { ' ' } else { letter })
        .collect()
}

/// The same lines, those that a build service would take for a command set behind a bar. A file can be named so.
pub fn without_commands(text: &str) -> String {
    if !text.contains("::") {
        return text.to_owned();
    }
    let mark =
        |line: &str| if line.trim_start().starts_with("::") { format!("| {line}") } else { line.to_owned() };
    text.split_inclusive('\n').map(mark).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn what_steers_is_shown_as_a_mark() {
        assert_eq!(visible("a\u{1b}[31mb\u{202e}c\u{9b}d\r\ne"), "a?[31mb\u{fffd}c\u{bf}d\r\ne");
        assert_eq!(one_line("a\n::error::b\rc"), "a ::error::b?c");
    }

    proptest! {
        #[test]
        fn no_line_is_a_command(text in "(::|[a:\n ]){0,20}") {
            let shown = without_commands(&text);
            prop_assert!(!shown.lines().any(|line| line.trim_start().starts_with("::")));
            prop_assert_eq!(shown.lines().count(), text.lines().count());
        }

        #[test]
        fn bytes_keep_their_places(text in any::<String>()) {
            let shown = visible(&text);
            prop_assert_eq!(shown.len(), text.len());
            prop_assert!(shown.chars().all(|letter| !steers(letter) || letter == '\r'));
            for (at, _) in text.char_indices() {
                prop_assert!(shown.is_char_boundary(at));
            }
        }
    }
}
