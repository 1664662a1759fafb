//! SQL, for both engines: the pools, transactions, and rows as values.
//!
//! The desk alone reaches this module. It decides nothing: it keeps what the desk decided, one transaction a happening.
//! SQLite has one write connection (`BEGIN IMMEDIATE`) and a few that only read; PostgreSQL has a pool. Query texts are
//! shared; what differs between the engines is in [`table`].

pub mod chat;
pub mod copy;
pub mod queries;
pub mod rows;
pub mod seal;
pub mod table;
pub mod tables;

use std::collections::HashMap;
use std::path::Path;
use std::str::FromStr as _;
use std::sync::{LazyLock, PoisonError, RwLock};
use std::time::Duration;

use sqlx::postgres::{PgConnectOptions, PgPool, PgPoolOptions};
use sqlx::sqlite::{SqliteConnectOptions, SqliteJournalMode, SqlitePool, SqlitePoolOptions, SqliteSynchronous};
use sqlx::{AssertSqlSafe, ConnectOptions as _, Postgres, Sqlite, Transaction};

use seal::Seal;
use table::{Dialect, Table};

/// Why the store could not do what was asked.
#[derive(Debug, thiserror::Error)]
pub enum StoreError {
    /// The database address is not one of ours.
    #[error("`{0}` is not a database address; write `sqlite://browline.db` or `postgres://user@host/name`")]
    Address(String),
    /// The database refused or could not be reached.
    #[error("database: {0}")]
    Database(#[from] sqlx::Error),
    /// The database's tables could not be brought up to date.
    #[error("database migration: {0}")]
    Migration(#[from] sqlx::migrate::MigrateError),
    /// A row does not read back as what was stored: the database was changed by something else.
    #[error("a row of `{table}` does not read back: {source}")]
    Row {
        /// Which table.
        table: &'static str,
        /// What is wrong with the row.
        source: serde_json::Error,
    },
    /// A sealed value does not open: it was changed, moved, or sealed with another key.
    #[error("a sealed value of `{table}` does not open: {why}")]
    Sealed {
        /// Which table.
        table: &'static str,
        /// Why.
        why: seal::SealError,
    },
}

/// Shorthand for what the store returns.
pub type Result<T> = std::result::Result<T, StoreError>;

/// A database, open and brought up to date. Clones share its connections.
#[derive(Clone, Debug)]
pub struct Store {
    engine: Engine,
    seal: Option<Seal>,
}

#[derive(Clone, Debug)]
enum Engine {
    Sqlite { write: SqlitePool, read: SqlitePool },
    Postgres(PgPool),
}

/// A transaction on either engine. Dropped without [`Tx::commit`], it leaves nothing behind.
pub struct Tx {
    on: On,
    seal: Option<Seal>,
}

enum On {
    Sqlite(Transaction<'static, Sqlite>),
    Postgres(Transaction<'static, Postgres>),
}

/// A value bound to a query.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Arg {
    /// Text.
    Text(String),
    /// Integer.
    Int(i64),
}

impl From<&str> for Arg {
    fn from(text: &str) -> Self {
        Self::Text(text.to_owned())
    }
}
impl From<String> for Arg {
    fn from(text: String) -> Self {
        Self::Text(text)
    }
}
impl From<i64> for Arg {
    fn from(number: i64) -> Self {
        Self::Int(number)
    }
}
impl From<crate::trade::time::Moment> for Arg {
    fn from(moment: crate::trade::time::Moment) -> Self {
        Self::Int(moment.millis())
    }
}
impl From<chrono::NaiveDate> for Arg {
    fn from(date: chrono::NaiveDate) -> Self {
        Self::Text(date.to_string())
    }
}
impl From<&crate::trade::roster::ProgramId> for Arg {
    fn from(program: &crate::trade::roster::ProgramId) -> Self {
        Self::Text(program.0.clone())
    }
}
impl From<&crate::trade::phone::Phone> for Arg {
    fn from(phone: &crate::trade::phone::Phone) -> Self {
        Self::Text(phone.as_str().to_owned())
    }
}

/// A list of texts as one bind, for `LIST($n)` in a query.
pub fn list<'a>(items: impl IntoIterator<Item = &'a str>) -> Arg {
    let items: Vec<&str> = items.into_iter().collect();
    Arg::Text(serde_json::Value::from(items).to_string())
}

impl Store {
    /// Opens the database at an address and brings its tables up to date.
    ///
    /// # Errors
    /// [`StoreError`] when the address is wrong, the database cannot be reached, or its tables cannot be migrated.
    pub async fn open(address: &str) -> Result<Self> {
        Self::open_with(address, None).await
    }

    /// As [`Store::open`]; columns that are to be sealed are, with this key.
    ///
    /// # Errors
    /// As [`Store::open`]; and when what is in the database was sealed with another key.
    pub async fn open_with(address: &str, seal: Option<Seal>) -> Result<Self> {
        let engine = if address.starts_with("postgres://") || address.starts_with("postgresql://") {
            Self::open_postgres(address).await?
        } else if let Some(path) = address.strip_prefix("sqlite://") {
            Self::open_sqlite(Path::new(path)).await?
        } else {
            return Err(StoreError::Address(address.to_owned()));
        };
        let store = Self { engine, seal };
        store.migrate().await?;
        // A wrong key, or none where one was used, is found now, not in the middle of a morning.
        const HEADS: &str = "WHERE (program, seq) IN (SELECT program, record_seq FROM program)";
        let heads = store.read().await?.select::<rows::RecordLine>(HEADS, Vec::new()).await?;
        if store.seal.is_none() && heads.iter().any(|line| seal::looks_sealed(&line.why)) {
            return Err(StoreError::Sealed { table: "record", why: seal::SealError::OtherKey });
        }
        Ok(store)
    }

    async fn open_sqlite(path: &Path) -> Result<Engine> {
        let options = SqliteConnectOptions::new()
            .filename(path)
            .create_if_missing(true)
            .journal_mode(SqliteJournalMode::Wal)
            // An acknowledged text must survive a power cut.
            .synchronous(SqliteSynchronous::Full)
            .busy_timeout(Duration::from_secs(5))
            .optimize_on_close(true, None)
            .disable_statement_logging();
        let write = SqlitePoolOptions::new().max_connections(1).connect_with(options.clone()).await?;
        let read = SqlitePoolOptions::new().max_connections(4).connect_with(options.read_only(true)).await?;
        Ok(Engine::Sqlite { write, read })
    }

    async fn open_postgres(address: &str) -> Result<Engine> {
        let options = PgConnectOptions::from_str(address)?.application_name("browline").disable_statement_logging();
        let pool = PgPoolOptions::new().max_connections(12).connect_with(options).await?;
        Ok(Engine::Postgres(pool))
    }

    async fn migrate(&self) -> Result<()> {
        match &self.engine {
            Engine::Sqlite { write, .. } => sqlx::migrate!("migrations/sqlite").run(write).await?,
            Engine::Postgres(pool) => sqlx::migrate!("migrations/postgres").run(pool).await?,
        }
        Ok(())
    }

    /// Which engine this is.
    #[must_use]
    pub const fn dialect(&self) -> Dialect {
        match self.engine {
            Engine::Sqlite { .. } => Dialect::Sqlite,
            Engine::Postgres(_) => Dialect::Postgres,
        }
    }

    /// A transaction that may write.
    ///
    /// # Errors
    /// [`StoreError`] when the database cannot be reached or stays busy.
    pub async fn write(&self) -> Result<Tx> {
        let on = match &self.engine {
            Engine::Sqlite { write, .. } => On::Sqlite(write.begin_with("BEGIN IMMEDIATE").await?),
            Engine::Postgres(pool) => On::Postgres(pool.begin().await?),
        };
        Ok(Tx { on, seal: self.seal.clone() })
    }

    /// A transaction that only reads: one consistent view.
    ///
    /// # Errors
    /// [`StoreError`] when the database cannot be reached.
    pub async fn read(&self) -> Result<Tx> {
        let on = match &self.engine {
            Engine::Sqlite { read, .. } => On::Sqlite(read.begin().await?),
            Engine::Postgres(pool) => {
                On::Postgres(pool.begin_with("BEGIN ISOLATION LEVEL REPEATABLE READ READ ONLY").await?)
            }
        };
        Ok(Tx { on, seal: self.seal.clone() })
    }

    /// Closes every connection; what was committed stays.
    pub async fn close(&self) {
        match &self.engine {
            Engine::Sqlite { write, read } => {
                read.close().await;
                write.close().await;
            }
            Engine::Postgres(pool) => pool.close().await,
        }
    }
}

/// Query texts made ready for an engine, once each.
static TEXTS: LazyLock<RwLock<HashMap<(Dialect, String), &'static str>>> = LazyLock::new(RwLock::default);

fn text(dialect: Dialect, key: String, make: impl FnOnce() -> String) -> &'static str {
    let key = (dialect, key);
    if let Some(text) = TEXTS.read().unwrap_or_else(PoisonError::into_inner).get(&key) {
        return text;
    }
    // Bounded: the keys are the query texts in this crate.
    let made: &'static str = Box::leak(make().into_boxed_str());
    TEXTS.write().unwrap_or_else(PoisonError::into_inner).entry(key).or_insert(made)
}

macro_rules! bound {
    ($query:expr, $args:expr) => {{
        let mut query = $query;
        for arg in $args {
            query = match arg {
                Arg::Text(text) => query.bind(text),
                Arg::Int(number) => query.bind(number),
            };
        }
        query
    }};
}

impl Tx {
    /// Which engine this is on.
    #[must_use]
    pub const fn dialect(&self) -> Dialect {
        match &self.on {
            On::Sqlite(_) => Dialect::Sqlite,
            On::Postgres(_) => Dialect::Postgres,
        }
    }

