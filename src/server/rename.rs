//! Renaming, in every document that names the thing. Refused where it would have to change what may not be changed.

use super::meaning::{self, Meaning, Sort};
use super::navigation::everywhere;
use super::sight::Sight;
use crate::plan::skeleton::is_name;
use crate::text::{FileId, Place};
use std::collections::BTreeMap;
use tower_lsp::lsp_types::{
    DocumentChanges, OneOf, OptionalVersionedTextDocumentIdentifier, Position,
    PrepareRenameResponse, TextDocumentEdit, TextEdit, Url, WorkspaceEdit,
};

/// What may be renamed at a position, or why not.
pub(super) fn prepare(
    sight: &Sight<'_>,
    position: Position,
) -> Result<PrepareRenameResponse, String> {
    let offset = sight.offset(position);
    let (meaning, span) = meaning::at(sight, offset)
        .ok_or("expected the name of something that a plan, a register or this record declares, found none here")?;
    places(sight, &meaning)?;
    Ok(PrepareRenameResponse::RangeWithPlaceholder {
        range: sight.range(span),
        placeholder: meaning.name,
    })
}

/// The edits that rename what stands at a position. `version` gives the version of an open document.
pub(super) fn rename(
    sight: &Sight<'_>,
    position: Position,
    new: &str,
    with_versions: bool,
    version: &dyn Fn(FileId) -> Option<i32>,
) -> Result<WorkspaceEdit, String> {
    let (meaning, _) = meaning::at(sight, sight.offset(position))
        .ok_or("expected the name of something that a plan, a register or this record declares, found none here")?;
    let dotted = matches!(meaning.sort, Sort::Person | Sort::Instrument | Sort::Serial);
    let good = match dotted {
        true => new.split('.').all(is_name),
        false => is_name(new),
    };
    if !good {
        return Err(format!(
            "expected a name (letters, digits and inner hyphens, at least one letter), found `{new}`"
        ));
    }
    let places = places(sight, &meaning)?;
    if let Some(taken) = taken(sight, &meaning, new) {
        return Err(taken);
    }
    let mut by_document: BTreeMap<Url, (FileId, Vec<TextEdit>)> = BTreeMap::new();
    for place in places {
        let (Some(url), Some(other)) = (sight.url(place.file), sight.of(place.file)) else {
            continue;
        };
        let edit = TextEdit::new(other.range(place.span), new.to_owned());
        by_document
            .entry(url)
            .or_insert_with(|| (place.file, Vec::new()))
            .1
            .push(edit);
    }
    if !with_versions {
        let changes = by_document
            .into_iter()
            .map(|(url, (_, edits))| (url, edits))
            .collect();
        return Ok(WorkspaceEdit::new(changes));
    }
    let edits = by_document
        .into_iter()
        .map(|(uri, (file, edits))| TextDocumentEdit {
            text_document: OptionalVersionedTextDocumentIdentifier {
                uri,
                version: version(file),
            },
            edits: edits.into_iter().map(OneOf::Left).collect(),
        })
        .collect();
    Ok(WorkspaceEdit {
        document_changes: Some(DocumentChanges::Edits(edits)),
        ..WorkspaceEdit::default()
    })
}

/// Every place to be changed, or why the thing may not be renamed.
fn places(sight: &Sight<'_>, meaning: &Meaning) -> Result<Vec<Place>, String> {
    let word = meaning.sort.word();
    let name = &meaning.name;
    match meaning.sort {
        Sort::Function | Sort::Unit | Sort::Kind | Sort::Rule => {
            return Err(format!(
                "`{name}` is a {word} of the language: it cannot be renamed"
            ));
        }
        Sort::Member | Sort::Lot => {
            return Err(format!(
                "`{name}` is a {word}, named by several documents without a declaration: it cannot be renamed"
            ));
        }
        _ => {}
    }
    let declared = meaning.declared.ok_or_else(|| {
        format!("`{name}` is declared nowhere: only what is declared can be renamed")
    })?;
    if sight.desk.is_built_in(declared.file) {
        return Err(format!(
            "the {word} `{name}` is declared in a built-in plan, which cannot be changed: extend the plan and give the thing its own name there"
        ));
    }
    let places = everywhere(sight, meaning);
    for place in &places {
        if sight.url(place.file).is_none() || sight.desk.is_built_in(place.file) {
            return Err(format!(
                "`{name}` is named in a document that cannot be changed"
            ));
        }
        if sight.of(place.file).is_some_and(|other| other.is_sealed()) {
            let document = sight
                .desk
                .source(place.file)
                .map_or("", |source| &source.name);
            return Err(format!(
                "`{name}` is named in {document}, which is sealed: renaming would break the seal"
            ));
        }
    }
    Ok(places)
}

/// Something else has the name already.
fn taken(sight: &Sight<'_>, meaning: &Meaning, new: &str) -> Option<String> {
    let (plan, _) = meaning::plan_of(sight).unzip();
    let register = meaning::register_of(sight).map(|(register, _)| register);
    let known = match meaning.sort {
        Sort::Stage => plan?.stage_by_name.contains_key(new),
        Sort::Set => plan?.set_by_name.contains_key(new),
        Sort::Design => plan?.design_by_name.contains_key(new),
        Sort::Reading | Sort::Log | Sort::Calc | Sort::Check => {
            let stage = plan?.stage_by_name.get(&*meaning.owner)?;
            plan?.stages[stage.index()].names.contains_key(new)
        }
        Sort::Point => plan?.points.iter().any(|point| &*point.name == new),
        Sort::Role => plan?.roles.iter().any(|role| &**role == new),
        Sort::Person => register?.people.contains_key(new),
        Sort::Instrument => register?.instruments.contains_key(new),
        _ => false,
    };
    known.then(|| {
        format!(
            "expected a name that is free, found `{new}`, which another {} has",
            meaning.sort.word()
        )
    })
}
