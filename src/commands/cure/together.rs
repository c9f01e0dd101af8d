//! `cure --vary`: several numbers varied at once until all findings pass together.

use super::{Bench, unreadable};
use crate::build::files::Drafts;
use crate::build::library::expand;
use crate::commands::gather_builds::open_with;
use crate::commands::shared::{Answer, FAILED, FINE};
use crate::output::cure_together::{self as page, Writing};
use crate::output::cure_words::User;
use crate::output::safe_text::one_line;
use crate::review::{Ending, FoundCure};
use crate::text::Route;

/// Reads the routes that are to be varied, each once.
///
/// # Errors
/// What is wrong with one of them.
fn routes(written: &[String]) -> Result<Vec<Route>, String> {
    let mut routes: Vec<Route> = Vec::new();
    for text in written {
        let route: Route = text.parse().map_err(|fault: crate::text::RouteFault| {
            format!("--vary {}: {}", one_line(text), fault.message)
        })?;
        if routes.contains(&route) {
            return Err(format!("--vary {} is given twice", one_line(text)));
        }
        routes.push(route);
    }
    if routes.len() > crate::review::MOST_NUMBERS {
        return Err(format!("--vary takes at most {} fields", crate::review::MOST_NUMBERS));
    }
    Ok(routes)
}

/// Looks for the cure and shows it; with `write` it is made where it upsets nothing.
pub fn run(bench: &Bench<'_>, shown: &str, vary: &[String], write: bool, width: usize) -> Answer {
    let failed = |why: String| Answer::failed(format!("{shown}: {why}"));
    let routes = match routes(vary) {
        Ok(routes) => routes,
        Err(why) => return Answer::failed(why),
    };
    let opened = match open_with(bench.path, Drafts::new()) {
        Ok(opened) => opened,
        Err(fault) => return failed(fault.0),
    };
    let root = opened.root.as_ref().filter(|_| opened.faults.is_empty() && opened.is_build());
    let Some(whole) = root.map(|root| expand(root, &opened.files)) else {
        return failed(unreadable(&opened));
    };
    if !whole.faults.is_empty() {
        return failed("a shared part cannot be read; `tractwright review` says why".to_owned());
    }
    let together = match bench.reviewer.together(opened.file, &whole.root, &opened.files, &routes) {
        Ok(together) => together,
        Err(cannot) => return failed(format!("{}: {}", one_line(&cannot.route.to_string()), cannot.why)),
    };
    let offer = match &together.ending {
        Ending::Found { change, proof, numbers, .. } => {
            let cure = FoundCure {
                route: numbers.first().map_or_else(Route::root, |number| number.route.clone()),
                change: change.clone(),
                written: page::numbers(numbers),
                number: None,
                says: "together".to_owned(),
                another_part: false,
                proof: proof.clone(),
            };
            Some(bench.offer(&opened, &whole.root, cure, &Drafts::new()))
        }
        Ending::NothingToCure | Ending::None { .. } => None,
    };
    let writing = match &offer {
        Some(offer) if write => {
            let fine = offer.cure.proof.is_clean() && !offer.users.iter().any(User::is_upset);
            match offer.edits.as_ref().ok().filter(|_| fine) {
                Some(edits) => {
                    let draft = edits.edits.apply(&edits.text).into();
                    if let Err(why) = bench.write(&Drafts::from([(edits.path.clone(), draft)])) {
                        return failed(why);
                    }
                    Writing::Written
                }
                None => Writing::Refused,
            }
        }
        _ => Writing::NotAsked,
    };
    let out = page::page(&together, offer.as_ref(), writing, shown, &opened.files.sources(), width);
    let status = if matches!(writing, Writing::Refused) { FAILED } else { FINE };
    Answer { out, complaints: String::new(), status }
}
