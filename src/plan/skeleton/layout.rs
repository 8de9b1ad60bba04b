//! The page: lines, comments, tables and logs of a new unit document.

use super::members::{SetMembers, domain};
use crate::plan::{Log, Member, Plan, SetId};
use crate::syntax::format::{apply, format};
use crate::syntax::parse;
use std::sync::Arc;

/// Longest line of a comment or of a table's header.
const WIDTH: usize = 100;
/// From two up to this many members of a set stand side by side.
const SIDE_BY_SIDE: usize = 8;
/// Words that head a column of their own.
pub const CLAUSES: [&str; 4] = ["at", "with", "by", "on"];

/// Whether a name means something else at the head of a column: a clause, or the members of a set.
pub fn heads_otherwise(plan: &Plan, name: &str) -> bool {
    CLAUSES.contains(&name) || plan.set_by_name.contains_key(name)
}

/// Something with indices that is kept open.
pub(super) struct Item<'p> {
    /// Its name.
    pub name: &'p str,
    /// Its sets.
    pub indices: &'p [SetId],
    /// What it is.
    pub about: String,
}

/// The document as far as it is written.
pub(super) struct Page<'p> {
    pub plan: &'p Plan,
    pub text: String,
    /// What the design or the stage being written says already.
    pub said: Vec<Arc<str>>,
    known: &'p SetMembers,
}

