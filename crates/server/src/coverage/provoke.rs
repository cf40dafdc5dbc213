//! Brings every kind of answer about.

use axum::http::Method;
use serde_json::{Value, json};

use super::service::{Asked, Service, Temper, bearer};
use super::walk::Example;

pub(super) const UNKNOWN_ID: &str = "01890a5d-ac96-774b-bcce-b302099a8057";

/// The example's request, with everything that makes it good.
pub(super) async fn good(service: &Service, example: &Example) -> Asked {
    let mut example = example.clone();
    example.resolve(&service.answers);
    let (method, template, operation) = service.operation(&example.operation);
    let mut asked = Asked { path: filled(&template, &example), method, headers: Vec::new(), body: None };
    asked.headers.push(bearer(&service.secret));
    if let Some(body) = &example.body {
        asked.body = Some(body.to_string());
        let media =
            if asked.method == Method::PATCH { "application/merge-patch+json" } else { "application/json" };
        asked.headers.push(("content-type", media.to_owned()));
    }
    if takes(&operation, "If-Match") {
        let tag = match &example.if_match {
            Some(tag) => tag.clone(),
            None => etag_of(service, asked.path.split("/actions/").next().unwrap()).await,
        };
        asked.headers.push(("if-match", tag));
    }
    if takes(&operation, "Idempotency-Key") {
        asked.headers.push(("idempotency-key", format!("coverage-{}", example.operation)));
    }
    asked
}

fn filled(template: &str, example: &Example) -> String {
    let text = |value: &Value| value.as_str().map_or_else(|| value.to_string(), str::to_owned);
    let path = example
        .path
        .iter()
        .fold(template.to_owned(), |path, (name, value)| path.replace(&format!("{{{name}}}"), &text(value)));
    assert!(!path.contains('{'), "{path} is not filled in");
    let query: Vec<_> = example.query.iter().map(|(name, value)| format!("{name}={}", text(value))).collect();
    if query.is_empty() { path } else { format!("{path}?{}", query.join("&")) }
}

/// A read of a path by the administrator.
pub(super) fn reading(service: &Service, path: &str) -> Asked {
    Asked { method: Method::GET, path: path.to_owned(), headers: vec![bearer(&service.secret)], body: None }
}

async fn etag_of(service: &Service, path: &str) -> String {
    let read = reading(service, path);
    let answered = service.send(Temper::Usual, &read).await;
    let tag = answered.headers.get("etag").unwrap_or_else(|| panic!("{path} has no ETag: {}", answered.body));
    tag.to_str().unwrap().to_owned()
}

fn takes(operation: &Value, header: &str) -> bool {
    operation["parameters"].as_array().into_iter().flatten().any(|parameter| parameter["name"] == header)
}

fn says(operation: &Value, status: u16) -> bool {
    operation["responses"].get(status.to_string()).is_some()
}

impl Asked {
    pub(super) fn without(&self, header: &str) -> Self {
        let headers = self.headers.iter().filter(|(name, _)| *name != header).cloned().collect();
        Self { headers, ..self.clone() }
    }

    fn with(&self, header: &'static str, value: impl Into<String>) -> Self {
        let mut changed = self.without(header);
        changed.headers.push((header, value.into()));
        changed
    }

    fn body(&self, body: impl Into<String>) -> Self {
        Self { body: Some(body.into()), ..self.clone() }
    }

    fn at(&self, path: impl Into<String>) -> Self {
        Self { path: path.into(), ..self.clone() }
    }
}

