//! What is written down in `.sqlx` of every statement is what the database says of it, so that the whole may be compiled without one.

use sha2::{Digest, Sha256};
use sqlx::{Executor, PgPool, SqlSafeStr};

/// A statement as `scripts/update` wrote it down.
#[derive(serde::Deserialize)]
struct Written {
    query: String,
    describe: serde_json::Value,
    hash: String,
}

fn written() -> Vec<Written> {
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/../../.sqlx");
    let files = std::fs::read_dir(folder).unwrap().map(|file| file.unwrap().path());
    files.map(|file| serde_json::from_slice(&std::fs::read(file).unwrap()).unwrap()).collect()
}

/// Columns, parameters, and whether a column may be null where the statement does not say so itself: what a database says of an
/// outer join depends on how it would carry it out.
fn essence(describe: &serde_json::Value) -> [serde_json::Value; 3] {
    let names = describe["columns"].as_array().into_iter().flatten().map(|column| column["name"].as_str());
    let may_be_null = describe["nullable"].as_array().into_iter().flatten();
    let unsaid =
        names.zip(may_be_null).filter(|(name, _)| name.is_some_and(|name| !name.contains(['!', '?'])));
    let unsaid = unsaid.map(|(_, may_be_null)| may_be_null.clone()).collect();
    [describe["columns"].clone(), describe["parameters"].clone(), unsaid]
}

/// What this database says of a statement: its columns, its parameters, and what may be null.
async fn described(connection: &mut sqlx::PgConnection, statement: &str) -> serde_json::Value {
    let statement = sqlx::AssertSqlSafe(statement.to_owned()).into_sql_str();
    match connection.describe(statement).await {
        Ok(described) => serde_json::to_value(described).unwrap(),
        Err(error) => error.to_string().into(),
    }
}

#[sqlx::test(migrations = "../../migrations")]
async fn what_is_written_down_of_each_statement_is_what_the_database_says(pool: PgPool) {
    let mut connection = pool.acquire().await.unwrap();
    let statements = written();
    assert!(statements.len() > 400, "the statements are there: {}", statements.len());
    let mut stale = Vec::new();
    for Written { query, describe, hash } in &statements {
        let digest = Sha256::digest(query);
        let of_this_text =
            (0..digest.len()).all(|place| hash[2 * place..2 * place + 2] == format!("{:02x}", digest[place]));
        if !of_this_text || essence(&described(&mut connection, query).await) != essence(describe) {
            stale.push(query.as_str());
        }
    }
    assert!(stale.is_empty(), "scripts/update writes these down anew:\n{}", stale.join("\n\n"));
    let other = described(&mut connection, "SELECT 1 AS number").await;
    assert!(statements.iter().all(|of| essence(&of.describe) != essence(&other)), "what differs is found");
}
