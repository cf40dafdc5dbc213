//! The OpenAPI document: what the handlers say of themselves, and what holds for all of them.

mod links;
pub mod part;

use std::collections::BTreeSet;

use application::rights;
use serde_json::{Value, json};
use utoipa::OpenApi;
use utoipa::openapi::security::{Http, HttpAuthScheme, SecurityScheme};

use crate::examples;
use crate::problem::{Problem, ProblemFault};
use crate::schema;
use crate::service::operations;

#[derive(OpenApi)]
#[openapi(
    info(
        title = "Ovenwright",
        description = "The back office of a company that services the wash systems of commercial kitchens: \
            from the call to the proven repair. The service advises; local codes and licensed practice prevail.",
        license(name = "MIT OR Apache-2.0", identifier = "MIT OR Apache-2.0"),
        contact(name = "Ovenwright contributors"),
    ),
    servers((url = "/", description = "This service")),
    components(schemas(
        Problem, ProblemFault, schema::Id, schema::Name, schema::Words, schema::Key, schema::Instant, schema::Day,
        schema::Amount, schema::Currency, schema::WaitingActionWord, schema::InterlockActionWord, schema::PartLineActionWord,
        schema::ApplianceActionWord
    )),
    tags(
        (name = "calls", description = "What customers say, and what is known of their machines"),
        (name = "work orders", description = "From the call to the closed order"),
        (name = "visits", description = "Who goes when, and what came of it"),
        (name = "customers", description = "Who runs the kitchens"),
        (name = "contacts", description = "Whom to reach there"),
        (name = "findings", description = "What was confirmed, and what was done"),
        (name = "part lines", description = "The parts of an order, from identified to fitted"),
        (name = "quotes", description = "What was offered, and what the customer said"),
        (name = "parts", description = "What can be ordered and fitted"),
        (name = "search", description = "Finding what a caller names"),
        (name = "reports", description = "What the past says of a kitchen, a machine, the company"),
        (name = "branches", description = "Parts of the service company with their own territory"),
        (name = "sites", description = "Kitchens, and the water that they get"),
        (name = "appliances", description = "Machines in kitchens"),
        (name = "catalogue", description = "Models, test procedures, and the terms in which everybody speaks of a fault"),
        (name = "people", description = "Technicians, dispatchers, managers, administrators, programs"),
        (name = "tokens", description = "Bearer tokens"),
        (name = "test runs", description = "What was read on a machine, and what follows from it"),
        (name = "diagnoses", description = "Which faults explain what was read, what to test next, what to carry"),
        (name = "known good", description = "What healthy machines read, learned and versioned; drift"),
        (name = "changes", description = "What changed since a phone last asked"),
        (name = "operations", description = "Is it there, is it ready, what can it do"),
    ),
)]
struct Head;

/// The document as a value of its own library.
fn collected() -> utoipa::openapi::OpenApi {
    let mut document = Head::openapi();
    document.merge(operations().into_openapi());
    if let Some(components) = document.components.as_mut() {
        let bearer = Http::builder()
            .scheme(HttpAuthScheme::Bearer)
            .description(Some("`ovenwright token` makes one"))
            .build();
        components.add_security_scheme("bearer", SecurityScheme::Http(bearer));
    }
    document
}

/// The whole document, with the answers that any operation can give and the rights that it asks.
pub fn document() -> Value {
    #[expect(clippy::expect_used, reason = "a service without its document must not start")]
    let mut document = serde_json::to_value(collected()).expect("a document of texts, lists and objects");
    if let Some(paths) = document["paths"].as_object_mut() {
        for (path, item) in paths.iter_mut() {
            let can_change = item["patch"].is_object();
            for (method, operation) in item.as_object_mut().into_iter().flatten() {
                complete(method, path, can_change, operation);
                examples::show(operation);
            }
        }
    }
    links::link(&mut document);
    for kind in crate::problem::Kind::ALL {
        let status = kind.status.as_str();
        document["components"]["responses"][status] = problem(status);
    }
    bar_nul_from_requests(&mut document);
    document
}

