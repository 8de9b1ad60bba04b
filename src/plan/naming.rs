//! Naming: what a path of an expression means where it stands, and its index.

use super::expression::{Expr, ExprNode, IndexExpr};
use super::model::*;
use super::resolve::Resolver;
use super::types::Type;
use super::typing::{Scope, make, wrong};
use super::value::Value;
use crate::finding::Finding;
use crate::finding::rules;
use crate::quantity::Quantity;
use crate::syntax::{NodeId, NodeKind, nearest};
use crate::text::Place;

/// What a path means.
pub(super) enum Meaning {
    Variable(usize),
    Design(DesignId),
    Reading(ReadingId),
    Condition(ReadingId, usize),
    Calc(CalcId),
    Column(LogId, usize),
    Truth(bool),
    /// A log without its column, or a check.
    NoValue(&'static str),
}

impl Resolver<'_, '_> {
    /// What a path means in a scope; the index is looked at later.
    pub(super) fn meaning(&self, path: &str, scope: &Scope) -> Option<Meaning> {
        let mut segments = path.split('.');
        let first = segments.next()?;
        let rest: Vec<&str> = segments.collect();
        let own = scope.stage.map(|stage| &self.plan.stages[stage.index()]);
        let stage_name = |stage: &Stage, name: &str| stage.names.get(name).copied();
        match rest.as_slice() {
            [] => {
                if let Some(index) = scope
                    .variables
                    .iter()
                    .position(|set| *self.plan.sets[set.index()].name == *first)
                {
                    return Some(Meaning::Variable(index));
                }
                if let Some(found) = own.and_then(|stage| stage_name(stage, first)) {
                    return Some(self.stage_meaning(found));
                }
                if let (None, Some(calc)) = (scope.stage, self.design_calcs.get(first)) {
                    return Some(Meaning::Calc(*calc));
                }
                match first {
                    "yes" => Some(Meaning::Truth(true)),
                    "no" => Some(Meaning::Truth(false)),
                    _ => None,
                }
            }
            [name] if first == "design" => match self.plan.design_by_name.get(*name) {
                Some(id) => Some(Meaning::Design(*id)),
                None => self
                    .design_calcs
                    .get(*name)
                    .map(|calc| Meaning::Calc(*calc)),
            },
            [part] => {
                if let Some(found) = own.and_then(|stage| stage_name(stage, first))
                    && let Some(meaning) = self.part_of(found, part)
                {
                    return Some(meaning);
                }
                let stage = self.plan.stage_by_name.get(first)?;
                let found = stage_name(&self.plan.stages[stage.index()], part)?;
                Some(self.stage_meaning(found))
            }
            [name, part] => {
                let stage = self.plan.stage_by_name.get(first)?;
                let found = stage_name(&self.plan.stages[stage.index()], name)?;
                self.part_of(found, part)
            }
            _ => None,
        }
    }

    pub(super) fn stage_meaning(&self, found: StageName) -> Meaning {
        match found {
            StageName::Reading(id) => Meaning::Reading(id),
            StageName::Calc(id) => Meaning::Calc(id),
            StageName::Log(_) => Meaning::NoValue("a log: name one of its columns, LOG.COLUMN"),
            StageName::Check(_) => Meaning::NoValue("a check, which has no value"),
        }
    }

    pub(super) fn part_of(&self, found: StageName, part: &str) -> Option<Meaning> {
        match found {
            StageName::Reading(id) => {
                let given = &self.plan.readings[id.index()].given;
                given
                    .iter()
                    .position(|kind| kind.name() == part)
                    .map(|index| Meaning::Condition(id, index))
            }
            StageName::Log(id) => {
                let columns = &self.plan.logs[id.index()].columns;
                columns
                    .iter()
                    .position(|column| *column.name == *part)
                    .map(|index| Meaning::Column(id, index))
            }
            _ => None,
        }
    }

    pub(super) fn known_names(&self, scope: &Scope) -> Vec<String> {
        let mut known: Vec<String> = scope
            .variables
            .iter()
            .map(|set| self.plan.sets[set.index()].name.to_string())
            .collect();
        known.extend(
            self.plan
                .design
                .iter()
                .map(|item| format!("design.{}", item.name)),
        );
        known.extend(
            self.design_calcs
                .keys()
                .map(|name| format!("design.{name}")),
        );
        for (index, stage) in self.plan.stages.iter().enumerate() {
            let own = scope.stage.is_some_and(|own| own.index() == index);
            for (name, found) in &stage.names {
                let full = if own {
                    name.to_string()
                } else {
                    format!("{}.{name}", stage.name)
                };
                match found {
                    StageName::Reading(id) => {
                        for kind in &self.plan.readings[id.index()].given {
                            known.push(format!("{full}.{}", kind.name()));
                        }
                    }
                    StageName::Log(id) => {
                        for column in &self.plan.logs[id.index()].columns {
                            known.push(format!("{full}.{}", column.name));
                        }
                    }
                    _ => {}
                }
                known.push(full);
            }
        }
        known.sort();
        known
    }

