//! The OpenAPI document as a judge: what it says of an operation's body, parameters and rights is
//! what requests are held against, so that document and service cannot differ.

use std::collections::{BTreeMap, HashMap};
use std::sync::{Arc, OnceLock};

use application::rights::{self, Right};
use axum::http::Method;
use jsonschema::error::{TypeKind, ValidationErrorKind};
use jsonschema::{JsonType, PatternOptions, ValidationError, Validator};
use serde_json::{Value, json};

use crate::document::WITHOUT_NUL;
use crate::problem::{Problem, ProblemFault};

/// Every operation of the document.
#[derive(Debug)]
pub struct Contract {
    operations: HashMap<(Method, String), OperationContract>,
}

/// What the document says of one operation.
#[derive(Debug)]
pub struct OperationContract {
    pub id: &'static str,
    /// `None` for an operation without a caller: `/livez` and its like.
    pub right: Option<&'static Right>,
    query: BTreeMap<String, QueryParameter>,
    body: Option<Schema>,
}

#[derive(Debug)]
struct QueryParameter {
    required: bool,
    is_number: bool,
    is_boolean: bool,
    schema: Schema,
}

/// A schema that is compiled when it is first needed.
#[derive(Debug)]
struct Schema {
    own: Value,
    /// What it refers to; one copy for all schemas, for the document is large.
    components: Arc<Value>,
    validator: OnceLock<Option<Validator>>,
}

impl Schema {
    fn new(schema: &Value, components: &Arc<Value>) -> Self {
        Self { own: schema.clone(), components: Arc::clone(components), validator: OnceLock::new() }
    }

    fn validator(&self) -> Option<&Validator> {
        self.validator
            .get_or_init(|| {
                let root = json!({"allOf": [self.own], "components": *self.components});
                let compiled = jsonschema::options()
                    .should_validate_formats(true)
                    // In linear time, whatever is sent.
                    .with_pattern_options(PatternOptions::regex())
                    .build(&root);
                compiled
                    .inspect_err(|error| tracing::error!(%error, "a schema of the document is broken"))
                    .ok()
            })
            .as_ref()
    }

    /// A schema that cannot judge lets nothing pass.
    fn faults(&self, value: &Value) -> Result<Vec<(String, String)>, Problem> {
        let validator = self.validator().ok_or_else(Problem::internal)?;
        // Most values are good, and to say so is far quicker than to look for every fault.
        if validator.is_valid(value) {
            return Ok(Vec::new());
        }
        let mut faults = Vec::new();
        for error in validator.iter_errors(value) {
            list(&error, &mut faults);
        }
        Ok(faults)
    }
}

/// One fault; of alternatives, the faults of the one that was meant, and never of the `null` that an
/// optional field allows too.
fn list(error: &ValidationError<'_>, faults: &mut Vec<(String, String)>) {
    use ValidationErrorKind::{AnyOf, Constant, Enum, OneOfNotValid, Type};
    let is_null = |fault: &ValidationError<'_>| {
        matches!(fault.kind(), Type { kind: TypeKind::Single(JsonType::Null) })
            && fault.instance_path() == error.instance_path()
    };
    // A wrong tag or type tells that another alternative was meant.
    let strangeness = |alternative: &Vec<ValidationError<'_>>| {
        let is_strange = |fault: &&ValidationError<'_>| {
            matches!(fault.kind(), Constant { .. } | Enum { .. } | Type { .. })
        };
        (alternative.iter().filter(is_strange).count(), alternative.len())
    };
    if let AnyOf { context } | OneOfNotValid { context } = error.kind() {
        let alternatives = context.iter().filter(|alternative| !alternative.iter().any(is_null));
        if let Some(meant) = alternatives.min_by_key(|alternative| strangeness(alternative)) {
            for fault in meant {
                list(fault, faults);
            }
            return;
        }
    }
    faults.push((error.instance_path().to_string(), sentence(error)));
}

/// A schema error in words that say what would be right.
fn sentence(error: &ValidationError<'_>) -> String {
    use ValidationErrorKind::{AdditionalProperties, Enum, Pattern, UnevaluatedProperties};
    match error.kind() {
        Pattern { pattern } if pattern == WITHOUT_NUL => "must not contain the character U+0000".to_owned(),
        AdditionalProperties { unexpected } | UnevaluatedProperties { unexpected } => {
            format!("unknown_field: {} is not known here; leave it out", unexpected.join(", "))
        }
        Enum { options } => {
            let options: Vec<String> =
                options.as_array().into_iter().flatten().map(Value::to_string).collect();
            format!("{} is not one of {}", shortened(&error.instance().to_string()), options.join(", "))
        }
        _ => shortened(&error.to_string()),
    }
}

fn shortened(text: &str) -> String {
    let shown: String = text.chars().take(300).collect();
    if shown.len() < text.len() { format!("{shown}…") } else { shown }
}

impl Contract {
    /// Reads the service's own document.
    pub fn of_document() -> Self {
        let mut document = crate::document::document();
        let components = &Arc::new(document["components"].take());
        let mut operations = HashMap::new();
        for (path, item) in document["paths"].as_object().into_iter().flatten() {
            for (method, operation) in item.as_object().into_iter().flatten() {
                let Ok(method) = Method::from_bytes(method.to_uppercase().as_bytes()) else { continue };
                let contract = OperationContract::read(operation, components);
                operations.insert((method, path.clone()), contract);
            }
        }
        Self { operations }
    }

