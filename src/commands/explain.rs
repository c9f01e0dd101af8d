//! `explain`: the teaching text of a rule.

use clap::Args;

use super::houses::{HouseFrom, governed_here};
use super::shared::{Answer, Look};
use crate::output::text_pages;
use crate::review::BuildVocabulary;
use crate::text::nearest;

/// Explains a rule.
#[derive(Args)]
pub struct Explain {
    /// The rule's id, as findings name it.
    rule: String,
    #[command(flatten)]
    house: HouseFrom,
}

impl Explain {
    /// Runs it.
    pub fn run(self, look: &Look) -> Answer {
        let style = look.style();
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
}

/// A complaint about a rule that does not exist.
pub fn unknown_rule(name: &str, catalogue: &crate::rules::Catalogue) -> String {
    let near = nearest(name, catalogue.rules().iter().map(|rule| &*rule.id));
    let help = near.map_or_else(
        || "`tractwright rules` lists them".to_owned(),
        |near| format!("did you mean `{near}`?"),
    );
    format!("there is no rule {}; {help}", crate::text::fault::quoted(name))
}
