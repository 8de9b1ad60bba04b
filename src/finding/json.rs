//! Findings and units for machines: one JSON object, described by [`SCHEMA`].

use serde_json::{Map, Value, json};

use super::{
    Basis, Counts, Finding, Input, LotSummary, PointState, Reasoning, SealState, TypeTestState,
    Uncertainty, UnitSummary,
};
use crate::quantity::COVERAGE;
use crate::text::{Place, SourceText, Span};

/// The name of the form; it changes when a reader of the old form could no longer read the new one.
pub const SCHEMA_NAME: &str = "stagebook-check-1";

/// The JSON Schema (draft 2020-12) of what [`document`] gives.
pub const SCHEMA: &str = include_str!("check.schema.json");

/// The whole answer: `schema`, `units` and `findings`, in the order given.
///
/// `sources` are the documents of the run. A place in a document that is not among them has an empty
/// path and stands at line 1, column 1.
pub fn document(units: &[UnitSummary], findings: &[Finding], sources: &[SourceText]) -> Value {
    json!({
        "schema": SCHEMA_NAME,
        "units": units.iter().map(unit).collect::<Vec<_>>(),
        "findings": findings.iter().map(|each| finding(each, sources)).collect::<Vec<_>>(),
    })
}

/// One unit: who it is, how far it is, its counts and points.
fn unit(unit: &UnitSummary) -> Value {
    let points = unit.stages.iter().flat_map(|stage| {
        stage.points.iter().map(move |point| {
            let mut object = json!({
                "stage": &*stage.name,
                "name": &*point.name,
                "title": &*point.title,
                "kind": point.kind.word(),
                "state": state_word(point.state),
                "roles": point.roles.iter().map(|role| &**role).collect::<Vec<_>>(),
            });
            if let Some((by, on)) = &point.by {
                object["by"] = json!(by);
                object["on"] = json!(on);
            }
            if point.seal != SealState::NotAsked {
                object["seal"] = json!(point.seal.word());
            }
            object
        })
    });
    let mut object = json!({
        "serial": unit.serial,
        "title": unit.title,
        "path": &*unit.path,
        "plan": unit.plan,
        "stage_reached": unit.stage_reached.as_deref(),
        "counts": counts(&unit.counts),
        "points": points.collect::<Vec<_>>(),
    });
    if let Some(own) = &unit.lot {
        object["lot"] = lot(own);
    }
    object
}

/// The unit in its lot; what its record does not say is left out.
fn lot(lot: &LotSummary) -> Value {
    let mut object = json!({ "name": &*lot.name, "type_tests": lot.state.word() });
    if let Some(number) = lot.number {
        object["number"] = json!(number);
    }
    if let Some(total) = lot.total {
        object["of"] = json!(total);
    }
    if let Some(serial) = &lot.type_tested {
        object["type_tested"] = json!(&**serial);
    }
    if let TypeTestState::Open(open) = &lot.state {
        object["open"] = json!(open);
    }
    object
}

fn state_word(state: PointState) -> &'static str {
    match state {
        PointState::Passed => "passed-over",
        other => other.word(),
    }
}

fn counts(counts: &Counts) -> Value {
    json!({
        "recorded": counts.recorded,
        "pending": counts.pending,
        "missing": counts.missing,
        "failing": counts.failing,
        "not_proven": counts.not_proven,
        "conceded": counts.conceded,
        "holding": counts.holding,
        "unknown": counts.unknown,
    })
}

/// One finding. What every finding has is always there, `null` where it has none; the rest only where
/// present.
fn finding(finding: &Finding, sources: &[SourceText]) -> Value {
    let none = Reasoning::default();
    let reasoning = finding.reasoning.as_deref().unwrap_or(&none);
    let mut object = Map::new();
    let mut set = |key: &str, value: Value| {
        object.insert(key.to_string(), value);
    };
    set("rule", json!(finding.rule.name));
    set("severity", json!(finding.severity.word()));
    set("message", json!(finding.message));
    for (key, value) in place(finding.place, sources) {
        set(key, value);
    }
    set(
        "inputs",
        reasoning
            .inputs
            .iter()
            .map(|each| input(each, sources))
            .collect(),
    );
    set("formula", json!(reasoning.formula));
    set("limit", json!(reasoning.limit));
    set("source", source(reasoning));
    set("because", json!(reasoning.because));
    if !finding.label.is_empty() {
        set("label", json!(finding.label));
    }
    let lists = [
        ("missing", &reasoning.missing),
        ("steps", &reasoning.steps),
        ("causes", &reasoning.causes),
        ("look", &reasoning.look),
    ];
    for (key, list) in lists {
        if !list.is_empty() {
            set(key, json!(list));
        }
    }
    let texts = [
        ("result", &reasoning.result),
        ("margin", &reasoning.margin),
        ("caution", &reasoning.caution),
        ("also", &reasoning.also),
        ("help", &finding.help),
    ];
    for (key, text) in texts {
        if let Some(text) = text {
            set(key, json!(text));
        }
    }
    if let Some(uncertainty) = &reasoning.uncertainty {
        set("uncertainty", uncertain(uncertainty, sources));
    }
    if !finding.related.is_empty() {
        let related = finding.related.iter().map(|each| {
            let mut object: Map<String, Value> = owned(place(each.place, sources));
            object.insert("text".to_string(), json!(each.text));
            Value::Object(object)
        });
        set("related", related.collect());
    }
    if let Some(accepted) = &finding.accepted {
        let mut object = owned(place(accepted.place, sources));
        let texts = [
            ("by", &accepted.by),
            ("on", &accepted.on),
            ("because", &accepted.because),
        ];
        for (key, text) in texts {
            object.insert(key.to_string(), json!(&**text));
        }
        set("accepted", Value::Object(object));
    }
    if let Some(fix) = &finding.fix {
        let edits = fix.edits.iter().map(|(span, text)| {
            let mut object = owned(ends(*span, sources.get(finding.place.file.0 as usize)));
            object.insert("text".to_string(), json!(text));
            Value::Object(object)
        });
        set(
            "fix",
            json!({ "title": fix.title, "edits": edits.collect::<Vec<_>>() }),
        );
    }
    Value::Object(object)
}