    pub fn operation(&self, method: &Method, path: &str) -> Option<&OperationContract> {
        let method = if method == Method::HEAD { &Method::GET } else { method };
        self.operations.get(&(method.clone(), path.to_owned()))
    }
}

impl OperationContract {
    fn read(operation: &Value, components: &Arc<Value>) -> Self {
        let id = operation["operationId"].as_str().unwrap_or_default();
        let right = rights::of(id);
        let body = operation["requestBody"]["content"]
            .as_object()
            .and_then(|content| content.values().next())
            .map(|media| Schema::new(&media["schema"], components));
        let mut query = BTreeMap::new();
        for parameter in operation["parameters"].as_array().into_iter().flatten() {
            if parameter["in"] == "query" {
                let name = parameter["name"].as_str().unwrap_or_default().to_owned();
                query.insert(name, QueryParameter::read(parameter, components));
            }
        }
        Self { id: right.map_or_else(|| leak(id), |right| right.operation), right, query, body }
    }

    /// Whether it takes a body.
    pub fn has_body(&self) -> bool {
        self.body.is_some()
    }

    /// Every fault of a body.
    pub fn body_faults(&self, body: &Value) -> Result<Vec<ProblemFault>, Problem> {
        let Some(schema) = &self.body else { return Ok(Vec::new()) };
        let faults = schema.faults(body)?.into_iter();
        Ok(faults.map(|(pointer, detail)| ProblemFault::pointer(pointer, detail)).collect())
    }

    /// Every fault of a query.
    pub fn query_faults(&self, pairs: &[(String, String)]) -> Result<Vec<ProblemFault>, Problem> {
        let mut faults = Vec::new();
        let known = || self.query.keys().cloned().collect::<Vec<_>>().join(", ");
        for (index, (name, text)) in pairs.iter().enumerate() {
            match self.query.get(name) {
                None if self.query.is_empty() => {
                    faults.push(ProblemFault::parameter(
                        name,
                        "unknown_field: this address takes no parameters",
                    ));
                }
                None => faults.push(ProblemFault::parameter(
                    name,
                    format!("unknown_field: the parameters known here are {}", known()),
                )),
                Some(_) if pairs[..index].iter().any(|(other, _)| other == name) => {
                    faults.push(ProblemFault::parameter(name, "is given twice; give it once"));
                }
                Some(parameter) => {
                    let details = parameter.schema.faults(&parameter.value(text))?;
                    faults
                        .extend(details.into_iter().map(|(_, detail)| ProblemFault::parameter(name, detail)));
                }
            }
        }
        for (name, parameter) in &self.query {
            if parameter.required && !pairs.iter().any(|(given, _)| given == name) {
                faults.push(ProblemFault::parameter(name, "is required"));
            }
        }
        Ok(faults)
    }
}

impl QueryParameter {
    fn read(parameter: &Value, components: &Arc<Value>) -> Self {
        let schema = &parameter["schema"];
        let has_type = |wanted: &str| match &schema["type"] {
            Value::Array(types) => types.iter().any(|one| one == wanted),
            one => one == wanted,
        };
        Self {
            required: parameter["required"] == true,
            is_number: has_type("integer") || has_type("number"),
            is_boolean: has_type("boolean"),
            schema: Schema::new(schema, components),
        }
    }

    fn value(&self, text: &str) -> Value {
        let parsed =
            if self.is_number || self.is_boolean { serde_json::from_str::<Value>(text).ok() } else { None };
        match parsed {
            Some(number @ Value::Number(_)) if self.is_number => number,
            Some(boolean @ Value::Bool(_)) if self.is_boolean => boolean,
            _ => Value::String(text.to_owned()),
        }
    }
}

/// Operations without a right are a fixed handful, read once when the service starts.
fn leak(id: &str) -> &'static str {
    Box::leak(id.to_owned().into_boxed_str())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_word_that_is_not_known_is_answered_with_all_that_are() {
        let words: Vec<String> = (0..40).map(|number| format!("a_rather_long_word_{number}")).collect();
        let schema = Schema::new(&json!({"enum": words}), &Arc::default());
        let [(_, detail)] = &schema.faults(&json!("another")).unwrap()[..] else { panic!() };
        assert!(detail.starts_with("\"another\" is not one of \"a_rather_long_word_0\", "), "{detail}");
        assert!(words.iter().all(|word| detail.contains(&format!("\"{word}\""))), "{detail}");
        let long = schema.faults(&json!("x".repeat(10_000))).unwrap();
        assert!(long[0].1.len() < 2_000);
    }

    #[test]
    fn a_schema_that_does_not_compile_lets_nothing_pass() {
        let broken = Schema::new(&json!({"pattern": "("}), &Arc::default());
        assert_eq!(broken.faults(&json!("anything")).unwrap_err().status(), 500);
    }

    #[test]
    fn every_schema_of_the_document_compiles() {
        for operation in Contract::of_document().operations.values() {
            let parameters = operation.query.values().map(|parameter| &parameter.schema);
            for schema in operation.body.iter().chain(parameters) {
                assert!(schema.validator().is_some(), "{}: {}", operation.id, schema.own);
            }
        }
    }
}