    /// Makes what was done permanent.
    ///
    /// # Errors
    /// [`StoreError`] when the database could not; then nothing of it is kept.
    pub async fn commit(self) -> Result<()> {
        match self.on {
            On::Sqlite(tx) => tx.commit().await?,
            On::Postgres(tx) => tx.commit().await?,
        }
        Ok(())
    }

    /// Whole rows that satisfy `tail`: what follows `FROM table`, with `$1..$n`, `LIST($n)` and `LOCKED_ROWS`.
    ///
    /// # Errors
    /// [`StoreError`] when the query fails or a row does not read back.
    pub async fn select<T: Table>(&mut self, tail: &'static str, args: Vec<Arg>) -> Result<Vec<T>> {
        let dialect = self.dialect();
        let sql = text(dialect, format!("select {} {tail}", T::NAME), || {
            format!("{} {}", T::select(dialect), table::expand(tail, dialect))
        });
        let rows: Vec<String> = match &mut self.on {
            On::Sqlite(tx) => bound!(sqlx::query_scalar(sql), args).fetch_all(&mut **tx).await?,
            On::Postgres(tx) => bound!(sqlx::query_scalar(sql), args).fetch_all(&mut **tx).await?,
        };
        match self.seal.as_ref().filter(|_| seal::is_sealed::<T>()) {
            Some(seal) => rows.iter().map(|row| seal.open_row(row)).collect(),
            None => rows
                .iter()
                .map(|row| serde_json::from_str(row).map_err(|source| StoreError::Row { table: T::NAME, source }))
                .collect(),
        }
    }