    pub(super) fn reference(
        &mut self,
        document: usize,
        node: NodeId,
        scope: &Scope,
        place: Place,
    ) -> Expr {
        let tree = self.documents[document].tree;
        let Some(path) = tree.child(node, NodeKind::Path) else {
            return wrong(place);
        };
        let text = tree.text_of(path).to_owned();
        let path_place = self.place(document, path);
        let index = tree.child(node, NodeKind::Index);
        let Some(meaning) = self.meaning(&text, scope) else {
            if text.ends_with('.') {
                // Half-typed: the parser has said so already.
                return wrong(place);
            }
            if let Some(literal) = self.glued(&text, path_place).filter(|_| index.is_none()) {
                return literal;
            }
            let known = self.known_names(scope);
            let what = if text.starts_with("design.") {
                "a design value of this plan"
            } else {
                "a name of this plan"
            };
            self.unknown_name(path_place, what, &text, known.iter().map(String::as_str));
            return wrong(place);
        };
        let (indices, ty, declared) = match &meaning {
            Meaning::Variable(slot) => {
                let numeric = self.is_numeric(scope.variables[*slot]);
                let ty = if numeric { Type::NUMBER } else { Type::Name };
                (Vec::new(), ty, None)
            }
            Meaning::Design(id) => {
                let item = &self.plan.design[id.index()];
                (
                    item.indices.clone(),
                    item.kind.value_type(),
                    Some(item.place),
                )
            }
            Meaning::Reading(id) => {
                let reading = &self.plan.readings[id.index()];
                (
                    reading.indices.clone(),
                    reading.kind.value_type(),
                    Some(reading.place),
                )
            }
            Meaning::Condition(id, which) => {
                let reading = &self.plan.readings[id.index()];
                (
                    reading.indices.clone(),
                    reading.given[*which].value_type(),
                    Some(reading.place),
                )
            }
            Meaning::Calc(id) => {
                let ty = self.calc_type(*id);
                let calc = &self.plan.calcs[id.index()];
                (calc.indices.clone(), ty, Some(calc.place))
            }
            Meaning::Column(id, which) => {
                let log = &self.plan.logs[id.index()];
                let column = &log.columns[*which];
                let over = log.over.as_ref().map(|axis| axis.kind.value_type());
                let ty = match (column.kind.value_type(), over) {
                    (Type::Quantity { dimension, point }, None) => Type::Series {
                        dimension,
                        point,
                        over: None,
                    },
                    (
                        Type::Quantity { dimension, point },
                        Some(Type::Quantity {
                            dimension: over, ..
                        }),
                    ) => Type::Series {
                        dimension,
                        point,
                        over: Some(over),
                    },
                    _ => Type::Unknown,
                };
                (log.indices.clone(), ty, Some(log.place))
            }
            Meaning::Truth(_) => (Vec::new(), Type::Truth, None),
            Meaning::NoValue(what) => {
                let finding = Finding::new(
                    &rules::WRONG_KIND,
                    path_place,
                    format!("expected something that has a value, found `{text}`, which is {what}"),
                );
                self.findings.push(finding);
                return wrong(place);
            }
        };
        let written = index
            .map(|index| self.children(document, index))
            .unwrap_or_default();
        if written.len() != indices.len() {
            let names: Vec<String> = indices
                .iter()
                .map(|set| self.plan.sets[set.index()].name.to_string())
                .collect();
            let expected = match names.len() {
                0 => format!("expected `{text}` without an index"),
                1 => format!("expected one index for `{text}`, [{}]", names[0]),
                count => format!(
                    "expected {count} indices for `{text}`, [{}]",
                    names.join(", ")
                ),
            };
            let mut finding = Finding::new(
                &rules::INDEX_COUNT,
                place,
                format!("{expected}, found {}", written.len()),
            );
            if let Some(declared) = declared {
                finding = finding.related(declared, "declared here");
            }
            self.findings.push(finding);
            return wrong(place);
        }
        let mut parts = Vec::with_capacity(written.len());
        let mut many = false;
        for (part, set) in written.iter().zip(&indices) {
            if matches!(meaning, Meaning::Column(..)) && tree.kind(*part) == NodeKind::Star {
                self.star_of_log(document, *part, *set, &text);
                return wrong(place);
            }
            match self.index_part(document, *part, *set, scope) {
                Some(part) => {
                    many |= matches!(part, IndexExpr::Every);
                    parts.push(part);
                }
                None => return make(ExprNode::Wrong, place, Type::Unknown),
            }
        }
        let ty = if many && ty != Type::Unknown {
            Type::List(Box::new(ty))
        } else {
            ty
        };
        let node = match meaning {
            Meaning::Variable(slot) => ExprNode::Variable(slot),
            Meaning::Design(id) => ExprNode::Design(id, parts),
            Meaning::Reading(id) => ExprNode::Reading(id, parts),
            Meaning::Condition(id, which) => ExprNode::Condition(id, which, parts),
            Meaning::Calc(id) => ExprNode::Calc(id, parts),
            Meaning::Column(id, which) => ExprNode::Column(id, which, parts),
            Meaning::Truth(truth) => ExprNode::Literal(Value::Truth(truth)),
            Meaning::NoValue(_) => ExprNode::Wrong,
        };
        make(node, place, ty)
    }

