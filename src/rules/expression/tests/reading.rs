//! What is read, and what is refused.

use super::*;

/// What is wrong with an expression, which must be something: the text it is on, the message and the help.
fn wrongs(text: &str) -> Vec<(String, String, String)> {
    let found = Expression::read(text, names()).expect_err("it must be refused");
    let told = found.into_iter().map(|wrong| {
        let on = text.get(wrong.span).expect("a place is in the text").to_owned();
        (on, wrong.message, wrong.help.unwrap_or_default())
    });
    told.collect()
}

fn only_wrong(text: &str) -> (String, String, String) {
    let mut all = wrongs(text);
    assert_eq!(all.len(), 1, "{all:?}");
    all.remove(0)
}

#[test]
fn what_the_language_has_not_is_refused_at_its_place() {
    for (text, on, says) in [
        ("it.vent_share > 0 ? true : false", "?", "`? :`"),
        ("it.purpose[0] == 'a'", "[", "brackets"),
        ("has(it.purpose)", "(", "`has`"),
        ("[1, 2].all(x, x > 1)", "(", "`has`, `all`"),
        ("it.purpose.size() > 1", "(", ".size("),
        ("size(it.purpose) > 1", "(", "size("),
        ("it.vent_share % 2 == 1", "%", "`%`"),
        ("{'a': 1} == {'a': 1}", "{", "braces"),
        ("[1] == [1]", "[", "after `in`"),
        ("it.a.b", ".", "one dot"),
        ("it.vent_share > 1u", "1u", "`u`"),
        ("it.purpose == null", "null", "`null`"),
        ("it.purpose in [1]", "1", "list of words"),
        ("it.purpose in []", "in", "list of words"),
        ("it.purpose in it.actuation", "in", "list of words"),
        ("it.vent_share > 1e999", "", "too large"),
        ("min(it.vent_share) > 1", "(", "two numbers"),
        ("abs(1, 2) > 1", "(", "one number"),
        ("then.vent_share > 0", "then", "not with `then`"),
        ("it.purpose in ['a'] + 1", "in", "list of words"),
        ("it.purpose in (['a'])", "in", "list of words"),
        ("it.purpose == b'a'", "b'", "`b`"),
        ("it.purpose == 'a\\b'", "\\", "no backslash"),
        ("it.purpose == '''a'''", "'''", "single quotes"),
        ("it.vent_share > 1 // or so", "//", "no comment"),
        ("it.vent_share > 9223372036854775808", "9223372036854775808", "too large"),
        ("it.vent_share < while", "while", "reserved word"),
    ] {
        let (place, message, _) = only_wrong(text);
        assert!(message.contains(says), "{text}: {message}");
        assert!(on.is_empty() || place == on, "{text}: marked {place:?}");
    }
}

#[test]
fn slips_of_syntax_are_marked_where_they_stand() {
    for (text, on) in [
        ("it.vent_share >", ""),
        ("it.vent_share > ) 0", ")"),
        ("it.purpose == 'tip-out", "'"),
        ("it.purpose == 'tip\nout'", "'"),
        ("it.vent_share = 1", "="),
        ("it.vent_share > 1 it.attached", "it"),
        ("!-it.vent_share", "it"),
        ("it.in_tract && (it.attached", ""),
        ("it.in", "in"),
        ("", ""),
        ("   ", "   "),
        ("'µµ' == it.purpose && §", "§"),
    ] {
        let (place, message, _) = only_wrong(text);
        assert_eq!(place, on, "{text}: {message}");
        assert!(!message.contains("expecting"), "{message}");
    }
}

#[test]
fn a_word_may_hold_what_has_a_meaning_outside() {
    for word in ["'a//b'", "'a (b] {'", "\"it's '''\"", "'µ && §'", "r'a'"] {
        read(&format!("it.purpose == {word} || it.purpose in [{word}, 'b']"));
    }
}

#[test]
fn the_deepest_expression_takes_little_stack() {
    let text = format!("{}1{}", "1 || 2 && 3 < 4 + 5 * -(".repeat(8), ")".repeat(8));
    let small = std::thread::Builder::new().stack_size(256 << 10);
    let read = small.spawn(move || only_wrong(&text)).expect("a thread");
    // It is walked to its innermost bracket before its steps are counted.
    assert_eq!(read.join().expect("it returns").1, "an expression holds at most 32 steps inside one another");
}

#[test]
fn a_misspelt_name_is_refused_with_the_nearest() {
    for (text, on, help) in [
        ("it.vent_shar > 0", "it.vent_shar", "did you mean `it.vent_share`?"),
        ("0 < it . host_bor", "it . host_bor", "did you mean `it.host_bore`?"),
        ("it.vent_share > limits.clear_lenght", "limits.clear_lenght", "did you mean `limits.clear_length`?"),
        ("settings.light_bost > 0", "settings.light_bost", "did you mean `settings.light_boost`?"),
        ("it.fuel == 'petrol'", "it.fuel", "it is a fact of the build: `build.fuel`"),
        (
            "by > 0",
            "by",
            "a name is written as `it.host_bore`, with underscores; a word stands in quotes, as `'tip-out'`",
        ),
    ] {
        let (place, _, told) = only_wrong(text);
        assert_eq!((place.as_str(), told.as_str()), (on, help), "{text}");
    }
}

