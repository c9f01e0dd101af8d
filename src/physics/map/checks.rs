//! What makes a list of points a map: grouping into lines, order along each, and everything that
//! can be wrong.

use super::line::{Line, Node, Position, USUAL_WEIGHT};
use super::{Map, MapPoint, head};

/// Points whose speeds lie this close (as a share) belong to one line.
pub const SAME_SPEED: f64 = 0.005;
/// Flow may fall, and ratio right of the peak rise, by this share between readings: scatter of
/// measurement.
pub const FLOW_SCATTER: f64 = 0.003;

/// Least step between two points along a line, in units of the largest coefficients: closer ones
/// are one place.
const LEAST_STEP: f64 = 1e-7;

/// Least weight of head in the diagonal: readings that rise more steeply than it allows are one
/// place but for scatter.
const LEAST_WEIGHT: f64 = 0.1;

/// What keeps a list of points from being a map. Numbers are places in the list handed to
/// [`Map::new`].
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum MapFault {
    /// Fewer than two speed lines.
    TooFewLines {
        /// How many there are.
        lines: usize,
    },
    /// Speed, flow or ratio is not a positive finite number.
    NotPositive {
        /// The point.
        point: usize,
    },
    /// Efficiency is not between 0 and 1.
    EfficiencyOutOfRange {
        /// The point.
        point: usize,
    },
    /// Some points have an efficiency, this one has not.
    EfficiencyMissing {
        /// The point.
        point: usize,
    },
    /// Speeds follow each other so closely that no lines can be told apart: a chain of points
    /// within 0.5 % of the next spreads over more than 1 %.
    SpeedsRunTogether {
        /// Point of the lowest speed.
        lowest: usize,
        /// Point of the highest speed.
        highest: usize,
    },
    /// A line of fewer than three points.
    TooFewPoints {
        /// Its first point.
        point: usize,
        /// How many it has.
        points: usize,
    },
    /// No point of a line has a pressure ratio above 1.
    NoPressureRise {
        /// Its first point.
        point: usize,
    },
    /// A point of the same line lies at the same place.
    Repeated {
        /// The point.
        point: usize,
        /// The earlier one.
        before: usize,
    },
    /// Flow falls along the line, in the order given or the reverse, by more than the scatter of
    /// measurement.
    FlowNotRising {
        /// The point.
        point: usize,
        /// The point it falls from.
        before: usize,
    },
    /// Ratio rises again right of the line's peak by more than the scatter of measurement.
    RatioNotFalling {
        /// The point.
        point: usize,
        /// The point it rises from.
        before: usize,
    },
    /// A point lies on the wrong side of the next speed line, or of that line's steep continuation
    /// beyond its choke end.
    LinesCross {
        /// The point.
        point: usize,
        /// First point of the line it should lie below or above.
        line: usize,
    },
    /// The surge point of a line has no higher ratio than that of the line of the next lower speed.
    SurgeRatioNotRising {
        /// Surge point of the faster line.
        point: usize,
        /// Surge point of the slower line.
        before: usize,
    },
}

/// A line on its way: places in the list, in order along the line, and their nodes.
struct Draft {
    relative_speed: f64,
    members: Vec<(usize, Node)>,
}

impl Draft {
    fn first(&self) -> usize {
        self.members.iter().map(|(point, _)| *point).min().unwrap_or_default()
    }

    fn surge(&self) -> Option<&(usize, Node)> {
        self.members.first()
    }
}

pub(super) fn build(points: &[MapPoint]) -> Result<Map, Vec<MapFault>> {
    let faults = faults_of_points(points);
    if !faults.is_empty() {
        return Err(faults);
    }
    let groups = group(points);
    let mut faults = faults_of_groups(points, &groups);
    if !faults.is_empty() {
        return Err(faults);
    }

    let (mut drafts, scale) = draft_lines(points, &groups);
    for draft in &drafts {
        faults_of_line(points, draft, &mut faults);
    }
    if !faults.is_empty() {
        return Err(faults);
    }

    let weight = weight_of_head(&drafts);
    for draft in &mut drafts {
        // Readings within scatter of each other may change places.
        draft.members.sort_by(|a, b| a.1.position.diagonal(weight).total_cmp(&b.1.position.diagonal(weight)));
        faults_of_order(draft, weight, &mut faults);
    }
    if !faults.is_empty() {
        return Err(faults);
    }

    let exact = lines(&drafts, weight, |members| members.to_vec(), &mut faults);
    let rising = lines(&drafts, weight, rising_part, &mut faults);
    if faults.is_empty() {
        faults_between_lines(&drafts, &exact, &mut faults);
    }
    if !faults.is_empty() {
        return Err(faults);
    }
    Ok(Map { exact, rising, ..scale })
}