    /// A column of all members at once would be a list of logs, which no function takes.
    fn star_of_log(&mut self, document: usize, star: NodeId, set: SetId, text: &str) {
        let set = self.plan.sets[set.index()].name.clone();
        let place = self.place(document, star);
        let finding = Finding::new(
            &rules::WRONG_KIND,
            place,
            format!("expected one member of `{set}` as the index of a log's column, found `*`"),
        )
        .help(format!(
            "calculate for each member first, calc x[{set}] = max({text}[{set}]), then take x[*]"
        ));
        self.findings.push(finding);
    }

    /// `40MVA`: one word that is a number with its unit; reported, and read as meant.
    pub(super) fn glued(&mut self, text: &str, place: Place) -> Option<Expr> {
        let split = text.find(|character: char| !character.is_ascii_digit())?;
        let (number, unit) = text.split_at(split);
        let unit = crate::quantity::parse_unit(unit).ok()?;
        let number = crate::quantity::Rational::parse(number).ok()?;
        let border = place.span.start + split as u32;
        let finding = Finding::new(
            &rules::UNIT_SPACE_MISSING,
            place,
            format!("expected a space between number and unit, found `{text}`"),
        )
        .help(format!(
            "write {} {}, as ISO 80000-1 does",
            &text[..split],
            &text[split..]
        ))
        .fix(
            "put a space before the unit",
            vec![(crate::text::Span::new(border, border), " ".to_owned())],
        );
        self.findings.push(finding);
        let quantity = Quantity::from_unit(number, &unit);
        let ty = Type::Quantity {
            dimension: quantity.dimension,
            point: quantity.point,
        };
        Some(make(
            ExprNode::Literal(Value::Quantity(quantity)),
            place,
            ty,
        ))
    }

    pub(super) fn is_numeric(&self, set: SetId) -> bool {
        match &self.plan.sets[set.index()].source {
            SetSource::Members(members) => matches!(members.first(), Some(Member::Number(_))),
            SetSource::Design(_, numeric) => *numeric,
            SetSource::Missing => false,
        }
    }

    pub(super) fn index_part(
        &mut self,
        document: usize,
        node: NodeId,
        set: SetId,
        scope: &Scope,
    ) -> Option<IndexExpr> {
        let tree = self.documents[document].tree;
        if tree.kind(node) == NodeKind::Star {
            return Some(IndexExpr::Every);
        }
        let place = self.place(document, node);
        let set_name = self.plan.sets[set.index()].name.clone();
        if let Some(word) = self.bare_word(document, node, scope) {
            if let SetSource::Members(members) = &self.plan.sets[set.index()].source {
                let known: Vec<String> = members.iter().map(Member::to_string).collect();
                if !known.iter().any(|member| **member == *word) {
                    let declared = self.plan.sets[set.index()].place;
                    let mut finding = Finding::new(
                        &rules::UNKNOWN_MEMBER,
                        place,
                        format!(
                            "expected a member of `{set_name}` ({}), found `{word}`",
                            known.join(", ")
                        ),
                    )
                    .related(declared, "the set is declared here");
                    if let Some(near) = nearest(&word, known.iter().map(String::as_str)) {
                        finding = finding
                            .help(format!("did you mean `{near}`?"))
                            .fix(format!("write {near}"), vec![(place.span, near.to_owned())]);
                    }
                    self.findings.push(finding);
                    return None;
                }
            } else if self.is_numeric(set) {
                let known = self.known_names(scope);
                self.unknown_name(
                    place,
                    &format!("a number or a name that is one, as an index of `{set_name}`"),
                    &word,
                    known.iter().map(String::as_str),
                );
                return None;
            }
            return Some(IndexExpr::Member(word));
        }
        let expr = self.expr(document, node, scope);
        let variable_of = match expr.node {
            ExprNode::Variable(slot) => scope.variables.get(slot).copied(),
            _ => None,
        };
        let fits = match &expr.ty {
            Type::Unknown => return None,
            _ if variable_of.is_some() => {
                variable_of == Some(set) || self.is_numeric(set) && expr.ty == Type::NUMBER
            }
            ty if self.is_numeric(set) => *ty == Type::NUMBER,
            ty => *ty == Type::Name,
        };
        if !fits {
            let found = match variable_of {
                Some(other) => format!("the index `{}`", self.plan.sets[other.index()].name),
                None => expr.ty.to_string(),
            };
            let declared = self.plan.sets[set.index()].place;
            let finding = Finding::new(
                &rules::UNKNOWN_MEMBER,
                place,
                format!("expected a member of `{set_name}` here, found {found}"),
            )
            .related(declared, "the set is declared here")
            .help("indices stand in the order in which the reading declares them");
            self.findings.push(finding);
            return None;
        }
        Some(IndexExpr::At(expr))
    }
}
