//! Copies of the built-in plans in the user's cache, for editors that can open only files.

use crate::plan::builtin;
use std::path::PathBuf;

/// The folder with a copy of every built-in plan, made where it is not there yet or where a copy differs. Nothing where
/// the user has no cache, or nothing can be written there.
pub fn copies_of_built_in_plans() -> Option<PathBuf> {
    let folder = cache()?
        .join("stagebook")
        .join(format!("plans-{}", env!("CARGO_PKG_VERSION")));
    std::fs::create_dir_all(&folder).ok()?;
    let folder = folder.canonicalize().ok()?;
    for plan in builtin::BUILTIN_PLANS {
        let path = folder.join(format!("{}.ubr", plan.name));
        if std::fs::read(&path).is_ok_and(|known| known == plan.text.as_bytes()) {
            continue;
        }
        std::fs::write(&path, plan.text).ok()?;
    }
    Some(folder)
}

/// The user's own cache, as the system has it.
fn cache() -> Option<PathBuf> {
    let named = |name: &str| {
        std::env::var_os(name)
            .map(PathBuf::from)
            .filter(|path| path.is_absolute())
    };
    named("XDG_CACHE_HOME")
        .or_else(|| named("LOCALAPPDATA"))
        .or_else(|| Some(named("HOME")?.join(".cache")))
}
