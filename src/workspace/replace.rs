//! A file replaced as a whole: the new text goes to a temporary file beside it, which then takes its name.

use super::CannotRun;
use super::documents::reason;
use super::start::temporary;
use std::io::Write;
use std::path::Path;

/// Replaces what a file holds, where it still holds what was read. A link stays a link, and the permissions stay.
/// The error says that nothing was written.
pub(super) fn replace(path: &Path, read: &[u8], text: &[u8]) -> Result<(), CannotRun> {
    let cannot = |error: std::io::Error| {
        CannotRun(format!(
            "cannot write {}: {}; nothing was written",
            path.display(),
            reason(&error)
        ))
    };
    let real = path.canonicalize().map_err(cannot)?;
    let permissions = std::fs::metadata(&real).map_err(cannot)?.permissions();
    if permissions.readonly() {
        return Err(CannotRun(format!(
            "expected that {} may be written, found that it may only be read; nothing was written",
            path.display()
        )));
    }
    let (temporary, mut file) = temporary(&real).map_err(cannot)?;
    let written = file
        .write_all(text)
        .and_then(|()| file.set_permissions(permissions))
        .and_then(|()| file.sync_all());
    drop(file);
    let placed = written.map_err(cannot).and_then(|()| {
        // Somebody may have saved it in an editor meanwhile.
        if std::fs::read(&real).map_err(cannot)? != read {
            return Err(CannotRun(format!(
                "expected {} as it was read, found it changed meanwhile; nothing was written, run the command again",
                path.display()
            )));
        }
        std::fs::rename(&temporary, &real).map_err(cannot)
    });
    if placed.is_err() {
        // What was placed has no temporary name any more.
        let _ = std::fs::remove_file(&temporary);
    }
    placed
}
