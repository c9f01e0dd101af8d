//! The points as comma-separated rows: one a site, engine speed and part, exact decimals, units in the header.

use super::columns::QUANTITIES;
use super::{Points, marks, rpm, station_marks};
use crate::model::Outcome;

/// The columns that say which row this is.
const KEYS: [&str; 6] = ["build", "site", "engine-speed [rpm]", "marks", "part", "kind"];

/// All builds in one table. A point that is not solved has one row without a part; its marks say why.
pub fn table(builds: &[Points<'_>]) -> String {
    let mut writer = csv::Writer::from_writer(Vec::new());
    let units = QUANTITIES.iter().map(|quantity| format!("{} [{}]", quantity.name, quantity.unit()));
    let mut rows: Vec<Vec<String>> = vec![KEYS.iter().map(ToString::to_string).chain(units).collect()];
    for build in builds {
        for (site, points) in &build.sites {
            for point in points {
                let words = |marks: &[super::Mark]| {
                    marks.iter().map(|mark| mark.word()).collect::<Vec<_>>().join(" ")
                };
                let key = |words: String, part: &str, kind: &str| {
                    let speed = rpm(point.speed).to_string();
                    let own = [build.path, &site.name, &speed, &words, part, kind];
                    own.iter().map(|cell| plain(cell)).collect::<Vec<_>>()
                };
                let Outcome::Solved(solution) = &point.outcome else {
                    let mut row = key(words(&marks(point)), "", "");
                    row.resize(KEYS.len() + QUANTITIES.len(), String::new());
                    rows.push(row);
                    continue;
                };
                for station in &solution.stations {
                    let mut own = station_marks(station);
                    if point.off_boost {
                        own.insert(0, super::Mark::OffBoost);
                    }
                    let mut row = key(words(&own), &station.part, station.kind.word());
                    row.extend(
                        QUANTITIES
                            .iter()
                            .map(|quantity| (quantity.of)(station).map_or_else(String::new, exact)),
                    );
                    rows.push(row);
                }
            }
        }
    }
    for row in &rows {
        // Writing to memory does not fail, and all rows are as long as the header.
        let _ = writer.write_record(row);
    }
    String::from_utf8(writer.into_inner().unwrap_or_default()).unwrap_or_default()
}

/// The shortest decimals that read back as the same number.
fn exact(value: f64) -> String {
    value.to_string()
}

/// A name that no spreadsheet takes for a formula, on one line.
fn plain(cell: &str) -> String {
    let cell = crate::output::safe_text::one_line(cell);
    if cell.starts_with(['=', '+', '-', '@']) { format!("'{cell}") } else { cell }
}
