//! Judging what changed on a desk, and only that.

use super::Desk;
use crate::finding::{Finding, rules};
use crate::syntax::{DocumentKind, NodeKind};
use crate::text::FileId;
use crate::workspace::documents::Loaded;
use crate::workspace::library::{Library, Needs};
use crate::workspace::sealing::PlanTexts;
use crate::workspace::{
    Earlier, Judged, Surroundings, accept_in, each, judge_unit, sort, together,
};
use rustc_hash::FxHashSet;
use std::panic::{AssertUnwindSafe, catch_unwind};

/// Everything that the judgement of one record rests on. Two that are equal come to the same.
#[derive(Debug, Default, PartialEq)]
pub(super) struct Key {
    document: (usize, u64),
    plan: Vec<(usize, u64)>,
    register: Option<(usize, u64)>,
    root: std::path::PathBuf,
    /// What was found while its plan and register were looked for.
    told: Vec<String>,
    today: Option<crate::workspace::Today>,
    files_changed: bool,
}

impl Key {
    /// Has the record judged again whatever else is the same.
    pub(super) fn forget_files(&mut self) {
        self.files_changed = true;
    }
}

/// The text of the first statement of a record, up to the end of what belongs to it.
pub(super) fn head(document: &Loaded) -> Option<&str> {
    let tree = &document.tree;
    if tree.document != DocumentKind::Unit {
        return None;
    }
    let unit = tree.child(tree.root(), NodeKind::Unit)?;
    tree.text().get(..tree.outline_span(unit).end as usize)
}

impl Desk {
    /// Brings everything up to date.
    pub fn settle(&mut self) {
        if self.unsettled {
            self.bring_together();
        } else if !self.changed.is_empty() {
            self.judge_changed();
        }
        self.changed.clear();
        self.unsettled = false;
    }

    /// Whether something changed that was not judged yet.
    pub fn is_settled(&self) -> bool {
        !self.unsettled && self.changed.is_empty()
    }

    /// Documents of which something else may be told since this was last asked.
    pub fn take_touched(&mut self) -> Vec<FileId> {
        let mut touched: Vec<FileId> = self
            .touched
            .drain()
            .map(|index| FileId(index as u32))
            .collect();
        touched.sort();
        touched
    }

    /// How many times so far only the changed lines of a record were bound, not the whole.
    pub fn bound_in_part(&self) -> u64 {
        self.bound_in_part
    }

    /// What went wrong inside the program since this was last asked, one sentence each.
    pub fn take_faults(&mut self) -> Vec<String> {
        std::mem::take(&mut self.faults)
    }

    fn key(&self, need: &Needs) -> Key {
        let stamp = |index: usize| (index, self.library.documents[index].stamp);
        let chain = |plan: usize| self.library.known_chain(plan).iter().map(|at| stamp(*at));
        Key {
            document: stamp(need.document),
            plan: need.plan.into_iter().flat_map(chain).collect(),
            register: need.register.map(stamp),
            root: need.root.clone(),
            told: need
                .findings
                .iter()
                .map(|finding| format!("{} {:?}", finding.message, finding.help))
                .collect(),
            today: self.today_of(need),
            files_changed: false,
        }
    }

    /// What counts as today, as a day: another instant of the same day changes nothing.
    fn today_of(&self, need: &Needs) -> Option<crate::workspace::Today> {
        let tree = &self.library.documents[need.document].tree;
        let header = crate::record::header(tree);
        let own = header.and_then(|header| header.zone.map(|(zone, _)| zone));
        let register = need.register.and_then(|at| self.library.registers.get(&at));
        let zone = own.or_else(|| register?.zone.as_ref().map(ToString::to_string));
        let day = self.today?.day(zone.as_deref())?;
        Some(crate::workspace::Today::Day(day))
    }

