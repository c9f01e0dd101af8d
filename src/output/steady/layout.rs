//! Columns of numbers, set beside each other as far as the width allows and below each other where it does not.

use crate::output::safe_text::one_line;

/// A column: three lines of heading and one cell a row.
pub struct Column {
    /// What it belongs to; neighbours of the same group share its heading.
    pub group: String,
    /// What it is.
    pub name: &'static str,
    /// Its unit.
    pub unit: &'static str,
    /// Its cells.
    pub cells: Vec<String>,
}

impl Column {
    /// A column.
    pub fn new(group: &str, name: &'static str, unit: &'static str, cells: Vec<String>) -> Self {
        Self { group: one_line(group), name, unit, cells }
    }

    fn width(&self) -> usize {
        let cells = self.cells.iter().map(|cell| length(cell)).max().unwrap_or(0);
        cells.max(length(self.name)).max(length(self.unit))
    }
}

fn length(text: &str) -> usize {
    text.chars().count()
}

/// Columns of one group, side by side.
struct Group<'c> {
    columns: &'c [Column],
}

/// No heading of a group makes its columns wider than this.
const LONGEST_HEADING: usize = 18;

impl Group<'_> {
    fn name(&self) -> String {
        self.columns.first().map_or_else(String::new, |one| one.group.chars().take(LONGEST_HEADING).collect())
    }

    /// Width of each column: the first gives way to the heading above them.
    fn widths(&self) -> Vec<usize> {
        let mut widths: Vec<usize> = self.columns.iter().map(Column::width).collect();
        let all = widths.iter().sum::<usize>() + widths.len().saturating_sub(1);
        if let Some(first) = widths.first_mut() {
            *first += length(&self.name()).saturating_sub(all);
        }
        widths
    }
}

fn groups(columns: &[Column]) -> Vec<Group<'_>> {
    columns.chunk_by(|one, other| one.group == other.group).map(|columns| Group { columns }).collect()
}

/// Width of all columns, the gaps before them included.
fn width_of(columns: &[Column]) -> usize {
    groups(columns).iter().map(|group| 1 + group.widths().iter().map(|width| width + 1).sum::<usize>()).sum()
}

/// A table whose rows are named by `keys`. What does not fit the width goes into further blocks, which name the rows
/// again. `last` stands at the right of the first block.
pub fn table(
    out: &mut String,
    heading: &str,
    keys: &[String],
    columns: &[Column],
    last: &[String],
    width: usize,
) {
    let key_width = keys.iter().map(|key| length(key)).max().unwrap_or(0).max(length(heading));
    let last_width = last.iter().map(|cell| length(cell) + 2).max().unwrap_or(0);
    let mut rest = columns;
    let mut last = last;
    loop {
        let room = width.saturating_sub(key_width + if last.is_empty() { 0 } else { last_width });
        let fitting = (1..=rest.len())
            .take_while(|count| rest.get(..*count).is_some_and(|some| *count == 1 || width_of(some) <= room));
        let (here, later) = rest.split_at(fitting.last().unwrap_or(0));
        block(out, (heading, key_width), keys, here, last);
        if later.is_empty() {
            return;
        }
        out.push('\n');
        (rest, last) = (later, &[]);
    }
}

fn block(out: &mut String, key: (&str, usize), keys: &[String], columns: &[Column], last: &[String]) {
    let (heading, key_width) = key;
    let groups: Vec<(Group<'_>, Vec<usize>)> =
        groups(columns).into_iter().map(|group| (group.widths(), group)).map(|(w, g)| (g, w)).collect();
    let mut top = " ".repeat(key_width);
    for (group, widths) in &groups {
        let inner = widths.iter().map(|width| width + 1).sum::<usize>().saturating_sub(1);
        top.push_str(&format!("  {:<inner$}", group.name()));
    }
    let line_of = |first: &str, cell: &dyn Fn(&Column) -> String| {
        let mut line = format!("{first:>key_width$}");
        for (group, widths) in &groups {
            line.push(' ');
            for (column, width) in group.columns.iter().zip(widths) {
                line.push_str(&format!(" {:>width$}", cell(column)));
            }
        }
        line
    };
    let mut lines = vec![top];
    lines.push(line_of("", &|column| column.name.to_owned()));
    lines.push(line_of(heading, &|column| column.unit.to_owned()));
    for (row, key) in keys.iter().enumerate() {
        let cells = line_of(key, &|column| column.cells.get(row).cloned().unwrap_or_default());
        let mark = last.get(row).map_or("", String::as_str);
        lines.push(format!("{cells}  {mark}"));
    }
    for line in lines {
        out.push_str(line.trim_end());
        out.push('\n');
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn columns(count: usize) -> Vec<Column> {
        let names = ["a", "b", "c", "d"];
        names
            .iter()
            .take(count)
            .map(|name| Column::new(name, "p", "kPa", vec!["100.0".into(), "7.5".into()]))
            .collect()
    }

    fn drawn(width: usize) -> String {
        let mut out = String::new();
        table(
            &mut out,
            "rpm",
            &["900".into(), "7000".into()],
            &columns(4),
            &["".into(), "< surge".into()],
            width,
        );
        out
    }

    #[test]
    fn no_line_is_longer_than_the_width() {
        for width in 20..60 {
            assert!(
                drawn(width).lines().all(|line| line.chars().count() <= width),
                "{width}: {}",
                drawn(width)
            );
        }
    }

    #[test]
    fn what_does_not_fit_names_its_rows_again() {
        assert_eq!(drawn(60).matches("7000").count(), 1);
        assert_eq!(drawn(30).matches("7000").count(), 2);
        assert_eq!(drawn(30).matches("< surge").count(), 1);
        assert_eq!(drawn(30).matches("100.0").count(), 4);
    }
}
