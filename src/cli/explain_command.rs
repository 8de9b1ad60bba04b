//! `stagebook explain`: what a rule, a function, a unit or a built-in plan says.

use clap::Args;

use super::{Answer, Screen, explain_list, explain_pages};
use crate::finding::catalogue;
use crate::plan::{builtin, function};
use crate::quantity::{self, UnitFault};

/// What the long help says.
pub const LONG: &str = "Tells what a rule, a function of the plan language or a unit of measurement means: formula, units, \
source and example; or gives the text of a built-in plan; `seals` tells what a seal proves and what it does not. With no word it lists all of them.\n\n  \
stagebook explain hold-passed\n  stagebook explain resistance-at\n  stagebook explain \"N/mm^2\"\n  \
stagebook explain oil-immersed-power";

/// The arguments of `explain`.
#[derive(Debug, Args)]
pub struct Arguments {
    /// A rule, a function, a unit or a built-in plan
    #[arg(value_name = "WORD")]
    pub word: Option<String>,
}

/// Gives every page that the word has. Gives an error with the nearest words when it has none.
pub fn run(arguments: &Arguments, screen: &Screen) -> Result<Answer, String> {
    let Some(word) = &arguments.word else {
        return Ok(Answer {
            text: explain_list::list(screen),
            failed: false,
            ..Answer::default()
        });
    };
    let mut pages = Vec::new();
    if let Some(rule) = catalogue::find(word) {
        pages.push(explain_pages::rule(rule, screen));
    }
    if let Some(function) = function::find(word) {
        pages.push(explain_pages::function(function, screen));
    }
    if let Some(page) = explain_pages::unit(word, screen) {
        pages.push(page);
    }
    if let Some(plan) = builtin::find(word) {
        // The document itself, so that it can be kept in a file and read like any other plan.
        pages.push(plan.text.to_owned());
    }
    if word == "seals" {
        pages.push(crate::seal::PAGE.to_owned());
    }
    if pages.is_empty() {
        return Err(unknown(word));
    }
    Ok(Answer {
        text: pages.join("\n"),
        failed: false,
        ..Answer::default()
    })
}

/// Says what was expected and names what may have been meant.
fn unknown(word: &str) -> String {
    let rules = nearest(word, catalogue::all().iter().map(|rule| rule.name));
    let functions = nearest(word, function::all().iter().map(|function| function.name));
    let units = match quantity::parse_unit(word) {
        Err(UnitFault::Unknown {
            case_slip, nearest, ..
        }) => case_slip.or(nearest),
        _ => nearest(
            word,
            quantity::unit_definitions().iter().map(|unit| unit.symbol),
        ),
    };
    let plans = nearest(word, builtin::BUILTIN_PLANS.iter().map(|plan| plan.name));
    let kinds = [
        ("rule", rules),
        ("function", functions),
        ("unit", units),
        ("plan", plans),
    ];
    let found: Vec<String> = kinds
        .into_iter()
        .filter_map(|(kind, near)| near.map(|near| format!("the {kind} `{near}`")))
        .collect();
    let nearest = match found.as_slice() {
        [] => "`stagebook explain` with no word lists all".to_string(),
        _ => format!("nearest: {}", found.join(", ")),
    };
    format!(
        "expected a rule, a function, a unit or a built-in plan, found `{}`; {nearest}",
        crate::finding::printable::text(word)
    )
}

/// The name nearest to the word, when it is near enough to be meant.
fn nearest(word: &str, names: impl Iterator<Item = &'static str>) -> Option<String> {
    let folded = word.to_lowercase();
    let length = word.chars().count();
    names
        .map(|name| {
            (
                strsim::damerau_levenshtein(&folded, &name.to_lowercase()),
                name,
            )
        })
        .filter(|(distance, _)| *distance <= length.div_ceil(3).min(3) && *distance < length)
        .min()
        .map(|(_, name)| name.to_string())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn explain(word: &str) -> Result<String, String> {
        let arguments = Arguments {
            word: Some(word.to_string()),
        };
        run(&arguments, &Screen::default()).map(|answer| answer.text)
    }

    #[test]
    fn every_rule_has_a_page_within_the_width() {
        for rule in catalogue::all() {
            let page = explain(rule.name).unwrap_or_default();
            for part in ["wrong", "mend", "source"] {
                assert!(page.contains(part), "{}: {part}", rule.name);
            }
            assert!(
                page.lines().all(|line| line.chars().count() <= 104),
                "{}\n{page}",
                rule.name
            );
            assert!(
                page.lines().all(|line| line.trim_end() == line),
                "{}",
                rule.name
            );
        }
    }

    #[test]
    fn a_built_in_plan_is_given_as_its_text() {
        for plan in builtin::BUILTIN_PLANS {
            assert_eq!(explain(plan.name).as_deref(), Ok(plan.text));
        }
    }

    #[test]
    fn a_slip_is_answered_with_what_may_be_meant() {
        let message = explain("hold-pased").err().unwrap_or_default();
        assert!(message.contains("the rule `hold-passed`"), "{message}");
        assert!(
            explain("qqqqqqqqqqqqqqqqqqqqqqqqqq")
                .err()
                .unwrap_or_default()
                .contains("lists all")
        );
    }
}
