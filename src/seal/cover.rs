//! What an act covers: the parts of a seal, each with its canonical text and its digest.

use super::canonical::{Line, all, below, digest, digest_of, write};
use super::used::Used;
use super::written::{ActLine, part_name, stage_of};
use crate::finding::PointKind;
use crate::plan::Plan;
use crate::record::{Files, Header};
use crate::syntax::{NodeId, NodeKind, Tree};
use crate::text::Span;

/// What a record is sealed on.
pub struct Ground<'a> {
    /// The record's document.
    pub tree: &'a Tree,
    /// What its `unit` statement says.
    pub header: &'a Header,
    /// Its plan.
    pub plan: &'a Plan,
    /// The documents of the plan, the outermost base first.
    pub plans: &'a [PlanText],
    /// The register's document.
    pub register: Option<&'a Tree>,
    /// Files that the record names.
    pub files: &'a dyn Files,
}

/// One document of a plan as it is sealed.
#[derive(Clone, Debug)]
pub struct PlanText {
    /// Its name with its revision.
    pub label: String,
    /// The digest of its canonical text.
    pub digest: String,
}

impl PlanText {
    /// Digests a plan's document.
    pub fn of(tree: &Tree) -> PlanText {
        PlanText {
            label: plan_label(tree),
            digest: digest_of(&document_lines(tree)),
        }
    }
}

/// The documents of a plan, each with its digest, the outermost base first.
pub fn plan_lines(plans: &[PlanText]) -> Vec<Line> {
    plans
        .iter()
        .map(|plan| Line {
            text: format!("{}  {}", plan.digest, plan.label),
            span: Span::default(),
        })
        .collect()
}

/// `kestrel-ford rev C`
pub fn plan_label(tree: &Tree) -> String {
    let Some(plan) = tree.child(tree.root(), NodeKind::Plan) else {
        return String::new();
    };
    let name = tree
        .child(plan, NodeKind::Name)
        .map_or("", |name| tree.text_of(name));
    let rev = tree
        .child(plan, NodeKind::Rev)
        .and_then(|rev| tree.child(rev, NodeKind::Word));
    match rev {
        Some(rev) => format!("{name} rev {}", tree.text_of(rev)),
        None => name.to_owned(),
    }
}

/// The canonical lines of a whole document.
pub fn document_lines(tree: &Tree) -> Vec<Line> {
    let mut lines = Vec::new();
    for statement in tree
        .children(tree.root())
        .filter(|node| tree.kind(*node) != NodeKind::Accept)
    {
        write(tree, statement, 0, &all, &mut lines);
    }
    lines
}

/// Where the canonical lines of a part stand.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Source {
    /// In the record.
    Record,
    /// In the register.
    Register,
    /// In the documents of the plan; a line of the part is the digest of one.
    Plan,
    /// In a file that the record names; it has no canonical lines.
    File,
}

/// One part of what an act covers.
#[derive(Clone, Debug)]
pub struct Part {
    /// `unit`, `design`, `plan`, `register`, `stage`, `nonconformity`, `file`.
    pub kind: &'static str,
    /// Which one; empty where there is one only.
    pub label: String,
    /// Its digest; none for a file that cannot be read.
    pub digest: Option<String>,
    /// Its canonical lines.
    pub lines: Vec<Line>,
    /// Where they stand.
    pub source: Source,
    /// Numbers of lines at which the part was whole before something was added at its end: a later design, a
    /// later step of a nonconformity.
    pub whole_at: Vec<usize>,
    /// Whether a seal that does not have this part covers too little.
    pub required: bool,
}

/// How a part stands to what was sealed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Standing {
    /// As it was.
    Same,
    /// As it was, with something added at its end: so many lines were sealed.
    Grown(usize),
    /// Changed.
    Changed,
}

impl Part {
    /// `stage winding`
    pub fn name(&self) -> String {
        part_name(self.kind, &self.label)
    }

