//! Reading one written value as the kind that the plan asks for.

use super::model::Recorded;
use crate::finding::Finding;
use crate::finding::rules;
use crate::plan::kind::{Kind, QuantityKind, with_article};
use crate::plan::literal;
use crate::plan::value::Value;
use crate::quantity::moment::{Clock, Doubt, Told, When};
use crate::quantity::{Dimension, Interval, Number, Quantity, Rational, Tag, Unit, parse_unit};
use crate::syntax::{NodeId, NodeKind, QuantityText, Tree, nearest};
use crate::text::{FileId, Place, Span};
use std::sync::Arc;

/// Reads values of one document.
pub struct ValueReader<'a> {
    pub tree: &'a Tree,
    pub file: FileId,
    pub findings: &'a mut Vec<Finding>,
    pub clock: Clock,
    /// The last unit read, so that a column of like units is parsed once.
    pub last_unit: Option<(String, Unit)>,
}

/// What the plan asks for at a place: shown when something else stands there.
#[derive(Clone, Copy)]
pub struct Wanted<'a> {
    pub kind: &'a Kind,
    /// Where the plan declares it.
    pub declared: Place,
    /// The unit of the column, if its header gives one.
    pub unit: Option<&'a Unit>,
    /// Design values may carry a tolerance, a bound or a range.
    pub tolerances: bool,
}