fn input(input: &Input, sources: &[SourceText]) -> Value {
    let mut object = Map::new();
    object.insert("name".to_string(), json!(input.name));
    object.insert("value".to_string(), json!(input.value));
    if let Some(at) = input.place {
        object.extend(owned(place(at, sources)));
    }
    if !input.amended.is_empty() {
        let amended = input.amended.iter().map(|each| {
            json!({ "was": each.was, "by": each.by, "on": each.on, "because": each.because })
        });
        object.insert("amended".to_string(), amended.collect());
    }
    Value::Object(object)
}

fn uncertain(uncertainty: &Uncertainty, sources: &[SourceText]) -> Value {
    let contributions = uncertainty.contributions.iter().map(|each| {
        let mut object = Map::new();
        let texts = [
            ("name", Some(&each.name)),
            ("statement", Some(&each.statement)),
            ("standard", Some(&each.standard)),
            ("sensitivity", each.sensitivity.as_ref()),
            ("contribution", each.contribution.as_ref()),
        ];
        for (key, text) in texts {
            if let Some(text) = text {
                object.insert(key.to_string(), json!(text));
            }
        }
        if let Some(at) = each.place {
            object.extend(owned(place(at, sources)));
        }
        Value::Object(object)
    });
    json!({
        "expanded": uncertainty.expanded,
        "coverage": COVERAGE,
        "acceptance": uncertainty.acceptance,
        "contributions": contributions.collect::<Vec<_>>(),
    })
}

fn source(reasoning: &Reasoning) -> Value {
    match &reasoning.source {
        Some(source) => json!({ "basis": basis(source.basis), "text": source.text }),
        None => Value::Null,
    }
}

/// The word for a basis in this form.
fn basis(basis: Basis) -> &'static str {
    match basis {
        Basis::Published => "published",
        Basis::Memory => "memory",
        Basis::CommonPractice => "common-practice",
        Basis::Works => "works",
        Basis::Order => "order",
        Basis::Physics => "physics",
    }
}

/// `path`, `start` and `end` of a place.
fn place(place: Place, sources: &[SourceText]) -> Vec<(&'static str, Value)> {
    let source = sources.get(place.file.0 as usize);
    let mut keys = vec![("path", json!(source.map_or("", |source| &*source.name)))];
    keys.extend(ends(place.span, source));
    keys
}

/// `start` and `end` of a span, both from 1, columns in characters; `end` is one past the last.
fn ends(span: Span, source: Option<&SourceText>) -> Vec<(&'static str, Value)> {
    let at = |offset| match source.map(|source| source.line_column(offset)) {
        Some(at) => json!({ "line": at.line, "column": at.column }),
        None => json!({ "line": 1, "column": 1 }),
    };
    vec![("start", at(span.start)), ("end", at(span.end))]
}

