//! The evaluator against an interpreter of the whole of CEL: with all facts known both must come to the same.

use std::collections::HashMap;

use cel::{Context, Program, Value};
use proptest::prelude::*;

use super::*;
use crate::known::Truth;
use crate::rules::testing::{Made, names};
use crate::text::Dim;

/// A condition of the common subset, over pure numbers with a point (the interpreter keeps whole numbers apart).
fn condition() -> impl Strategy<Value = String> {
    let number = prop_oneof![
        (-40i32..40).prop_map(|quarters| format!("({:?})", f64::from(quarters) / 4.0)),
        Just("it.vent_share".to_owned()),
        Just("it.bent_share".to_owned()),
    ]
    .prop_recursive(3, 12, 2, |inner| {
        (inner.clone(), prop_oneof!["[+*/-]"], inner)
            .prop_map(|(left, sign, right)| format!("({left} {sign} {right})"))
    });
    let word = prop_oneof![Just("it.purpose"), Just("it.actuation"), Just("'tip-out'"), Just("'ceiling'")];
    let leaf = prop_oneof![
        (number.clone(), prop_oneof!["<", "<=", ">", ">=", "==", "!="], number)
            .prop_map(|(left, sign, right)| format!("{left} {sign} {right}")),
        (word.clone(), prop_oneof!["==", "!="], word.clone())
            .prop_map(|(left, sign, right)| format!("{left} {sign} {right}")),
        word.prop_map(|word| format!("{word} in ['ceiling', 'electric']")),
        Just("it.attached".to_owned()),
        Just("!it.in_tract".to_owned()),
    ];
    leaf.prop_recursive(4, 24, 2, |inner| {
        prop_oneof![
            (inner.clone(), prop_oneof!["&&", r"\|\|"], inner.clone())
                .prop_map(|(left, sign, right)| format!("({left}) {sign} ({right})")),
            inner.prop_map(|inner| format!("!({inner})")),
        ]
    })
}

#[derive(Debug, Clone)]
struct Facts {
    share: f64,
    other: f64,
    purpose: &'static str,
    actuation: &'static str,
    attached: bool,
    in_tract: bool,
}

fn facts() -> impl Strategy<Value = Facts> {
    let quarter = || (-20i32..20).prop_map(|quarters| f64::from(quarters) / 4.0);
    let purpose = prop_oneof![Just("tip-out"), Just("ceiling")];
    let actuation = prop_oneof![Just("electric"), Just("pneumatic")];
    (quarter(), quarter(), purpose, actuation, any::<bool>(), any::<bool>()).prop_map(
        |(share, other, purpose, actuation, attached, in_tract)| Facts {
            share,
            other,
            purpose,
            actuation,
            attached,
            in_tract,
        },
    )
}

/// What the interpreter comes to; nothing where it gives up.
fn interpreted(text: &str, facts: &Facts) -> Option<bool> {
    let it: HashMap<String, Value> = HashMap::from([
        ("vent_share".to_owned(), facts.share.into()),
        ("host_ratio".to_owned(), facts.other.into()),
        ("purpose".to_owned(), facts.purpose.into()),
        ("actuation".to_owned(), facts.actuation.into()),
        ("attached".to_owned(), facts.attached.into()),
        ("in_tract".to_owned(), facts.in_tract.into()),
    ]);
    let mut context = Context::default();
    context.add_variable_from_value("it", it);
    match Program::compile(text).ok()?.execute(&context) {
        Ok(Value::Bool(truth)) => Some(truth),
        _ => None,
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 400, ..ProptestConfig::default() })]

    #[test]
    fn both_evaluators_agree(text in condition(), facts in facts()) {
        // The second number is a limit here, so that both doors are tried.
        let ours = text.replace("it.bent_share", "limits.clear_length");
        prop_assume!(ours.len() <= LONGEST);
        let theirs = text.replace("it.bent_share", "it.host_ratio");
        let expression = Expression::read_condition(&ours, names()).expect("the common subset reads");
        let made = Made::default()
            .number("vent_share", facts.share, Dim::ONE)
            .word("purpose", facts.purpose)
            .word("actuation", facts.actuation)
            .is("attached", facts.attached)
            .is("in_tract", facts.in_tract);
        let limit = crate::rules::Limit {
            name: "clear-length".into(),
            source: "made".into(),
            value: crate::rules::LimitValue::One(crate::rules::Written {
                num: crate::known::Num::pure(facts.other),
                text: "made".into(),
            }),
        };
        let limits = [limit];
        match expression.decide(&Scene::new(&made, &limits)).truth {
            // Where ours will not divide by nought, theirs goes on with an infinite number.
            Truth::Open(missing) => prop_assert!(
                missing.hindrances.iter().any(|words| words.contains("nought")), "{ours}: {missing:?}"
            ),
            Truth::NotApplicable(reason) => prop_assert!(false, "{ours}: {reason}"),
            Truth::Yes => prop_assert_eq!(interpreted(&theirs, &facts), Some(true), "{}", ours),
            Truth::No => prop_assert_eq!(interpreted(&theirs, &facts), Some(false), "{}", ours),
        }
        // What it prints means the same.
        let printed = expression.to_string();
        prop_assume!(printed.len() <= LONGEST);
        let again = Expression::read_condition(&printed, names()).expect("what is printed reads");
        prop_assert_eq!(again.to_string(), printed);
    }

    #[test]
    fn no_text_brings_the_reader_down(text in "[ -~µ\\n]{0,80}|([a-z.()\\[\\]{}!&|<>=+*/' 0-9-]){0,120}") {
        if let Err(wrongs) = Expression::read(&text, names()) {
            for wrong in wrongs {
                prop_assert!(text.get(wrong.span.clone()).is_some(), "{:?} of {:?}", wrong.span, text);
            }
        }
    }
}