    /// Whether this is what a digest was made of.
    pub fn held_against(&self, sealed: &str) -> Standing {
        if self.digest.as_deref() == Some(sealed) {
            return Standing::Same;
        }
        let grown = |count: &&usize| {
            **count < self.lines.len() && digest_of(&self.lines[..**count]) == sealed
        };
        match self.whole_at.iter().rev().find(grown) {
            Some(count) => Standing::Grown(*count),
            None => Standing::Changed,
        }
    }

    fn of_lines(kind: &'static str, label: &str, lines: Vec<Line>, source: Source) -> Part {
        Part {
            kind,
            label: label.to_owned(),
            digest: Some(digest_of(&lines)),
            lines,
            source,
            whole_at: Vec::new(),
            required: true,
        }
    }
}

/// The parts that every act of a record covers alike.
pub struct Shared {
    first: [Part; 3],
    nonconformities: Vec<Part>,
}

impl Shared {
    /// Digests what the acts of a record have in common.
    pub fn of(ground: &Ground<'_>) -> Shared {
        let plan = ground.plans.last().map_or("", |plan| &plan.label);
        Shared {
            first: [
                Part::of_lines("unit", "", unit_lines(ground.header), Source::Record),
                design(ground.tree),
                Part::of_lines("plan", plan, plan_lines(ground.plans), Source::Plan),
            ],
            nonconformities: nonconformities(ground.tree),
        }
    }
}

/// The parts that an act covers, in the order in which a seal lists them.
pub fn parts(ground: &Ground<'_>, shared: &Shared, act: &ActLine, used: &Used) -> Vec<Part> {
    let tree = ground.tree;
    let mut parts = shared.first.to_vec();
    parts.push(Part::of_lines(
        "register",
        "",
        used.lines(ground.register),
        Source::Register,
    ));
    for stage in unheld_before(ground.plan, &act.stage) {
        let lines = stage_lines(tree, stage, u32::MAX, u32::MAX);
        parts.push(Part::of_lines("stage", stage, lines, Source::Record));
    }
    let own = stage_lines(tree, &act.stage, act.round, act.start);
    parts.push(Part::of_lines("stage", &act.stage, own, Source::Record));
    parts.extend(shared.nonconformities.iter().cloned());
    parts.extend(files(ground, act));
    parts
}

/// What the `unit` statement says, as far as the judgement rests on it.
pub fn unit_lines(header: &Header) -> Vec<Line> {
    let mut lines = Vec::new();
    let mut line = |text: String, span: Span| lines.push(Line { text, span });
    line(
        format!("unit {:?} {:?}", header.serial, header.title),
        header.span,
    );
    if let Some((name, rev, span)) = &header.plan {
        line(
            format!("plan {name} {}", rev.as_deref().unwrap_or("-")),
            *span,
        );
    }
    if let Some((name, span)) = &header.register {
        line(format!("register {name}"), *span);
    }
    if let Some(lot) = &header.lot {
        let number =
            |number: Option<i64>| number.map_or("-".to_owned(), |number| number.to_string());
        line(
            format!(
                "lot {:?} unit {} of {}",
                lot.name,
                number(lot.number),
                number(lot.total)
            ),
            lot.span,
        );
    }
    if let Some((zone, span)) = &header.zone {
        line(format!("zone {zone}"), *span);
    }
    lines
}

/// The designs, in order; a later one is added at the end.
pub fn design(tree: &Tree) -> Part {
    let mut lines = Vec::new();
    let mut whole_at = Vec::new();
    for node in statements(tree, NodeKind::Design) {
        write(tree, node, 0, &all, &mut lines);
        whole_at.push(lines.len());
    }
    let mut part = Part::of_lines("design", "", lines, Source::Record);
    part.whole_at = whole_at;
    part
}

/// The nonconformities, each a part, whole after each of its lines: it is answered step by step.
pub fn nonconformities(tree: &Tree) -> Vec<Part> {
    statements(tree, NodeKind::Nonconformity)
        .filter_map(|node| {
            let name = tree.child(node, NodeKind::Name)?;
            let mut lines = Vec::new();
            write(tree, node, 0, &all, &mut lines);
            let count = lines.len();
            let mut part =
                Part::of_lines("nonconformity", tree.text_of(name), lines, Source::Record);
            part.whole_at = (1..count).collect();
            part.required = false;
            Some(part)
        })
        .collect()
}

