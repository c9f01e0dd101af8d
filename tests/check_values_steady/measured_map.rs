//! Map interpolation on a measured map: NASA Glenn HECC open data, vaned stage (see the head of the
//! data file).

use tractwright::physics::map::{Across, Along, Map, MapPoint};

const DATA: &str = include_str!("../data/hecc-vaned.csv");

/// Speed of 100 %, rad/s.
const DESIGN_SPEED: f64 = 21_789.0 * std::f64::consts::PI / 30.0;

fn points() -> Vec<MapPoint> {
    DATA.lines()
        .filter(|line| line.starts_with(|first: char| first.is_ascii_digit()))
        .map(|line| {
            let values: Vec<f64> = line.split(',').map(|cell| cell.parse().unwrap()).collect();
            MapPoint {
                speed: values[0] / 100.0 * DESIGN_SPEED,
                flow: values[1],
                pressure_ratio: values[2],
                efficiency: Some(values[3]),
            }
        })
        .collect()
}

/// The nominal speed of a point, per cent.
fn nominal(point: &MapPoint) -> i32 {
    (point.speed / DESIGN_SPEED * 20.0).round() as i32 * 5
}

fn line(speed: i32) -> Vec<MapPoint> {
    points().into_iter().filter(|point| nominal(point) == speed).collect()
}

fn mean_speed(points: &[MapPoint]) -> f64 {
    points.iter().map(|point| point.speed).sum::<f64>() / points.len() as f64
}

const LINES: [i32; 7] = [70, 75, 85, 90, 95, 100, 105];

/// Points without those whose flow does not rise above all before it.
fn rising(points: &[MapPoint]) -> Vec<MapPoint> {
    let mut kept: Vec<MapPoint> = Vec::new();
    for point in points {
        if kept.last().is_none_or(|last| nominal(last) != nominal(point) || last.flow < point.flow) {
            kept.push(*point);
        }
    }
    kept
}

#[test]
fn measured_data_with_scatter_make_a_map() {
    let map = Map::new(&points()).unwrap();
    assert_eq!(points().len(), 92);
    assert_eq!(map.speeds().count(), 7);
    assert!(map.has_efficiency());
}

#[test]
fn a_measured_state_is_found_exactly() {
    let map = Map::new(&points()).unwrap();
    for speed in LINES {
        let line = line(speed);
        let mean = mean_speed(&line);
        for point in &line {
            let found = map.find(point.flow, point.pressure_ratio).unwrap();
            assert!((found.speed / mean - 1.0).abs() < 1e-9, "{point:?} {found:?}");
            assert!(
                (found.efficiency.unwrap() - point.efficiency.unwrap()).abs() < 1e-7,
                "{point:?} {found:?}"
            );
            assert!(found.on_map(), "{found:?}");
        }
    }
}

#[test]
fn at_a_measured_speed_and_rising_flow_the_ratio_is_the_measured_one() {
    let points = rising(&points());
    let map = Map::new(&points).unwrap();
    for speed in LINES {
        let line: Vec<MapPoint> = points.iter().filter(|point| nominal(point) == speed).copied().collect();
        let mean = mean_speed(&line);
        for point in &line {
            let state = map.at(mean, point.flow).unwrap();
            assert!((state.pressure_ratio / point.pressure_ratio - 1.0).abs() < 1e-8, "{point:?} {state:?}");
            assert!(
                (state.efficiency.unwrap() - point.efficiency.unwrap()).abs() < 1e-7,
                "{point:?} {state:?}"
            );
        }
    }
}

#[test]
fn no_line_overshoots_between_its_points() {
    let map = Map::new(&points()).unwrap();
    for speed in LINES {
        let line = line(speed);
        let mean = mean_speed(&line);
        let places: Vec<f64> =
            line.iter().map(|p| map.find(p.flow, p.pressure_ratio).unwrap().coordinate).collect();
        for (pair, place) in line.windows(2).zip(places.windows(2)) {
            assert!(place[0] < place[1], "the file's order is the order along the line");
            for k in 0..=50 {
                let x = place[0] + (place[1] - place[0]) * f64::from(k) / 50.0;
                let state = map.on_line(mean, x).unwrap();
                for (value, a, b) in [
                    (state.flow, pair[0].flow, pair[1].flow),
                    (state.pressure_ratio, pair[0].pressure_ratio, pair[1].pressure_ratio),
                    (state.efficiency.unwrap(), pair[0].efficiency.unwrap(), pair[1].efficiency.unwrap()),
                ] {
                    assert!(value >= a.min(b) - 1e-9 && value <= a.max(b) + 1e-9, "{pair:?} {state:?}");
                }
            }
        }
    }
}

