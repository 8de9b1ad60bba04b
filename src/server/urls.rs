//! Addresses: how the client and the desk call the same document.
//!
//! A file keeps the address under which the client opened it, whatever way it is written; what has no file goes by
//! its address; what comes with the program goes by `stagebook:/plans/NAME.ubr`.

use crate::plan::builtin::{self, BuiltinPlan};
use crate::text::FileId;
use crate::workspace::desk::Desk;
use rustc_hash::FxHashMap;
use std::path::PathBuf;
use tower_lsp::lsp_types::Url;

/// The scheme of documents that come with the program.
pub(super) const SCHEME: &str = "stagebook";

/// Addresses of documents.
#[derive(Debug, Default)]
pub(super) struct Urls {
    /// Addresses that the client gave.
    open: FxHashMap<FileId, Url>,
    /// The client opens `stagebook:` documents by asking for their text.
    pub own_documents: bool,
    /// The folder with copies of the built-in plans, for other clients; made when first asked for.
    copies: Option<PathBuf>,
}

impl Urls {
    pub(super) fn opened(&mut self, file: FileId, url: Url) {
        self.open.insert(file, url);
    }

    pub(super) fn closed(&mut self, file: FileId) {
        self.open.remove(&file);
    }

    /// Documents have other numbers from now on.
    pub(super) fn forget(&mut self) {
        self.open.clear();
    }

    /// Where copies of the built-in plans stand for a client that can open only files.
    pub(super) fn set_copies(&mut self, folder: PathBuf) {
        self.copies = Some(folder);
    }

    pub(super) fn needs_copies(&self) -> bool {
        !self.own_documents && self.copies.is_none()
    }

    /// The address of a document; nothing for one that the client cannot open.
    pub(super) fn of(&self, desk: &Desk, file: FileId) -> Option<Url> {
        if let Some(url) = self.open.get(&file) {
            return Some(url.clone());
        }
        if let Some(path) = desk.path(file) {
            let path = std::path::absolute(path).ok()?;
            return Url::from_file_path(path).ok();
        }
        let name = desk.source(file).map_or("", |source| &source.name);
        let plan = builtin::BUILTIN_PLANS
            .iter()
            .find(|plan| plan.path == name)?;
        if self.own_documents {
            return plan_url(plan);
        }
        let copy = self.copies.as_ref()?.join(format!("{}.ubr", plan.name));
        Url::from_file_path(copy).ok()
    }

    /// The built-in plan that an address means, itself or its copy.
    pub(super) fn built_in(&self, url: &Url) -> Option<&'static BuiltinPlan> {
        let name = if url.scheme() == SCHEME {
            url.path()
                .strip_prefix("/plans/")?
                .strip_suffix(".ubr")?
                .to_owned()
        } else {
            let path = url.to_file_path().ok()?;
            let folder = path.parent()?;
            if Some(folder) != self.copies.as_deref() {
                return None;
            }
            path.file_stem()?.to_string_lossy().into_owned()
        };
        builtin::find(&name)
    }
}

/// `stagebook:/plans/NAME.ubr`
pub(super) fn plan_url(plan: &BuiltinPlan) -> Option<Url> {
    Url::parse(&format!("{SCHEME}:/plans/{}.ubr", plan.name)).ok()
}

/// `stagebook:/rules/NAME.md`
pub(super) fn rule_url(rule: &str) -> Option<Url> {
    Url::parse(&format!("{SCHEME}:/rules/{rule}.md")).ok()
}

/// How the desk calls the document of an address: its path, or the address in angle brackets where it has none.
pub(super) fn name(url: &Url) -> String {
    let path = (url.scheme() == "file").then(|| url.to_file_path());
    match path {
        Some(Ok(path)) => path.to_string_lossy().into_owned(),
        _ => format!("<{url}>"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn url(text: &str) -> Url {
        Url::parse(text).expect("the test gives an address")
    }

    #[test]
    fn what_is_no_file_goes_by_its_address() {
        assert_eq!(name(&url("untitled:Untitled-1")), "<untitled:Untitled-1>");
        assert_eq!(name(&url("file:///a/%C3%B6%20b.ubr")), "/a/ö b.ubr");
    }

    #[test]
    fn a_built_in_plan_is_known_by_its_address() {
        let urls = Urls::default();
        for plan in builtin::BUILTIN_PLANS {
            let found = plan_url(plan).and_then(|url| urls.built_in(&url));
            assert_eq!(found.map(|found| found.name), Some(plan.name));
        }
        assert!(urls.built_in(&url("stagebook:/plans/other.ubr")).is_none());
        assert!(
            urls.built_in(&url("file:///plans/oil-immersed-power.ubr"))
                .is_none()
        );
    }
}