fn owned(keys: Vec<(&'static str, Value)>) -> Map<String, Value> {
    keys.into_iter()
        .map(|(key, value)| (key.to_string(), value))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::finding::{
        Accepted, Contribution, PointKind, PointSummary, Source, StageState, StageSummary,
        catalogue,
    };
    use crate::text::FileId;

    fn sample() -> Value {
        let source = SourceText::new("units/a.ubr", "# °\n  ratio[1, U] = 3,49\n");
        let at = Place {
            file: FileId(0),
            span: Span::new(21, 25),
        };
        let full = Reasoning {
            inputs: vec![
                Input {
                    name: "ratio[1, U]".into(),
                    value: "3.49".into(),
                    place: Some(at),
                    amended: Vec::new(),
                },
                Input {
                    name: "g".into(),
                    value: "9.80665 m/s^2".into(),
                    place: None,
                    amended: Vec::new(),
                },
            ],
            missing: vec!["ratio[1, V]".into()],
            formula: Some("abs(ratio / x - 1) <= 0.5 %".into()),
            steps: vec!["0.7 % <= 0.5 %".into()],
            result: Some("0.7 %".into()),
            limit: Some("0.5 %".into()),
            margin: Some("-0.2 %".into()),
            uncertainty: Some(Uncertainty {
                expanded: Some("0.1 %".into()),
                acceptance: Some("≤ 0.4 %".into()),
                contributions: vec![Contribution {
                    name: "ratio[1, U]".into(),
                    statement: "accuracy 0.1 % of reading k = 2".into(),
                    standard: "0.05 %".into(),
                    sensitivity: Some("1".into()),
                    contribution: Some("0.05 %".into()),
                    place: Some(at),
                }],
            }),
            source: Some(Source {
                basis: Basis::Memory,
                text: "IEC 60076-1:2011, Table 1".into(),
            }),
            because: Some("a wrong turn".into()),
            caution: Some("earth first".into()),
            look: vec!["the turns counter".into()],
            causes: vec!["one turn short".into()],
            also: Some("ratio[2, V]".into()),
        };
        let mut findings = [
            Finding::new(
                &catalogue::DECIMAL_COMMA,
                at,
                "expected a point, found a comma",
            )
            .label("here")
            .related(at, "the same")
            .reasoning(full)
            .help("write a point")
            .fix(
                "write a decimal point",
                vec![(Span::new(22, 23), ".".into())],
            ),
            Finding::new(
                &catalogue::PENDING,
                Place {
                    file: FileId(9),
                    span: Span::new(0, 0),
                },
                "to be recorded",
            ),
        ];
        findings[0].accepted = Some(Box::new(Accepted {
            by: "M.Okafor".into(),
            on: "2026-03-02".into(),
            because: "typed from the paper form".into(),
            place: at,
        }));
        let point = PointSummary {
            name: "H10".into(),
            title: "Windings cleared".into(),
            kind: PointKind::Hold,
            state: PointState::Passed,
            roles: vec!["quality".into()],
            by: Some(("M.Okafor".into(), "2026-02-27 16:20".into())),
            seal: SealState::Signed,
        };
        let stage = StageSummary {
            name: "winding".into(),
            title: "Windings".into(),
            before: vec![],
            state: StageState::InProgress,
            round: 1,
            counts: Counts::default(),
            points: vec![
                point.clone(),
                PointSummary {
                    by: None,
                    state: PointState::Open,
                    ..point
                },
            ],
            pending: vec![],
        };
        let unit = UnitSummary {
            serial: "KFT-0412-1".into(),
            title: String::new(),
            path: "units/a.ubr".into(),
            plan: "oil-immersed-power rev C".into(),
            stage_reached: Some("winding".into()),
            lot: Some(LotSummary {
                name: "KFT-0412".into(),
                number: Some(2),
                total: Some(3),
                type_tested: Some("KFT-0412-1".into()),
                state: TypeTestState::Open(vec!["stage `type-tests` is not begun".into()]),
            }),
            stages: vec![stage],
            counts: Counts {
                recorded: 3,
                ..Counts::default()
            },
        };
        let idle = UnitSummary {
            stage_reached: None,
            lot: None,
            stages: vec![],
            ..unit.clone()
        };
        document(&[unit, idle], &findings, &[source])
    }

    #[test]
    fn what_is_written_is_what_the_schema_says() {
        let schema: Value = serde_json::from_str(SCHEMA).unwrap_or(Value::Null);
        let validator = jsonschema::validator_for(&schema);
        // The schema is part of this crate, so a schema that does not compile is a failed test.
        let validator = validator.expect("the schema compiles");
        let errors: Vec<String> = validator
            .iter_errors(&sample())
            .map(|error| error.to_string())
            .collect();
        assert!(errors.is_empty(), "{errors:#?}");
        let mut odd = sample();
        odd["findings"][0]["surprise"] = json!(1);
        assert!(!validator.is_valid(&odd));
        assert!(validator.is_valid(&document(&[], &[], &[])));
    }

    #[test]
    fn who_accepted_a_finding_stands_beside_it() {
        let sample = sample();
        let accepted = &sample["findings"][0]["accepted"];
        assert_eq!(accepted["by"], "M.Okafor");
        assert_eq!(accepted["on"], "2026-03-02");
        assert_eq!(accepted["because"], "typed from the paper form");
        assert_eq!(accepted["path"], "units/a.ubr");
        assert_eq!(accepted["start"], json!({ "line": 2, "column": 17 }));
        assert!(sample["findings"][1].get("accepted").is_none());
    }

    #[test]
    fn columns_are_characters_from_one() {
        let first = &sample()["findings"][0];
        assert_eq!(first["start"], json!({ "line": 2, "column": 17 }));
        assert_eq!(first["end"], json!({ "line": 2, "column": 21 }));
        assert_eq!(first["path"], "units/a.ubr");
    }

    #[test]
    fn what_every_finding_has_is_always_there() {
        let bare = &sample()["findings"][1];
        for key in ["inputs", "formula", "limit", "source", "because"] {
            assert!(bare.get(key).is_some(), "{key}");
        }
        assert!(bare.get("fix").is_none() && bare.get("help").is_none());
    }
}
