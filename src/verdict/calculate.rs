//! One expression at the prompt.

use super::{Env, Evaluator, Stop};
use crate::finding::Finding;
use crate::finding::rules;
use crate::plan::value::Value;
use crate::plan::{Document, Expr, Plan, type_alone};
use crate::record::Record;
use crate::syntax::parse_expression;
use crate::text::{FileId, Place, SourceText, Span};

/// The value of an expression that refers to no plan, with its unit; else its text and what is wrong.
pub fn calculate(expression: &str) -> Result<String, (SourceText, Vec<Finding>)> {
    with_typed(expression, |expr, source| {
        super::value_text(expr, std::slice::from_ref(source))
    })
}

/// The value of an expression that refers to no plan, as functions take it: quantities in SI base units.
/// Else its text and what is wrong.
pub fn calculate_value(expression: &str) -> Result<Value, (SourceText, Vec<Finding>)> {
    with_typed(expression, |expr, _| {
        let (plan, record) = (Plan::default(), Record::default());
        match Evaluator::new(&plan, &record).eval(expr, Env::NONE) {
            Ok(value) => Ok(value),
            Err(Stop::Fault(fault)) => Err(fault),
            Err(Stop::Unknown) => Err("an input that is not known".to_owned()),
        }
    })
}

/// Reads and types an expression and hands it on; whatever is wrong on the way becomes findings.
fn with_typed<T>(
    expression: &str,
    evaluate: impl FnOnce(&Expr, &SourceText) -> Result<T, String>,
) -> Result<T, (SourceText, Vec<Finding>)> {
    let source = SourceText::new("expression", expression);
    let tree = parse_expression(source.text.clone());
    let file = FileId(0);
    let mut findings: Vec<Finding> = tree
        .faults
        .iter()
        .map(|fault| crate::finding::from_fault(fault, file))
        .collect();
    if findings.is_empty() {
        let typed = type_alone(Document { tree: &tree, file }, &mut findings);
        if let Some(expr) = typed {
            match evaluate(&expr, &source) {
                Ok(result) => return Ok(result),
                Err(fault) => findings.push(Finding::new(
                    &rules::CANNOT_BE_CALCULATED,
                    expr.place,
                    format!("expected a result, found {fault}"),
                )),
            }
        }
    }
    if findings.is_empty() {
        let place = Place {
            file,
            span: Span::new(0, expression.len() as u32),
        };
        findings.push(Finding::new(
            &rules::UNEXPECTED_TEXT,
            place,
            "expected an expression, found nothing to calculate",
        ));
    }
    Err((source, findings))
}
