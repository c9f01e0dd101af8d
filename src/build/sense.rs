//! What cannot be because two fields contradict each other.

use std::sync::Arc;

use super::Top;
use super::describe::Reading;
use super::engine::Engine;
use super::scalars::{Length, List, Pressure, Q, Text};
use super::site::Site;
use crate::known::{Field, State, Unrecorded};
use crate::text::{FaultKind, Node, Part, Route, mark};

/// Tells what contradicts itself: a site by altitude and by pressure, two sites of one name, an idle above the rev limit.
pub(super) fn check(top: &Top, root: &Arc<Node>, reading: &mut Reading<'_>) {
    if let State::Given(site) = top.site.state(&Unrecorded) {
        check_sites(site, root, reading);
    }
    if let State::Given(engine) = top.engine.state(&Unrecorded) {
        check_idle(engine, root, reading);
    }
}

fn tell(root: &Arc<Node>, at: &Route, message: String, help: &str, reading: &mut Reading<'_>) {
    let span = mark(root, at, Part::Value).span;
    reading.fault_at(FaultKind::Other, span, message, Some(help.to_owned()));
}

fn check_sites(site: &Site, root: &Arc<Node>, reading: &mut Reading<'_>) {
    one_of_both(&site.altitude, &site.pressure, root, reading);
    let State::Given(List(others)) = site.other_sites.state(&Unrecorded) else { return };
    let mut names: Vec<&str> = Vec::new();
    for other in others {
        one_of_both(&other.altitude, &other.pressure, root, reading);
        let State::Given(Text(name)) = other.name.state(&Unrecorded) else { continue };
        if names.contains(&&**name) {
            let name = crate::text::fault::quoted(name);
            let message = format!("two sites are called {name}");
            tell(root, other.name.route(), message, "findings name a site by its name", reading);
        }
        names.push(name);
    }
}

/// The pressure follows from the altitude: of the two only one can be meant.
fn one_of_both(
    altitude: &Field<Q<Length>>,
    pressure: &Field<Q<Pressure>>,
    root: &Arc<Node>,
    reading: &mut Reading<'_>,
) {
    let given = (altitude.state(&Unrecorded), pressure.state(&Unrecorded));
    if let (State::Given(_), State::Given(_)) = given {
        let message = "a site has an altitude or a pressure, not both".to_owned();
        tell(
            root,
            pressure.route(),
            message,
            "the pressure follows from the altitude; keep one of them",
            reading,
        );
    }
}

fn check_idle(engine: &Engine, root: &Arc<Node>, reading: &mut Reading<'_>) {
    let State::Given(idle) = engine.idle.state(&Unrecorded) else { return };
    let speeds = (idle.speed.state(&Unrecorded), engine.rev_limit.state(&Unrecorded));
    let (State::Given(speed), State::Given(limit)) = speeds else { return };
    if speed.si() >= limit.si() {
        let message = format!(
            "the idle speed {} does not lie below the rev limit {}",
            crate::text::fault::quoted(&speed.quantity().written),
            crate::text::fault::quoted(&limit.quantity().written)
        );
        tell(root, idle.speed.route(), message, "one of the two is misread", reading);
    }
}

#[cfg(test)]
mod tests {
    use super::super::Build;
    use super::super::files::{DiskLoader, Files};
    use crate::text::{Limits, parse};

    fn faults(text: &str) -> Vec<String> {
        let here = std::path::Path::new(".");
        let loader = DiskLoader::new(here, here, 1 << 20).expect("here");
        let files = Files::new(Box::new(loader), Limits::default());
        let text = format!("format: 1\n{text}");
        let file = files.add("build.yaml", &text);
        let root = parse(file, &text, files.limits()).root.expect("a tree");
        Build::read(file, &root, &files).faults.into_iter().map(|fault| fault.message).collect()
    }

    #[test]
    fn what_contradicts_itself_is_told() {
        let both =
            "site: { altitude: 300 m, pressure: 98 kPa abs, other-sites: [ { name: a, altitude: 1 m } ] }";
        assert_eq!(faults(both), ["a site has an altitude or a pressure, not both"]);
        let elsewhere =
            "site: { altitude: 300 m, other-sites: [ { name: a, altitude: 1 m, pressure: 98 kPa abs } ] }";
        assert_eq!(faults(elsewhere), ["a site has an altitude or a pressure, not both"]);
        let twice = "site: { altitude: 3 m, other-sites: [ { name: a, altitude: 1 m }, { name: a, altitude: 2 m } ] }";
        assert_eq!(faults(twice), ["two sites are called `a`"]);
        let idle = "engine: { rev-limit: 3000 rpm, idle: { speed: 9000 rpm } }";
        assert_eq!(faults(idle), ["the idle speed `9000 rpm` does not lie below the rev limit `3000 rpm`"]);
        let sound = "site: { altitude: 3 m, other-sites: [ { name: a, pressure: 98 kPa abs }, { name: b } ] }\n\
                     engine: { rev-limit: 7000 rpm, idle: { speed: 900 rpm } }";
        assert_eq!(faults(sound), [] as [String; 0]);
    }

    #[test]
    fn a_share_is_at_most_the_whole() {
        let humid = |share: &str| faults(&format!("site: {{ altitude: 3 m, relative-humidity: {share} }}"));
        assert_eq!(humid("100 %"), [] as [String; 0]);
        assert_eq!(humid("140 %"), ["`140 %` cannot be"]);
        let cooler = "parts: { cooler: { kind: charge-air-cooler, effectiveness: 1.2 } }";
        assert_eq!(faults(cooler), ["`1.2` cannot be"]);
        // More than the displacement may be drawn in.
        assert_eq!(faults("engine: { volumetric-efficiency: { 2000 rpm: 105 % } }"), [] as [String; 0]);
    }
}
