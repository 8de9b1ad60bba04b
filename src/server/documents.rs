//! Documents outside the editor: files that change, and the texts that come with the program.

use super::state::State;
use super::urls::SCHEME;
use crate::finding::catalogue;
use crate::pages;
use crate::plan::builtin;
use crate::workspace::copies_of_built_in_plans;
use std::path::{Path, PathBuf};
use tower_lsp::jsonrpc::{Error, ErrorCode, Result};
use tower_lsp::lsp_types::{FileChangeType, FileEvent, Url};

/// Files changed outside the editor.
pub(super) fn files_changed(state: &mut State, events: &[FileEvent]) {
    for event in events {
        let Ok(path) = event.uri.to_file_path() else {
            continue;
        };
        let is_document = path.extension().is_some_and(|extension| extension == "ubr");
        if !is_document {
            state.desk.file_changed(&path);
        } else if event.typ == FileChangeType::DELETED || !path.is_file() {
            state.desk.unshelve(&path);
            state.desk.look_at(&path);
        } else if state.settings.workspace && in_a_root(&state.roots, &path) {
            state.desk.shelve(&path);
        } else {
            state.desk.look_at(&path);
        }
    }
    state.note_others();
}

/// Has copies of the built-in plans made for a client that can open only files.
pub(super) fn need_copies(state: &mut State) {
    if state.urls.needs_copies()
        && let Some(folder) = copies_of_built_in_plans()
    {
        state.urls.set_copies(folder);
    }
}

fn in_a_root(roots: &[PathBuf], path: &Path) -> bool {
    roots.iter().any(|root| path.starts_with(root))
}

/// The text of a `stagebook:` document: a built-in plan, or the page of a rule.
pub(super) fn own_document(url: &Url) -> Result<String> {
    let known = (url.scheme() == SCHEME).then(|| {
        let path = url.path();
        let plan = path
            .strip_prefix("/plans/")
            .and_then(|name| builtin::find(name.strip_suffix(".ubr")?))
            .map(|plan| plan.text.to_owned());
        let rule = path
            .strip_prefix("/rules/")
            .and_then(|name| catalogue::find(name.strip_suffix(".md")?))
            .map(|rule| pages::rule(rule).markdown());
        plan.or(rule)
    });
    known.flatten().ok_or_else(|| Error {
        code: ErrorCode::InvalidParams,
        message: format!(
            "expected {SCHEME}:/plans/NAME.ubr or {SCHEME}:/rules/NAME.md of a built-in plan or a rule, found {url}"
        )
        .into(),
        data: None,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::server::urls::{plan_url, rule_url};

    #[test]
    fn plans_and_rules_are_given_and_nothing_else() {
        for plan in builtin::BUILTIN_PLANS {
            let text = plan_url(plan).and_then(|url| own_document(&url).ok());
            assert_eq!(text.as_deref(), Some(plan.text));
        }
        for rule in catalogue::all() {
            let text = rule_url(rule.name).and_then(|url| own_document(&url).ok());
            assert!(text.is_some_and(|text| text.contains(&pages::escape(rule.summary))));
        }
        for other in [
            "stagebook:/plans/x.ubr",
            "file:///etc/passwd",
            "stagebook:/../x",
        ] {
            let url = Url::parse(other).expect("the test gives an address");
            assert!(own_document(&url).is_err(), "{other}");
        }
    }
}
