//! Any text as a compressor map: numbers that are finite, or faults inside the text; and what reads can be set up or is
//! refused.

#![no_main]

use libfuzzer_sys::fuzz_target;
use tractwright::build::map_file;
use tractwright::physics::map::{Map, MapPoint};
use tractwright::text::FileId;

fuzz_target!(|text: &str| {
    let table = map_file::read(FileId(0), text);
    for fault in &table.faults {
        assert!(fault.span.start <= text.len());
    }
    let points: Vec<MapPoint> = table
        .rows
        .iter()
        .map(|row| MapPoint {
            speed: row.speed,
            flow: row.flow,
            pressure_ratio: row.ratio,
            efficiency: row.efficiency,
        })
        .collect();
    assert!(points.iter().all(|point| point.flow.is_finite() && point.pressure_ratio.is_finite()));
    if let Ok(map) = Map::new(&points) {
        for (flow, ratio) in [(0.1, 1.5), (1e-9, 1.0), (1e6, 9.0)] {
            if let Some(state) = map.find(flow, ratio) {
                assert!(state.speed.is_finite() && state.speed > 0.0);
            }
        }
    }
});
