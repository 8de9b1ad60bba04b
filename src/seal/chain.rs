//! The chain: each seal names the one before it, so that none can be taken out or put in between unseen.

use super::written::Seal;
use crate::finding::{Finding, rules};
use crate::text::{FileId, Place};
use rustc_hash::FxHashMap;

/// Checks that the seals form one chain from a first one on. Gives for each whether something is wrong at it.
pub(super) fn check(seals: &[Seal], file: FileId, findings: &mut Vec<Finding>) -> Vec<bool> {
    let place = |seal: &Seal| Place {
        file,
        span: seal.span,
    };
    let mut broken = vec![false; seals.len()];
    let mut by_digest: FxHashMap<&str, usize> = FxHashMap::default();
    let mut by_act: FxHashMap<u32, usize> = FxHashMap::default();
    let mut report = |index: usize, message: String, other: Option<(usize, &str)>, help: &str| {
        broken[index] = true;
        let mut finding =
            Finding::new(&rules::SEAL_CHAIN_BROKEN, place(&seals[index]), message).help(help);
        if let Some((other, words)) = other {
            finding = finding.related(place(&seals[other]), words);
        }
        findings.push(finding);
    };
    for (index, seal) in seals.iter().enumerate() {
        if let Some(first) = by_digest.insert(&seal.digest, index) {
            let message = format!(
                "expected each seal once, found that of {} again at {}",
                seals[first].act.point, seal.act.point
            );
            report(
                index,
                message,
                Some((first, "first here")),
                "take out the copy",
            );
        }
        if let Some(first) = by_act.insert(seal.act.start, index) {
            let message = format!(
                "expected one seal below the act at {}, found a second",
                seal.act.point
            );
            report(
                index,
                message,
                Some((first, "first here")),
                "keep the seal that the next one in the chain names",
            );
        }
    }
    let mut followers: FxHashMap<Option<&str>, usize> = FxHashMap::default();
    for (index, seal) in seals.iter().enumerate() {
        let after = seal.after.as_deref();
        if let Some(after) = after
            && !by_digest.contains_key(after)
        {
            let message = format!(
                "expected the seal that was set before that of {} in this record, found none that begins {}",
                seal.act.point,
                after.chars().take(8).collect::<String>()
            );
            report(
                index,
                message,
                None,
                "a sealed release was taken out or sealed anew: put it back from the version history or a copy",
            );
        }
        match followers.get(&after) {
            Some(first) => {
                let message = match after {
                    Some(_) => format!(
                        "expected one seal to follow another, found those of {} and {} after the same",
                        seals[*first].act.point, seal.act.point
                    ),
                    None => format!(
                        "expected one first seal, found those of {} and {}",
                        seals[*first].act.point, seal.act.point
                    ),
                };
                report(
                    index,
                    message,
                    Some((*first, "the other")),
                    "take the later one out and seal that point again",
                );
            }
            None => {
                followers.insert(after, index);
            }
        }
    }
    if !followers.contains_key(&None) {
        report(
            0,
            "expected one first seal, `after nothing`, found that the seals name each other in a ring"
                .to_owned(),
            None,
            "put back the seals as they were set",
        );
    }
    broken
}
