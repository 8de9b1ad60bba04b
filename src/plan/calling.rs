//! Calls: a function by its name, its arguments against its parameters.

use super::expression::{Expr, ExprNode};
use super::function;
use super::resolve::Resolver;
use super::types::Type;
use super::typing::{Scope, make, wrong};
use super::value::Value;
use crate::finding::Finding;
use crate::finding::rules;
use crate::syntax::{NodeId, nearest};
use crate::text::Place;

impl Resolver<'_, '_> {
    pub(super) fn call(
        &mut self,
        document: usize,
        node: NodeId,
        scope: &Scope,
        place: Place,
    ) -> Expr {
        let tree = self.documents[document].tree;
        let children = self.children(document, node);
        let Some((name_node, arguments)) = children.split_first() else {
            return wrong(place);
        };
        let name = tree.text_of(*name_node).to_owned();
        let name_place = self.place(document, *name_node);
        if name == "first-of-lot" {
            return make(ExprNode::FirstOfLot, place, Type::Truth);
        }
        let Some(function) = function::find(&name) else {
            let known: Vec<&str> = function::all()
                .iter()
                .map(|function| function.name)
                .collect();
            let mut finding = Finding::new(
                &rules::UNKNOWN_FUNCTION,
                name_place,
                format!("expected a function of the language, found `{name}`"),
            );
            finding = match nearest(&name, known) {
                Some(near) => finding.help(format!("did you mean `{near}`?")).fix(
                    format!("write {near}"),
                    vec![(name_place.span, near.to_owned())],
                ),
                None => finding.help("`stagebook explain functions` lists them"),
            };
            self.findings.push(finding);
            return wrong(place);
        };
        if name == "recorded" {
            let argument = arguments
                .first()
                .map(|argument| self.expr(document, *argument, scope));
            return match argument {
                Some(argument)
                    if matches!(
                        argument.node,
                        ExprNode::Reading(..) | ExprNode::Design(..) | ExprNode::Wrong
                    ) =>
                {
                    make(ExprNode::Recorded(Box::new(argument)), place, Type::Truth)
                }
                _ => {
                    self.findings.push(
                        Finding::new(
                            &rules::WRONG_ARGUMENTS,
                            place,
                            "expected one reading or design value in `recorded(…)`",
                        )
                        .help("write: recorded(ratio[1, U])"),
                    );
                    wrong(place)
                }
            };
        }
        let mut typed = Vec::with_capacity(arguments.len());
        let mut words = Vec::new();
        for (index, argument) in arguments.iter().enumerate() {
            match self.bare_word(document, *argument, scope) {
                Some(word) => {
                    let place = self.place(document, *argument);
                    words.push(index);
                    typed.push(make(
                        ExprNode::Literal(Value::Name(word)),
                        place,
                        Type::Name,
                    ));
                }
                None => typed.push(self.expr(document, *argument, scope)),
            }
        }
        let count = function.parameters.len();
        let fits = if function.variadic {
            typed.len() >= count
        } else {
            typed.len() == count
        };
        if !fits {
            let parameters: Vec<&str> = function
                .parameters
                .iter()
                .map(|parameter| parameter.name)
                .collect();
            self.findings.push(
                Finding::new(
                    &rules::WRONG_ARGUMENTS,
                    place,
                    format!(
                        "expected {count} arguments for `{name}`, found {}",
                        typed.len()
                    ),
                )
                .help(format!("write: {name}({})", parameters.join(", "))),
            );
            return wrong(place);
        }
        let types: Vec<Type> = typed.iter().map(|argument| argument.ty.clone()).collect();
        if types.contains(&Type::Unknown) {
            return make(ExprNode::Call(function, typed), place, Type::Unknown);
        }
        match (function.check)(&types) {
            Ok(ty) => make(ExprNode::Call(function, typed), place, ty),
            Err(fault) => {
                let at = fault
                    .argument
                    .and_then(|index| typed.get(index))
                    .map_or(place, |argument| argument.place);
                let word = fault.argument.filter(|index| words.contains(index));
                if let Some(index) = word {
                    let text = self.documents[document]
                        .tree
                        .text_of(arguments[index])
                        .to_owned();
                    let known = self.known_names(scope);
                    self.unknown_name(
                        at,
                        "a name of this plan",
                        &text,
                        known.iter().map(String::as_str),
                    );
                } else {
                    let parameters: Vec<&str> = function
                        .parameters
                        .iter()
                        .map(|parameter| parameter.name)
                        .collect();
                    self.findings.push(
                        Finding::new(
                            &rules::WRONG_ARGUMENTS,
                            at,
                            format!(
                                "expected {} for `{name}`, found {}",
                                fault.expected, fault.found
                            ),
                        )
                        .help(format!(
                            "{name}({}): {}",
                            parameters.join(", "),
                            function.meaning
                        )),
                    );
                }
                wrong(place)
            }
        }
    }
}
