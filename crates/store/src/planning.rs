//! Statements that serve many questions. A filter that may be absent (`$1 IS NULL OR …`) is planned well only for the values at
//! hand: the plan that Postgres keeps for a prepared statement has to do for all of them, and so reads the whole table. Those
//! statements are planned for each use; all others keep their plans, for planning costs more than most of them.

use futures_util::future::BoxFuture;
use futures_util::stream::BoxStream;
use sqlx::error::BoxDynError;
use sqlx::postgres::{PgArguments, PgPool, PgQueryResult, PgRow, PgStatement, PgTypeInfo, Postgres};
use sqlx::{Describe, Either, Error, Execute, Executor, SqlStr};

use crate::Database;

impl Database {
    /// Where a statement with filters that may be absent is carried out.
    pub(crate) fn planned_for_each_use(&self) -> PlannedForEachUse<'_> {
        PlannedForEachUse(self.pool())
    }
}

#[derive(Debug)]
pub(crate) struct PlannedForEachUse<'p>(&'p PgPool);

/// A statement that is not kept, so that it is planned with its values.
struct NotKept<E>(E);

impl<'q, E: Execute<'q, Postgres>> Execute<'q, Postgres> for NotKept<E> {
    fn sql(self) -> SqlStr {
        self.0.sql()
    }

    fn statement(&self) -> Option<&PgStatement> {
        self.0.statement()
    }

    fn take_arguments(&mut self) -> Result<Option<PgArguments>, BoxDynError> {
        self.0.take_arguments()
    }

    fn persistent(&self) -> bool {
        false
    }
}

impl<'p> Executor<'p> for PlannedForEachUse<'p> {
    type Database = Postgres;

    fn fetch_many<'e, 'q: 'e, E>(self, query: E) -> BoxStream<'e, Result<Either<PgQueryResult, PgRow>, Error>>
    where
        'p: 'e,
        E: 'q + Execute<'q, Postgres>,
    {
        self.0.fetch_many(NotKept(query))
    }

    fn fetch_optional<'e, 'q: 'e, E>(self, query: E) -> BoxFuture<'e, Result<Option<PgRow>, Error>>
    where
        'p: 'e,
        E: 'q + Execute<'q, Postgres>,
    {
        self.0.fetch_optional(NotKept(query))
    }

    fn prepare_with<'e>(
        self,
        sql: SqlStr,
        parameters: &'e [PgTypeInfo],
    ) -> BoxFuture<'e, Result<PgStatement, Error>>
    where
        'p: 'e,
    {
        self.0.prepare_with(sql, parameters)
    }

    fn describe<'e>(self, sql: SqlStr) -> BoxFuture<'e, Result<Describe<Postgres>, Error>>
    where
        'p: 'e,
    {
        self.0.describe(sql)
    }
}