/// The lines of a map in units of their largest coefficients, each from lowest flow to choke end,
/// and a map without curves that holds those units.
fn draft_lines(points: &[MapPoint], groups: &[Vec<usize>]) -> (Vec<Draft>, Map) {
    let speeds: Vec<f64> = groups.iter().map(|members| mean_speed(points, members)).collect();
    let top_speed = speeds.iter().copied().fold(0.0, f64::max);
    let coefficients = |point: usize, speed: f64| {
        let relative = speed / top_speed;
        Position {
            flow: points[point].flow / relative,
            head: head(points[point].pressure_ratio) / (relative * relative),
        }
    };
    let all = || {
        groups
            .iter()
            .zip(&speeds)
            .flat_map(|(members, speed)| members.iter().map(|&point| coefficients(point, *speed)))
    };
    let flow_unit = all().map(|position| position.flow).fold(0.0, f64::max);
    let head_unit = all().map(|position| position.head).fold(0.0, f64::max);

    let drafts = groups
        .iter()
        .zip(&speeds)
        .map(|(members, &speed)| {
            let mut members: Vec<(usize, Node)> = members
                .iter()
                .map(|&point| {
                    let raw = coefficients(point, speed);
                    let position = Position { flow: raw.flow / flow_unit, head: raw.head / head_unit };
                    let efficiency = points[point].efficiency;
                    (point, Node { position, efficiency })
                })
                .collect();
            // From lowest flow to choke end, whichever way round the line was given.
            members.sort_by_key(|(point, _)| *point);
            if let ([first, ..], [.., last]) = (members.as_slice(), members.as_slice())
                && first.1.position.flow > last.1.position.flow
            {
                members.reverse();
            }
            Draft { relative_speed: speed / top_speed, members }
        })
        .collect();
    let scale = Map { exact: Vec::new(), rising: Vec::new(), top_speed, flow_unit, head_unit };
    (drafts, scale)
}

fn faults_of_points(points: &[MapPoint]) -> Vec<MapFault> {
    let some_efficiency = points.iter().any(|point| point.efficiency.is_some());
    let mut faults = Vec::new();
    for (point, values) in points.iter().enumerate() {
        if !super::all_positive(&[values.speed, values.flow, values.pressure_ratio]) {
            faults.push(MapFault::NotPositive { point });
        }
        match values.efficiency {
            Some(efficiency) if !(efficiency > 0.0 && efficiency < 1.0) => {
                faults.push(MapFault::EfficiencyOutOfRange { point });
            }
            None if some_efficiency => faults.push(MapFault::EfficiencyMissing { point }),
            _ => {}
        }
    }
    faults
}

/// Lists of points of one speed each, in order of speed.
fn group(points: &[MapPoint]) -> Vec<Vec<usize>> {
    let mut order: Vec<usize> = (0..points.len()).collect();
    order.sort_by(|&a, &b| points[a].speed.total_cmp(&points[b].speed));
    order
        .chunk_by(|&a, &b| points[b].speed <= points[a].speed * (1.0 + SAME_SPEED))
        .map(<[usize]>::to_vec)
        .collect()
}

fn mean_speed(points: &[MapPoint], members: &[usize]) -> f64 {
    members.iter().map(|&point| points[point].speed).sum::<f64>() / members.len() as f64
}

fn faults_of_groups(points: &[MapPoint], groups: &[Vec<usize>]) -> Vec<MapFault> {
    let mut faults = Vec::new();
    if groups.len() < 2 {
        faults.push(MapFault::TooFewLines { lines: groups.len() });
    }
    for members in groups {
        let (Some(&lowest), Some(&highest)) = (members.first(), members.last()) else {
            continue;
        };
        let first = members.iter().copied().min().unwrap_or(lowest);
        if points[highest].speed > points[lowest].speed * (1.0 + 2.0 * SAME_SPEED) {
            faults.push(MapFault::SpeedsRunTogether { lowest, highest });
        }
        if members.len() < 3 {
            faults.push(MapFault::TooFewPoints { point: first, points: members.len() });
        }
        if members.iter().all(|&point| points[point].pressure_ratio <= 1.0) {
            faults.push(MapFault::NoPressureRise { point: first });
        }
    }
    faults
}

fn faults_of_line(points: &[MapPoint], draft: &Draft, faults: &mut Vec<MapFault>) {
    let order: Vec<usize> = draft.members.iter().map(|(point, _)| *point).collect();
    let flow = |point: usize| points[point].flow;
    let ratio = |point: usize| points[point].pressure_ratio;

    let mut highest = order.first().copied().unwrap_or_default();
    let mut told = None;
    for &point in &order {
        // One point too high makes all that follow look too low: told once.
        if flow(point) < flow(highest) * (1.0 - FLOW_SCATTER) && told != Some(highest) {
            faults.push(MapFault::FlowNotRising { point, before: highest });
            told = Some(highest);
        }
        if flow(point) > flow(highest) {
            highest = point;
        }
    }
    let peak = place_of_largest(&order, |&point| ratio(point));
    let mut lowest = order.get(peak).copied().unwrap_or_default();
    for &point in order.iter().skip(peak) {
        if ratio(point) > ratio(lowest) * (1.0 + FLOW_SCATTER) {
            faults.push(MapFault::RatioNotFalling { point, before: lowest });
        }
        if ratio(point) < ratio(lowest) {
            lowest = point;
        }
    }
}

