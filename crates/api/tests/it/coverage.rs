//! What must hold of every operation, those added later included, derived from the document.

use axum::http::Method;
use domain::role::Role;
use serde_json::{Value, json};
use sqlx::PgPool;

use crate::service::Service;

struct Operation {
    id: String,
    method: Method,
    path: String,
    value: Value,
}

fn operations() -> Vec<Operation> {
    let document = api::document::document();
    let mut operations = Vec::new();
    for (path, item) in document["paths"].as_object().unwrap() {
        for (method, value) in item.as_object().unwrap() {
            operations.push(Operation {
                id: value["operationId"].as_str().unwrap().to_owned(),
                method: Method::from_bytes(method.to_uppercase().as_bytes()).unwrap(),
                path: path
                    .replace("{id}", "01890a5d-ac96-774b-bcce-b302099a8057")
                    .replace("{action}", &first_action(&document, value)),
                value: value.clone(),
            });
        }
    }
    operations
}

/// A move that the operation knows.
fn first_action(document: &Value, operation: &Value) -> String {
    let parameters = operation["parameters"].as_array().cloned().unwrap_or_default();
    let action = parameters.iter().find(|parameter| parameter["name"] == "action");
    let schema = action.and_then(|action| action["schema"]["$ref"].as_str()).unwrap_or_default();
    let words = &document["components"]["schemas"][schema.rsplit('/').next().unwrap_or_default()]["enum"];
    words[0].as_str().unwrap_or_default().to_owned()
}

/// A body that the shape-checks may refuse: rights are judged before it is read.
fn any_body(operation: &Operation) -> Option<Value> {
    operation.value["requestBody"].is_object().then(|| json!({}))
}

#[test]
fn every_guarded_operation_has_a_right_and_every_right_an_operation() {
    let open = ["livez", "readyz", "get_openapi", "get_openapi_part", "get_problem", "get_docs"];
    let operations = operations();
    for operation in &operations {
        let right = application::rights::of(&operation.id);
        assert_ne!(right.is_some(), open.contains(&operation.id.as_str()), "{}", operation.id);
    }
    for right in application::rights::RIGHTS {
        let is_there = operations.iter().any(|operation| operation.id == right.operation);
        assert!(is_there, "the right {} belongs to no operation", right.operation);
    }
}

#[sqlx::test(migrations = "../../migrations")]
async fn every_operation_refuses_a_stranger_and_each_role_that_has_no_right(pool: PgPool) {
    let service = Service::over(pool).await;
    for operation in operations() {
        let Some(right) = application::rights::of(&operation.id) else { continue };
        let (method, body) = (operation.method.clone(), any_body(&operation));
        let stranger =
            service.administrator().secret("").send(method.clone(), &operation.path, body.clone()).await;
        assert_eq!(stranger.status, 401, "{}", operation.id);
        for role in Role::ALL {
            let answer = service.as_role(*role).send(method.clone(), &operation.path, body.clone()).await;
            if right.roles.contains(role) {
                assert!(
                    ![401, 403].contains(&answer.status.as_u16()),
                    "{} {role}: {}",
                    operation.id,
                    answer.body
                );
            } else {
                assert_eq!(answer.status, 403, "{} {role}: {}", operation.id, answer.body);
            }
            let documented = operation.value["responses"].get(answer.status.as_str()).is_some();
            assert!(documented, "{} answers {} and does not say so", operation.id, answer.status);
        }
    }
}

#[sqlx::test(migrations = "../../migrations")]
async fn every_change_asks_for_the_version_that_it_changes(pool: PgPool) {
    let service = Service::over(pool).await;
    for operation in operations() {
        let parameters = operation.value["parameters"].as_array().cloned().unwrap_or_default();
        let asks = parameters.iter().any(|parameter| parameter["name"] == "If-Match");
        if asks {
            let body = any_body(&operation);
            let answer = service.administrator().send(operation.method.clone(), &operation.path, body).await;
            let status = answer.status.as_u16();
            assert!([428, 404].contains(&status), "{} answers {status} without If-Match", operation.id);
        }
        let has_body = operation.value["requestBody"].is_object();
        // Making safe waits for no version.
        let makes_safe = operation.id == "act_on_interlock_defeat";
        let is_change =
            operation.method == Method::PATCH || (operation.path.contains("/actions/") && !makes_safe);
        assert_eq!(asks, is_change, "{} (body: {has_body})", operation.id);
    }
}

#[sqlx::test(migrations = "../../migrations")]
async fn every_operation_refuses_a_query_that_it_does_not_know(pool: PgPool) {
    let service = Service::over(pool).await;
    for operation in operations() {
        if operation.method != Method::GET || application::rights::of(&operation.id).is_none() {
            continue;
        }
        let answer = service.administrator().get(&format!("{}?nonsense=1", operation.path)).await;
        assert_eq!(answer.status, 400, "{}: {}", operation.id, answer.body);
        answer.assert_fault("nonsense");
    }
}
