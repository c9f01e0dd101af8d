use proptest::prelude::*;

use super::*;

/// An invented map: every line a parabola of head over flow with a steeper end, growing with speed
/// a little faster than affinity has it. `growth` is the share by which flow coefficient grows from
/// standstill to full speed.
fn invented(speeds: &[f64], places: &[f64], growth: f64, steepness: f64) -> Vec<MapPoint> {
    let top = speeds.iter().copied().fold(0.0, f64::max);
    speeds
        .iter()
        .flat_map(|&speed| {
            let n = speed / top;
            places.iter().map(move |&place| {
                let flow = n * (1.0 + growth * n) * (0.5 + 0.5 * place);
                let fall = 0.1 * place * place + steepness * place.powi(8);
                let head = 0.3 * n * n * (1.0 - fall) * (1.0 + 0.05 * n);
                MapPoint {
                    speed,
                    flow: 0.2 * flow,
                    pressure_ratio: (1.0 + head).powf(3.5),
                    efficiency: Some(0.78 - 0.15 * (place - 0.4).powi(2) - 0.02 * n),
                }
            })
        })
        .collect()
}

fn plain() -> Vec<MapPoint> {
    invented(&[4000.0, 6000.0, 8000.0, 9500.0], &[0.0, 0.3, 0.6, 0.8, 0.95, 1.0], 0.2, 0.5)
}

fn faults(change: impl FnOnce(&mut Vec<MapPoint>)) -> Vec<MapFault> {
    let mut points = plain();
    change(&mut points);
    Map::new(&points).err().unwrap_or_default()
}

#[test]
fn the_invented_map_has_no_fault() {
    assert_eq!(faults(|_| {}), vec![]);
}

#[test]
fn lines_may_be_given_from_either_end() {
    let mut points = plain();
    points.reverse();
    let (a, b) = (Map::new(&plain()).unwrap(), Map::new(&points).unwrap());
    let (a, b) = (a.find(0.12, 1.6).unwrap(), b.find(0.12, 1.6).unwrap());
    assert!((a.speed - b.speed).abs() < 1e-9 * a.speed);
}

#[test]
fn points_that_are_no_numbers_are_named() {
    assert_eq!(faults(|p| p[3].flow = 0.0), vec![MapFault::NotPositive { point: 3 }]);
    assert_eq!(faults(|p| p[4].speed = f64::NAN), vec![MapFault::NotPositive { point: 4 }]);
    assert_eq!(
        faults(|p| {
            p[5].efficiency = Some(78.0);
            p[9].pressure_ratio = -1.0;
        }),
        vec![MapFault::EfficiencyOutOfRange { point: 5 }, MapFault::NotPositive { point: 9 }]
    );
    assert_eq!(faults(|p| p[2].efficiency = None), vec![MapFault::EfficiencyMissing { point: 2 }]);
}

#[test]
fn too_little_is_named() {
    assert_eq!(faults(|p| p.truncate(6)), vec![MapFault::TooFewLines { lines: 1 }]);
    assert_eq!(faults(Vec::clear), vec![MapFault::TooFewLines { lines: 0 }]);
    assert_eq!(faults(|p| p.truncate(8)), vec![MapFault::TooFewPoints { point: 6, points: 2 }]);
    assert_eq!(
        faults(|p| p[..6].iter_mut().for_each(|point| point.pressure_ratio *= 0.5)),
        vec![MapFault::NoPressureRise { point: 0 }]
    );
}

#[test]
fn speeds_of_one_line_may_scatter_but_not_run_together() {
    assert_eq!(faults(|p| p[1].speed *= 1.003), vec![]);
    let running =
        faults(|p| (0..6).for_each(|i| p[i].speed *= 1.0 + 0.003 * f64::from(u8::try_from(i).unwrap())));
    assert_eq!(running, vec![MapFault::SpeedsRunTogether { lowest: 0, highest: 5 }]);
}