/// JSON text may hold U+0000, and the store cannot: no text of a request that has no pattern of its own takes it.
pub const WITHOUT_NUL: &str = "^[^\\u0000]*$";

fn bar_nul_from_requests(document: &mut Value) {
    let mut schemas = Vec::new();
    let paths = document["paths"].as_object_mut().into_iter().flatten();
    for operation in paths.filter_map(|(_, item)| item.as_object_mut()).flat_map(|item| item.values_mut()) {
        for part in ["parameters", "requestBody"] {
            operation.get_mut(part).into_iter().for_each(|part| bar_nul(part, &mut schemas));
        }
    }
    let mut barred = BTreeSet::new();
    while let Some(pointer) = schemas.pop() {
        if let (true, Some(schema)) = (barred.insert(pointer.clone()), document.pointer_mut(&pointer)) {
            bar_nul(schema, &mut schemas);
        }
    }
}

/// In this schema; those that it refers to are left for later.
fn bar_nul(schema: &mut Value, later: &mut Vec<String>) {
    match schema {
        Value::Object(members) => {
            let is_text = members.get("type").is_some_and(|one| match one {
                Value::Array(types) => types.iter().any(|one| one == "string"),
                one => one == "string",
            });
            let is_bound =
                ["pattern", "enum", "const", "format"].iter().any(|word| members.contains_key(*word));
            if is_text && !is_bound && members.contains_key("maxLength") {
                members.insert("pattern".to_owned(), json!(WITHOUT_NUL));
            }
            if let Some(reference) = members.get("$ref").and_then(Value::as_str) {
                later.push(reference.trim_start_matches('#').to_owned());
            }
            for (name, member) in members {
                if name != "example" && name != "examples" {
                    bar_nul(member, later);
                }
            }
        }
        Value::Array(items) => items.iter_mut().for_each(|item| bar_nul(item, later)),
        _ => {}
    }
}

/// As it is served and committed.
pub fn pretty() -> String {
    format!("{:#}\n", document())
}

/// Requests that are safe to repeat, by the ids of what they carry or because they store nothing, and take no
/// Idempotency-Key.
const SAFE_TO_REPEAT: &[&str] = &["create_test_runs", "diagnose", "draft_model"];

/// Moves that make safe: they wait for no version.
const MAKES_SAFE: &[&str] = &["act_on_interlock_defeat"];

