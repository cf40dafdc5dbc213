//! The version before works on the newer schema, so that an operator can go back to it without touching the database.

use sqlx::{Executor, PgPool, SqlSafeStr};

/// Every statement of the last released version (`scripts/update released` writes them), each a JSON string.
const RELEASED: &str = include_str!("../../../../tests/released/statements.jsonl");

#[sqlx::test(migrations = "../../migrations")]
async fn every_statement_of_the_version_before_prepares_on_this_schema(pool: PgPool) {
    let mut connection = pool.acquire().await.unwrap();
    let mut broken = Vec::new();
    let mut tried = 0;
    for line in RELEASED.lines() {
        let statement: String = serde_json::from_str(line).unwrap();
        tried += 1;
        if let Err(error) =
            (&mut *connection).prepare(sqlx::AssertSqlSafe(statement.clone()).into_sql_str()).await
        {
            broken.push(format!("{error}: {statement}"));
        }
    }
    assert!(tried > 300, "the statements are there: {tried}");
    eprintln!("beyond\tstatements of the version before on this schema\t{tried}\tall prepare");
    assert!(broken.is_empty(), "add, and take away in a later release alone:\n{}", broken.join("\n"));
    let gone = (&mut *connection).prepare("SELECT of_a_column_that_is_gone FROM token".into_sql_str()).await;
    assert!(gone.is_err(), "a statement that does not fit the schema is found");
}
