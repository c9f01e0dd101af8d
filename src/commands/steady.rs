//! `steady`: the operating points themselves.

use std::path::PathBuf;

use clap::{Args, ValueEnum};

use super::gather_builds::{Opened, open};
use super::houses::{HouseFrom, Houses};
use super::shared::{Answer, FAILED, Look};
use crate::facts::Scope;
use crate::known::Known;
use crate::model::{Point, SiteSteady, Steady as Solved};
use crate::output::safe_text::one_line;
use crate::output::steady::{Points, csv, json, rpm, terminal};
use crate::output::{Reviewed, terminal as pages};
use crate::review::{Options, Review};
use crate::text::fault::quoted;
use crate::text::{Measure, nearest, read_quantity};

/// Shows the steady operating points of a build.
#[derive(Args)]
pub struct Steady {
    /// The build description.
    build: PathBuf,
    /// How to write them.
    #[arg(long, value_enum, default_value = "terminal")]
    format: Format,
    /// This site alone; the build's own is called `home`.
    #[arg(long, value_name = "NAME")]
    site: Option<String>,
    /// The points of this engine speed alone, as in 4500rpm, with every part of the air path.
    #[arg(long, value_name = "SPEED")]
    speed: Option<String>,
    /// Show how this fact was derived, below the points (may be given several times).
    #[arg(long, value_name = "FACT")]
    trace: Vec<String>,
    #[command(flatten)]
    house: HouseFrom,
}

#[derive(Clone, Copy, PartialEq, Eq, ValueEnum)]
enum Format {
    /// For a person.
    Terminal,
    /// For a spreadsheet: a row a site, engine speed and part, with units in the header.
    Csv,
    /// For a program; `tractwright schema steady` describes it.
    Json,
}

/// Two engine speeds are one if they differ by less than this, rev/s.
const SAME_SPEED: f64 = 1e-4;

impl Steady {
    /// Runs it.
    pub fn run(self, look: &Look) -> Answer {
        let style = look.style();
        let houses = match Houses::sound([&*self.build], &self.house, style) {
            Ok(houses) => houses,
            Err(answer) => return answer,
        };
        if let Some(complaint) = super::review::unknown_fact(&self.trace) {
            return Answer::failed(complaint);
        }
        let path = one_line(&self.build.to_string_lossy());
        let opened = match open(&self.build) {
            Ok(opened) => opened,
            Err(fault) => return Answer::failed(format!("{path}: {}", fault.0)),
        };
        let options = Options { trace: self.trace.clone(), ..Options::default() };
        let (Some(root), Some(reviewer)) = (&opened.root, houses.reviewer(&self.build, options)) else {
            return Answer::failed(format!("{path}: this cannot be read"));
        };
        if !opened.is_build() {
            return Answer::failed(format!("{path}: this is not a build description"));
        }
        let build = reviewer.read(opened.file, root, &opened.files);
        let solved = Scope::new(&build).steady();
        let points = match self.wanted(&solved, &opened) {
            Ok(points) => points,
            Err(why) => return Answer::failed(why),
        };
        let traces = reviewer.traces(&Scope::new(&build));
        let out = match self.format {
            Format::Csv => csv::table(&[points]),
            Format::Json => json::document(&[points]),
            Format::Terminal => {
                let draw = if self.speed.is_some() { terminal::parts } else { terminal::points };
                let mut out = draw(&points, style.width);
                if !traces.is_empty() {
                    out.push('\n');
                    let review = Review { traces, ..Review::default() };
                    let (title, sources) = (None, opened.files.sources());
                    out.push_str(&pages::derivations(
                        &Reviewed { path: opened.shown.clone(), title, sources, review },
                        style,
                    ));
                }
                out
            }
        };
        let mut answer = Answer::fine(out);
        let faults = opened.faults.len() + build.faults.len();
        if faults > 0 {
            answer.complaints = format!("the text holds {faults} faults; `tractwright review` shows them\n");
            answer.status = FAILED;
        }
        answer
    }

    /// The sites and points that are wanted.
    fn wanted<'a>(&self, solved: &'a Solved, opened: &'a Opened) -> Result<Points<'a>, String> {
        let mut sites: Vec<&SiteSteady> = solved.sites.iter().collect();
        if let Some(name) = &self.site {
            sites.retain(|site| &*site.name == name.as_str());
            if sites.is_empty() {
                let names = || solved.sites.iter().map(|site| &*site.name);
                let help = nearest(name, names()).map_or_else(
                    || format!("sites: {}", one_line(&names().collect::<Vec<_>>().join(", "))),
                    |near| format!("did you mean `{}`?", one_line(near)),
                );
                return Err(format!("there is no site {}; {help}", quoted(name)));
            }
        }
        let speed = match &self.speed {
            None => None,
            Some(text) => {
                let read = read_quantity(text, Measure::RotationalSpeed);
                Some(read.map_err(|fault| format!("--speed {}: {fault}", quoted(text)))?.si)
            }
        };
        let points = |site: &'a SiteSteady| -> Vec<&'a Point> {
            let Known::Is(points) = &site.points else { return Vec::new() };
            let here = |point: &&Point| speed.is_none_or(|speed| (point.speed - speed).abs() < SAME_SPEED);
            points.iter().filter(here).collect()
        };
        let sites: Vec<_> = sites.into_iter().map(|site| (site, points(site))).collect();
        if let Some(speed) = speed
            && sites.iter().all(|(_, points)| points.is_empty())
        {
            return Err(no_such_speed(solved, speed));
        }
        let title = opened.root.as_ref().and_then(|root| root.get("title")).and_then(|node| node.as_text());
        Ok(Points { path: &opened.shown, title, sites })
    }
}

/// A complaint that names the speeds on both sides.
fn no_such_speed(solved: &Solved, speed: f64) -> String {
    let all = solved.sites.iter().filter_map(|site| site.points.exact()).flatten().map(|point| point.speed);
    let (mut below, mut above) = (None::<f64>, None::<f64>);
    for one in all {
        if one < speed {
            below = Some(below.map_or(one, |best| best.max(one)));
        } else {
            above = Some(above.map_or(one, |best| best.min(one)));
        }
    }
    let near: Vec<String> =
        [below, above].into_iter().flatten().map(|speed| format!("{} rpm", rpm(speed))).collect();
    if near.is_empty() {
        return "no operating point is solved; `tractwright steady` without --speed says why".to_owned();
    }
    format!("no operating point stands at {} rpm; the nearest stand at {}", rpm(speed), near.join(" and "))
}
