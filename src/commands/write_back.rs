//! Writing a text back into the file that it was read from: wholly or not at all.

use std::io::{Error, Write};
use std::path::Path;

use cap_std::ambient_authority;
use cap_std::fs::{Dir, OpenOptions};

use super::gather_builds::{Located, directory_of, locate};
use crate::build::files::{is_root, plain_error};

/// Puts a new text in the place of the old one: written beside it, then renamed onto it, with the permissions it had.
///
/// # Errors
/// Why it was not written, in a clause. Refused are links, files to which a link leads out of the root of the builds,
/// files that may not be written, and files that hold something else than `old` by now.
pub fn write_back(path: &Path, old: &str, new: &str) -> Result<(), String> {
    refuse_ways_out(path)?;
    let Located { root, base, name } = locate(path).map_err(|fault| fault.0)?;
    let root = Dir::open_ambient_dir(&root, ambient_authority()).map_err(plain)?;
    let file = base.join(&name);
    let found = root.symlink_metadata(&file).map_err(plain)?;
    if found.is_symlink() {
        return Err("it is a link; name the file that it leads to".to_owned());
    }
    if !found.is_file() {
        return Err("it is no ordinary file".to_owned());
    }
    if found.permissions().readonly() {
        return Err("it may only be read".to_owned());
    }
    if root.read(&file).map_err(plain)? != old.as_bytes() {
        return Err("it was changed while it was reviewed".to_owned());
    }
    let beside = base.join(format!(".{name}.{}.new", std::process::id()));
    let written = (|| {
        let mut copy = root.open_with(&beside, OpenOptions::new().write(true).create_new(true))?;
        copy.write_all(new.as_bytes())?;
        copy.set_permissions(found.permissions())?;
        copy.sync_all()?;
        root.rename(&beside, &root, &file)
    })();
    written.map_err(|error: Error| {
        // What is left beside is of no use to anyone; that it cannot be taken away changes nothing.
        let _ = root.remove_file(&beside);
        format!("it cannot be written ({})", error.kind())
    })
}

fn plain(error: Error) -> String {
    plain_error(&error)
}

/// Refuses a directory that lies below the root of the builds by its name, but not in truth. What a link leads to is no
/// root here: who put the link there chose it.
fn refuse_ways_out(path: &Path) -> Result<(), String> {
    let directory = directory_of(path);
    let named = std::path::absolute(directory).map_err(plain)?;
    let root = named.ancestors().find(|above| is_root(above) && !above.is_symlink()).unwrap_or(&named);
    let root = root.canonicalize().map_err(plain)?;
    if directory.canonicalize().map_err(plain)?.starts_with(root) {
        Ok(())
    } else {
        Err("a link leads out of the root of the builds".to_owned())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_file_that_changed_meanwhile_is_left_alone() {
        let directory = tempfile::tempdir().expect("a directory");
        let path = directory.path().join("build.yaml");
        std::fs::write(&path, "a: 2\n").expect("a file");
        let refused = write_back(&path, "a: 1\n", "a: 3\n");
        assert_eq!(refused, Err("it was changed while it was reviewed".to_owned()));
        assert_eq!(std::fs::read_to_string(&path).expect("the file"), "a: 2\n");
        assert_eq!(write_back(&path, "a: 2\n", "a: 3\n"), Ok(()));
        assert_eq!(std::fs::read_to_string(&path).expect("the file"), "a: 3\n");
        assert_eq!(std::fs::read_dir(directory.path()).expect("a directory").count(), 1);
    }
}
