//! From a word to what it names, and to every other place that names it.

use super::meaning::{self, Meaning, Sort};
use super::sight::Sight;
use crate::syntax::{NodeId, NodeKind, STATEMENT_WORDS, TokenKind};
use crate::text::{FileId, Place, Span};
use tower_lsp::lsp_types::{DocumentHighlight, DocumentHighlightKind, Location, Position};

/// Where the word at a position is declared.
pub(super) fn definition(sight: &Sight<'_>, position: Position) -> Option<Location> {
    let (meaning, _) = meaning::at(sight, sight.offset(position))?;
    sight.location(name_in(sight, meaning.declared?, &meaning.name))
}

/// Where what the word at a position *is* is declared: the stage of a reading or point, the set of a member, the design
/// value from which a set is taken.
pub(super) fn type_definition(sight: &Sight<'_>, position: Position) -> Option<Location> {
    let (meaning, _) = meaning::at(sight, sight.offset(position))?;
    let (plan, _) = meaning::plan_of(sight)?;
    let place = match meaning.sort {
        Sort::Reading | Sort::Calc | Sort::Check | Sort::Log => {
            plan.stages[plan.stage_by_name.get(&*meaning.owner)?.index()].place
        }
        Sort::Column => {
            plan.logs
                .iter()
                .find(|log| *log.name == meaning.owner)?
                .place
        }
        Sort::Point => {
            let point = plan
                .points
                .iter()
                .find(|point| *point.name == meaning.name)?;
            plan.stages[point.stage.index()].place
        }
        Sort::Set => {
            let from = meaning::members_from(plan, &meaning.name)?;
            plan.design[plan.design_by_name.get(&*from)?.index()].place
        }
        Sort::Member => {
            plan.sets
                .iter()
                .find(|set| match &set.source {
                    crate::plan::SetSource::Members(members) => members
                        .iter()
                        .any(|member| member.to_string() == meaning.name),
                    _ => false,
                })?
                .place
        }
        _ => return None,
    };
    sight.location(place)
}

/// The name inside a declaration, where the declaration is longer.
pub(super) fn name_in(sight: &Sight<'_>, declared: Place, name: &str) -> Place {
    let text = sight.text(declared);
    let found = text.match_indices(name).map(|(at, _)| at).find(|at| {
        let before = text[..*at].chars().next_back();
        let after = text[at + name.len()..].chars().next();
        !before.is_some_and(in_word) && !after.is_some_and(in_word)
    });
    let Some(at) = found else { return declared };
    let start = declared.span.start + at as u32;
    Place {
        file: declared.file,
        span: Span::new(start, start + name.len() as u32),
    }
}

fn in_word(character: char) -> bool {
    character.is_alphanumeric() || matches!(character, '-' | '_')
}

/// Every place in one document that names the same thing.
pub(super) fn in_document(sight: &Sight<'_>, meaning: &Meaning) -> Vec<Span> {
    let text = &*sight.source.text;
    let mut found: Vec<Span> = Vec::new();
    for (at, _) in text.match_indices(&*meaning.name) {
        let inside = text[..at].chars().next_back().is_some_and(in_word)
            || text[at + meaning.name.len()..]
                .chars()
                .next()
                .is_some_and(in_word);
        if inside || in_comment(sight, at as u32) {
            continue;
        }
        // Inside the word, so that what ends where it begins is not meant.
        let Some((other, span)) = meaning::at(sight, at as u32) else {
            continue;
        };
        let same = other.sort == meaning.sort
            && other.name == meaning.name
            && other.owner == meaning.owner
            && other.declared == meaning.declared;
        if same && !found.contains(&span) {
            found.push(span);
        }
    }
    found
}

fn in_comment(sight: &Sight<'_>, offset: u32) -> bool {
    let tokens = sight.tree.tokens();
    let token = tokens.partition_point(|token| token.end <= offset);
    tokens
        .get(token)
        .is_some_and(|token| token.kind == TokenKind::Comment)
}

