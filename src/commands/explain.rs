//! `explain`: the teaching text of a rule, and its walk through a build.

use std::path::{Path, PathBuf};

use clap::Args;

use super::gather_builds::open;
use super::houses::{HouseFrom, Houses, governed_here};
use super::shared::{Answer, FAILED, Look, unknown_rule};
use crate::build::library::expand;
use crate::output::safe_text::one_line;
use crate::output::{text_pages, walk};
use crate::review::{BuildVocabulary, Options};
use crate::text::fault::quoted;
use crate::text::nearest;

/// Explains a rule.
#[derive(Args)]
pub struct Explain {
    /// The rule's id, as findings name it.
    rule: String,
    /// Walk the rule through this build: what each number is made of, how the comparison comes out, what would change it.
    #[arg(long, value_name = "FILE")]
    build: Option<PathBuf>,
    /// Walk through these subjects only, by name or by route (may be given several times).
    #[arg(long, value_name = "NAME", requires = "build")]
    subject: Vec<String>,
    #[command(flatten)]
    house: HouseFrom,
}

impl Explain {
    /// Runs it.
    pub fn run(self, look: &Look) -> Answer {
        let style = look.style();
        if let Some(build) = &self.build {
            return self.walk(build, look);
        }
        let governed = match governed_here(&self.house) {
            Ok(governed) => governed,
            Err(why) => return Answer::failed(why),
        };
        if governed.is_faulty() {
            return Answer::failed(governed.complaints(style));
        }
        let catalogue = &governed.policy.catalogue;
        match catalogue.find(&self.rule) {
            Some(rule) => {
                let whole = catalogue.whole(&self.rule, &BuildVocabulary);
                Answer::fine(text_pages::explain(whole.as_ref().unwrap_or(rule), style.width))
            }
            None => Answer::failed(unknown_rule(&self.rule, catalogue)),
        }
    }

    /// The teaching text, and the rule walked through a build.
    fn walk(&self, path: &Path, look: &Look) -> Answer {
        let style = look.style();
        let shown = one_line(&path.to_string_lossy());
        let failed = |why: &str| Answer::failed(format!("{shown}: {why}"));
        let houses = match Houses::sound([path], &self.house, style) {
            Ok(houses) => houses,
            Err(answer) => return answer,
        };
        let opened = match open(path) {
            Ok(opened) => opened,
            Err(fault) => return failed(&fault.0),
        };
        let whole = opened.root.as_ref().filter(|_| opened.faults.is_empty() && opened.is_build());
        let root = match whole.map(|root| expand(root, &opened.files)) {
            Some(whole) if whole.faults.is_empty() => whole.root,
            _ => return failed("this cannot be read as a build; `tractwright review` says why"),
        };
        let (Some(reviewer), Some(catalogue)) =
            (houses.reviewer(path, Options::default()), houses.catalogues().next())
        else {
            return failed("there is no such file");
        };
        let Some(rule) = catalogue.find(&self.rule) else {
            return Answer::failed(unknown_rule(&self.rule, catalogue));
        };
        let walked = reviewer.walk(opened.file, &root, &opened.files, rule, &self.subject);
        let names = || walked.all.iter().map(|subject| &*subject.name);
        let routes: Vec<String> = walked.all.iter().map(|subject| subject.route.to_string()).collect();
        let known = |name: &&String| names().any(|own| own == name.as_str()) || routes.contains(*name);
        if let Some(name) = self.subject.iter().find(|name| !known(name)) {
            let near = nearest(name, names().chain(routes.iter().map(String::as_str)));
            let help = near.map_or_else(
                || format!("it looks at {}", names().map(one_line).collect::<Vec<_>>().join(", ")),
                |near| format!("did you mean `{near}`?"),
            );
            return Answer::failed(format!("the rule looks at nothing called {}; {help}", quoted(name)));
        }
        let title = root.get("title").and_then(|node| node.as_text());
        let mut out = text_pages::teaching(rule, style.width);
        out.push_str(&walk::page(&walked, &opened.shown, title, &opened.files.sources(), style.width));
        match walked.faults {
            0 => Answer::fine(out),
            faults => Answer {
                out,
                complaints: format!(
                    "{shown}: faults in the text: {faults}; `tractwright review` shows them\n"
                ),
                status: FAILED,
            },
        }
    }
}