#[test]
fn a_line_that_turns_back_is_named() {
    assert_eq!(faults(|p| p[2] = p[1]), vec![MapFault::Repeated { point: 2, before: 1 }]);
    // A cell mistyped by a factor of ten.
    assert!(faults(|p| p[2].flow *= 0.1).iter().any(|fault| matches!(fault, MapFault::FlowNotRising { .. })));
    assert!(faults(|p| p[4].pressure_ratio = p[3].pressure_ratio * 1.02).iter().any(|fault| matches!(
        fault,
        MapFault::RatioNotFalling { point: 4, before: 3 } | MapFault::LinesCross { .. }
    )));
    // A line of no width: every flow within scatter, the last below the first.
    let upright = faults(|p| (1..6).for_each(|i| p[i].flow = p[0].flow * (1.0 - 0.0001 * i as f64)));
    assert_eq!(upright, vec![MapFault::FlowNotRising { point: 5, before: 0 }]);
    // Within the scatter of measurement nothing is said.
    assert_eq!(faults(|p| p[5].flow = p[4].flow * 0.999), vec![]);
}

#[test]
fn lines_that_cross_are_named() {
    let crossing = faults(|p| p[6..12].iter_mut().for_each(|point| point.flow *= 0.4));
    assert!(crossing.iter().any(|fault| matches!(fault, MapFault::LinesCross { .. })), "{crossing:?}");
    let sinking = faults(|p| p[6].pressure_ratio = p[0].pressure_ratio * 0.99);
    assert!(sinking.contains(&MapFault::SurgeRatioNotRising { point: 6, before: 0 }), "{sinking:?}");
}

#[test]
fn a_map_without_efficiency_gives_none() {
    let mut points = plain();
    points.iter_mut().for_each(|point| point.efficiency = None);
    let map = Map::new(&points).unwrap();
    assert!(!map.has_efficiency());
    assert_eq!(map.find(0.12, 1.6).unwrap().efficiency, None);
}

#[test]
fn a_scaled_map_is_the_map_of_scaled_points() {
    let map = Map::new(&plain()).unwrap();
    let scaled = map.scaled(1.7).unwrap();
    let (a, b) = (map.find(0.12, 1.6).unwrap(), scaled.find(0.12 * 1.7, 1.6).unwrap());
    assert!((a.speed - b.speed).abs() < 1e-9 * a.speed && (a.coordinate - b.coordinate).abs() < 1e-9);
    let surge = scaled.surge_at_ratio(1.6).unwrap().flow / map.surge_at_ratio(1.6).unwrap().flow;
    assert!((surge - 1.7).abs() < 1e-9);
    assert_eq!(map.scaled(0.0), None);
}

#[test]
fn outside_the_lines_affinity_holds() {
    let map = Map::new(&plain()).unwrap();
    for (edge, factor) in [(map.top_speed(), 1.1), (map.bottom_speed(), 0.7)] {
        for x in [0.0, 0.5, 1.0] {
            let (here, there) = (map.on_line(edge, x).unwrap(), map.on_line(edge * factor, x).unwrap());
            assert!((there.flow / here.flow - factor).abs() < 1e-12);
            assert!((head(there.pressure_ratio) / head(here.pressure_ratio) - factor * factor).abs() < 1e-12);
            assert_eq!(there.efficiency, here.efficiency);
            let found = map.find(there.flow, there.pressure_ratio).unwrap();
            assert!((found.speed / there.speed - 1.0).abs() < 1e-9);
            assert_ne!(found.across, Across::BetweenLines);
        }
    }
}

#[test]
fn impossible_inputs_give_none() {
    let map = Map::new(&plain()).unwrap();
    assert_eq!(map.at(0.0, 0.1), None);
    assert_eq!(map.at(5000.0, -0.1), None);
    assert_eq!(map.at(5000.0, f64::NAN), None);
    assert_eq!(map.on_line(5000.0, f64::NAN), None);
    assert_eq!(map.find(-0.1, 1.5), None);
    assert_eq!(map.surge_at_ratio(0.9), None);
    assert_eq!(map.surge_at_flow(-1.0), None);
    assert_eq!(map.surge_at_flow(0.0).unwrap().pressure_ratio, 1.0);
    assert!(map.at(5000.0, 0.0).unwrap().pressure_ratio > 1.0);
    assert!(map.at(5000.0, 1e3).unwrap().pressure_ratio >= LOWEST_RATIO - 1e-12);
}