/// Every place in every known document that names the same thing, documents in the order of their names.
pub(super) fn everywhere(sight: &Sight<'_>, meaning: &Meaning) -> Vec<Place> {
    let mut files: Vec<FileId> = sight.desk.known();
    // A word whose meaning is declared nowhere is only looked for where it stands.
    if meaning.declared.is_none() && matches!(meaning.sort, Sort::Member | Sort::Nonconformity) {
        files = vec![sight.file];
    }
    files.sort_by_key(|file| sight.desk.source(*file).map(|source| source.name.clone()));
    let mut places = Vec::new();
    for file in files {
        let Some(other) = sight.of(file) else {
            continue;
        };
        if !other.source.text.contains(&*meaning.name) {
            continue;
        }
        let spans = in_document(&other, meaning);
        places.extend(spans.into_iter().map(|span| Place { file, span }));
    }
    places
}

/// Every place that names what the word at a position names; with or without its declaration.
pub(super) fn references(
    sight: &Sight<'_>,
    position: Position,
    with_declaration: bool,
) -> Option<Vec<Location>> {
    let (meaning, _) = meaning::at(sight, sight.offset(position))?;
    let declared = meaning
        .declared
        .map(|place| name_in(sight, place, &meaning.name));
    let places = everywhere(sight, &meaning);
    let places = places
        .into_iter()
        .filter(|place| with_declaration || Some(*place) != declared);
    Some(places.filter_map(|place| sight.location(place)).collect())
}

/// The places of the same thing in the document before the eyes; on the word of a statement, the statements of that
/// word beside it: all stages of a record, all tables of a stage.
pub(super) fn highlight(sight: &Sight<'_>, position: Position) -> Option<Vec<DocumentHighlight>> {
    let offset = sight.offset(position);
    let Some((meaning, _)) = meaning::at(sight, offset) else {
        return same_statements(sight, offset);
    };
    let spans = in_document(sight, &meaning);
    let kind = |span: Span| {
        let node = sight.node_at(span.start);
        let writes = sight.tree.parent(node).is_some_and(|parent| {
            matches!(
                sight.tree.kind(parent),
                NodeKind::DeclaredValue | NodeKind::Declared | NodeKind::Set
            )
        });
        if writes {
            DocumentHighlightKind::WRITE
        } else {
            DocumentHighlightKind::READ
        }
    };
    let highlights = spans.into_iter().map(|span| DocumentHighlight {
        range: sight.range(span),
        kind: Some(kind(span)),
    });
    Some(highlights.collect())
}

/// The words of the statements beside each other of which one has its word at a byte.
fn same_statements(sight: &Sight<'_>, offset: u32) -> Option<Vec<DocumentHighlight>> {
    let tree = sight.tree;
    let word = |node: NodeId| {
        // A reading may bear the name of a statement.
        if matches!(tree.kind(node), NodeKind::Reading | NodeKind::DesignValue) {
            return None;
        }
        let span = tree.span(node);
        let text = sight.source.slice(span);
        let word = text.split([' ', '\t', '\r', '\n']).next()?;
        STATEMENT_WORDS.contains(&word).then_some(())?;
        let end = span.start + word.len() as u32;
        Some((word, Span::new(span.start, end)))
    };
    let nodes = sight.nodes_at(offset);
    let (node, (own, _)) = nodes.iter().find_map(|node| {
        let (own, span) = word(*node)?;
        (span.start <= offset && offset <= span.end).then_some((*node, (own, span)))
    })?;
    let beside = tree.children(tree.parent(node)?);
    let highlights = beside.filter_map(|node| {
        let (other, span) = word(node)?;
        (other == own).then(|| DocumentHighlight {
            range: sight.range(span),
            kind: Some(DocumentHighlightKind::TEXT),
        })
    });
    Some(highlights.collect())
}
