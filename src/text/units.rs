//! Units of measurement: one table of the units of the trade, each with its factor to SI.

mod dim;
mod measure;
mod table;

pub use dim::Dim;
pub use measure::Measure;
pub use table::TABLE;

use std::collections::HashMap;
use std::sync::LazyLock;

/// A unit.
#[derive(PartialEq, Debug)]
pub struct Unit {
    /// How it is written in messages.
    pub symbol: &'static str,
    /// Other ways to write it.
    pub aliases: &'static [&'static str],
    /// Its dimension.
    pub dim: Dim,
    /// One of it, in SI.
    pub factor: f64,
    /// What is added after the factor: the temperature, in kelvin, at which its scale is zero. Zero for all else.
    pub offset: f64,
    /// What may be given in it.
    pub measures: &'static [Measure],
}

impl Unit {
    /// A number of this unit, in SI.
    pub fn to_si(&self, number: f64) -> f64 {
        number * self.factor + self.offset
    }

    /// A value in SI, as a number of this unit.
    pub fn from_si(&self, si: f64) -> f64 {
        (si - self.offset) / self.factor
    }

    /// A difference of so many of this unit, in SI: without the offset.
    pub fn difference_to_si(&self, number: f64) -> f64 {
        number * self.factor
    }

    /// Whether a measure may be given in it.
    pub fn fits(&self, measure: Measure) -> bool {
        self.measures.contains(&measure)
    }
}

/// Every way to write a unit, evened out, with the unit.
static BY_NAME: LazyLock<HashMap<&'static str, &'static Unit, foldhash::fast::RandomState>> =
    LazyLock::new(|| {
        TABLE
            .iter()
            .flat_map(|unit| {
                std::iter::once(unit.symbol).chain(unit.aliases.iter().copied()).map(move |name| (name, unit))
            })
            .collect()
    });

/// The unit that is written so. Capitals count (`mPa` is not `MPa`); raised figures, the degree sign, the inch sign,
/// dots and signs of multiplication are understood.
pub fn unit(name: &str) -> Option<&'static Unit> {
    if let Some(unit) = BY_NAME.get(name) {
        return Some(unit);
    }
    BY_NAME.get(even_out(name)?.as_str()).copied()
}

/// The unit that is written so but for capitals, if there is only one such.
pub(super) fn unit_but_for_capitals(name: &str) -> Option<&'static Unit> {
    let name = even_out(name)?;
    let mut alike = TABLE.iter().filter(|unit| {
        std::iter::once(&unit.symbol).chain(unit.aliases).any(|other| other.eq_ignore_ascii_case(&name))
    });
    match (alike.next(), alike.next()) {
        (Some(unit), None) => Some(unit),
        _ => None,
    }
}

/// No unit is written in more bytes than this.
const LONGEST_NAME: usize = 40;

/// A unit's name in the letters of the table; nothing if it is too long to be one.
fn even_out(name: &str) -> Option<String> {
    if name.len() > LONGEST_NAME {
        return None;
    }
    let mut even = String::with_capacity(name.len());
    for character in name.chars() {
        match character {
            '¹' => even.push('1'),
            '²' => even.push('2'),
            '³' => even.push('3'),
            '⁻' | '−' => even.push('-'),
            '^' => {}
            '°' | 'º' => even.push_str("deg"),
            '℃' => even.push_str("degC"),
            '℉' => even.push_str("degF"),
            '"' | '″' | '”' => even.push_str("in"),
            '·' | '⋅' | '×' | '*' | '.' => even.push(' '),
            other => even.push(other),
        }
    }
    let words: Vec<&str> = even.split_whitespace().collect();
    let mut joined = words.join(" ");
    for (spaced, tight) in [(" /", "/"), ("/ ", "/"), ("( ", "("), (" )", ")")] {
        joined = joined.replace(spaced, tight);
    }
    Some(joined)
}

#[cfg(test)]
mod tests;