/// Weight of head in the diagonal: small enough that the steepest rise of head over flow left of a
/// peak goes forward.
fn weight_of_head(drafts: &[Draft]) -> f64 {
    let steepest = |draft: &Draft| {
        let order: Vec<Position> = draft.members.iter().map(|(_, node)| node.position).collect();
        let peak = place_of_largest(&order, |position| position.head);
        order
            .windows(2)
            .take(peak)
            .filter(|pair| pair[1].flow > pair[0].flow && pair[1].head > pair[0].head)
            .map(|pair| 0.5 * (pair[1].flow - pair[0].flow) / (pair[1].head - pair[0].head))
            .fold(USUAL_WEIGHT, f64::min)
    };
    drafts.iter().map(steepest).fold(USUAL_WEIGHT, f64::min).max(LEAST_WEIGHT)
}

/// Place of the (last) largest value; 0 if there is none.
fn place_of_largest<T>(values: &[T], of: impl Fn(&T) -> f64) -> usize {
    (0..values.len()).max_by(|&a, &b| of(&values[a]).total_cmp(&of(&values[b]))).unwrap_or_default()
}

fn faults_of_order(draft: &Draft, weight: f64, faults: &mut Vec<MapFault>) {
    for pair in draft.members.windows(2) {
        if pair[1].1.position.diagonal(weight) - pair[0].1.position.diagonal(weight) < LEAST_STEP * weight {
            let (a, b) = (pair[0].0, pair[1].0);
            faults.push(MapFault::Repeated { point: a.max(b), before: a.min(b) });
        }
    }
    if let ([(before, first), ..], [.., (point, last)]) = (draft.members.as_slice(), draft.members.as_slice())
        && last.position.flow <= first.position.flow
    {
        faults.push(MapFault::FlowNotRising { point: *point, before: *before });
    }
}

fn lines(
    drafts: &[Draft],
    weight: f64,
    choose: impl Fn(&[(usize, Node)]) -> Vec<(usize, Node)>,
    faults: &mut Vec<MapFault>,
) -> Vec<Line> {
    let mut lines = Vec::new();
    for draft in drafts {
        let nodes: Vec<Node> = choose(&draft.members).into_iter().map(|(_, node)| node).collect();
        match Line::new(draft.relative_speed, &nodes, weight) {
            Some(line) => lines.push(line),
            // The checks of each line leave nothing that makes no curve; told all the same rather
            // than dropped.
            None => faults.push(MapFault::Repeated { point: draft.first(), before: draft.first() }),
        }
    }
    lines
}

/// The longest part of a line along which flow strictly rises, both ends kept.
fn rising_part(members: &[(usize, Node)]) -> Vec<(usize, Node)> {
    // For each point: how long the best part ending there is, and the point before it.
    let mut best: Vec<Option<(usize, usize)>> = Vec::new();
    for (i, (_, node)) in members.iter().enumerate() {
        let before = (0..i)
            .filter_map(|j| best[j].map(|(length, _)| (length, j)))
            .filter(|&(_, j)| members[j].1.position.flow < node.position.flow)
            .max_by_key(|&(length, j)| (length, std::cmp::Reverse(j)));
        best.push(match before {
            Some((length, j)) => Some((length + 1, j)),
            None if i == 0 => Some((1, 0)),
            None => None,
        });
    }
    let mut chosen = Vec::new();
    let mut i = members.len().saturating_sub(1);
    while let Some(Some((length, before))) = best.get(i) {
        chosen.push(members[i]);
        if *length == 1 {
            break;
        }
        i = *before;
    }
    chosen.reverse();
    chosen
}

fn faults_between_lines(drafts: &[Draft], lines: &[Line], faults: &mut Vec<MapFault>) {
    for (draft, line) in drafts.windows(2).zip(lines.windows(2)) {
        let speed_ratio = line[1].relative_speed / line[0].relative_speed;
        for (point, node) in &draft[1].members {
            if line[0].excess(at_speed(node.position, speed_ratio)) <= 0.0 {
                faults.push(MapFault::LinesCross { point: *point, line: draft[0].first() });
            }
        }
        for (point, node) in &draft[0].members {
            if line[1].excess(at_speed(node.position, 1.0 / speed_ratio)) >= 0.0 {
                faults.push(MapFault::LinesCross { point: *point, line: draft[1].first() });
            }
        }
        if let (Some((before, lower)), Some((point, upper))) = (draft[0].surge(), draft[1].surge())
            && upper.position.head * speed_ratio * speed_ratio <= lower.position.head
        {
            faults.push(MapFault::SurgeRatioNotRising { point: *point, before: *before });
        }
    }
}

/// Affinity variables of a state at a speed lower by `speed_ratio` than the one they are given for.
fn at_speed(position: Position, speed_ratio: f64) -> Position {
    Position { flow: position.flow * speed_ratio, head: position.head * speed_ratio * speed_ratio }
}
