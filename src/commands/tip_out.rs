//! `tip-out`: the run after the throttle shuts at boost, told, drawn, or as a series.

use std::path::PathBuf;
use std::rc::Rc;
use std::sync::Arc;

use clap::{Args, ValueEnum};

use super::gather_builds::open;
use super::shared::{Answer, Look};
use crate::build::Build;
use crate::facts::{Scope, Sites};
use crate::known::{Datum, Known, Missing};
use crate::model::{Demand, Precision, Start, TipOut as Run, tip_in};
use crate::output::safe_text::one_line;
use crate::output::{tip_out, tip_out_series};
use crate::text::Change;
use crate::tract::SubjectKind;

/// Computes what the air does after the throttle shuts at boost (tip-out).
#[derive(Args)]
pub struct TipOut {
    /// The build.
    build: PathBuf,
    /// From which point the throttle shuts.
    #[arg(long, value_enum, default_value = "highest-boost")]
    start: From,
    /// At which site; the build's own, unless said.
    #[arg(long, value_name = "NAME", default_value = "home")]
    site: String,
    /// Let the throttle open again when the described gear-change ends.
    #[arg(long)]
    gear_change: bool,
    /// A change of the build before the run, as in parts.relief=none (may be given several times).
    #[arg(long, value_name = "ROUTE=VALUE")]
    change: Vec<String>,
    /// How the run is written.
    #[arg(long, value_enum, default_value = "text")]
    format: Format,
}

#[derive(Clone, Copy, ValueEnum)]
enum From {
    /// The highest boost, at the lowest engine speed that has it.
    HighestBoost,
    /// The highest engine speed.
    HighestSpeed,
    /// The smallest boost of the table, the pedal let go gently.
    LightBoost,
}

#[derive(Clone, Copy, ValueEnum)]
enum Format {
    /// Events, a picture, choices.
    Text,
    /// The series, one row about each millisecond.
    Csv,
    /// Results and series.
    Json,
}

impl From {
    fn start(self) -> Start {
        match self {
            Self::HighestBoost => Start::HighestBoost,
            Self::HighestSpeed => Start::HighestSpeed,
            Self::LightBoost => Start::LightBoost,
        }
    }
}

impl TipOut {
    /// Runs it.
    pub fn run(self, look: &Look) -> Answer {
        let shown = one_line(&self.build.to_string_lossy());
        let opened = match open(&self.build) {
            Ok(opened) => opened,
            Err(fault) => return Answer::failed(format!("{shown}: {}", fault.0)),
        };
        let Some(mut root) = opened.root.clone().filter(|_| opened.is_build()) else {
            return Answer::failed(format!("{shown}: this is not a build description"));
        };
        for text in &self.change {
            let changed =
                Change::parse_assignment(text).map_err(|fault| fault.to_string()).and_then(|change| {
                    change.apply(&root).map_err(|cannot| format!("{}: {}", cannot.route, cannot.why))
                });
            match changed {
                Ok(changed) => root = changed,
                Err(why) => return Answer::failed(format!("{}: {}", one_line(text), one_line(&why))),
            }
        }
        let build = Build::read(opened.file, &root, &opened.files);
        let scope = Scope::new(&build);
        let demand =
            |valves| Demand { site: Arc::from(self.site.as_str()), start: self.start.start(), valves };
        let made = |valves| {
            if self.gear_change {
                Rc::new(tip_in(&build, &scope.steady(), &demand(valves), Precision::default(), &scope))
            } else {
                scope.tip_out(&demand(valves))
            }
        };
        let run = made(true);
        let run: &Run = match &*run {
            Known::Is(run) => run,
            other => return Answer::failed(format!("{shown}: {}", why_not(other))),
        };
        let bare = made(false);
        let bare = bare.exact();
        let back = if self.gear_change { recovery(&scope) } else { None };
        let out = match self.format {
            Format::Text => tip_out::told(&shown, run, bare, back, look.style().width),
            Format::Csv => tip_out_series::csv(run),
            Format::Json => tip_out_series::json(run, bare),
        };
        let mut answer = Answer::fine(out);
        if !build.faults.is_empty() {
            answer.complaints = format!(
                "{shown}: the text holds {} faults; `tractwright review` shows them\n",
                build.faults.len()
            );
        }
        answer
    }
}

/// For how long boost stays away once the throttle is open again, s, where a turbine is described.
fn recovery(scope: &Scope<'_>) -> Option<f64> {
    let build = scope.tract().subjects(SubjectKind::Build).into_iter().next()?;
    let time = scope.fact(&build, "recovery_time", Sites::All);
    time.exact().and_then(Datum::as_number).map(|number| number.v)
}

/// Why there is no run, as a sentence.
fn why_not(run: &Known<Run>) -> String {
    match run {
        Known::Open(missing) => {
            let Missing { fields, not_built, hindrances } = missing;
            let mut parts: Vec<String> = hindrances.iter().map(ToString::to_string).collect();
            if !fields.is_empty() {
                let names: Vec<String> = fields.iter().map(ToString::to_string).collect();
                parts.push(format!("not given: {}", names.join(", ")));
            }
            parts.extend(not_built.iter().map(|what| format!("not built yet: {what}")));
            format!("the run cannot be made: {}", one_line(&parts.join("; ")))
        }
        Known::NotApplicable(reason) => format!("there is nothing to run: {}", one_line(&reason.to_string())),
        Known::Is(_) | Known::Between(..) => "the run cannot be made".to_owned(),
    }
}
