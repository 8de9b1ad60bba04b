//! Logs: a table over time or another quantity, written in the record or kept in a file beside it.

use super::bind::{Binder, StageWork};
use super::log_times::LogTimes;
use super::model::*;
use crate::finding::Finding;
use crate::finding::rules;
use crate::plan::kind::Kind;
use crate::plan::types::Type;
use crate::plan::value::{Axis, Series};
use crate::plan::{Column, LogId, StageName};
use crate::quantity::{Number, Rational, Unit};
use crate::syntax::{NodeId, NodeKind, QuantityText, nearest};
use crate::text::Place;
use std::sync::Arc;

/// One column of the log being read.
struct Target {
    /// Index into the plan's columns.
    column: usize,
    unit: Option<Unit>,
    /// Where each value stands in a log over time, else empty.
    times: Vec<i64>,
    /// Where each value stands in a log over another quantity, else empty.
    points: Vec<Number>,
    values: Vec<Number>,
}

/// How the first column of a log is read.
enum Along {
    Time,
    /// Numbers in this unit.
    Quantity(Option<Unit>),
}

/// Where one row stands.
#[derive(Clone, Copy)]
enum At {
    Time(i64),
    Point(Number),
}

impl At {
    /// Whether a row may stand here behind one there: two entries of one second are usual, two of one
    /// frequency would give a curve two values.
    fn may_follow(self, before: At) -> bool {
        match (before, self) {
            (At::Time(before), At::Time(at)) => before <= at,
            (At::Point(before), At::Point(at)) => before.compare(&at).is_lt(),
            _ => false,
        }
    }
}

impl Target {
    fn push(&mut self, at: At, value: Number) {
        match at {
            At::Time(time) => self.times.push(time),
            At::Point(point) => self.points.push(point),
        }
        self.values.push(value);
    }
}

