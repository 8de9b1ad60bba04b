//! Logs: a table over time, written in the record or kept in a file beside it.

use super::bind::{Binder, StageWork};
use super::model::*;
use crate::finding::Finding;
use crate::finding::rules;
use crate::plan::kind::Kind;
use crate::plan::value::Series;
use crate::plan::{LogId, StageName};
use crate::quantity::{Number, Rational, Unit};
use crate::syntax::{NodeId, NodeKind, nearest};
use crate::text::Place;
use std::sync::Arc;

/// One column of the log being read.
struct Target {
    /// Index into the plan's columns.
    column: usize,
    unit: Option<Unit>,
    times: Vec<i64>,
    values: Vec<Number>,
}

impl Binder<'_> {
    /// Reads a `log` statement.
    pub(super) fn log(&mut self, node: NodeId, work: &mut StageWork, context: u32) {
        let tree = self.tree();
        let Some(name_node) = tree.child(node, NodeKind::Name) else {
            return;
        };
        let name = tree.text_of(name_node);
        let stage = &self.plan.stages[work.stage.index()];
        let Some(StageName::Log(id)) = stage.names.get(name).copied() else {
            let logs = stage
                .logs
                .iter()
                .map(|id| &*self.plan.logs[id.index()].name);
            let expected = format!("a log that the plan asks for in stage `{}`", stage.name);
            self.unknown(name_node, &expected, name, logs);
            return;
        };
        if let Some(known) = work.round.logs.get(&id) {
            let finding = Finding::new(
                &rules::DUPLICATE_READING,
                self.place(node),
                format!("expected one log `{name}` in a round, found a second"),
            )
            .related(known.place, "first recorded here");
            self.report(finding);
            return;
        }
        let place = self.place(node);
        self.mark_work(work, context, place, &Recorded::Unreadable);
        let file = tree.child(node, NodeKind::TextPart);
        let columns = match file {
            Some(file) => self.log_file(node, file, id),
            None => self.log_rows(node, id),
        };
        let unreadable = columns.is_none();
        let columns = columns.unwrap_or_else(|| {
            self.plan.logs[id.index()]
                .columns
                .iter()
                .map(|_| None)
                .collect()
        });
        work.round.logs.insert(
            id,
            LogData {
                place,
                columns,
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
            let unit = match (&column.kind, unit) {
                (Kind::Quantity(kind), Some(text)) => {
                    match self.values.unit(text, *place, kind, column.place) {
                        Some(unit) => Some(unit),
                        None => {
                            targets.push(None);
                            continue;
                        }
                    }
                }
                (Kind::Quantity(kind), None) if !kind.dimension.is_none() => {
                    let finding = Finding::new(
                        &rules::UNIT_MISSING,
                        *place,
                        format!("expected the unit of column `{name}` in its header, found none"),
                    )
                    .help(format!(
                        "write {name}({}) where the column is named",
                        kind.example
                    ))
                    .related(column.place, "declared here");
                    self.report(finding);
                    targets.push(None);
                    continue;
                }
                _ => None,
            };
            targets.push(Some(Target {
                column: index,
                unit,
                times: Vec::new(),
                values: Vec::new(),
            }));
        }
        targets
    }

    /// A log written in the record.
    fn log_rows(&mut self, node: NodeId, id: LogId) -> Option<Vec<Option<Arc<Series>>>> {
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
        let Some(time) = names.iter().position(|(name, ..)| name == "time") else {
            let finding = Finding::new(
                &rules::LOG_NOT_A_TABLE,
                self.place(header),
                "expected a `time` column in the log's header, found none",
            );
            self.report(finding);
            return None;
        };
        self.unknown_columns(id, &names, time);
        let mut targets = self.targets(id, &names);
        let mut last: Option<i64> = None;
        for row in tree
            .children(node)
            .filter(|row| tree.kind(*row) == NodeKind::Row)
        {
            let mut at = None;
            for (index, cell) in tree.children(row).enumerate() {
                if index != time || tree.kind(cell) != NodeKind::DateTime {
                    continue;
                }
                let place = self.place(cell);
                match self.values.clock.read(tree.text_of(cell)) {
                    Ok(when) => {
                        if last.is_some_and(|before| before > when.earliest) {
                            self.report(backwards(place));
                        }
                        last = Some(when.earliest);
                        at = Some(when.earliest);
                    }
                    Err(message) => {
                        self.report(Finding::new(&rules::IMPOSSIBLE_DATE, place, message))
                    }
                }
            }
            let Some(at) = at else { continue };
            for (index, cell) in tree.children(row).enumerate() {
                let Some(Some(target)) = targets.get_mut(index) else {
                    continue;
                };
                let place = self.place(cell);
                let Some(written) = tree.quantity(cell) else {
                    if !matches!(
                        tree.kind(cell),
                        NodeKind::Pending | NodeKind::NotApplicable | NodeKind::Rest
                    ) {
                        let finding = Finding::new(
                            &rules::WRONG_KIND,
                            place,
                            "expected a number in the log, found something else",
                        );
                        self.report(finding);
                    }
                    continue;
                };
                let number = match crate::plan::literal::number(&written, self.values.file) {
                    Ok(number) => number,
                    Err(finding) => {
                        self.values.report(*finding);
                        continue;
                    }
                };
                let column = &self.plan.logs[id.index()].columns[target.column];
                let value = match (written.unit, &column.kind) {
                    (Some(text), Kind::Quantity(kind)) => {
                        let place = Place {
                            file: self.values.file,
                            span: written.unit_span,
                        };
                        match self.values.unit(text, place, kind, column.place) {
                            Some(unit) => in_si(number, Some(&unit)),
                            None => continue,
                        }
                    }
                    _ => in_si(number, target.unit.as_ref()),
                };
                target.times.push(at);
                target.values.push(value);
            }
        }
        Some(self.series(id, targets))
    }

    fn unknown_columns(
        &mut self,
        id: LogId,
        names: &[(String, Option<String>, Place)],
        time: usize,
    ) {
        for (index, (name, _, place)) in names.iter().enumerate() {
            let columns = &self.plan.logs[id.index()].columns;
            if index == time || columns.iter().any(|column| *column.name == **name) {
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
        let columns = &self.plan.logs[id.index()].columns;
        let mut all: Vec<Option<Arc<Series>>> = columns.iter().map(|_| None).collect();
        for target in targets.into_iter().flatten() {
            if let crate::plan::types::Type::Quantity { dimension, point } =
                columns[target.column].kind.value_type()
            {
                let times = Arc::from(target.times);
                all[target.column] = Some(Arc::new(Series {
                    times,
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
        let not_a_table = |message: String| {
            Finding::new(&rules::LOG_NOT_A_TABLE, place, message).help(
                "a log file is CSV (RFC 4180): a header such as `time,pressure(mbar)` and one row a time",
            )
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
        let Some(time) = names.iter().position(|(name, ..)| name == "time") else {
            self.report(not_a_table(format!(
                "expected a column `time` in `{path}`, found {}",
                headers.iter().take(8).collect::<Vec<_>>().join(", ")
            )));
            return None;
        };
        let mut targets = self.targets(id, &names);
        let missing: Vec<&str> = self.plan.logs[id.index()]
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
        let mut last = i64::MIN;
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
            let text = row.get(time).unwrap_or("");
            let at = match self.values.clock.read(&text.replacen('T', " ", 1)) {
                Ok(when) => when.earliest,
                Err(message) => {
                    self.report(not_a_table(format!("line {line} of `{path}`: {message}")));
                    return None;
                }
            };
            if at < last {
                let finding = backwards(place);
                let message = format!("line {line} of `{path}`: {}", finding.message);
                self.report(Finding { message, ..finding });
                return None;
            }
            last = at;
            for (cell, target) in row.iter().zip(&mut targets) {
                let Some(target) = target else { continue };
                if cell.is_empty() {
                    continue;
                }
                let (negative, digits) = match cell.strip_prefix(['-', '−']) {
                    Some(rest) => (true, rest),
                    None => (false, cell),
                };
                match Rational::parse(digits) {
                    Ok(number) => {
                        let number = if negative {
                            number.checked_neg().unwrap_or(number)
                        } else {
                            number
                        };
                        target.times.push(at);
                        target.values.push(in_si(number, target.unit.as_ref()));
                    }
                    Err(_) => {
                        self.report(not_a_table(format!(
                            "line {line} of `{path}`: expected a number, found `{cell}`"
                        )));
                        return None;
                    }
                }
            }
        }
        if last == i64::MIN {
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