/// Requests that are refused and change nothing, each one step away from the good one.
pub async fn refusals(service: &mut Service, example: &Example) {
    let id = example.operation.as_str();
    let (_, template, operation) = service.operation(id);
    let good = good(service, example).await;
    if let Some(right) = application::rights::of(id) {
        expect(service, Temper::Usual, id, &good.without("authorization"), 401).await;
        let other = if right.scope == domain::role::Scope::Read { "write" } else { "read" };
        let narrow = service.narrow[other].clone();
        expect(service, Temper::Usual, id, &good.with("authorization", format!("Bearer {narrow}")), 403)
            .await;
        let joint = if good.path.contains('?') { '&' } else { '?' };
        let odd = good.at(format!("{}{joint}nonsense=1", good.path));
        expect(service, Temper::Usual, id, &odd, 400).await;
        let me = Asked {
            method: Method::GET,
            path: "/v1/me".to_owned(),
            headers: vec![bearer(&service.secret)],
            body: None,
        };
        service.send(Temper::Strict, &me).await;
        expect(service, Temper::Strict, id, &good, 429).await;
        expect(service, Temper::Full, id, &good, 503).await;
        expect(service, Temper::Slow, id, &good, 408).await;
    }
    if ["get_docs", "get_openapi", "get_openapi_part", "get_problem"].contains(&id) {
        service.send(Temper::Strict, &good).await;
        expect(service, Temper::Strict, id, &good.without("authorization"), 429).await;
    }
    if id == "readyz" {
        expect(service, Temper::Draining, id, &good, 503).await;
    }
    if template.contains('{') {
        let known = |name: &str| name == "action";
        let mut unknown = example.clone();
        for (name, value) in unknown.path.iter_mut().filter(|(name, _)| !known(name)) {
            *value = match name.as_str() {
                "id" => json!(UNKNOWN_ID),
                "version" | "n" => json!("999999"),
                _ => json!("no_such_thing"),
            };
        }
        expect(service, Temper::Usual, id, &good.at(filled(&template, &unknown)), 404).await;
        let mut unreadable = example.clone();
        unreadable.path.values_mut().for_each(|value| *value = json!("%FF"));
        expect(service, Temper::Usual, id, &good.at(filled(&template, &unreadable)), 400).await;
    }
    if example.body.is_some() {
        expect(service, Temper::Usual, id, &good.body(format!("[\"{}\"]", "x".repeat(1 << 20))), 413).await;
        expect(service, Temper::Usual, id, &good.with("content-type", "text/plain"), 415).await;
        expect(service, Temper::Usual, id, &good.body("[7]"), 422).await;
        expect(service, Temper::Usual, id, &good.body("{"), 400).await;
    }
    if takes(&operation, "If-Match") {
        expect(service, Temper::Usual, id, &good.without("if-match"), 428).await;
        expect(service, Temper::Usual, id, &good.with("if-match", "\"999999\""), 412).await;
    }
    if says(&operation, 406) {
        expect(service, Temper::Usual, id, &good.with("accept", "image/png"), 406).await;
    }
    if takes(&operation, "Idempotency-Key") {
        let mut other = service.pool.acquire().await.unwrap();
        let lock = store::idempotency::lock_number(&store::idempotency::KeyedRequest {
            person: domain::id::PersonId::try_from(crate::demo::script::id_of("administrator")).unwrap(),
            operation: id.to_owned(),
            key: format!("coverage-{id}"),
            request_sha256: Vec::new(),
        });
        let (take, leave) =
            (format!("SELECT pg_advisory_lock({lock})"), format!("SELECT pg_advisory_unlock({lock})"));
        sqlx::raw_sql(sqlx::AssertSqlSafe(take)).execute(&mut *other).await.unwrap();
        expect(service, Temper::Usual, id, &good, 409).await;
        sqlx::raw_sql(sqlx::AssertSqlSafe(leave)).execute(&mut *other).await.unwrap();
    }
}

/// The good request, and what it is answered when it is repeated.
pub async fn success(service: &mut Service, example: &Example) -> Value {
    let id = example.operation.as_str();
    let (method, template, operation) = service.operation(id);
    let good = good(service, example).await;
    let first = service.ask(Temper::Usual, id, &good).await;
    if !(200..300).contains(&first.status) {
        service.faults.push(format!("{id} {} answered {}: {}", good.path, first.status, first.body));
    }
    service.answers.insert(id.to_owned(), first.body.clone());
    let has_key = takes(&operation, "Idempotency-Key");
    if has_key {
        let again = service.ask(Temper::Usual, id, &good).await;
        let mut told = first.body.clone();
        // A secret is told once: that it was made is repeated, not what it is.
        if let Some(secret) = told.get_mut("secret") {
            *secret = Value::Null;
        }
        if (again.status, &again.body) != (first.status, &told) {
            service.faults.push(format!("{id} forgot its Idempotency-Key: {} {}", again.status, again.body));
        }
    }
    if says(&operation, 201) {
        expect(service, Temper::Usual, id, &good.without("idempotency-key"), 200).await;
    }
    if has_key && example.body.is_none() {
        // Without a body, the path is what makes it another request.
        let mut other = example.clone();
        other.path.insert("id".to_owned(), json!(UNKNOWN_ID));
        expect(service, Temper::Usual, id, &good.at(filled(&template, &other)), 422).await;
    }
    if method == Method::GET && says(&operation, 304) {
        expect(service, Temper::Usual, id, &good.with("if-none-match", "*"), 304).await;
    }
    first.body
}

