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
    let last_width = last.iter().map(|cell| length(cell)).max().unwrap_or(0);
    let mut rest = columns;
    let mut first = true;
    while !rest.is_empty() || first {
        let room = if first && last_width > 0 { last_width + 2 } else { 0 };
        let mut used = key_width + room;
        let mut count = 0;
        for (i, column) in rest.iter().enumerate() {
            let gap = if i == 0 || rest.get(i - 1).is_some_and(|before| before.group != column.group) {
                2
            } else {
                1
            };
            used += gap + column.width();
            if used > width && count > 0 {
                break;
            }
            count += 1;
        }
        let (here, later) = rest.split_at(count.min(rest.len()));
        if !first {
            out.push('\n');
        }
        block(out, heading, keys, here, if first { last } else { &[] }, key_width);
        rest = later;
        first = false;
    }
}

fn block(
    out: &mut String,
    heading: &str,
    keys: &[String],
    columns: &[Column],
    last: &[String],
    key_width: usize,
) {
    let groups: Vec<&[Column]> = columns.chunk_by(|one, other| one.group == other.group).collect();
    let mut lines = vec![" ".repeat(key_width)];
    for group in &groups {
        let inner = group.iter().map(Column::width).sum::<usize>() + group.len() - 1;
        let name = group.first().map_or("", |column| column.group.as_str());
        let cut: String = name.chars().take(inner).collect();
        push_line(&mut lines, 0, &format!("  {cut:<inner$}"));
    }
    let line_of = |first: String, cell: &dyn Fn(&Column) -> String| {
        let mut line = first;
        for group in &groups {
            line.push(' ');
            for column in *group {
                line.push_str(&format!(" {:>width$}", cell(column), width = column.width()));
            }
        }
        line
    };
    lines.push(line_of(" ".repeat(key_width), &|column| column.name.to_owned()));
    lines.push(line_of(format!("{heading:>key_width$}"), &|column| column.unit.to_owned()));
    for (row, key) in keys.iter().enumerate() {
        let mut line = line_of(format!("{key:>key_width$}"), &|column| {
            column.cells.get(row).cloned().unwrap_or_default()
        });
        if let Some(mark) = last.get(row) {
            line.push_str("  ");
            line.push_str(mark);
        }
        lines.push(line);
    }
    for line in lines {
        out.push_str(line.trim_end());
        out.push('\n');
    }
}

fn push_line(lines: &mut [String], at: usize, text: &str) {
    if let Some(line) = lines.get_mut(at) {
        line.push_str(text);
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