    /// Finds anew which documents there are and what they need, and judges what rests on something that changed.
    fn bring_together(&mut self) {
        let documents = std::mem::take(&mut self.library.documents);
        let before = documents.len();
        let given = (0..before)
            .map(|index| {
                !self.gone.contains(&index)
                    && (self.open.contains(&index) || self.shelved.contains(&index))
            })
            .collect();
        self.library = Library::of(documents, given, &self.gone);
        let needs = self.library.needs();
        let (lots, sisters) = self.library.lots(&needs);
        let parallel = self.pool().is_some();
        let mut compiled = std::mem::take(&mut self.compiled);
        let mut library = std::mem::replace(&mut self.library, Library::new(Vec::new()));
        let (plans, mut findings) = match self.pool() {
            Some(pool) => pool.install(|| library.compile_anew(parallel, &mut compiled)),
            None => library.compile_anew(false, &mut compiled),
        };
        self.library = library;
        self.compiled = compiled;
        self.plans = plans;
        for index in before..self.library.documents.len() {
            let document = self.library.documents[index].clone();
            self.sources.push(document.source.clone());
            if let (Some(real), Some(path)) = (&document.real, &document.path) {
                self.by_path.insert(real.clone(), index);
                self.read.insert(index, super::file_stamp(path));
            }
        }
        sort(&mut findings);
        for finding in self.of_library.iter().chain(&findings) {
            self.touched.insert(finding.place.file.0 as usize);
        }
        self.of_library = findings;
        self.given = needs.len();
        self.needs = needs.into_iter().chain(sisters).collect();
        self.judge_again(parallel);
        for finding in self.of_lots.iter().flatten() {
            self.touched.insert(finding.place.file.0 as usize);
        }
        self.lots = lots;
        self.of_lots = vec![Vec::new(); self.lots.len()];
        self.judge_lots(0..self.lots.len());
    }

    /// Judges every record whose key is not the one that it was judged under. Of one of which only the text changed, and
    /// that below its head, what was bound counts.
    fn judge_again(&mut self, parallel: bool) {
        let mut known: rustc_hash::FxHashMap<usize, (Key, Judged)> = std::mem::take(&mut self.keys)
            .into_iter()
            .zip(std::mem::take(&mut self.judged))
            .map(|(key, judged)| (judged.document, (key, judged)))
            .collect();
        self.unit_of = self
            .needs
            .iter()
            .enumerate()
            .map(|(position, need)| (need.document, position))
            .collect();
        let mut anew = Vec::new();
        for position in 0..self.needs.len() {
            let need = &self.needs[position];
            let key = self.key(need);
            let kept = known.remove(&need.document);
            match kept {
                Some((before, judged)) if before == key => self.judged.push(judged),
                kept => {
                    let told = kept.iter().flat_map(|(_, judged)| &judged.findings);
                    self.touched
                        .extend(told.map(|finding| finding.place.file.0 as usize));
                    let below_the_head = self.changed.contains(&need.document);
                    let earlier = kept.and_then(|(mut before, mut judged)| {
                        // All but the text has to be the same.
                        before.document = key.document;
                        let usable = below_the_head && before == key;
                        usable.then(|| judged.take_bound())?
                    });
                    anew.push((position, earlier));
                    self.touched.insert(need.document);
                    self.judged.push(Judged {
                        document: need.document,
                        plan: need.plan,
                        ..Judged::default()
                    });
                }
            }
            self.keys.push(key);
        }
        self.touched.extend(known.into_keys());
        self.judge_at(anew, parallel);
    }

    fn judge_changed(&mut self) {
        let positions: Vec<usize> = self
            .changed
            .iter()
            .filter_map(|document| self.unit_of.get(document).copied())
            .collect();
        let mut again = Vec::new();
        for position in positions {
            let document = self.needs[position].document;
            self.touched.insert(document);
            self.keys[position].document.1 = self.library.documents[document].stamp;
            again.push((position, self.judged[position].take_bound()));
        }
        self.judge_at(again, false);
        let concerned: Vec<usize> = (0..self.lots.len())
            .filter(|lot| {
                let members = &self.lots[*lot].members;
                members
                    .iter()
                    .any(|(document, _)| self.changed.contains(document))
            })
            .collect();
        for lot in concerned {
            self.judge_lots(lot..lot + 1);
        }
    }

