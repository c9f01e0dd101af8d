//! A cure of several numbers in words and as a text diff.

use super::cure_words::{self, Offer};
use super::safe_text::one_line;
use super::terminal::{CAUTIONS, plural, wrap};
use crate::review::{Ending, MOST_REVIEWS, Puller, Together, Varied};
use crate::text::{Measure, Sources};

/// Whether the cure was written into the text.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Writing {
    /// That was not asked for.
    NotAsked,
    /// It was.
    Written,
    /// It would upset something, or the text leaves no room for it.
    Refused,
}

/// What was looked for, what was found, and what it cost.
pub fn page(
    together: &Together,
    offer: Option<&Offer>,
    writing: Writing,
    name: &str,
    sources: &Sources,
    width: usize,
) -> String {
    let mut out = String::new();
    if matches!(together.ending, Ending::NothingToCure) {
        wrap(&mut out, "No finding: there is nothing to cure.", width);
        return out;
    }
    for finding in &together.findings {
        cure_words::heading(&mut out, finding, width);
    }
    let varied = together
        .usual
        .iter()
        .map(|(route, low, high)| format!("{} ({low} to {high})", one_line(&route.to_string())));
    wrap(&mut out, &format!("  varied: {}", varied.collect::<Vec<_>>().join(", ")), width);
    match &together.ending {
        Ending::NothingToCure => {}
        Ending::Found { numbers, size, .. } => {
            for number in numbers {
                wrap(&mut out, &format!("  {}", number_words(number)), width);
            }
            let words = format!(
                "  the least change that was met: the squares of the relative changes make {size:.4}; it leaves no more in hand than \
                 the rules ask for"
            );
            wrap(&mut out, &words, width);
            if let Some(offer) = offer {
                cure_words::written_as(&mut out, offer, sources, width);
            }
        }
        Ending::None { pullers, whole } => none(&mut out, together, pullers, *whole, width),
    }
    let spent = if together.spent {
        "; those for the least change were spent, and a lesser one may be left"
    } else {
        ""
    };
    let reviews = plural(together.reviews, "changed build was", "changed builds were");
    wrap(&mut out, &format!("  {reviews} reviewed, of at most {MOST_REVIEWS}{spent}"), width);
    match writing {
        Writing::NotAsked => {}
        Writing::Written => wrap(&mut out, &format!("{}: the cure was written.", one_line(name)), width),
        Writing::Refused => wrap(&mut out, &format!("{}: nothing was written.", one_line(name)), width),
    }
    out.push('\n');
    wrap(&mut out, CAUTIONS, width);
    out
}

/// The numbers of a cure in a line.
pub fn numbers(numbers: &[Varied]) -> String {
    let each =
        numbers.iter().map(|number| format!("{} {}", one_line(&number.route.to_string()), number.told));
    each.collect::<Vec<_>>().join(", ")
}

fn number_words(number: &Varied) -> String {
    let route = one_line(&number.route.to_string());
    let written = one_line(&number.written);
    if number.to == number.now {
        return format!("{route}: stays at {written}");
    }
    let share = 100.0 * (number.to - number.now) / number.scale;
    let of =
        if number.measure == Measure::Temperature || number.now == 0.0 { " of its usual range" } else { "" };
    format!("{route}: {written} to {} ({share:+.1} %{of})", number.told)
}

fn none(out: &mut String, together: &Together, pullers: &[Puller], whole: bool, width: usize) {
    let ranges = if together.usual.len() == 1 { "range" } else { "ranges" };
    let words = if whole {
        format!("  none within the usual {ranges}, all of which was tried")
    } else {
        format!("  none was met; only the nearer part of the usual {ranges} was tried")
    };
    wrap(out, &words, width);
    let named = |puller: &Puller| format!("{} of {}", puller.rule.id, one_line(&puller.subject.name));
    match pullers {
        [] => {}
        [one] => {
            wrap(out, &format!("  {} finds its fault with every value that was tried", named(one)), width)
        }
        [one, other] => {
            let words = format!(
                "  {} and {} pull apart: one of them finds its fault wherever the other is content",
                named(one),
                named(other)
            );
            wrap(out, &words, width);
        }
        many => {
            let names: Vec<_> = many.iter().map(named).collect();
            wrap(
                out,
                &format!("  no two alone, but these together leave nothing: {}", names.join(", ")),
                width,
            );
        }
    }
    for puller in pullers {
        let range = match &puller.passes {
            Some((Some(low), None)) => format!("from {low} up"),
            Some((None, Some(high))) => format!("up to {high}"),
            _ => continue,
        };
        wrap(out, &format!("  {} passes {range}", named(puller)), width);
    }
}
