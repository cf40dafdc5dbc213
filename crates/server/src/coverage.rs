//! Every answer that the document promises is given once, on the demo company, or is excused with its reason.
//! Derived from the document: an operation that is added without an example in `demo/examples.json` fails here.

mod addresses;
mod extremes;
mod foreign;
mod provoke;
mod service;
mod shape;
mod walk;

use std::collections::BTreeSet;
use std::time::Duration;

use sqlx::PgPool;

use service::Service;

/// Documented answers that no request can bring about at will: operation, status, reason.
const EXCUSED: &[(&str, u16, &str)] = &[
    ("livez", 500, "answers from memory: only a panic could, and a test of `finish` has one"),
    ("readyz", 500, "every failure that it can meet means that the service is not ready: 503"),
    ("get_openapi", 500, "answers from memory: only a panic could"),
    ("get_openapi_part", 500, "answers from memory: only a panic could"),
    ("get_docs", 500, "answers from memory: only a panic could"),
    ("get_problem", 500, "answers from memory: only a panic could"),
];

#[sqlx::test(migrations = "../../migrations")]
async fn every_documented_answer_of_every_operation_is_given(pool: PgPool) {
    let mut service = Service::over(pool).await;
    let begun = addresses::stand(&service).await;
    let examples = walk::examples();
    let with_example: BTreeSet<_> = examples.iter().map(|example| example.operation.clone()).collect();
    let lacking: Vec<_> =
        service.operations().filter(|operation| !with_example.contains(*operation)).collect();
    assert!(lacking.is_empty(), "demo/examples.json has no request for {lacking:?}");

    let mut answers = Vec::new();
    for example in &examples {
        provoke::refusals(&mut service, example).await;
        if example.operation == "get_early_warnings" {
            service.application.watch(None, 1_000, Duration::ZERO).await.unwrap();
        }
        answers.push(provoke::success(&mut service, example).await);
        if example.operation == "create_knowledge_version" {
            service.application.learn().await;
        }
    }
    addresses::lead_to_what_they_say(&mut service, &begun).await;
    provoke::refusals_of_the_rules(&mut service).await;
    provoke::failures(&mut service, &examples).await;
    if std::env::var_os("OVENWRIGHT_WRITE_EXAMPLES").is_some() {
        walk::write(&examples, answers, &service.answers);
    }

    let mut faults = service.faults.clone();
    for (operation, status) in service.documented() {
        let excuse = EXCUSED.iter().find(|excuse| (excuse.0, excuse.1) == (operation.as_str(), status));
        match (service.given.contains(&(operation.clone(), status)), excuse) {
            (false, None) => faults.push(format!("{operation} never answered {status}")),
            (true, Some(_)) => faults.push(format!("{operation} answered {status} and needs no excuse")),
            _ => {}
        }
    }
    for kind in api::problem::Kind::ALL {
        if !service.kinds.contains(kind.slug) {
            faults.push(format!("no request met the problem {}", kind.slug));
        }
    }
    assert!(faults.is_empty(), "{} faults:\n{}", faults.len(), faults.join("\n"));
}