#[test]
fn ratio_and_efficiency_are_continuous_in_speed_and_flow() {
    let map = Map::new(&points()).unwrap();
    let share = 1e-7;
    for speed in 60..=112 {
        for step in 1..60 {
            let n = f64::from(speed) / 100.0 * DESIGN_SPEED;
            let flow = 0.1 * f64::from(step);
            let here = map.at(n, flow).unwrap();
            for (n, flow) in [(n * (1.0 + share), flow), (n, flow * (1.0 + share))] {
                let there = map.at(n, flow).unwrap();
                assert!((there.pressure_ratio - here.pressure_ratio).abs() < 2e-3, "{here:?} {there:?}");
                assert!(
                    (there.efficiency.unwrap() - here.efficiency.unwrap()).abs() < 1e-3,
                    "{here:?} {there:?}"
                );
            }
        }
    }
    // Across each line itself, where one pair of lines hands over to the next.
    for speed in map.speeds().collect::<Vec<_>>() {
        for x in [0.0, 0.2, 0.5, 0.8, 1.0] {
            let below = map.on_line(speed * (1.0 - 1e-10), x).unwrap();
            let above = map.on_line(speed * (1.0 + 1e-10), x).unwrap();
            assert!((below.pressure_ratio - above.pressure_ratio).abs() < 1e-8);
            assert!((below.flow - above.flow).abs() < 1e-8);
            assert!((below.efficiency.unwrap() - above.efficiency.unwrap()).abs() < 1e-8);
        }
    }
}

// The choked ends, where repeated readings scatter in flow by 0.2 %: still one falling ratio, and no jump of it.
#[test]
fn scatter_at_choke_makes_no_jump() {
    let map = Map::new(&points()).unwrap();
    for speed in [72, 75, 80, 85, 90, 95, 98, 100, 103, 105] {
        let n = f64::from(speed) / 100.0 * DESIGN_SPEED;
        let choke = map.choke_flow_at_speed(n).unwrap();
        let ratios: Vec<f64> = (0..=40_000)
            .map(|k| choke * (0.98 + 0.022 * f64::from(k) / 40_000.0))
            .map(|flow| map.at(n, flow).unwrap().pressure_ratio)
            .collect();
        for pair in ratios.windows(2) {
            assert!(pair[1] < pair[0] + 1e-12 && pair[0] - pair[1] < 0.05, "{speed} {pair:?}");
        }
    }
}

#[test]
fn one_flow_gives_one_ratio_that_falls_right_of_the_peak() {
    let map = Map::new(&points()).unwrap();
    for speed in [65, 70, 73, 75, 80, 85, 90, 97, 100, 105, 108] {
        let n = f64::from(speed) / 100.0 * DESIGN_SPEED;
        let surge = map.surge_at_speed(n).unwrap();
        let choke = map.choke_flow_at_speed(n).unwrap();
        let ratios: Vec<f64> = (0..=400)
            .map(|k| surge.flow + (1.05 * choke - surge.flow) * f64::from(k) / 400.0)
            .map(|flow| map.at(n, flow).unwrap().pressure_ratio)
            .collect();
        let peak = (0..ratios.len()).max_by(|&a, &b| ratios[a].total_cmp(&ratios[b])).unwrap();
        assert!(ratios[peak..].windows(2).all(|pair| pair[1] < pair[0] + 1e-12), "{speed}");
    }
}

#[test]
fn find_returns_the_speed_that_at_was_given() {
    let map = Map::new(&rising(&points())).unwrap();
    for speed in 50..=115 {
        let n = f64::from(speed) / 100.0 * DESIGN_SPEED;
        let choke = map.choke_flow_at_speed(n).unwrap();
        for share in [0.3, 0.7, 0.8, 0.9, 0.95, 0.99, 0.999, 1.01] {
            let state = map.at(n, share * choke).unwrap();
            let found = map.find(state.flow, state.pressure_ratio).unwrap();
            assert!((found.speed / n - 1.0).abs() < 1e-8, "{state:?} {found:?}");
            assert!(
                (found.efficiency.unwrap() - state.efficiency.unwrap()).abs() < 1e-6,
                "{state:?} {found:?}"
            );
            assert_eq!((found.along, found.across), (state.along, state.across));
        }
    }
}

#[test]
fn places_beside_the_map_are_named() {
    let map = Map::new(&points()).unwrap();
    let of = |flow, ratio| {
        let state = map.find(flow, ratio).unwrap();
        (state.along, state.across)
    };
    assert_eq!(of(4.5, 4.0), (Along::OnLine, Across::BetweenLines));
    assert_eq!(of(3.0, 4.0), (Along::LeftOfSurge, Across::BetweenLines));
    assert_eq!(of(4.5, 1.5), (Along::BeyondChoke, Across::BetweenLines));
    assert_eq!(of(5.8, 5.3), (Along::OnLine, Across::AboveTopLine));
    assert_eq!(of(1.5, 1.5), (Along::OnLine, Across::BelowBottomLine));
    assert_eq!(map.find(0.0, 2.0), None);
    assert_eq!(map.find(f64::NAN, 2.0), None);
    // Left of the surge line: speed and efficiency of the surge point with that ratio.
    let left = map.find(3.0, 4.0).unwrap();
    let surge = map.surge_at_speed(left.speed).unwrap();
    assert!((surge.pressure_ratio - 4.0).abs() < 1e-9);
    assert_eq!(left.efficiency, surge.efficiency);
}