impl Binder<'_> {
    /// Reads a `log` statement.
    pub(super) fn log(&mut self, node: NodeId, work: &mut StageWork, context: u32) {
        let tree = self.tree();
        let Some(declared) = tree.child(node, NodeKind::DeclaredValue) else {
            return;
        };
        let Some(name_node) = tree.child(declared, NodeKind::Name) else {
            return;
        };
        let name = tree.text_of(name_node);
        let plan = self.plan;
        let stage = &plan.stages[work.stage.index()];
        let Some(StageName::Log(id)) = stage.names.get(name).copied() else {
            let logs = stage.logs.iter().map(|id| &*plan.logs[id.index()].name);
            let expected = format!("a log that the plan asks for in stage `{}`", stage.name);
            self.unknown(name_node, &expected, name, logs);
            return;
        };
        let log = &plan.logs[id.index()];
        let Some(slot) = self.slot_among(declared, name, &log.indices, log.place) else {
            return;
        };
        let key = (id, slot as u32);
        if let Some(known) = work.round.logs.get(&key) {
            let index = index_text(&self.record.domains, &log.indices, slot);
            let finding = Finding::new(
                &rules::DUPLICATE_READING,
                self.place(node),
                format!("expected one log `{name}{index}` in a round, found a second"),
            )
            .related(known.place, "first recorded here");
            self.report(finding);
            return;
        }
        let place = self.place(node);
        self.mark_work(work, context, place, &Recorded::Unreadable);
        let file = tree.child(node, NodeKind::TextPart);
        let mut times = LogTimes::default();
        let columns = match file {
            Some(file) => self.log_file(node, file, id, &mut times),
            None => self.log_rows(node, id, &mut times),
        };
        let (span, open) = times.finish();
        if let Some(open) = open {
            self.report(open);
        }
        let unreadable = columns.is_none();
        let columns = columns.unwrap_or_else(|| {
            self.plan.logs[id.index()]
                .columns
                .iter()
                .map(|_| None)
                .collect()
        });
        work.round.logs.insert(
            key,
            LogData {
                place,
                context,
                columns,
                span,
                unreadable,
            },
        );
    }

    fn targets(
        &mut self,
        id: LogId,
        names: &[(String, Option<String>, Place)],
    ) -> Vec<Option<Target>> {
        let plan_columns = &self.plan.logs[id.index()].columns;
        let mut targets = Vec::with_capacity(names.len());
        for (name, unit, place) in names {
            let Some(index) = plan_columns
                .iter()
                .position(|column| *column.name == **name)
            else {
                targets.push(None);
                continue;
            };
            let column = &plan_columns[index];
            let Ok(unit) = self.header_unit(name, unit.as_deref(), *place, column) else {
                targets.push(None);
                continue;
            };
            targets.push(Some(Target {
                column: index,
                unit,
                times: Vec::new(),
                points: Vec::new(),
                values: Vec::new(),
            }));
        }
        targets
    }

    /// The unit that a header gives a column; `Err` where it is missing or wrong, which is reported.
    fn header_unit(
        &mut self,
        name: &str,
        unit: Option<&str>,
        place: Place,
        column: &Column,
    ) -> Result<Option<Unit>, ()> {
        match (&column.kind, unit) {
            (Kind::Quantity(kind), Some(text)) => {
                let unit = self.values.unit(text, place, kind, column.place);
                unit.map(Some).ok_or(())
            }
            (Kind::Quantity(kind), None) if !kind.dimension.is_none() => {
                let finding = Finding::new(
                    &rules::UNIT_MISSING,
                    place,
                    format!("expected the unit of column `{name}` in its header, found none"),
                )
                .help(format!(
                    "write {name}({}) where the column is named",
                    kind.example
                ))
                .related(column.place, "declared here");
                self.report(finding);
                Err(())
            }
            _ => Ok(None),
        }
    }

    /// How the column is read that a log runs along; `None` where that cannot be, which is reported.
    fn along(&mut self, id: LogId, name: &str, unit: Option<&str>, place: Place) -> Option<Along> {
        let plan = self.plan;
        let Some(axis) = &plan.logs[id.index()].over else {
            return Some(Along::Time);
        };
        let unit = self.header_unit(name, unit, place, axis).ok()?;
        // What is no quantity was reported with the plan.
        matches!(axis.kind, Kind::Quantity(_)).then_some(Along::Quantity(unit))
    }

    /// What a row is told to that stands where it may not.
    fn out_of_order(&self, id: LogId, place: Place) -> Finding {
        match &self.plan.logs[id.index()].over {
            None => backwards(place),
            Some(axis) => Finding::new(
                &rules::LOG_NOT_A_TABLE,
                place,
                format!(
                    "expected `{}` to rise from row to row, found one that is no larger than in the row before",
                    axis.name
                ),
            )
            .help("sort the rows from the lowest up, each value once; two sweeps are two logs"),
        }
    }

    /// A log written in the record.
    fn log_rows(
        &mut self,
        node: NodeId,
        id: LogId,
        times: &mut LogTimes,
    ) -> Option<Vec<Option<Arc<Series>>>> {
        let tree = self.tree();
        let header = tree.child(node, NodeKind::HeaderRow)?;
        let cells: Vec<NodeId> = tree
            .children(header)
            .filter(|cell| tree.kind(*cell) == NodeKind::HeaderCell)
            .collect();
        let names: Vec<(String, Option<String>, Place)> = cells
            .iter()
            .map(|cell| {
                let name = tree
                    .child(*cell, NodeKind::Name)
                    .map(|name| tree.text_of(name))
                    .unwrap_or("");
                let unit = tree
                    .child(*cell, NodeKind::UnitPart)
                    .map(|unit| tree.text_of(unit).to_owned());
                (name.to_owned(), unit, self.place(*cell))
            })
            .collect();
        let plan = self.plan;
        let axis = plan.logs[id.index()].axis_name();
        let Some(axis_at) = names.iter().position(|(name, ..)| name == axis) else {
            let finding = Finding::new(
                &rules::LOG_NOT_A_TABLE,
                self.place(header),
                format!("expected a `{axis}` column in the log's header, found none"),
            );
            self.report(finding);
            return None;
        };
        self.unknown_columns(id, &names, axis_at);
        let (name, unit, place) = &names[axis_at];
        let along = self.along(id, name, unit.as_deref(), *place)?;
        let mut targets = self.targets(id, &names);
        let mut last: Option<At> = None;
        for row in tree
            .children(node)
            .filter(|row| tree.kind(*row) == NodeKind::Row)
        {
            let Some(cell) = tree.children(row).nth(axis_at) else {
                continue;
            };
            let Some(at) = self.row_at(id, cell, &along, times) else {
                continue;
            };
            if last.is_some_and(|before| !at.may_follow(before)) {
                let finding = self.out_of_order(id, self.place(cell));
                self.report(finding);
                if let At::Point(_) = at {
                    // Values are read off between the points of a curve; one that runs back has none.
                    return None;
                }
            }
            last = Some(at);
            for (index, cell) in tree.children(row).enumerate() {
                let Some(Some(target)) = targets.get_mut(index) else {
                    continue;
                };
                let Some(written) = tree.quantity(cell) else {
                    if !matches!(
                        tree.kind(cell),
                        NodeKind::Pending | NodeKind::NotApplicable | NodeKind::Rest
                    ) {
                        let finding = Finding::new(
                            &rules::WRONG_KIND,
                            self.place(cell),
                            "expected a number in the log, found something else",
                        );
                        self.report(finding);
                    }
                    continue;
                };
                let column = &plan.logs[id.index()].columns[target.column];
                let Some(value) = self.cell_number(&written, target.unit.as_ref(), column) else {
                    continue;
                };
                target.push(at, value);
            }
        }
        Some(self.series(id, targets))
    }

    /// Where a row of the record stands; `None` where its first cell does not say.
    fn row_at(
        &mut self,
        id: LogId,
        cell: NodeId,
        along: &Along,
        times: &mut LogTimes,
    ) -> Option<At> {
        let tree = self.tree();
        let place = self.place(cell);
        let Along::Quantity(unit) = along else {
            if tree.kind(cell) != NodeKind::DateTime {
                return None;
            }
            let text = tree.text_of(cell);
            return match self.values.clock.read(text) {
                Ok(told) => {
                    let (at, doubtful) = times.take(told, text, place);
                    if let Some(finding) = doubtful {
                        self.report(finding);
                    }
                    Some(At::Time(at))
                }
                Err(message) => {
                    self.report(Finding::new(&rules::IMPOSSIBLE_DATE, place, message));
                    None
                }
            };
        };
        let plan = self.plan;
        let axis = plan.logs[id.index()].over.as_ref()?;
        let Some(written) = tree.quantity(cell) else {
            if !matches!(tree.kind(cell), NodeKind::Pending | NodeKind::Rest) {
                let finding = Finding::new(
                    &rules::WRONG_KIND,
                    place,
                    format!(
                        "expected a number for `{}` in the log, found something else",
                        axis.name
                    ),
                );
                self.report(finding);
            }
            return None;
        };
        self.cell_number(&written, unit.as_ref(), axis)
            .map(At::Point)
    }

    /// The number in a cell in SI base units, in its own unit or that of its column.
    fn cell_number(
        &mut self,
        written: &QuantityText<'_>,
        unit: Option<&Unit>,
        column: &Column,
    ) -> Option<Number> {
        let number = match crate::plan::literal::number(written, self.values.file) {
            Ok(number) => number,
            Err(finding) => {
                self.values.report(*finding);
                return None;
            }
        };
        match (written.unit, &column.kind) {
            (Some(text), Kind::Quantity(kind)) => {
                let place = Place {
                    file: self.values.file,
                    span: written.unit_span,
                };
                let unit = self.values.unit(text, place, kind, column.place)?;
                Some(in_si(number, Some(&unit)))
            }
            _ => Some(in_si(number, unit)),
        }
    }

    fn unknown_columns(
        &mut self,
        id: LogId,
        names: &[(String, Option<String>, Place)],
        axis: usize,
    ) {
        for (index, (name, _, place)) in names.iter().enumerate() {
            let columns = &self.plan.logs[id.index()].columns;
            if index == axis || columns.iter().any(|column| *column.name == **name) {
                continue;
            }
            let mut finding = Finding::new(
                &rules::UNKNOWN_NAME,
                *place,
                format!("expected a column that the plan gives this log, found `{name}`"),
            );
            if let Some(near) = nearest(name, columns.iter().map(|column| &*column.name)) {
                finding = finding.help(format!("did you mean `{near}`?"));
            }
            self.report(finding);
        }
    }

    fn series(&mut self, id: LogId, targets: Vec<Option<Target>>) -> Vec<Option<Arc<Series>>> {
        let log = &self.plan.logs[id.index()];
        let columns = &log.columns;
        let over = log
            .over
            .as_ref()
            .and_then(|axis| match axis.kind.value_type() {
                Type::Quantity { dimension, .. } => Some(dimension),
                _ => None,
            });
        let mut all: Vec<Option<Arc<Series>>> = columns.iter().map(|_| None).collect();
        for target in targets.into_iter().flatten() {
            if let Type::Quantity { dimension, point } = columns[target.column].kind.value_type() {
                all[target.column] = Some(Arc::new(Series {
                    axis: match over {
                        None => Axis::Time(target.times.into()),
                        Some(dimension) => Axis::Quantity {
                            points: target.points.into(),
                            dimension,
                        },
                    },
                    values: target.values,
                    dimension,
                    point,
                }));
            }
        }
        all
    }

    /// A log kept in a file.
    fn log_file(
        &mut self,
        node: NodeId,
        file: NodeId,
        id: LogId,
        times: &mut LogTimes,
    ) -> Option<Vec<Option<Arc<Series>>>> {
        let tree = self.tree();
        let path = tree.unquoted(file);
        let place = self.place(file);
        let bytes = match self.files.read(&path) {
            Ok(bytes) => bytes,
            Err(FileFault::Outside) => {
                let finding = Finding::new(
                    &rules::LOG_OUTSIDE_WORKSPACE,
                    place,
                    format!("expected a log file inside the workspace, found a path that leads out of it: `{path}`"),
                )
                .help("copy the file into the folder of the works; the checker reads nothing outside it");
                self.report(finding);
                return None;
            }
            Err(FileFault::Unreadable(reason)) => {
                let finding = Finding::new(
                    &rules::LOG_UNREADABLE,
                    place,
                    format!("expected a log file at `{path}`, found {reason}"),
                )
                .help("the path counts from the record's own folder");
                self.report(finding);
                return None;
            }
        };
        let plan = self.plan;
        let log = &plan.logs[id.index()];
        let help = match log.over {
            None => "a log file is CSV (RFC 4180): a header such as `time,pressure(mbar)` and one row a time".to_owned(),
            Some(_) => format!(
                "a log file is CSV (RFC 4180): a header such as `{}` and one row a value of {}",
                log.header().join(","),
                log.axis_name()
            ),
        };
        let not_a_table = |message: String| {
            Finding::new(&rules::LOG_NOT_A_TABLE, place, message).help(help.clone())
        };
        if std::str::from_utf8(&bytes).is_err() {
            self.report(not_a_table(format!(
                "expected CSV text in `{path}`, found bytes that are not UTF-8"
            )));
            return None;
        }
        let mut reader = csv::ReaderBuilder::new()
            .flexible(false)
            .trim(csv::Trim::All)
            .from_reader(&bytes[..]);
        let headers = match reader.headers() {
            Ok(headers) if headers.len() > 1 => headers.clone(),
            Ok(_) => {
                self.report(not_a_table(format!(
                    "expected a header of at least two columns in `{path}`, found none"
                )));
                return None;
            }
            Err(error) => {
                self.report(not_a_table(format!(
                    "expected CSV in `{path}`, found {}",
                    csv_reason(&error)
                )));
                return None;
            }
        };
        let names = self.file_columns(node, file, &headers)?;
        let axis = log.axis_name();
        let Some(axis_at) = names.iter().position(|(name, ..)| name == axis) else {
            self.report(not_a_table(format!(
                "expected a column `{axis}` in `{path}`, found {}",
                headers.iter().take(8).collect::<Vec<_>>().join(", ")
            )));
            return None;
        };
        let (name, unit, axis_place) = &names[axis_at];
        let along = self.along(id, name, unit.as_deref(), *axis_place)?;
        let mut targets = self.targets(id, &names);
        let missing: Vec<&str> = log
            .columns
            .iter()
            .filter(|column| !names.iter().any(|(name, ..)| **name == *column.name))
            .map(|column| &*column.name)
            .collect();
        if !missing.is_empty() {
            self.report(not_a_table(format!(
                "expected the columns {} in `{path}`, found none of that name",
                missing.join(", ")
            )));
        }
        let mut row = csv::StringRecord::new();
        let mut last: Option<At> = None;
        loop {
            match reader.read_record(&mut row) {
                Ok(true) => {}
                Ok(false) => break,
                Err(error) => {
                    self.report(not_a_table(format!(
                        "expected CSV in `{path}`, found {}",
                        csv_reason(&error)
                    )));
                    return None;
                }
            }
            let line = row.position().map_or(0, csv::Position::line);
            let text = row.get(axis_at).unwrap_or("");
            let at = match &along {
                Along::Time => match self.values.clock.read(&text.replacen('T', " ", 1)) {
                    Ok(told) => {
                        let (at, doubtful) = times.take(told, text, place);
                        if let Some(finding) = doubtful {
                            let message = format!("line {line} of `{path}`: {}", finding.message);
                            self.report(Finding { message, ..finding });
                        }
                        Ok(At::Time(at))
                    }
                    Err(message) => Err(message),
                },
                Along::Quantity(unit) => number(text)
                    .map(|number| At::Point(in_si(number, unit.as_ref())))
                    .ok_or_else(|| format!("expected a number for `{axis}`, found `{text}`")),
            };
            let at = match at {
                Ok(at) => at,
                Err(message) => {
                    self.report(not_a_table(format!("line {line} of `{path}`: {message}")));
                    return None;
                }
            };
            if last.is_some_and(|before| !at.may_follow(before)) {
                let finding = self.out_of_order(id, place);
                let message = format!("line {line} of `{path}`: {}", finding.message);
                self.report(Finding { message, ..finding });
                return None;
            }
            last = Some(at);
            for (cell, target) in row.iter().zip(&mut targets) {
                let Some(target) = target else { continue };
                if cell.is_empty() {
                    continue;
                }
                let Some(number) = number(cell) else {
                    self.report(not_a_table(format!(
                        "line {line} of `{path}`: expected a number, found `{cell}`"
                    )));
                    return None;
                };
                let value = in_si(number, target.unit.as_ref());
                target.push(at, value);
            }
        }
        if last.is_none() {
            self.report(not_a_table(format!(
                "expected at least one row in `{path}`, found only the header"
            )));
            return None;
        }
        Some(self.series(id, targets))
    }

    /// What each column of a file is: by the mapping in the record, else by its own header.
    fn file_columns(
        &mut self,
        node: NodeId,
        file: NodeId,
        headers: &csv::StringRecord,
    ) -> Option<Vec<(String, Option<String>, Place)>> {
        let tree = self.tree();
        let place = self.place(file);
        let mut names: Vec<(String, Option<String>, Place)> = headers
            .iter()
            .map(
                |header| match header.trim_start_matches('\u{feff}').split_once('(') {
                    Some((name, unit)) => (
                        name.trim().to_owned(),
                        Some(unit.trim_end().trim_end_matches(')').to_owned()),
                        place,
                    ),
                    None => (
                        header.trim_start_matches('\u{feff}').to_owned(),
                        None,
                        place,
                    ),
                },
            )
            .collect();
        // `dB(A)` closes a parenthesis of its own.
        for (_, unit, _) in &mut names {
            if let Some(unit) = unit
                && unit.matches('(').count() > unit.matches(')').count()
            {
                unit.push(')');
            }
        }
        for map in tree
            .children(node)
            .filter(|child| tree.kind(*child) == NodeKind::ColumnMap)
        {
            let (Some(cell), Some(text)) = (
                tree.child(map, NodeKind::HeaderCell),
                tree.child(map, NodeKind::TextPart),
            ) else {
                continue;
            };
            let wanted = tree.unquoted(text);
            let Some(index) = headers.iter().position(|header| header == wanted) else {
                let known: Vec<&str> = headers.iter().collect();
                let shown = known
                    .iter()
                    .take(12)
                    .copied()
                    .collect::<Vec<_>>()
                    .join(", ");
                let place = self.place(text);
                let mut finding = Finding::new(
                    &rules::LOG_NOT_A_TABLE,
                    place,
                    format!("expected a column of the log file ({shown}), found `{wanted}`"),
                );
                if let Some(near) = nearest(&wanted, known) {
                    finding = finding.help(format!("did you mean `{near}`?"));
                }
                self.report(finding);
                return None;
            };
            let name = tree
                .child(cell, NodeKind::Name)
                .map(|name| tree.text_of(name))
                .unwrap_or("");
            let unit = tree
                .child(cell, NodeKind::UnitPart)
                .map(|unit| tree.text_of(unit).to_owned());
            names[index] = (name.to_owned(), unit, self.place(cell));
        }
        Some(names)
    }
}

fn in_si(number: Rational, unit: Option<&Unit>) -> Number {
    match unit {
        Some(unit) => crate::quantity::Quantity::from_unit(number, unit).value,
        None => Number::Exact(number),
    }
}

/// A number of a log file, with its sign.
fn number(cell: &str) -> Option<Rational> {
    match cell.strip_prefix(['-', '−']) {
        Some(digits) => {
            let number = Rational::parse(digits).ok()?;
            Some(number.checked_neg().unwrap_or(number))
        }
        None => Rational::parse(cell).ok(),
    }
}

fn backwards(place: Place) -> Finding {
    Finding::new(
        &rules::TIME_RUNS_BACKWARDS,
        place,
        "expected the times of a log to run forward, found one that is earlier than the row before",
    )
    .help("look at the logger's clock, and whether two logs were joined in the wrong order")
}

fn csv_reason(error: &csv::Error) -> String {
    match error.kind() {
        csv::ErrorKind::UnequalLengths {
            pos,
            expected_len,
            len,
        } => {
            let line = pos.as_ref().map_or(0, csv::Position::line);
            format!("{len} cells on line {line} where the header has {expected_len}")
        }
        _ => "text that cannot be read as a table".to_owned(),
    }
}