    /// The one row that satisfies `tail`, if there is one.
    ///
    /// # Errors
    /// As [`Tx::select`].
    pub async fn find<T: Table>(&mut self, tail: &'static str, args: Vec<Arg>) -> Result<Option<T>> {
        Ok(self.select(tail, args).await?.pop())
    }

    /// Adds rows; one whose key is there already is left as it is. Returns how many were added.
    ///
    /// # Errors
    /// [`StoreError`] when the statement fails.
    pub async fn insert<T: Table>(&mut self, rows: &[T]) -> Result<u64> {
        let dialect = self.dialect();
        self.rows(text(dialect, format!("insert {}", T::NAME), || T::insert(dialect)), rows).await
    }

    /// Adds rows or replaces those whose key is there already.
    ///
    /// # Errors
    /// [`StoreError`] when the statement fails.
    pub async fn put<T: Table>(&mut self, rows: &[T]) -> Result<u64> {
        let dialect = self.dialect();
        self.rows(text(dialect, format!("put {}", T::NAME), || T::put(dialect)), rows).await
    }

    async fn rows<T: Table>(&mut self, sql: &'static str, rows: &[T]) -> Result<u64> {
        /// Rows a statement: keeps one bind within a few megabytes.
        const AT_ONCE: usize = 2_000;
        let mut changed = 0;
        for rows in rows.chunks(AT_ONCE) {
            let json = match self.seal.as_ref().filter(|_| seal::is_sealed::<T>()) {
                Some(seal) => seal.close_rows(rows),
                None => serde_json::to_string(rows),
            };
            let json = json.map_err(|source| StoreError::Row { table: T::NAME, source })?;
            changed += self.run(sql, vec![Arg::Text(json)]).await?;
        }
        Ok(changed)
    }

