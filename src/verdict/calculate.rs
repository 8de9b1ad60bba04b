//! One expression at the prompt.

use crate::finding::Finding;
use crate::finding::rules;
use crate::plan::{Document, type_alone};
use crate::syntax::parse_expression;
use crate::text::{FileId, Place, SourceText, Span};

/// The value of an expression that refers to no plan, with its unit; else its text and what is wrong.
pub fn calculate(expression: &str) -> Result<String, (SourceText, Vec<Finding>)> {
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
            match super::value_text(&expr, std::slice::from_ref(&source)) {
                Ok(text) => return Ok(text),
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