/// What holds for every operation of a kind is said here once, by the kind:
/// a change (PATCH) and a move (`/actions/{action}`) name the version that they change in If-Match, but for what makes
/// safe; a write may carry
/// an Idempotency-Key; what was made says where it lies and which version it has; a resource
/// that can be changed is read with its ETag.
fn complete(method: &str, path: &str, can_change: bool, operation: &mut Value) {
    let id = operation["operationId"].as_str().unwrap_or_default().to_owned();
    let has_body = operation["requestBody"].is_object();
    let is_move = path.contains("/actions/{") && !MAKES_SAFE.contains(&id.as_str());
    let takes_if_match = method == "patch" || is_move;
    let mut problems = vec!["500"];
    if id == "readyz" {
        problems.push("503");
    }
    if let Some(right) = rights::of(&id) {
        operation["security"] = json!([{"bearer": []}]);
        operation["x-scope"] = json!(right.scope);
        operation["x-roles"] = json!(right.roles);
        problems.extend(["400", "401", "403", "408", "429", "503"]);
        if method != "get" && !SAFE_TO_REPEAT.contains(&id.as_str()) {
            add_header_parameter(
                operation,
                "Idempotency-Key",
                false,
                "Makes a repeated request safe: the same key is answered as the first time",
                200,
            );
            problems.extend(["409", "422"]);
        }
    } else {
        operation["security"] = json!([]);
        if id != "livez" && id != "readyz" {
            problems.push("429");
        }
    }
    if path.contains('{') {
        problems.extend(["400", "404"]);
    }
    if takes_version(operation) {
        problems.push("404");
    }
    if has_body {
        problems.extend(["413", "415", "422"]);
    }
    if takes_if_match {
        add_header_parameter(operation, "If-Match", true, "The ETag that the resource was read with", 64);
        problems.extend(["412", "428"]);
    }
    let Some(responses) = operation["responses"].as_object_mut() else { return };
    let makes = responses.contains_key("201");
    for (status, response) in responses.iter_mut() {
        if makes && matches!(status.as_str(), "200" | "201") {
            add_header(response, "Location", "Where it lies", &json!({"type": "string", "maxLength": 200}));
        }
        let says_so = response["headers"]["ETag"].is_object();
        let is_versioned = makes || takes_if_match || says_so || (method == "get" && can_change);
        if status == "201" || (status == "200" && is_versioned) {
            let tag = json!({"type": "string", "maxLength": 64, "examples": ["\"3\""]});
            add_header(response, "ETag", "Its version, for If-Match and If-None-Match", &tag);
        }
    }
    if method == "get" && responses.get("200").is_some_and(|ok| ok["headers"]["ETag"].is_object()) {
        let unchanged = json!({"description": "Unchanged since it was read with the ETag in If-None-Match"});
        responses.entry("304").or_insert(unchanged);
    }
    for response in responses.values_mut() {
        name_request(response);
    }
    for status in problems {
        responses
            .entry(status)
            .or_insert_with(|| json!({"$ref": format!("#/components/responses/{status}")}));
    }
    responses.sort_keys();
}

/// Whether its query names a version, which there may not be.
fn takes_version(operation: &Value) -> bool {
    let parameters = operation["parameters"].as_array();
    parameters
        .into_iter()
        .flatten()
        .any(|parameter| parameter["in"] == "query" && parameter["name"] == "version")
}

fn add_header(response: &mut Value, name: &str, description: &str, schema: &Value) {
    if response["headers"].is_null() {
        response["headers"] = json!({});
    }
    response["headers"][name] = json!({"description": description, "schema": schema});
}

fn add_header_parameter(
    operation: &mut Value,
    name: &str,
    required: bool,
    description: &str,
    maximum: usize,
) {
    let parameter = json!({
        "name": name, "in": "header", "required": required, "description": description,
        "schema": {"type": "string", "minLength": 1, "maxLength": maximum, "pattern": "^[!-~]+$"},
    });
    match operation["parameters"].as_array_mut() {
        Some(parameters) => parameters.push(parameter),
        None => operation["parameters"] = json!([parameter]),
    }
}

fn name_request(response: &mut Value) {
    let name = json!({"type": "string", "maxLength": 64});
    add_header(response, "X-Request-Id", "Names this request in the service's logs", &name);
}

fn problem(status: &str) -> Value {
    let kinds: Vec<_> =
        crate::problem::Kind::ALL.iter().filter(|kind| kind.status.as_str() == status).collect();
    let titles: Vec<_> =
        kinds.iter().map(|kind| format!("{} (`/problems/{}`)", kind.title, kind.slug)).collect();
    let mut headers = json!({});
    if status == "401" || status == "403" {
        headers["WWW-Authenticate"] =
            json!({"description": "What is lacking", "schema": {"type": "string", "maxLength": 200}});
    }
    if status == "503" || status == "429" {
        headers["Retry-After"] =
            json!({"description": "Seconds to wait", "schema": {"type": "integer", "minimum": 0}});
    }
    let mut response = json!({
        "description": titles.join("; "),
        "headers": headers,
        "content": {"application/problem+json": {"schema": {"$ref": "#/components/schemas/Problem"}}},
    });
    name_request(&mut response);
    response
}