    /// Runs a statement; returns how many rows it changed.
    ///
    /// # Errors
    /// [`StoreError`] when the statement fails.
    pub async fn execute(&mut self, sql: &'static str, args: Vec<Arg>) -> Result<u64> {
        let dialect = self.dialect();
        let sql = text(dialect, sql.to_owned(), || table::expand(sql, dialect));
        self.run(sql, args).await
    }

    async fn run(&mut self, sql: &'static str, args: Vec<Arg>) -> Result<u64> {
        Ok(match &mut self.on {
            On::Sqlite(tx) => bound!(sqlx::query(sql), args).execute(&mut **tx).await?.rows_affected(),
            On::Postgres(tx) => bound!(sqlx::query(sql), args).execute(&mut **tx).await?.rows_affected(),
        })
    }

    /// Numbers in one column.
    ///
    /// # Errors
    /// [`StoreError`] when the query fails.
    pub async fn numbers(&mut self, sql: &'static str, args: Vec<Arg>) -> Result<Vec<i64>> {
        let dialect = self.dialect();
        let sql = text(dialect, sql.to_owned(), || table::expand(sql, dialect));
        Ok(match &mut self.on {
            On::Sqlite(tx) => bound!(sqlx::query_scalar(sql), args).fetch_all(&mut **tx).await?,
            On::Postgres(tx) => bound!(sqlx::query_scalar(sql), args).fetch_all(&mut **tx).await?,
        })
    }

    async fn fetch(&mut self, sql: &'static str, args: Vec<Arg>) -> Result<Vec<String>> {
        Ok(match &mut self.on {
            On::Sqlite(tx) => bound!(sqlx::query_scalar(sql), args).fetch_all(&mut **tx).await?,
            On::Postgres(tx) => bound!(sqlx::query_scalar(sql), args).fetch_all(&mut **tx).await?,
        })
    }

    /// Texts in one column.
    ///
    /// # Errors
    /// [`StoreError`] when the query fails.
    pub async fn texts(&mut self, sql: &'static str, args: Vec<Arg>) -> Result<Vec<String>> {
        let dialect = self.dialect();
        let sql = text(dialect, sql.to_owned(), || table::expand(sql, dialect));
        Ok(match &mut self.on {
            On::Sqlite(tx) => bound!(sqlx::query_scalar(sql), args).fetch_all(&mut **tx).await?,
            On::Postgres(tx) => bound!(sqlx::query_scalar(sql), args).fetch_all(&mut **tx).await?,
        })
    }

    /// Runs a text that is not one of ours, such as a statement of a test.
    ///
    /// # Errors
    /// [`StoreError`] when the statement fails.
    pub async fn raw(&mut self, sql: String) -> Result<()> {
        match &mut self.on {
            On::Sqlite(tx) => sqlx::query(AssertSqlSafe(sql)).execute(&mut **tx).await.map(|_| ())?,
            On::Postgres(tx) => sqlx::query(AssertSqlSafe(sql)).execute(&mut **tx).await.map(|_| ())?,
        }
        Ok(())
    }
}