impl ValueReader<'_> {
    pub fn place(&self, node: NodeId) -> Place {
        Place {
            file: self.file,
            span: self.tree.span(node),
        }
    }

    pub fn report(&mut self, finding: Finding) {
        self.findings.push(finding);
    }

    /// Reads the value at `node`.
    pub fn value(&mut self, node: NodeId, wanted: Wanted<'_>) -> Recorded {
        match self.tree.kind(node) {
            NodeKind::Pending => return Recorded::Pending,
            NodeKind::NotApplicable => return Recorded::NotApplicable,
            NodeKind::Rest => return Recorded::Unreadable,
            _ => {}
        }
        match wanted.kind {
            Kind::Quantity(_) | Kind::Count => self.measured(node, wanted),
            Kind::Moment => self.moment(node, wanted),
            Kind::Text => self.text(node, wanted),
            Kind::YesNo => self.yes_no(node, wanted),
            Kind::Choice(_) | Kind::Name | Kind::VectorGroup => self.name(node, wanted),
            Kind::Names => self.names(node, wanted),
            Kind::Positions => self.positions(node, wanted),
        }
    }

    fn wrong_kind(&mut self, node: NodeId, wanted: Wanted<'_>, help: &str) -> Recorded {
        let found = self.tree.text_of(node);
        let shown: String = found.chars().take(40).collect();
        let expected = match wanted.kind {
            Kind::Quantity(kind) => with_article(kind.name),
            Kind::Count => "a whole number".to_owned(),
            Kind::Moment => "a date or time".to_owned(),
            Kind::Text => "a text in quotes".to_owned(),
            Kind::YesNo => "yes or no".to_owned(),
            Kind::Choice(choices) => format!("one of {}", choices.join(", ")),
            Kind::Positions => "a range of whole numbers such as 1 .. 17".to_owned(),
            other => with_article(other.name()),
        };
        let mut finding = Finding::new(
            &rules::WRONG_KIND,
            self.place(node),
            format!("expected {expected}, found `{shown}`"),
        )
        .related(wanted.declared, "declared here");
        if !help.is_empty() {
            finding = finding.help(help);
        }
        self.report(finding);
        Recorded::Unreadable
    }

    fn measured(&mut self, node: NodeId, wanted: Wanted<'_>) -> Recorded {
        let tree = self.tree;
        match tree.kind(node) {
            NodeKind::Quantity => {
                match tree
                    .quantity(node)
                    .and_then(|written| self.quantity(&written, wanted))
                {
                    Some(quantity) => Recorded::Value(Value::Quantity(quantity)),
                    None => Recorded::Unreadable,
                }
            }
            NodeKind::NameList => self.glued(node, wanted),
            NodeKind::PlusMinus | NodeKind::PlusSlashMinus | NodeKind::Bound | NodeKind::Range => {
                if wanted.tolerances {
                    self.toleranced(node, wanted)
                } else {
                    self.wrong_kind(
                        node,
                        wanted,
                        "a reading is one value; a tolerance belongs to the design or the plan",
                    )
                }
            }
            _ => self.wrong_kind(node, wanted, ""),
        }
    }

    /// A unit whose number is still to be written: the place is as open as one kept open.
    fn number_missing(&mut self, node: NodeId, wanted: Wanted<'_>) -> Recorded {
        let unit = self.tree.text_of(node);
        let finding = Finding::new(
            &rules::NUMBER_MISSING,
            self.place(node),
            format!("expected a number before the unit, found `{unit}` alone"),
        )
        .related(wanted.declared, "declared here")
        .help(format!(
            "write what was read before {unit}, or `?` in place of both to keep it open"
        ));
        self.report(finding);
        Recorded::Pending
    }

    /// `40MVA`: one word that is a number with its unit.
    fn glued(&mut self, node: NodeId, wanted: Wanted<'_>) -> Recorded {
        let text = self.tree.text_of(node);
        let split = text
            .find(|character: char| !character.is_ascii_digit())
            .unwrap_or(text.len());
        if split == 0 && parse_unit(text).is_ok() {
            return self.number_missing(node, wanted);
        }
        if split == 0 || split == text.len() {
            return self.wrong_kind(node, wanted, "");
        }
        let span = self.tree.span(node);
        let (number, unit) = text.split_at(split);
        let border = span.start + split as u32;
        let finding = Finding::new(
            &rules::UNIT_SPACE_MISSING,
            self.place(node),
            format!("expected a space between number and unit, found `{text}`"),
        )
        .help(format!("write {number} {unit}, as ISO 80000-1 does"))
        .fix(
            "put a space before the unit",
            vec![(Span::new(border, border), " ".to_owned())],
        );
        self.report(finding);
        let written = QuantityText {
            negative: false,
            number,
            number_span: Span::new(span.start, border),
            unit: Some(unit),
            unit_span: Span::new(border, span.end),
        };
        match self.quantity(&written, wanted) {
            Some(quantity) => Recorded::Value(Value::Quantity(quantity)),
            None => Recorded::Unreadable,
        }
    }

    /// Reads a quantity and holds its unit against the kind.
    pub fn quantity(&mut self, written: &QuantityText<'_>, wanted: Wanted<'_>) -> Option<Quantity> {
        let number = match literal::number(written, self.file) {
            Ok(number) => number,
            Err(finding) => {
                self.report(*finding);
                return None;
            }
        };
        let Kind::Quantity(kind) = wanted.kind else {
            return self.count(written, number, wanted);
        };
        match (written.unit, wanted.unit) {
            (None, Some(unit)) => Some(Quantity::from_unit(number, unit)),
            (Some(text), _) => {
                let place = Place {
                    file: self.file,
                    span: written.unit_span,
                };
                let unit = self.unit(text, place, kind, wanted.declared)?;
                Some(Quantity::from_unit(number, &unit))
            }
            (None, None) if kind.dimension.is_none() => Some(Quantity {
                value: Number::Exact(number),
                dimension: Dimension::NONE,
                point: false,
            }),
            (None, None) => {
                let place = Place {
                    file: self.file,
                    span: written.number_span,
                };
                let finding = Finding::new(
                    &rules::UNIT_MISSING,
                    place,
                    format!(
                        "expected a unit of {} behind the number, found none",
                        kind.name
                    ),
                )
                .help(format!(
                    "write the unit it was read in, such as {} {}",
                    written.number, kind.example
                ))
                .related(wanted.declared, "declared here");
                self.report(finding);
                None
            }
        }
    }

    fn count(
        &mut self,
        written: &QuantityText<'_>,
        number: Rational,
        wanted: Wanted<'_>,
    ) -> Option<Quantity> {
        let place = Place {
            file: self.file,
            span: written.number_span,
        };
        if written.unit.is_some() {
            let place = Place {
                file: self.file,
                span: written.unit_span,
            };
            let finding = Finding::new(
                &rules::WRONG_UNIT,
                place,
                "expected a whole number without a unit, found a unit",
            )
            .related(wanted.declared, "declared here");
            self.report(finding);
            return None;
        }
        if number.is_whole().is_none() {
            let finding = Finding::new(
                &rules::WRONG_KIND,
                place,
                format!("expected a whole number, found `{}`", written.number),
            )
            .related(wanted.declared, "declared here");
            self.report(finding);
            return None;
        }
        Some(Quantity {
            value: Number::Exact(number),
            dimension: Dimension::NONE,
            point: false,
        })
    }

    /// Reads a unit for a kind; the last one is remembered.
    pub fn unit(
        &mut self,
        text: &str,
        place: Place,
        kind: &QuantityKind,
        declared: Place,
    ) -> Option<Unit> {
        if let Some((known, unit)) = &self.last_unit
            && known == text
            && unit.dimension == kind.dimension
            && kind.tags.contains(&unit.tag)
        {
            return Some(unit.clone());
        }
        let unit = match literal::unit(text, place) {
            Ok(unit) => unit,
            Err(finding) => {
                self.report(*finding);
                return None;
            }
        };
        if unit.dimension != kind.dimension || !kind.tags.contains(&unit.tag) {
            self.wrong_unit(text, &unit, place, kind, declared);
            return None;
        }
        self.last_unit = Some((text.to_owned(), unit.clone()));
        Some(unit)
    }

    fn wrong_unit(
        &mut self,
        text: &str,
        unit: &Unit,
        place: Place,
        kind: &QuantityKind,
        declared: Place,
    ) {
        let example = if kind.example.is_empty() {
            "no unit".to_owned()
        } else {
            kind.example.to_owned()
        };
        let same_dimension = unit.dimension == kind.dimension;
        let what = match unit.tag {
            Tag::TemperaturePoint => "a point on the temperature scale".to_owned(),
            _ if !same_dimension => unit.dimension.to_string(),
            Tag::ActivePower => "active power".to_owned(),
            Tag::ApparentPower => "apparent power".to_owned(),
            Tag::ReactivePower => "reactive power".to_owned(),
            Tag::Energy => "energy".to_owned(),
            Tag::Level => "a level".to_owned(),
            Tag::Plain => "a difference or another kind of quantity".to_owned(),
        };
        let finding = Finding::new(
            &rules::WRONG_UNIT,
            place,
            format!(
                "expected a unit of {} ({example}), found `{text}`, which is {what}",
                kind.name
            ),
        )
        .label(format!("this is {what}"))
        .related(declared, format!("declared as {} here", kind.name))
        .help("write the unit that the value was read in; a unit is never changed for you");
        self.report(finding);
    }

    fn toleranced(&mut self, node: NodeId, wanted: Wanted<'_>) -> Recorded {
        let tree = self.tree;
        let kind = tree.kind(node);
        let parts: Vec<NodeId> = tree.children(node).collect();
        let mut texts: Vec<QuantityText<'_>> = parts
            .iter()
            .filter_map(|part| tree.quantity(*part))
            .collect();
        let unit_only_before = texts.last().is_some_and(|last| last.unit.is_none())
            && texts.iter().any(|text| text.unit.is_some());
        if let (true, Some(last)) = (unit_only_before, texts.last()) {
            let place = Place {
                file: self.file,
                span: last.number_span,
            };
            let finding = Finding::new(
                &rules::UNIT_MISSING,
                place,
                "expected a unit behind the last number too, found none",
            )
            .help("a unit written once stands at the end: 1 .. 5 %")
            .related(wanted.declared, "declared here");
            self.report(finding);
            return Recorded::Unreadable;
        }
        // A unit written once, at the end, goes for what stands before it.
        if let Some((unit, unit_span)) = texts.last().map(|last| (last.unit, last.unit_span)) {
            for text in &mut texts {
                if text.unit.is_none() {
                    text.unit = unit;
                    text.unit_span = unit_span;
                }
            }
        }
        let tolerance_kind = self.difference(wanted);
        let mut values = Vec::new();
        for (index, text) in texts.iter().enumerate() {
            let difference =
                index > 0 && matches!(kind, NodeKind::PlusMinus | NodeKind::PlusSlashMinus);
            let wanted = if difference {
                Wanted {
                    kind: &tolerance_kind,
                    ..wanted
                }
            } else {
                wanted
            };
            match self.quantity(text, wanted) {
                Some(value) => values.push(value),
                None => return Recorded::Unreadable,
            }
        }
        let interval = match (kind, values.as_slice()) {
            (NodeKind::PlusMinus, [value, tolerance]) => {
                Interval::around(*value, *tolerance, *tolerance)
            }
            (NodeKind::PlusSlashMinus, [value, plus, minus]) => {
                Interval::around(*value, *plus, *minus)
            }
            (NodeKind::Range, [low, high])
                if matches!(low.compare(high), Ok(std::cmp::Ordering::Greater)) =>
            {
                return self.wrong_kind(node, wanted, "the lower end of a range stands first");
            }
            (NodeKind::Range, [low, high]) => Ok(Interval::between(*low, *high)),
            (NodeKind::Bound, [bound]) => {
                use crate::syntax::TokenKind;
                let sign = tree.significant(node).next().map(|(_, kind)| kind);
                Ok(match sign {
                    Some(TokenKind::Less) => Interval::below(*bound),
                    Some(TokenKind::Greater) => Interval::above(*bound),
                    Some(TokenKind::AtLeast) => Interval::at_least(*bound),
                    _ => Interval::at_most(*bound),
                })
            }
            _ => return Recorded::Unreadable,
        };
        match interval {
            Ok(interval) => {
                let nominal = match kind {
                    NodeKind::PlusMinus | NodeKind::PlusSlashMinus | NodeKind::Bound => {
                        values.first().map(|value| Value::Quantity(*value))
                    }
                    _ => None,
                };
                Recorded::Tolerance(nominal, Arc::new(interval))
            }
            Err(_) => self.wrong_kind(node, wanted, "a tolerance has the unit of a difference"),
        }
    }

    /// The kind of a tolerance: a difference of temperature for a temperature, else the kind itself.
    fn difference(&self, wanted: Wanted<'_>) -> Kind {
        match wanted.kind {
            Kind::Quantity(kind) if kind.point => {
                crate::plan::kind::quantity_kind("temperature-rise")
                    .map_or(Kind::Count, Kind::Quantity)
            }
            other => other.clone(),
        }
    }

    fn moment(&mut self, node: NodeId, wanted: Wanted<'_>) -> Recorded {
        if self.tree.kind(node) != NodeKind::DateTime {
            return self.wrong_kind(
                node,
                wanted,
                "dates are written 2026-03-02, with a time 2026-03-02 10:15",
            );
        }
        let place = self.place(node);
        let reported = self.findings.len();
        match self.when(self.tree.text_of(node), place) {
            // Nothing is calculated with a time of which nobody knows the instant.
            Some(_) if self.is_open(reported) => Recorded::Unreadable,
            Some(when) => Recorded::Value(Value::Moment(when.earliest)),
            None => Recorded::Unreadable,
        }
    }

    /// Whether the latest finding says that a time may mean more than one instant, or none.
    fn is_open(&self, reported: usize) -> bool {
        let open = [rules::AMBIGUOUS_TIME.name, rules::TIME_DOES_NOT_EXIST.name];
        let latest = self.findings.get(reported..).and_then(<[Finding]>::last);
        latest.is_some_and(|finding| open.contains(&finding.rule.name))
    }

    /// Reads a date or time; reports what is impossible or doubtful about it.
    pub fn when(&mut self, text: &str, place: Place) -> Option<When> {
        match self.clock.read(text) {
            Ok(Told { when, doubt }) => {
                if let Some(doubt) = doubt {
                    self.report(doubtful(&doubt, text, place));
                }
                Some(when)
            }
            Err(message) => {
                self.report(Finding::new(&rules::IMPOSSIBLE_DATE, place, message));
                None
            }
        }
    }

    fn text(&mut self, node: NodeId, wanted: Wanted<'_>) -> Recorded {
        match self.tree.kind(node) {
            NodeKind::TextPart => Recorded::Value(Value::Text(self.tree.unquoted(node).into())),
            _ => self.wrong_kind(node, wanted, "put the text in quotes"),
        }
    }

    /// The single word that a name list consists of.
    fn single(&self, node: NodeId) -> Option<&str> {
        let one =
            self.tree.kind(node) == NodeKind::NameList && self.tree.children(node).count() == 1;
        one.then(|| self.tree.text_of(node))
    }

    fn yes_no(&mut self, node: NodeId, wanted: Wanted<'_>) -> Recorded {
        match self.single(node) {
            Some("yes") => Recorded::Value(Value::Truth(true)),
            Some("no") => Recorded::Value(Value::Truth(false)),
            _ => self.wrong_kind(node, wanted, "write yes or no"),
        }
    }

    fn name(&mut self, node: NodeId, wanted: Wanted<'_>) -> Recorded {
        let word: Arc<str> = match self.single(node) {
            Some(word) => word.into(),
            // A choice may be a plain number, such as a tapping.
            None if self.tree.kind(node) == NodeKind::Quantity
                && matches!(wanted.kind, Kind::Choice(_)) =>
            {
                self.tree.text_of(node).into()
            }
            // `YNyn0+d` is no name: it is written in quotes.
            None if self.tree.kind(node) == NodeKind::TextPart
                && matches!(wanted.kind, Kind::VectorGroup) =>
            {
                self.tree.unquoted(node).into()
            }
            None => return self.wrong_kind(node, wanted, ""),
        };
        if let Kind::Choice(choices) = wanted.kind
            && !choices.contains(&word)
        {
            let near = nearest(&word, choices.iter().map(|choice| &**choice));
            let help = near
                .map(|near| format!("did you mean `{near}`?"))
                .unwrap_or_default();
            return self.wrong_kind(node, wanted, &help);
        }
        if matches!(wanted.kind, Kind::VectorGroup)
            && crate::physics::phasor::parse_group(&word).is_err()
        {
            return self.wrong_kind(
                node,
                wanted,
                "write the connection symbol of IEC 60076-1, such as YNd11 or YNa0d11; one with a plus in quotes, \"YNyn0+d\"",
            );
        }
        Recorded::Value(Value::Name(word))
    }

    fn names(&mut self, node: NodeId, wanted: Wanted<'_>) -> Recorded {
        if self.tree.kind(node) != NodeKind::NameList {
            return self.wrong_kind(node, wanted, "write names with commas between them: HV, LV");
        }
        let names: Vec<Arc<str>> = self
            .tree
            .children(node)
            .map(|part| self.tree.text_of(part).into())
            .collect();
        Recorded::Value(Value::Names(names.into()))
    }

    fn positions(&mut self, node: NodeId, wanted: Wanted<'_>) -> Recorded {
        let tree = self.tree;
        if tree.kind(node) != NodeKind::Range {
            return self.wrong_kind(node, wanted, "");
        }
        let parts: Vec<NodeId> = tree.children(node).collect();
        let mut ends = Vec::new();
        for part in parts {
            let Some(written) = tree.quantity(part) else {
                return Recorded::Unreadable;
            };
            match self.quantity(
                &written,
                Wanted {
                    kind: &Kind::Count,
                    ..wanted
                },
            ) {
                Some(quantity) => ends.push(quantity),
                None => return Recorded::Unreadable,
            }
        }
        match ends.as_slice() {
            [low, high] if low.value.to_f64() <= high.value.to_f64() => {
                Recorded::Tolerance(None, Arc::new(Interval::between(*low, *high)))
            }
            _ => self.wrong_kind(node, wanted, "the lower position stands first"),
        }
    }
}

/// What is said of a time that does not tell which instant is meant.
pub(super) fn doubtful(doubt: &Doubt, text: &str, place: Place) -> Finding {
    match doubt {
        Doubt::Repeated {
            first: (_, before),
            second: (_, after),
        } => Finding::new(
            &rules::AMBIGUOUS_TIME,
            place,
            format!(
                "expected the offset behind a time of the hour that is repeated when the clocks go back, found `{text}` without one"
            ),
        )
        .label(format!("{before} or {after}"))
        .help(format!(
            "write {text} {before} if it was before the clocks went back, {text} {after} if after"
        )),
        Doubt::Skipped(before, after) => Finding::new(
            &rules::TIME_DOES_NOT_EXIST,
            place,
            format!(
                "expected a time that the clocks showed, found `{text}`, which was skipped when they went forward from {before} to {after}"
            ),
        )
        .help(format!(
            "find out what was meant; if the clock at the instrument was not set forward, write its offset: {text} {before}"
        )),
        Doubt::OtherOffset(written, known) => Finding::new(
            &rules::OFFSET_DOES_NOT_FIT,
            place,
            format!("expected the offset {known} of the record's zone at this time, found {written}"),
        )
        .help("write the offset that the clock had, or mend the record's `zone`"),
    }
}