    fn judge_at(&mut self, positions: Vec<(usize, Option<Earlier>)>, parallel: bool) {
        let parallel = parallel && positions.len() > 2;
        if parallel {
            // Built before anything is lent.
            self.pool();
        }
        // A plan's text may have changed since the last round.
        let texts = PlanTexts::default();
        let around = Surroundings {
            plans: &self.plans,
            library: &self.library,
            texts: &texts,
            sources: &self.sources,
            keeps: true,
        };
        let judge = |(position, earlier): (usize, Option<Earlier>)| {
            let need = &self.needs[position];
            let judged = catch_unwind(AssertUnwindSafe(|| {
                judge_unit(need, &around, self.today, earlier)
            }));
            (position, judged.ok())
        };
        let verdicts = match &self.pool {
            Some(pool) if parallel => pool.install(|| each(positions, true, judge)),
            _ => each(positions, false, judge),
        };
        for (position, verdict) in verdicts {
            let need = &self.needs[position];
            let mut judged = verdict.unwrap_or_else(|| {
                let name = &self.sources[need.document].name;
                self.faults.push(format!(
                    "internal error: {name} could not be judged; please report it together with the file"
                ));
                Judged {
                    document: need.document,
                    plan: need.plan,
                    ..Judged::default()
                }
            });
            if !self.open.contains(&need.document) {
                judged.kept = None;
                if judged.lot.is_none() {
                    // Only its lot and its editor look at a record again.
                    judged.record = None;
                }
            }
            self.bound_in_part += u64::from(judged.in_part);
            let before = std::mem::replace(&mut self.judged[position], judged);
            let after = &self.judged[position];
            for finding in before.findings.iter().chain(&after.findings) {
                self.touched.insert(finding.place.file.0 as usize);
            }
        }
    }

    fn judge_lots(&mut self, which: std::ops::Range<usize>) {
        for lot in which {
            let findings = together::judge_lots(
                &self.lots[lot..=lot],
                &mut self.judged,
                &self.library,
                &self.plans,
                &self.sources,
                false,
            );
            let before = std::mem::replace(&mut self.of_lots[lot], findings);
            for finding in before.iter().chain(&self.of_lots[lot]) {
                self.touched.insert(finding.place.file.0 as usize);
            }
        }
    }

    /// Everything found in one document, as a check of the same texts finds it, in order.
    pub fn findings(&self, file: FileId) -> Vec<Finding> {
        let index = file.0 as usize;
        let Some(document) = self.library.documents.get(index) else {
            return Vec::new();
        };
        if self.gone.contains(&index) {
            return Vec::new();
        }
        let beside: FxHashSet<usize> = self.needs[self.given..]
            .iter()
            .map(|need| need.document)
            .collect();
        let mut findings = Vec::new();
        if !beside.contains(&index) {
            findings.extend(document.findings(file));
        }
        let first = self
            .of_library
            .partition_point(|known| known.place.file < file);
        let own = |finding: &&Finding| finding.place.file == file;
        findings.extend(self.of_library[first..].iter().take_while(own).cloned());
        let units = self.judged[..self.given].iter();
        findings.extend(
            units
                .flat_map(|unit| unit.told_by_binding.iter().chain(&unit.findings))
                .filter(own)
                .cloned(),
        );
        let lots = self.of_lots.iter().flatten();
        findings.extend(lots.filter(own).cloned());
        sort(&mut findings);
        let needs = self.unit_of.get(&index).map(|at| &self.needs[*at]);
        let rests_on = needs.map_or((None, None), |need| (need.plan, need.register));
        let all = findings.len();
        accept_in(
            &self.library,
            &self.plans,
            index,
            rests_on,
            &mut findings,
            0..all,
        );
        if findings.len() > all {
            sort(&mut findings);
        }
        if beside.contains(&index) {
            findings.retain(|finding| finding.rule.name == rules::LOT_WITHOUT_TYPE_TEST.name);
        }
        findings
    }
}