prop_compose! {
    fn some_map()(
        steps in proptest::collection::vec(1.06_f64..1.4, 1..6),
        gaps in proptest::collection::vec(0.05_f64..1.0, 2..9),
        growth in 0.0_f64..0.4,
        steepness in 0.02_f64..0.7,
    ) -> Vec<MapPoint> {
        let mut speed = 3000.0;
        let mut speeds = vec![speed];
        for step in steps {
            speed *= step;
            speeds.push(speed);
        }
        let total: f64 = gaps.iter().sum();
        let mut place = 0.0;
        let mut places = vec![0.0];
        for gap in gaps {
            place += gap / total;
            places.push(place.min(1.0));
        }
        invented(&speeds, &places, growth, steepness)
    }
}

proptest! {
    #[test]
    fn every_point_is_met(points in some_map()) {
        let map = Map::new(&points).unwrap();
        for point in &points {
            let at = map.at(point.speed, point.flow).unwrap();
            prop_assert!((at.pressure_ratio / point.pressure_ratio - 1.0).abs() < 1e-8);
            let found = map.find(point.flow, point.pressure_ratio).unwrap();
            prop_assert!((found.speed / point.speed - 1.0).abs() < 1e-8);
            prop_assert!((found.efficiency.unwrap() - point.efficiency.unwrap()).abs() < 1e-7);
        }
    }

    #[test]
    fn find_undoes_at(points in some_map(), speed in 0.5_f64..1.3, flow in 0.05_f64..1.1) {
        let map = Map::new(&points).unwrap();
        let speed = speed * map.top_speed();
        let flow = flow * map.choke_flow_at_speed(speed).unwrap();
        let at = map.at(speed, flow).unwrap();
        // A ratio below 1 may be had at two speeds; nothing asks for one.
        if at.pressure_ratio > 1.0 {
            let found = map.find(flow, at.pressure_ratio).unwrap();
            prop_assert!((found.speed / speed - 1.0).abs() < 1e-7, "{at:?} {found:?}");
            prop_assert!((found.efficiency.unwrap() - at.efficiency.unwrap()).abs() < 1e-6);
        }
    }

    #[test]
    fn lines_between_two_stay_between_them(points in some_map(), share in 0.0_f64..1.0, x in 0.0_f64..1.0) {
        let map = Map::new(&points).unwrap();
        let speeds: Vec<f64> = map.speeds().collect();
        for pair in speeds.windows(2) {
            let between = map.on_line(pair[0] + share * (pair[1] - pair[0]), x).unwrap();
            let (low, high) = (map.on_line(pair[0], x).unwrap(), map.on_line(pair[1], x).unwrap());
            for (value, a, b) in [
                (between.flow, low.flow, high.flow),
                (between.pressure_ratio, low.pressure_ratio, high.pressure_ratio),
                (between.efficiency.unwrap(), low.efficiency.unwrap(), high.efficiency.unwrap()),
            ] {
                prop_assert!(value >= a.min(b) - 1e-9 && value <= a.max(b) + 1e-9);
            }
        }
    }

    #[test]
    fn flow_rises_and_ratio_falls_along_every_line(points in some_map(), speed in 0.4_f64..1.2) {
        let map = Map::new(&points).unwrap();
        let line: Vec<MapState> =
            (0..=200).map(|k| map.on_line(speed * map.top_speed(), f64::from(k) / 200.0).unwrap()).collect();
        for pair in line.windows(2) {
            prop_assert!(pair[0].flow < pair[1].flow);
            prop_assert!(pair[0].pressure_ratio >= pair[1].pressure_ratio - 1e-12);
        }
    }

    #[test]
    fn nothing_panics_or_gives_no_number(
        rows in proptest::collection::vec((0.0_f64..3.0, -0.5_f64..3.0, 0.0_f64..3.0, 0.0_f64..1.1), 0..14),
        flow in 0.01_f64..3.0,
        ratio in 0.5_f64..4.0,
    ) {
        let points: Vec<MapPoint> = rows
            .into_iter()
            .map(|(speed, flow, pressure_ratio, efficiency)| MapPoint {
                speed: speed.round() + 1.0,
                flow,
                pressure_ratio,
                efficiency: Some(efficiency),
            })
            .collect();
        match Map::new(&points) {
            Ok(map) => {
                for state in [map.find(flow, ratio), map.at(ratio, flow)].into_iter().flatten() {
                    prop_assert!(state.speed.is_finite() && state.pressure_ratio.is_finite());
                }
            }
            Err(faults) => prop_assert!(!faults.is_empty()),
        }
    }
}
