//! Writing pages below a directory, without touching what another has written there.

use std::io::{ErrorKind, Read};
use std::path::Path;

use crate::build::files::plain_error;
use crate::output::markdown::{MARK, Page};
use crate::output::safe_text::one_line;

/// Writes pages, each under its mark. Nothing is written if one of the files is there and does not bear the mark. Gives the
/// directory as it is shown.
///
/// # Errors
/// A complaint that names the file.
pub(super) fn write_pages(directory: &Path, pages: &[Page]) -> Result<String, String> {
    let shown = one_line(&super::gather_builds::shown(directory));
    let complain = |page: &Page, why: &str| format!("{shown}/{}: {why}", page.path);
    for page in pages {
        match is_ours(directory, &page.path) {
            Ok(true) => {}
            Ok(false) => {
                return Err(complain(
                    page,
                    "it was not written by this program and is left as it is; nothing was written",
                ));
            }
            Err(error) => return Err(complain(page, &plain_error(&error))),
        }
    }
    for page in pages {
        write(&directory.join(&page.path), &page.text)
            .map_err(|error| complain(page, &plain_error(&error)))?;
    }
    Ok(shown)
}

/// Whether a file is free, or bears the mark. What a link leads to is another's, whatever stands in it.
fn is_ours(directory: &Path, below: &str) -> std::io::Result<bool> {
    let path = directory.join(below);
    if let Some((folder, _)) = below.rsplit_once('/')
        && is_link(&directory.join(folder))?
    {
        return Ok(false);
    }
    match std::fs::symlink_metadata(&path) {
        Ok(found) if !found.is_file() => return Ok(false),
        Ok(_) => {}
        Err(error) if error.kind() == ErrorKind::NotFound => return Ok(true),
        Err(error) => return Err(error),
    }
    let mut first = Vec::new();
    let most = MARK.len() as u64 + 1;
    std::fs::File::open(path)?.take(most).read_to_end(&mut first)?;
    Ok(first.strip_prefix(MARK.as_bytes()) == Some(b"\n"))
}

fn is_link(path: &Path) -> std::io::Result<bool> {
    match std::fs::symlink_metadata(path) {
        Ok(found) => Ok(found.is_symlink()),
        Err(error) if error.kind() == ErrorKind::NotFound => Ok(false),
        Err(error) => Err(error),
    }
}

fn write(path: &Path, text: &str) -> std::io::Result<()> {
    if let Some(directory) = path.parent() {
        std::fs::create_dir_all(directory)?;
    }
    std::fs::write(path, format!("{MARK}\n\n{text}"))
}