#[test]
fn dimensions_are_held_apart_and_both_are_told() {
    let (place, message, _) = only_wrong("it.purpose == 'a' && it.host_bore < limits.lag");
    assert_eq!(place, "it.host_bore < limits.lag");
    assert_eq!(message, "a number in m cannot be compared with a number in s");
    let (_, message, _) = only_wrong("it.host_bore + limits.lag > 0");
    assert!(message.contains("m cannot be added to or taken from a number in s"), "{message}");
    let (_, message, _) = only_wrong("min(it.host_bore, 1) > 0");
    assert!(message.contains("a number in m cannot be put beside a pure number"), "{message}");
    assert_eq!(wrongs("it.host_bore > 1 && it.vent_share > it.host_bore").len(), 2, "all of them are told");
}

#[test]
fn nought_is_nought_of_every_dimension() {
    read("it.host_bore > 0 && limits.lag >= 0.0 && max(0, it.host_bore) < it.host_bore + 0");
    only_wrong("it.purpose == 0");
}

#[test]
fn words_and_conditions_have_no_order_and_are_no_numbers() {
    for text in [
        "it.purpose < 'b'",
        "it.signal_connected < true",
        "it.purpose == 1",
        "it.signal_connected && it.vent_share",
        "!it.purpose",
        "it.purpose + 1 > 0",
        "it.vent_share in ['a']",
        "-it.purpose == 'a'",
        "it.signal_connected == 'a'",
    ] {
        only_wrong(text);
    }
    assert!(Expression::read_condition("it.host_bore", names()).is_err());
    assert!(Expression::read_word("it.host_bore", names()).is_err());
    assert!(Expression::read_number("it.purpose", names()).is_err());
}

#[test]
fn dimensions_multiply_and_divide() {
    let kind = |text: &str| read(text).kind();
    assert_eq!(kind("it.host_bore * it.host_bore"), Some(Kind::Number(Dim::AREA)));
    assert_eq!(kind("it.host_bore / limits.lag"), Some(Kind::Number(Dim::SPEED)));
    assert_eq!(kind("6 * it.host_bore"), Some(Kind::Number(Dim::LENGTH)));
    assert_eq!(kind("-abs(it.vent_share)"), Some(Kind::Number(Dim::ONE)));
}

#[test]
fn an_expression_prints_as_it_means() {
    for (text, printed) in [
        ("!(it.signal_region in ['manifold','runner'])", "!(it.signal_region in ['manifold', 'runner'])"),
        ("(1+2)*-it.vent_share-(3-4)/5>0", "(1 + 2) * -it.vent_share - (3 - 4) / 5 > 0"),
        ("it.attached&&(it.in_tract||it.attached)", "it.attached && (it.in_tract || it.attached)"),
        ("1-(2-3)==1/(2/3)", "1 - (2 - 3) == 1 / (2 / 3)"),
        ("min(1,2,abs(3))>0", "min(1, 2, abs(3)) > 0"),
    ] {
        let once = read(text).to_string();
        assert_eq!(once, printed);
        assert_eq!(read(&once).to_string(), printed, "it reads back as itself");
    }
}

#[test]
fn the_names_it_has_can_be_listed() {
    let expression = read("it.host_bore * limits.clear_length > 0 && build.fuel == 'petrol'");
    let facts: Vec<String> =
        expression.facts().into_iter().map(|(whose, fact)| format!("{}.{fact}", whose.word())).collect();
    assert_eq!(facts, ["it.host_bore", "build.fuel"]);
    assert!(expression.names_limit("clear-length") && !expression.names_limit("lag"));
    assert_eq!(read("build.fuel").as_fact(), Some((Whose::Build, "fuel")));
    assert_eq!(expression.as_fact(), None);
}

#[test]
fn hostile_expressions_end_in_a_fault() {
    let chain = |link: &str, start: &str| {
        let mut text = start.to_owned();
        while text.len() + link.len() <= LONGEST {
            text.push_str(link);
        }
        text
    };
    let nested = |open: &str, close: &str| format!("{}1{}", open.repeat(300), close.repeat(300));
    for text in [
        chain("+1", "1"),
        chain("-1", "1"),
        chain("*1", "1"),
        chain(".b", "it"),
        chain("[0]", "it"),
        chain(".f()", "it"),
        chain("?1:1", "1"),
        chain("<1", "1"),
        chain("!", ""),
        chain("-", ""),
        chain("(", ""),
        chain("'", ""),
        nested("(", ")"),
        nested("[", "]"),
        nested("min(1,", ")"),
        "a".repeat(LONGEST + 1),
        chain("&&1", "1"),
        chain("1?(", ""),
        chain("a{b:", ""),
        // Quotes that do not mean what they seem to would hide brackets from the count.
        chain("'''a'(b'''(", ""),
        chain("'\\'(', '(", ""),
        chain("//')\n(", ""),
    ] {
        assert!(Expression::read(&text, names()).is_err(), "{}…", &text[..8]);
    }
}

#[test]
fn a_long_chain_of_conditions_is_no_nesting() {
    let text = vec!["it.attached"; 68].join(" && ");
    assert!(text.len() <= LONGEST);
    assert_eq!(truth(&text, &Made::default().is("attached", true)), Truth::Yes);
    let deep = vec!["1"; 32].join(" + ") + " > 0";
    read(&deep);
    let (_, message, _) = only_wrong(&(vec!["1"; 40].join(" + ") + " > 0"));
    assert!(message.contains("at most 32 steps"), "{message}");
}