/// What stands in a stage, of its rounds up to one, before a place of the document.
pub fn stage_lines(tree: &Tree, stage: &str, round: u32, before: u32) -> Vec<Line> {
    let mut lines = Vec::new();
    for block in stage_blocks(tree, stage, round, before) {
        write(tree, block, 0, &|_| false, &mut lines);
        for statement in covered(tree, block, before) {
            write(tree, statement, 1, &all, &mut lines);
        }
    }
    lines
}

fn stage_blocks<'t>(
    tree: &'t Tree,
    stage: &'t str,
    round: u32,
    before: u32,
) -> impl Iterator<Item = NodeId> + 't {
    statements(tree, NodeKind::StageRecord).filter(move |node| {
        stage_of(tree, *node).is_some_and(|(name, number)| name == stage && number <= round)
            && tree.span(*node).start < before
    })
}

/// The statements of a block that stand before a place, without what no seal covers.
fn covered(tree: &Tree, block: NodeId, before: u32) -> impl Iterator<Item = NodeId> + '_ {
    below(tree, block)
        .filter(move |node| tree.kind(*node) != NodeKind::Accept && tree.span(*node).start < before)
}

fn statements(tree: &Tree, kind: NodeKind) -> impl Iterator<Item = NodeId> + '_ {
    tree.children(tree.root())
        .filter(move |node| tree.kind(*node) == kind)
}

/// Stages before this one that have no hold point of their own to cover them.
fn unheld_before<'p>(plan: &'p Plan, stage: &str) -> Vec<&'p str> {
    let Some(id) = plan.stage_by_name.get(stage) else {
        return Vec::new();
    };
    let held = |stage: &crate::plan::Stage| {
        let mut points = stage.points.iter();
        points.any(|id| plan.points[id.index()].kind == PointKind::Hold)
    };
    plan.stages[id.index()]
        .before
        .iter()
        .map(|id| &plan.stages[id.index()])
        .filter(|stage| !held(stage))
        .map(|stage| &*stage.name)
        .collect()
}

/// The files that what is covered names: logs and attachments, each once.
fn files(ground: &Ground<'_>, act: &ActLine) -> Vec<Part> {
    let tree = ground.tree;
    let mut named: Vec<(String, Span, bool)> = Vec::new();
    for block in stage_blocks(tree, &act.stage, act.round, act.start) {
        for statement in covered(tree, block, act.start) {
            files_named(tree, statement, true, &mut named);
        }
    }
    files_named(tree, act.node, true, &mut named);
    for kind in [NodeKind::Design, NodeKind::Nonconformity] {
        for statement in statements(tree, kind) {
            files_named(tree, statement, false, &mut named);
        }
    }
    let mut parts: Vec<Part> = Vec::new();
    for (path, span, required) in named {
        if let Some(known) = parts.iter_mut().find(|part| part.label == path) {
            known.required |= required;
            continue;
        }
        let bytes = ground.files.read(&path).ok();
        parts.push(Part {
            kind: "file",
            digest: bytes.map(|bytes| digest(&bytes)),
            lines: vec![Line {
                text: path.clone(),
                span,
            }],
            label: path,
            source: Source::File,
            whole_at: Vec::new(),
            required,
        });
    }
    parts
}

/// Adds the files that a statement and what is below it name.
fn files_named(
    tree: &Tree,
    statement: NodeId,
    required: bool,
    named: &mut Vec<(String, Span, bool)>,
) {
    let text = match tree.kind(statement) {
        NodeKind::Attach | NodeKind::Log => tree.child(statement, NodeKind::TextPart),
        _ => None,
    };
    if let Some(text) = text {
        named.push((tree.unquoted(text), tree.span(text), required));
    }
    for child in below(tree, statement) {
        files_named(tree, child, required, named);
    }
}