#[test]
fn the_surge_line_passes_through_the_first_points_and_ends_at_the_top_line() {
    let map = Map::new(&points()).unwrap();
    for speed in LINES {
        let first = line(speed)[0];
        let at_ratio = map.surge_at_ratio(first.pressure_ratio).unwrap();
        let at_flow = map.surge_at_flow(first.flow).unwrap();
        assert!((at_ratio.flow - first.flow).abs() < 1e-8);
        assert!((at_flow.pressure_ratio - first.pressure_ratio).abs() < 1e-8);
        assert!(!at_ratio.below_lowest && !at_flow.below_lowest);
    }
    assert_eq!(map.surge_at_ratio(5.5), None);
    assert_eq!(map.surge_at_flow(5.4), None);
    let below = map.surge_at_ratio(1.5).unwrap();
    assert!(below.below_lowest && below.flow > 0.0 && below.flow < 2.0);
}

/// Errors of a line rebuilt from its two neighbours.
#[derive(Debug)]
struct Rebuilt {
    lowest_flow: f64,
    choke_flow: f64,
    ratio_at_flow: f64,
    peak_efficiency: f64,
    efficiency: f64,
}

fn rebuild(speed: i32) -> Rebuilt {
    let left_out = line(speed);
    let others: Vec<MapPoint> = points().into_iter().filter(|point| nominal(point) != speed).collect();
    let map = Map::new(&others).unwrap();
    let mean = mean_speed(&left_out);
    let curve: Vec<_> = (0..=2000).map(|k| map.on_line(mean, f64::from(k) / 2000.0).unwrap()).collect();
    let most = |values: &mut dyn Iterator<Item = f64>| values.fold(0.0, f64::max);
    let largest_flow = most(&mut left_out.iter().map(|p| p.flow));
    let largest_ratio = most(&mut left_out.iter().map(|p| p.pressure_ratio));
    let rebuilt_choke = most(&mut curve.iter().map(|s| s.flow));
    let limit = 0.97 * largest_flow.min(rebuilt_choke);

    let efficiency = most(&mut left_out.iter().map(|point| {
        let distance = |state: &&tractwright::physics::map::MapState| {
            ((state.flow - point.flow) / largest_flow)
                .hypot((state.pressure_ratio - point.pressure_ratio) / largest_ratio)
        };
        let nearest = curve.iter().min_by(|a, b| distance(a).total_cmp(&distance(b))).unwrap();
        (nearest.efficiency.unwrap() - point.efficiency.unwrap()).abs()
    }));
    let ratio_at_flow =
        most(&mut left_out.iter().filter(|point| point.flow >= curve[0].flow && point.flow < limit).map(
            |point| (map.at(mean, point.flow).unwrap().pressure_ratio / point.pressure_ratio - 1.0).abs(),
        ));
    Rebuilt {
        lowest_flow: curve[0].flow / left_out[0].flow - 1.0,
        choke_flow: rebuilt_choke / largest_flow - 1.0,
        ratio_at_flow,
        peak_efficiency: most(&mut curve.iter().map(|s| s.efficiency.unwrap()))
            - most(&mut left_out.iter().map(|p| p.efficiency.unwrap())),
        efficiency,
    }
}

// Limits: some twice what the scheme reaches on these data (the lowest flow is the last steady
// reading and scatters by some 4 % of itself); wider where the neighbours are 15 % apart. A
// monotone cubic of flow and ratio themselves, linear in speed, reaches 3.2 % in ratio and 1.2 % in
// choke flow.
#[test]
fn a_line_left_out_is_rebuilt_from_its_neighbours() {
    for (speed, ratio, choke, peak, efficiency) in [
        (75, 0.02, 0.01, 0.01, 0.025),
        (85, 0.02, 0.01, 0.01, 0.025),
        (90, 0.01, 0.005, 0.005, 0.01),
        (95, 0.01, 0.005, 0.005, 0.01),
        (100, 0.01, 0.005, 0.005, 0.01),
    ] {
        let errors = rebuild(speed);
        assert!(errors.lowest_flow.abs() <= 0.05, "{speed} {errors:?}");
        assert!(errors.choke_flow.abs() <= choke, "{speed} {errors:?}");
        assert!(errors.ratio_at_flow <= ratio, "{speed} {errors:?}");
        assert!(errors.peak_efficiency.abs() <= peak, "{speed} {errors:?}");
        assert!(errors.efficiency <= efficiency, "{speed} {errors:?}");
    }
}