impl<'p> Page<'p> {
    pub fn new(plan: &'p Plan, known: &'p SetMembers) -> Page<'p> {
        Page {
            plan,
            text: String::new(),
            said: Vec::new(),
            known,
        }
    }

    pub fn blank(&mut self) {
        self.text.push('\n');
    }

    pub fn line(&mut self, indent: usize, line: &str) {
        self.text.extend(std::iter::repeat_n(' ', indent));
        self.text.push_str(line.trim_end());
        self.text.push('\n');
    }

    /// A comment, over as many lines as it needs.
    pub fn comment(&mut self, indent: usize, text: &str) {
        let mut line = String::from("#");
        let mut used = 1;
        for word in text.split_whitespace() {
            let length = word.chars().count();
            if used > 1 && indent + used + 1 + length > WIDTH {
                self.line(indent, &line);
                line = String::from("#");
                used = 1;
            }
            line.push(' ');
            line.push_str(word);
            used += 1 + length;
        }
        self.line(indent, &line);
    }

    /// A safety caution, each once a stage: said ten times it is read by nobody.
    pub fn caution(&mut self, caution: Option<&Arc<str>>) {
        if let Some(caution) = caution {
            self.once(format!("caution: {caution}").into());
        }
    }

    /// A comment that a block has once.
    fn once(&mut self, text: Arc<str>) {
        if !self.said.contains(&text) {
            self.comment(2, &text);
            self.said.push(text);
        }
    }

    /// `name = ?` with what it is, behind it or, where that is too long, above it.
    pub fn reading(&mut self, name: &str, about: &str) {
        let line = format!("{name} = ?  # {about}");
        if line.chars().count() + 2 > WIDTH {
            self.comment(2, &format!("{name}: {about}"));
            self.line(2, &format!("{name} = ?"));
        } else {
            self.line(2, &line);
        }
    }

    /// Brings everything from this byte on, the whole document or some of its stages, into the canonical layout.
    pub fn lay_out(&mut self, from: usize) {
        let part = self.text.split_off(from);
        let head = if from > 0 { "unit X\n\n" } else { "" };
        let tree = parse(format!("{head}{part}"));
        // A document that the formatter would not keep is good enough as it was written.
        let laid_out = match format(&tree) {
            Ok(edits) => apply(tree.text(), &edits),
            Err(_) => tree.text().to_string(),
        };
        self.text
            .push_str(laid_out.strip_prefix(head).unwrap_or(&part));
    }

    /// Turns everything from this byte on into comments.
    pub fn comment_out(&mut self, from: usize) {
        let block = self.text.split_off(from);
        for line in block.lines() {
            self.line(0, &format!("# {line}"));
        }
    }

    fn members(&self, set: SetId) -> Option<&'p [Member]> {
        domain(self.plan, self.known, set)
    }

    /// What to say where members of these sets are not known yet.
    fn unknown_sets(&self, sets: &[SetId]) -> Option<Arc<str>> {
        let unknown: Vec<&str> = sets
            .iter()
            .filter(|set| self.members(**set).is_none())
            .map(|set| self.set_name(*set))
            .collect();
        if unknown.is_empty() {
            return None;
        }
        let sets = unknown.join(" and each ");
        Some(format!("one line for each {sets}, once the design gives them:").into())
    }

    fn set_name(&self, set: SetId) -> &'p str {
        &self.plan.sets[set.index()].name
    }

    /// Tables for items with the same indices; as a comment where asked or where members are not known.
    pub fn tables(&mut self, items: &[Item<'_>], optional: bool) {
        let Some(first) = items.first() else { return };
        let unknown = self.unknown_sets(first.indices);
        let mark = if optional || unknown.is_some() {
            "# "
        } else {
            ""
        };
        if let Some(words) = unknown {
            self.once(words);
        }
        let clause_set = first
            .indices
            .iter()
            .any(|set| CLAUSES.contains(&self.set_name(*set)));
        if clause_set
            || items
                .iter()
                .any(|item| heads_otherwise(self.plan, item.name))
        {
            for item in items {
                self.one_by_one(item, mark);
            }
        } else if first.indices.len() == 1 {
            self.shared(items, mark);
        } else {
            for item in items {
                self.own(item, mark);
            }
        }
    }

    /// `name[HV, U] = ?`, for names that would mean something else at the head of a column.
    fn one_by_one(&mut self, item: &Item<'_>, mark: &str) {
        for members in self.rows(item.indices) {
            self.line(
                2,
                &format!(
                    "{mark}{}[{}] = ?  # {}",
                    item.name,
                    members.join(", "),
                    item.about
                ),
            );
        }
    }

    /// A table with a column for each item.
    fn shared(&mut self, items: &[Item<'_>], mark: &str) {
        let mut from = 0;
        while from < items.len() {
            let mut header: Vec<String> = self.heads(items[from].indices);
            let mut width: usize = header
                .iter()
                .map(|head| head.chars().count() + 2)
                .sum::<usize>()
                + 6;
            let mut to = from;
            while to < items.len() {
                width += items[to].name.chars().count() + 2;
                if to > from && width > WIDTH {
                    break;
                }
                header.push(items[to].name.to_owned());
                to += 1;
            }
            for item in &items[from..to] {
                self.comment(2, &format!("{}: {}", item.name, item.about));
            }
            let open = to - from;
            let rows = self.rows(items[from].indices);
            self.grid("table", &header, rows, open, mark);
            from = to;
        }
    }

    /// A table of one item with two indices or more, the members of one of them side by side.
    fn own(&mut self, item: &Item<'_>, mark: &str) {
        let side = item
            .indices
            .iter()
            .rposition(|set| self.fits_side_by_side(*set));
        let mut down: Vec<SetId> = item.indices.to_vec();
        let mut heads = vec![item.name.to_owned()];
        if let Some(members) =
            side.and_then(|at| self.members(item.indices[at]).map(|members| (at, members)))
        {
            down.remove(members.0);
            heads = members.1.iter().map(Member::to_string).collect();
        }
        let mut header = self.heads(&down);
        let open = heads.len();
        header.append(&mut heads);
        let rows = self.rows(&down);
        self.grid(
            &format!("table {}  # {}", item.name, item.about),
            &header,
            rows,
            open,
            mark,
        );
    }

    fn fits_side_by_side(&self, set: SetId) -> bool {
        self.members(set).is_some_and(|members| {
            (2..=SIDE_BY_SIDE).contains(&members.len())
                && members.iter().all(|member| match member {
                    Member::Name(name) => !heads_otherwise(self.plan, name),
                    // A header has no minus.
                    Member::Number(number) => *number >= 0,
                })
        })
    }

    fn heads(&self, sets: &[SetId]) -> Vec<String> {
        sets.iter()
            .map(|set| self.set_name(*set).to_owned())
            .collect()
    }

    /// Every combination of members; a set that is not known is represented by a word to write over.
    fn rows(&self, sets: &[SetId]) -> Vec<Vec<String>> {
        let mut rows: Vec<Vec<String>> = vec![Vec::new()];
        for set in sets {
            let members: Vec<String> = match self.members(*set) {
                Some(members) => members.iter().map(Member::to_string).collect(),
                None => vec![self.set_name(*set).to_uppercase()],
            };
            rows = rows
                .iter()
                .flat_map(|row| {
                    members
                        .iter()
                        .map(move |member| row.iter().cloned().chain([member.clone()]).collect())
                })
                .collect();
        }
        rows
    }

    fn grid(
        &mut self,
        head: &str,
        header: &[String],
        rows: Vec<Vec<String>>,
        open: usize,
        mark: &str,
    ) {
        let mut all: Vec<Vec<String>> = vec![header.to_vec()];
        all.extend(rows.into_iter().map(|mut row| {
            row.extend(std::iter::repeat_n("?".to_owned(), open));
            row
        }));
        self.line(2, &format!("{mark}{head}"));
        self.cells(&all, mark);
    }

    /// Rows one below the other, their cells parted by two blanks or more.
    fn cells(&mut self, rows: &[Vec<String>], mark: &str) {
        let columns = rows.iter().map(Vec::len).max().unwrap_or(0);
        let widths: Vec<usize> = (0..columns)
            .map(|column| {
                rows.iter()
                    .filter_map(|row| row.get(column))
                    .map(|cell| cell.chars().count())
                    .max()
                    .unwrap_or(0)
            })
            .collect();
        for row in rows {
            let cells: Vec<String> = row
                .iter()
                .zip(&widths)
                .map(|(cell, width)| format!("{cell:<width$}"))
                .collect();
            self.line(2, &format!("{mark}  {}", cells.join("  ")));
        }
    }

    /// A log, proposed as a file and as a table: a log once begun counts as work.
    pub fn log(&mut self, log: &Log, about: &str) {
        let about = if about.is_empty() {
            String::new()
        } else {
            format!("  # {about}")
        };
        if let Some(words) = self.unknown_sets(&log.indices) {
            self.once(words);
        }
        let rows = self.rows(&log.indices);
        for members in &rows {
            let (index, file) = match members.is_empty() {
                true => (String::new(), String::new()),
                false => (
                    format!("[{}]", members.join(", ")),
                    format!("-{}", members.join("-")),
                ),
            };
            self.line(
                2,
                &format!(
                    "# log {}{index} from \"logs/{}{file}.csv\"{about}",
                    log.name, log.name
                ),
            );
        }
        let header = log.header();
        let each = if rows.len() > 1 { "each" } else { "the" };
        self.comment(
            2,
            &format!(
                "{each} file begins with {}; or, written here:",
                header.join(",")
            ),
        );
        let first = rows.first().filter(|members| !members.is_empty());
        let index = first.map_or_else(String::new, |members| format!("[{}]", members.join(", ")));
        self.line(2, &format!("# log {}{index}", log.name));
        let first = if log.over.is_some() {
            "?"
        } else {
            "YYYY-MM-DD HH:MM"
        };
        let mut row = vec![first.to_owned()];
        row.extend(log.columns.iter().map(|_| "?".to_owned()));
        self.cells(&[header, row], "# ");
    }
}