/// What only a rule of the trade, a clash, or the listener's neighbours bring about.
pub async fn refusals_of_the_rules(service: &mut Service) {
    let id = |name: &str| crate::demo::script::id_of(name).to_string();
    let secret = service.secret.clone();
    let request = |method: Method, path: String, body: Option<Value>| {
        let mut headers = vec![bearer(&secret)];
        if body.is_some() {
            headers.push(("content-type", "application/json".to_owned()));
        }
        Asked { method, path, headers, body: body.map(|body| body.to_string()) }
    };
    let get = |path: String| request(Method::GET, path, None);
    let taken = json!({"id": id("example_customer"), "name": "Another"});
    let taken = request(Method::POST, "/v1/customers".to_owned(), Some(taken));
    expect(service, Temper::Usual, "create_customer", &taken, 409).await;

    let call = json!({
        "id": id("coverage_call"), "site_id": id("hotel_kitchen"), "words": "One of them leaks.",
        "urgency": "degraded", "stop_use": false,
        "orders": [{"id": id("coverage_order"), "symptoms": ["does_not_clean"]}],
    });
    let call = request(Method::POST, "/v1/calls".to_owned(), Some(call));
    expect(service, Temper::Usual, "create_call", &call, 201).await;
    let order = format!("/v1/work-orders/{}", id("coverage_order"));
    let unknown_version = get("/v1/known-good?version=999999".to_owned());
    expect(service, Temper::Usual, "list_known_good", &unknown_version, 404).await;
    // Nobody has said which machine it is.
    let verdicts = get(format!("{order}/verdicts"));
    expect(service, Temper::Usual, "get_work_order_verdicts", &verdicts, 409).await;
    let diagnosis = get(format!("{order}/diagnosis?knowledge_version=999999"));
    expect(service, Temper::Usual, "get_work_order_diagnosis", &diagnosis, 409).await;
    let without_faults = json!({"model": {"key": "our_warewasher"}});
    let diagnose = request(Method::POST, "/v1/diagnoses".to_owned(), Some(without_faults));
    expect(service, Temper::Usual, "diagnose", &diagnose, 409).await;
    let tag = etag_of(service, &order).await;
    let prove =
        request(Method::POST, format!("{order}/actions/prove"), Some(json!({}))).with("if-match", tag);
    expect(service, Temper::Usual, "act_on_work_order", &prove, 409).await;
    let key = |body: Value| {
        request(Method::POST, "/v1/branches".to_owned(), Some(body))
            .with("idempotency-key", "coverage-reused")
    };
    let made = key(json!({"id": id("coverage_branch"), "name": "West coast"}));
    expect(service, Temper::Usual, "create_branch", &made, 201).await;
    let reused = key(json!({"id": id("coverage_branch_2"), "name": "West coast"}));
    expect(service, Temper::Usual, "create_branch", &reused, 422).await;
    let stranger = Asked { headers: vec![bearer(&service.technician)], ..get("/v1/customers".to_owned()) };
    expect(service, Temper::Usual, "list_customers", &stranger, 403).await;

    let ahead = json!({"runs": [{
        "id": id("coverage_run"), "appliance_id": id("bakery_combi"), "procedure": {"key": "fill_time", "version": 1},
        "phase": "baseline", "device_id": "phone", "sequence": 1, "taken_at": "2199-01-01T00:00:00Z",
    }]});
    let ahead = request(Method::POST, "/v1/test-runs".to_owned(), Some(ahead));
    expect(service, Temper::Usual, "create_test_runs", &ahead, 200).await;

    // Answers where no operation is.
    let put = service.send(Temper::Usual, &request(Method::PUT, "/v1/customers".to_owned(), None)).await;
    let many: Vec<_> = (0..120).map(|_| ("x-many", "x".to_owned())).collect();
    let many = Asked { method: Method::GET, path: "/livez".to_owned(), headers: many, body: None };
    let many = service.send(Temper::Usual, &many).await;
    let nothing = service.send(Temper::Usual, &get("/v1/nothing".to_owned())).await;
    for (answered, status) in [(put, 405), (many, 431), (nothing, 404)] {
        assert_eq!(answered.status, status, "{}", answered.body);
        assert_eq!(answered.headers["content-type"], "application/problem+json");
        let kind = answered.body["type"].as_str().unwrap().trim_start_matches("/problems/").to_owned();
        service.kinds.insert(kind);
    }
}

/// A schema that the service does not know any more: every operation fails, and says so as it should.
pub async fn failures(service: &mut Service, examples: &[Example]) {
    let mut requests = Vec::new();
    for example in examples.iter().filter(|example| application::rights::of(&example.operation).is_some()) {
        let mut example = example.clone();
        example.if_match = Some("\"1\"".to_owned());
        requests.push((example.operation.clone(), good(service, &example).await));
    }
    sqlx::raw_sql("ALTER TABLE token RENAME TO token_elsewhere").execute(&service.pool).await.unwrap();
    for (operation, asked) in requests {
        expect(service, Temper::Usual, &operation, &asked, 500).await;
    }
}

async fn expect(service: &mut Service, temper: Temper, operation: &str, asked: &Asked, status: u16) {
    let answered = service.ask(temper, operation, asked).await;
    if answered.status != status {
        let (method, path) = (&asked.method, &asked.path);
        let told =
            format!("{operation} {method} {path}: {} for {status}: {}", answered.status, answered.body);
        service.faults.push(told.chars().take(400).collect());
    }
}
